import numpy as np
import pytest
import xarray as xr

from layers.land_cover import SOIL_GROUPS, curve_number_of_codes, tabulated_curve_number
from tests.evidence import published

COVERS = {1: "pasture, good", 2: "residential, 1/2 acre", 80: None}
SOILS = {1: "A", 2: "B", 3: "C", 4: "D", 0: None}


@published("tr55_urban.csv")
def test_the_table_that_ships_holds_the_handbooks_districts(row):
    for group in SOIL_GROUPS:
        assert tabulated_curve_number(row.cover, group) == getattr(row, group)


def test_a_small_map_by_hand():
    cover = np.array([[1, 1, 2], [2, 80, np.nan]])
    soil = np.array([[1, 3, 2], [0, 2, 4]])
    expected = np.array([[39, 74, 70], [np.nan, np.nan, np.nan]])
    found = curve_number_of_codes(cover, soil, covers=COVERS, soil_groups=SOILS)
    np.testing.assert_array_equal(found, expected)
    grid = curve_number_of_codes(
        xr.DataArray(cover, dims=("y", "x")), xr.DataArray(soil, dims=("y", "x")), covers=COVERS, soil_groups=SOILS
    )
    np.testing.assert_array_equal(grid.to_numpy(), expected)
    assert grid.name == "curve_number"
    assert curve_number_of_codes(1, 3, covers=COVERS, soil_groups=SOILS) == 74


def test_one_soil_everywhere_is_broadcast():
    found = curve_number_of_codes(np.array([1.0, 2.0]), 4.0, covers=COVERS, soil_groups=SOILS)
    np.testing.assert_array_equal(found, [80, 85])


@pytest.mark.parametrize(
    ("cover", "soil", "changed", "words"),
    [
        (7.0, 1.0, {}, "covers: the map holds code 7, which is not listed."),
        (1.0, 9.0, {}, "soil_groups: the map holds code 9, which is not listed."),
        (1.0, 1.0, {"covers": {1: "moon"}}, 'no rows for cover "moon". The table holds: brush, fair;'),
        (1.0, 1.0, {"soil_groups": {1: "E"}}, 'soil_group: found "E". It must be one of A, B, C, D.'),
    ],
)
def test_codes_without_a_meaning_are_refused(cover, soil, changed, words):
    with pytest.raises(ValueError, match=words):
        curve_number_of_codes(cover, soil, **({"covers": COVERS, "soil_groups": SOILS} | changed))
