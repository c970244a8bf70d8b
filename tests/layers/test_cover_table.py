import numpy as np
import pandas as pd
import pytest

from layers.cover_table import cover_table
from layers.fault import LayerError

ROWS = pd.DataFrame(
    {
        "code": [1, 2, 9],
        "label": ["meadows", "town", "lake"],
        "curve_number_cover": ["meadow", "open space, fair", "nothing"],
        "export_cover": ["pasture", "urban", "nothing"],
        "concentration_cover": [None, "urban", np.nan],
        "impervious_share": [None, 0.4, np.nan],
        "cover_factor": [0.01, None, 0.0],
    }
)


def test_a_table_says_what_each_code_stands_for():
    meadow, town, lake = cover_table(ROWS).covers
    assert (meadow.code, meadow.label, meadow.export_cover) == (1, "meadows", "pasture")
    assert meadow.concentration_cover is None and lake.concentration_cover is None
    assert (meadow.impervious_share, town.impervious_share) == (0.0, 0.4)
    assert np.isnan(town.cover_factor) and lake.cover_factor == 0
    assert {cover.practice_factor for cover in (meadow, town, lake)} == {1.0}


def test_codes_become_values_cell_by_cell():
    codes = np.array([[1.0, 2.0, np.nan], [9.0, 2.0, 1.0]])
    found = cover_table(ROWS).values(codes, {1: 10.0, 9: 0.0})
    np.testing.assert_array_equal(found, [[10, np.nan, np.nan], [0, np.nan, 10]])
    factor = cover_table(ROWS).factor(codes, "impervious_share")
    np.testing.assert_array_equal(factor, np.array([[0, 0.4, np.nan], [0, 0.4, 0]], np.float32))


def test_a_code_the_table_lacks_is_named():
    with pytest.raises(ValueError, match=r"the map holds code 3, 7\.5, which the table of covers lacks"):
        cover_table(ROWS).values(np.array([1.0, 7.5, 3.0]), {})


def test_a_column_that_is_not_used_may_be_left_out_and_notes_are_passed_over():
    found = cover_table(ROWS[["code", "label"]].assign(note="seen from the road", source="walk of 2021"))
    assert found.covers[1].export_cover is None and found.covers[1].impervious_share == 0


@pytest.mark.parametrize(
    ("change", "words"),
    [
        (lambda rows: rows.drop(columns="label"), "column label: It is missing. Add it."),
        (
            lambda rows: rows.rename(columns={"export_cover": "export"}),
            "column export: It is not known. Known are: code,",
        ),
        (lambda rows: rows.iloc[:0], "rows: There are none."),
        (lambda rows: rows.assign(code=[1, 1, 9]), "code 1: It stands 2 times."),
        (lambda rows: rows.assign(code=[1, 2.5, 9]), 'line 3, code: "2.5" is not a whole number.'),
        (
            lambda rows: rows.assign(export_cover="heath"),
            'line 2, export_cover: "heath" is not in export_coefficient.csv. ',
        ),
        (
            lambda rows: rows.assign(impervious_share=40),
            'impervious_share: "40" is not a share from 0 to 1. Divide a perc',
        ),
        (lambda rows: rows.assign(cover_factor="low"), 'line 4, cover_factor: "low" is not a share'),
        (
            lambda rows: rows.assign(curve_number_cover="commercial"),
            "The curve number of commercial counts 85 % paved.",
        ),
    ],
)
def test_faults_of_the_table_are_told(change, words):
    with pytest.raises(LayerError) as caught:
        cover_table(change(ROWS))
    assert words in str(caught.value)


def test_an_unknown_cover_is_told_with_the_known_ones():
    with pytest.raises(LayerError) as caught:
        cover_table(ROWS.assign(export_cover="heath"))
    assert 'Write "nothing" or one of: forest; mixed agriculture; other crops; pasture; row crops; urban.' in str(
        caught.value
    )


def test_all_faults_come_at_once_with_the_codes_of_the_map():
    rows = ROWS.assign(code=[1, 1, 9], export_cover=["pasture", "town", "forrest"])
    with pytest.raises(LayerError) as caught:
        cover_table(rows, name="mine.csv", land_cover=np.array([1.0, 3.0, np.nan]))
    assert str(caught.value).startswith("mine.csv: 3 problems")
    assert "The map holds code 3" in str(caught.value)
    assert {fault.place for fault in caught.value.faults} == {"line 3, export_cover", "line 4, export_cover", "rows"}
