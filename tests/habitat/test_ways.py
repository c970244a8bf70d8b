"""Ways to fresh water: a straight canal worked out by hand, before and after something bars it."""

from __future__ import annotations

from pathlib import Path

import geopandas as gpd
import numpy as np
import pytest
import xarray as xr
from pytest import approx
from shapely.geometry import box

from habitat.profile import read_profile
from habitat.ways import GOOD, good_patches, nearest_good_habitat, ways_to_fresh_water
from layers.derivation import Settings
from layers.inputs import read_inputs
from layers.recipe import derive
from layers.scenario import Addition, derive_after
from layers.site import FileEntry
from tests.sites import EAST, SOUTH, write_small_site


@pytest.fixture(scope="module")
def before(tmp_path_factory):
    inputs = read_inputs(write_small_site(tmp_path_factory.mktemp("site")))
    profile = read_profile("marine_seagrass_grazer")
    return derive(inputs, Settings(wanted=("water_depth",), amounts=profile.amounts))


def _claimed(before, shape):
    entry = FileEntry(
        name="quay", feeds="land_change", path=Path("quay.gpkg"), source="", licence="", credit="", date="2026"
    )
    return derive_after(
        before, [Addition(entry=entry, features=gpd.GeoDataFrame(geometry=[shape], crs=before.grid.crs))], {}
    )


@pytest.fixture(scope="module")
def classes(before):
    """One patch of 2 x 2 cells in the north (1 ha) and one cell in the south."""
    codes = np.zeros(before.grid.shape, np.uint8)
    codes[4:6, 20:22] = GOOD
    codes[27, 30] = GOOD
    return xr.DataArray(codes, dims=("y", "x"))


def test_patches_are_numbered_by_size_and_small_ones_left_out(before, classes):
    numbers, hectares = good_patches(classes, before.grid, least_hectares=0.25)
    assert hectares.tolist() == [1.0, 0.25]
    assert (numbers[4, 20], numbers[27, 30], numbers[0, 0]) == (1, 2, 0)
    assert good_patches(classes, before.grid, least_hectares=0.5)[1].tolist() == [1.0]


def test_the_way_to_the_spring_is_straight_in_open_water_and_goes_round_what_bars_it(before, classes):
    # the spring lies at x 525 m, y 125 m of the grid; the nearest cell of the patch has its centre at 1025, 1225
    (way,) = ways_to_fresh_water(before, before, classes, least_hectares=0.5).itertuples()
    assert way.metres_before == way.metres_after == approx(np.hypot(500, 1100), abs=0.1)
    assert way.state == "as before"
    # a wall across all but the easternmost 200 m: the way bends round its tip, at 1800 m east and 700 to 750 m north
    wall = box(500_500, SOUTH + 700, 501_800, SOUTH + 750)
    (way,) = ways_to_fresh_water(before, _claimed(before, wall), classes, least_hectares=0.5).itertuples()
    expected = np.hypot(1800 - 525, 700 - 125) + 50 + np.hypot(1800 - 1075, 1225 - 750)
    assert way.state == "longer"
    assert way.metres_after == approx(expected, abs=0.5)


def test_a_way_that_is_barred_for_good_is_closed(before, classes):
    wall = box(500_500, SOUTH + 700, EAST, SOUTH + 750)
    north, south = ways_to_fresh_water(before, _claimed(before, wall), classes, least_hectares=0.2).itertuples()
    assert (north.state, south.state) == ("closed", "as before")
    assert np.isnan(north.metres_after)


def test_the_nearest_good_habitat_is_told_with_its_size(before, classes):
    footprint = gpd.GeoSeries([box(501_000, SOUTH + 300, 501_050, SOUTH + 350)], crs=before.grid.crs)
    distance, hectares = nearest_good_habitat(before, classes, footprint, least_hectares=0.2)
    # from the corner at 1050, 300 to the centre of the southern cell at 1525, 125
    assert (distance, hectares) == (approx(np.hypot(475, 175), abs=0.1), 0.25)
    assert nearest_good_habitat(before, classes, footprint, least_hectares=50) is None
