"""Clearance under the keel by hand, against the arcsine law and shapely, and its laws."""

import numpy as np
import pytest
import shapely
from geopandas import GeoSeries
from hypothesis import given
from hypothesis import strategies as st
from pytest import approx

from layers.clearance import (
    CLEAR_TIME,
    KEEL_CLEARANCE,
    keel_clearance,
    least_clearance_of_routes,
    share_of_time_clear,
)
from layers.water import share_of_time_within
from tests.agreement import assert_kinds_agree
from tests.grids import toy_grid

COSINE = np.cos(2 * np.pi * (np.arange(100_000) + 0.5) / 100_000)
FOUR_FEET = 1.219
BED = [[-2.0, -0.5, 0.3], [np.nan, -4.0, 0.0]]
DRAFT = [[0.5, 0.5, 1.0], [1.0, np.nan, 0.0]]


def test_clearance_by_hand():
    # level 0.25 m; a flat that stands 0.3 m above the datum leaves a boat of 1 m draft 1.05 m aground
    found = keel_clearance(np.array(BED), 0.25, np.array(DRAFT))
    np.testing.assert_allclose(found, [[1.75, 0.25, -1.05], [np.nan, np.nan, 0.25]])


def test_float_array_grid_and_dask_agree():
    assert_kinds_agree(lambda bed, draft: keel_clearance(bed, 0.25, draft), KEEL_CLEARANCE, BED, DRAFT)
    levels = np.array([-1.0, -0.25, 0.5, 1.25])
    assert_kinds_agree(lambda bed, draft: share_of_time_clear(bed, levels, draft, 0.3), CLEAR_TIME, BED, DRAFT)


@pytest.mark.parametrize(("bed", "draft"), [(-2.0, 0.6), (-3.0, 1.0), (-1.5, 0.3)])
def test_share_of_time_clear_under_a_cosine_tide_is_the_arcsine_law(bed, draft):
    # closed form: cos t >= v for arccos(v) / pi of the time
    needed = bed + draft + FOUR_FEET
    expected = np.arccos(np.clip(needed / 0.9, -1, 1)) / np.pi
    assert share_of_time_clear(bed, 0.9 * COSINE, draft, FOUR_FEET) == approx(expected, abs=2e-5)


def test_four_feet_of_clearance_are_1_219_metres_to_the_millimetre():
    # international foot, 0.3048 m exactly
    assert round(4 * 0.3048, 3) == FOUR_FEET


@given(bed=st.floats(-6, 2), draft=st.floats(0, 3), least=st.floats(0, 2), seed=st.integers(0, 999))
def test_a_deeper_boat_or_more_clearance_is_never_clear_for_longer(bed, draft, least, seed):
    levels = np.random.default_rng(seed).normal(0, 0.7, 50)
    share = share_of_time_clear(bed, levels, draft, least)
    assert 0 <= share_of_time_clear(bed, levels, draft + 0.4, least) <= share <= 1
    assert share_of_time_clear(bed, levels, draft, least + 0.4) <= share
    assert share_of_time_clear(bed, levels + 0.4, draft, least) >= share
    # a boat of no draft with so much clearance floats in water at least that deep
    assert share_of_time_clear(bed, levels, 0, least) == approx(share_of_time_within(bed, levels, least, np.inf))


def test_at_the_least_clearance_itself_a_boat_is_clear():
    assert share_of_time_clear(-2.0, np.array([0.0, 0.5, 1.0]), 1.0, 1.5) == approx(2 / 3)


def test_least_clearance_of_routes_by_hand():
    grid = toy_grid(3, 5, cell=10)
    west, _, _, north = grid.bounds
    along_the_top = shapely.LineString([(west - 100, north - 5), (west + 100, north - 5)])
    down_the_left = shapely.LineString([(west + 5, north), (west + 5, north - 30)])
    lines = GeoSeries([along_the_top, down_the_left], crs=grid.crs)
    bed = np.array([[-1.0, -2.0, -3.0, 0.0, np.nan], [-2.0, -2.0, -2.0, -2.0, -2.0], [-5.0, -5.0, -5.0, -5.0, -5.0]])
    found = least_clearance_of_routes(lines, [0.5, 1.5], bed, level=0.25, grid=grid, radius=11)
    nan = np.nan
    # the deep boat within 11 m of the left column, the shallow one within 11 m of the top row
    expected = [[-0.25, 0.75, 2.75, -0.25, nan], [0.75, 0.75, 1.75, 1.75, 1.75], [3.75, 3.75, nan, nan, nan]]
    np.testing.assert_allclose(found, expected, atol=1e-6)
    assert found.dtype == np.float32


