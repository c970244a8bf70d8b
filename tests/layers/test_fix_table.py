"""Positions of vessels as files give them."""

from __future__ import annotations

import numpy as np
import pytest
from shapely.geometry import Point

from layers.derivation import Derivation, Settings
from layers.fix_table import read_fixes
from layers.inputs import read_inputs
from layers.recipe import RECIPES
from layers.site import parse_site
from tests.files import CRS, entry_for, write_shapes, write_text
from tests.sites import TABLES, site_text, write_small_site

ROWS = (
    "ferry,500600,7770100,2024-01-01T10:00",
    "ferry,500700,7770100,2024-01-01T10:05",
    "tug,501000,7770900,2024-01-01T11:00",
)
KEYS = {"feeds": "vessel_fix", "vessel": "who", "time": "when"}
PLACES = [(500_600.0, 7_770_100.0), (500_700.0, 7_770_100.0), (501_000.0, 7_770_900.0)]


def site_in(folder):
    """A site on the grid of the small one."""
    return parse_site(write_text(folder / "site.toml", site_text({"coast": TABLES["coast"]})), [])


def read(tmp_path, *rows, **keys):
    path, faults, remarks = write_text(tmp_path / "fixes.csv", "\n".join(["who,x,y,when", *rows, ""])), [], []
    entry = entry_for(path, **(KEYS | {"crs": CRS, "x": "x", "y": "y"} | keys))
    return read_fixes(entry, site_in(tmp_path), faults, remarks), [str(fault) for fault in faults], remarks


def places(table):
    return list(zip(table.geometry.x, table.geometry.y, strict=True))


def test_each_position_keeps_its_vessel_and_its_time(tmp_path):
    # an index of rows that starts at 2 once moved every place two rows on
    table, faults, _ = read(tmp_path, *ROWS)
    assert faults == []
    assert table["vessel"].tolist() == ["ferry", "ferry", "tug"]
    assert table["time"].tolist() == [np.datetime64(row.rpartition(",")[2]) for row in ROWS]
    assert places(table) == PLACES
    assert table.index.tolist() == [2, 3, 4]


def test_positions_of_a_vector_file_are_read_alike(tmp_path):
    path = tmp_path / "fixes.gpkg"
    write_shapes(
        path,
        [Point(place) for place in PLACES],
        who=[219_000_001, 219_000_001, 219_000_002],
        when=[row.rpartition(",")[2] for row in ROWS],
    )
    faults = []
    table = read_fixes(entry_for(path, **KEYS), site_in(tmp_path), faults, [])
    assert faults == []
    assert table["vessel"].tolist() == ["219000001", "219000001", "219000002"]
    assert places(table) == PLACES
    assert table["time"].iloc[2] == np.datetime64("2024-01-01T11:00")


@pytest.mark.parametrize(
    ("rows", "keys", "said"),
    [
        (
            (",500600,7770100,2024-01-01",),
            {},
            "fixes.csv, row 2, column who: the row names no vessel. Name it, or remove it.",
        ),
        (
            ROWS,
            {"vessel": "mmsi"},
            'files.data.vessel: fixes.csv has no column "mmsi". Columns there: who, x, y, when.',
        ),
        (
            ("ferry,500600,7770100,noon",),
            {},
            'fixes.csv, row 2, column when: the row holds a date that cannot be read: "noon". Write dates as '
            "year-month-day, such as 2021-04-03 or 2021-04-03T14:30.",
        ),
    ],
)
def test_positions_without_a_vessel_or_a_time_are_refused(tmp_path, rows, keys, said):
    table, faults, _ = read(tmp_path, *rows, **keys)
    assert table is None
    assert faults == [said]


def test_both_are_told_at_once(tmp_path):
    _, faults, _ = read(tmp_path, ",500600,7770100,2024-01-01", "ferry,500600,7770100,soon")
    assert [fault.split(": ")[0] for fault in faults] == [
        "fixes.csv, row 3, column when",
        "fixes.csv, row 2, column who",
    ]


def test_positions_along_a_route_make_the_traffic_of_the_route(tmp_path):
    # once a day from south to north along the ferry's line, a fix each minute at 5 m/s; 4 passages in 3.0035 days
    path = write_small_site(tmp_path / "site")
    rows = [
        f"ferry,501550,{7_770_000 + 300 * minute},2024-01-0{day}T10:0{minute}"
        for day in (1, 2, 3, 4)
        for minute in range(6)
    ]
    write_text(path.parent / "fixes.csv", "\n".join(["who,x,y,when", *rows, ""]))
    fixes = 'feeds = "vessel_fix"\nfile = "fixes.csv"\ncrs = "EPSG:32745"\nx = "x"\ny = "y"\ntime = "when"\n'
    fixes += 'vessel = "who"\n'
    limits = "".join(
        f'{key} = {{ value = {value}, units = "{units}", source = "a test" }}\n'
        for key, value, units in (
            ("longest_gap", 5, "min"),
            ("greatest_speed", 20, "knot"),
            ("least_speed", 0.2, "m/s"),
        )
    )
    text = site_text({"coast": TABLES["coast"], "fixes": fixes}) + f"\n[vessels]\n{limits}"
    path.write_text(text, encoding="utf-8")
    tracked = Derivation(read_inputs(path), Settings(wanted=()), RECIPES).layer("vessel_density").to_numpy()
    # the middle of the grid sees 600 m of the line in a circle of 300 m
    passages = 4 / (3 + 5 / 1440)
    assert tracked[15, 31] == pytest.approx(0.6 * passages / (np.pi * 0.3**2), rel=0.05)
    path.write_text(site_text({name: TABLES[name] for name in ("coast", "ferry")}), encoding="utf-8")
    drawn = Derivation(read_inputs(path), Settings(wanted=()), RECIPES).layer("vessel_density").to_numpy()
    np.testing.assert_allclose(tracked[10:20, 24:], drawn[10:20, 24:] * passages / 8, rtol=0.02, atol=1e-3)
    assert tracked[15, 12] == 0 == drawn[15, 12]
