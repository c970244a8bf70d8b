"""Tables of land cover and soil codes as files hold them."""

from __future__ import annotations

import numpy as np
import pytest

from layers.code_table import read_cover_table, read_soil_table
from layers.cover_table import cover_table
from layers.site import parse_site
from tests.files import entry_for, write_text
from tests.sites import TABLES, site_text

COVERS = """code,label,curve_number_cover,export_cover,impervious_share,cover_factor,source
1,forest,"woods, good",forest,,0.003,a map
2,"fields, wet","pasture, fair",row crops,0.1,,a map
9,lake,nothing,nothing,,0,a map
"""


def site_in(folder):
    """A site on the grid of the small one."""
    return parse_site(write_text(folder / "site.toml", site_text({"coast": TABLES["coast"]})), [])


def covers_of(tmp_path, text=COVERS, **keys):
    path, faults = write_text(tmp_path / "land_cover.csv", text), []
    table = read_cover_table(entry_for(path, feeds="cover_table", **keys), site_in(tmp_path), faults)
    return table, [str(fault) for fault in faults]


def soils_of(tmp_path, *rows, header="code,soil_group", **keys):
    path, faults = write_text(tmp_path / "soil.csv", "\n".join([header, *rows, ""])), []
    table = read_soil_table(entry_for(path, feeds="soil_table", **keys), site_in(tmp_path), faults)
    return table, [str(fault) for fault in faults]


def test_a_table_of_covers_comes_as_the_loads_take_it(tmp_path):
    frame, faults = covers_of(tmp_path)
    assert faults == []
    forest, fields, lake = cover_table(frame).covers
    assert (forest.code, forest.label, forest.curve_number_cover, forest.export_cover) == (
        1,
        "forest",
        "woods, good",
        "forest",
    )
    assert forest.cover_factor == pytest.approx(0.003) and forest.impervious_share == 0.0
    assert fields.label == "fields, wet" and fields.impervious_share == pytest.approx(0.1)
    assert np.isnan(fields.cover_factor), "a factor left empty is not known"
    assert fields.practice_factor == 1.0, "no practice is 1"
    assert lake.curve_number_cover == "nothing" and lake.cover_factor == 0.0


def test_numbers_may_have_a_decimal_comma_where_the_site_file_says_so(tmp_path):
    text = "code;label;cover_factor\n1;forest;0,003\n"
    frame, faults = covers_of(tmp_path, text, delimiter=";", decimal=",")
    assert faults == []
    assert frame["cover_factor"].tolist() == [0.003]


def test_every_fault_of_a_table_of_covers_names_its_row_in_the_file(tmp_path):
    # rows of other maps are passed over, and still count
    text = (
        "map,code,label,export_cover\nold,1,forest,forest\nnew,1,forest,forrest\nnew,2,town,urban\nnew,2,town,urban\n"
    )
    text = text.replace("map,", "note,")
    _, faults = covers_of(tmp_path, text, where={"note": "new"})
    assert [fault.split(": ")[0] for fault in faults] == [
        "land_cover.csv, row 3, export_cover",
        "land_cover.csv, code 2",
    ]
    assert '"forrest" is not in export_coefficient.csv.' in faults[0]
    assert faults[1].endswith("it stands 2 times. Leave one row for each code.")


@pytest.mark.parametrize(
    ("old", "new", "said"),
    [
        ("code,", "number,", "column code: it is missing. Add it."),
        ("source\n", "remark\n", "column remark: it is not known. Known are: code, label,"),
        ("1,forest", "1.5,forest", 'row 2, code: "1.5" is not a whole number. Write the code of the map.'),
        (",0.1,", ",10,", 'row 3, impervious_share: "10.0" is not a share from 0 to 1. Divide a percentage by 100.'),
        ("pasture, fair", "paving", 'row 3, curve_number_cover: "paving" is not in curve_number.csv. Write "nothing"'),
        ("0.003", "low", 'row 2, column cover_factor: the row holds text that is not a number: "low".'),
    ],
)
def test_a_faulty_table_of_covers_is_refused(tmp_path, old, new, said):
    assert COVERS.count(old) == 1
    frame, faults = covers_of(tmp_path, COVERS.replace(old, new))
    assert frame is None
    assert any(fault.startswith(f"land_cover.csv, {said}") for fault in faults), faults


def test_soil_groups_are_letters_in_any_case_and_empty_is_no_soil(tmp_path):
    table, faults = soils_of(tmp_path, "1,a", "2, D ", "3,")
    assert faults == []
    assert table["code"].tolist() == [1, 2, 3]
    assert table["soil_group"].tolist() == ["A", "D", None]
    assert "erodibility" not in table


def test_erodibility_may_be_given_and_may_have_gaps(tmp_path):
    table, faults = soils_of(tmp_path, "1,A,0.02", "2,B,", header="code,soil_group,erodibility")
    assert faults == []
    np.testing.assert_array_equal(table["erodibility"], [0.02, np.nan])


@pytest.mark.parametrize(
    ("rows", "said"),
    [
        (("7,E",), 'row 2: "E" is no hydrologic soil group. Write A, B, C, D, or nothing for ground without soil.'),
        (("7,B/D",), 'row 2: "B/D" is no hydrologic soil group. Write A, B, C, D, or nothing for ground without soil.'),
        (("7,A", "7,B"), "column code: 7 is there twice. Keep one row."),
        (("7,A", "7.5,B"), "row 3, column code: 7.5 is not a whole number. Write the code of the map."),
        (
            ("clay,A",),
            'row 2, column code: the row holds text that is not a number: "clay". Write a number, or remove the row.',
        ),
    ],
)
def test_a_faulty_table_of_soils_is_refused(tmp_path, rows, said):
    table, faults = soils_of(tmp_path, *rows)
    assert table is None
    assert faults == [f"soil.csv, {said}"]


def test_columns_that_a_table_of_soils_lacks_are_told_together(tmp_path):
    table, faults = soils_of(tmp_path, "7,B", header="soil,group")
    assert table is None
    assert faults == [
        "soil.csv: the file has no column code. Add it.",
        "soil.csv: the file has no column soil_group. Add it.",
    ]