@pytest.mark.parametrize("seed", range(4))
def test_the_deepest_vessel_within_the_radius_is_that_by_shapely(seed):
    rng = np.random.default_rng(seed)
    grid = toy_grid(25, 30, cell=40)
    west, south, east, north = grid.bounds
    lines = GeoSeries(shapely.linestrings(rng.uniform((west, south), (east, north), (6, 2, 2))), crs=grid.crs)
    drafts = rng.choice([0.4, 1.1, 2.5], 6)
    bed = rng.uniform(-8, 1, grid.shape)
    centres = shapely.points(*np.meshgrid(grid.x, grid.y))
    near = np.stack([shapely.distance(centres, line) < 130 for line in lines])
    each = np.where(near, 0.3 - bed - drafts[:, None, None], np.inf).min(axis=0)
    expected = np.where(np.isinf(each), np.nan, each)
    assert np.isnan(expected).any()
    found = least_clearance_of_routes(lines, drafts, bed, 0.3, grid, 130)
    np.testing.assert_allclose(found, expected, atol=1e-5)
    again = least_clearance_of_routes(lines[::-1], drafts[::-1], bed, 0.3, grid, 130, workers=1)
    np.testing.assert_array_equal(again, found)
    window = slice(5, 15), slice(3, 22)
    part = least_clearance_of_routes(lines, drafts, bed[window], 0.3, grid.window(*window), 130)
    np.testing.assert_array_equal(part, found[window])


def test_without_a_route_there_is_no_clearance():
    grid = toy_grid(2, 2)
    nothing = least_clearance_of_routes(GeoSeries([], crs=grid.crs), [], np.zeros((2, 2)), 0, grid, 100)
    assert np.isnan(nothing).all()


GRID = toy_grid(2, 2)
ROUTE = GeoSeries([shapely.LineString([(0, 0), (100, 0)])], crs=GRID.crs)
FLAT = np.zeros((2, 2))
ADVICE = "A draft is the depth of the keel below the water, in metres."


@pytest.mark.parametrize(
    ("call", "sentence"),
    [
        (lambda: keel_clearance(-2.0, 0.0, -1.0), f"draft: found -1 m. It must be at least 0 m. {ADVICE}"),
        (
            lambda: share_of_time_clear(-2.0, [], 1.0, 0.5),
            "levels: at least one water level is needed, and every level must be a number.",
        ),
        (
            lambda: share_of_time_clear(-2.0, [0.0, np.nan], 1.0, 0.5),
            "levels: at least one water level is needed, and every level must be a number.",
        ),
        (
            lambda: share_of_time_clear(-2.0, [0.0], 1.0, -0.5),
            "least clearance: found -0.5 m. It must be at least 0 m.",
        ),
        (
            lambda: share_of_time_clear(-2.0, [0.0], 1.0, np.nan),
            "least clearance: found nan. Give 0 or more metres.",
        ),
        (
            lambda: least_clearance_of_routes(ROUTE, [1, 2], FLAT, 0, GRID, 50),
            "routes: found 1 routes and 2 drafts. Give one for each.",
        ),
        (
            lambda: least_clearance_of_routes(ROUTE, [np.nan], FLAT, 0, GRID, 50),
            f"routes: route 0 has a draft of nan m. {ADVICE}",
        ),
        (
            lambda: least_clearance_of_routes(ROUTE, [1], np.zeros((3, 2)), 0, GRID, 50),
            "bed: found the shape (3, 2). It must be that of the grid, (2, 2).",
        ),
        (
            lambda: least_clearance_of_routes(ROUTE, [1], FLAT, np.nan, GRID, 50),
            "level: found nan m. A water level is needed.",
        ),
        (
            lambda: least_clearance_of_routes(ROUTE, [1], FLAT, 0, GRID, 0),
            "radius: found 0 m. It must be greater than 0 and finite.",
        ),
    ],
)
def test_refusals(call, sentence):
    with pytest.raises(ValueError) as told:
        call()
    assert str(told.value) == sentence
