"""Routing down a terrain: by hand, against closed forms, and hollows filled against scikit-image."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from pytest import approx
from scipy import ndimage
from skimage.morphology import reconstruction

from layers.catchment import catchment_of_drainage, lost_to_the_edge
from layers.drainage import ENDS, NO_OUTLET, OUTSIDE, drainage
from layers.grid import Grid

STEPS = {1: (0, 1), 2: (1, 1), 4: (1, 0), 8: (1, -1), 16: (0, -1), 32: (-1, -1), 64: (-1, 0), 128: (-1, 1)}
HECTARE = 10_000.0


def grid_of(rows, columns, cell=100.0):
    west, south = 500_000, 7_770_000
    return Grid.from_bounds("EPSG:32745", west, south, west + columns * cell, south + rows * cell, cell)


def rough(seed, rows, columns):
    """A terrain with hollows, holes without data, and lagoons; heights in sixteenths of a metre."""
    random = np.random.default_rng(seed)
    terrain = ndimage.gaussian_filter(random.standard_normal((rows, columns)), 1.2) * 30
    terrain = np.round(16 * (terrain + np.linspace(8, -6, columns))) / 16
    water = ndimage.gaussian_filter(random.standard_normal((rows, columns)), 1.5) + np.linspace(-1, 1, columns) > 0.4
    water[rows // 2, -1], water[rows // 2, -2] = True, False  # always some, beside land
    terrain[random.random((rows, columns)) < 0.03] = np.nan
    terrain[rows // 2, -2] = 1.0
    return terrain, water


def test_a_small_valley_with_a_hollow_by_hand():
    W = np.nan  # the lagoon
    terrain = np.array(
        [
            [9, 9, 9, 9, 9],
            [9, 7, 6, 5, 9],
            [9, 8, 2, 4, 9],
            [9, 7.5, 6, 3, W],
            [9, 9, 9, 9, 9],
        ]
    )
    found = drainage(terrain, grid_of(5, 5), np.isnan(terrain), least_area=0)
    filled = terrain.copy()
    filled[2, 2] = 3  # the hollow in the middle, up to its brim
    np.testing.assert_array_equal(found.filled, filled)
    directions = [
        [2, 2, 4, 4, 8],
        [1, 2, 4, 8, 16],
        [128, 1, 2, 2, 4],
        [1, 128, 1, 1, OUTSIDE],  # six falls as much east as north: east is first
        [128, 128, 128, 128, 64],
    ]
    np.testing.assert_array_equal(found.direction, directions)
    upstream = np.array(
        [
            [1, 1, 1, 1, 1],
            [1, 4, 3, 4, 1],
            [1, 1, 16, 1, 1],
            [1, 3, 2, 20, W],
            [1, 1, 1, 1, 1],
        ]
    )
    np.testing.assert_array_equal(found.upstream_area, upstream * HECTARE)
    assert found.areas.tolist() == [20 * HECTARE, HECTARE, HECTARE, HECTARE, HECTARE]
    assert found.lost_area == 0
    assert (found.outlet_of[:, :3] == 0).all() and found.outlet_of[3, 4] == NO_OUTLET
    assert found.outlets_xy[0].tolist() == [500_450, 7_770_150]  # the lagoon's cell


def test_on_an_inclined_plane_every_row_drains_straight_down():
    rows, columns = 6, 9
    terrain = np.tile(0.5 * np.arange(columns), (rows, 1))
    water = np.zeros(terrain.shape, bool)
    water[:, 0] = True
    found = drainage(terrain, grid_of(rows, columns), water, least_area=0)
    expected = np.tile(columns - np.arange(columns, dtype=float), (rows, 1))
    expected[:, 0] = np.nan
    np.testing.assert_array_equal(found.upstream_area, expected * HECTARE)
    assert (found.direction[:, 1:] == 16).all() and found.areas.tolist() == [8 * HECTARE] * rows


def test_in_a_straight_valley_the_sides_drain_to_its_floor():
    half, columns = 4, 12
    across, along = np.meshgrid(np.abs(np.arange(-half, half + 1)), np.arange(columns), indexing="ij")
    water = along == 0
    found = drainage(1.0 * across + 0.1 * along, grid_of(2 * half + 1, columns), water, least_area=0)
    floor = found.upstream_area[half] / HECTARE
    width = 2 * half + 1
    np.testing.assert_array_equal(floor[2:], width * (columns - np.arange(2, columns)))
    assert floor[1] == width * (columns - 2) + 1  # beside the water every cell has its own outlet
    np.testing.assert_array_equal(found.upstream_area[0, 2:], HECTARE)


@pytest.mark.parametrize("seed", range(6))
def test_hollows_are_filled_as_an_independent_library_fills_them(seed):
    terrain, water = rough(seed, 30, 40)
    land = np.isfinite(terrain) & ~water
    found = drainage(terrain, grid_of(30, 40), water)
    # reconstruction by erosion from the cells that can let water out: beside water, no data, or the rim
    outside = ~np.pad(land, 1)
    free = land & ndimage.binary_dilation(outside, np.ones((3, 3)))[1:-1, 1:-1]
    heights = np.where(land, terrain, np.nanmax(terrain))
    seeds = np.where(free, heights, np.nanmax(terrain))
    expected = reconstruction(seeds, heights, method="erosion", footprint=np.ones((3, 3)))
    np.testing.assert_array_equal(found.filled[land], expected[land])
    assert np.isnan(found.filled[~land]).all()


@pytest.mark.parametrize("seed", range(8))
def test_every_cell_runs_down_to_its_outlet_or_over_the_edge_and_never_in_a_circle(seed):
    terrain, water = rough(seed, 24, 30)
    terrain = terrain / 3 + 0.1  # heights that single precision rounds: filled ground has to be level all the same
    found = drainage(terrain, grid_of(24, 30), water, least_area=0)
    for start in np.argwhere(np.isfinite(terrain) & ~water):
        row, column = start
        for _ in range(terrain.size + 1):
            code = int(found.direction[row, column])
            if water[row, column] or code == ENDS:
                break
            before = found.filled[row, column]
            row, column = row + STEPS[code][0], column + STEPS[code][1]
            assert water[row, column] or found.filled[row, column] <= before
        else:
            pytest.fail(f"water from {start} runs in a circle")
        assert water[row, column] == (found.outlet_of[tuple(start)] != NO_OUTLET)


@settings(max_examples=40)
@given(st.integers(0, 10_000), st.integers(3, 25), st.integers(4, 25), st.sampled_from([0.0, 3.0, 20.0, 1e6]))
def test_what_leaves_the_land_arrives_at_the_outlets_or_is_lost_over_the_edge(seed, rows, columns, least):
    terrain, water = rough(seed, rows, columns)
    grid = grid_of(rows, columns)
    found = drainage(terrain, grid, water, least_area=least)
    land = np.isfinite(terrain) & ~water
    load = np.random.default_rng(seed).random((rows, columns)) * 50
    at_outlets = catchment_of_drainage(found).total(load)
    assert at_outlets.sum() + lost_to_the_edge(found, load) == approx(load[land].sum())
    assert found.areas.sum() + found.lost_area == approx(land.sum() * HECTARE)
    assert (np.diff(found.areas) <= 0).all()
    assert len(found.areas) == 1 or found.areas.min() >= least * HECTARE


def test_a_terrain_that_ends_short_of_the_divide_says_what_it_loses():
    terrain = np.tile(5.0 - np.abs(np.arange(9) - 4), (3, 1))  # a ridge: the east drains to the lagoon, the west away
    water = np.zeros(terrain.shape, bool)
    water[:, -1] = True
    found = drainage(terrain, grid_of(3, 9), water)
    assert found.lost_area > 0
    assert (found.outlet_of[:, 0] == NO_OUTLET).all() and (found.outlet_of[:, 5:8] == 0).all()


def test_the_site_is_the_end_of_the_flow_and_a_lake_is_not():
    terrain = np.full((3, 5), 9.0)
    terrain[1] = 0.0, 4.0, 3.0, 5.0, 6.0  # a hollow behind a bank
    water = np.zeros(terrain.shape, bool)
    water[:, 0] = True
    found = drainage(terrain, grid_of(3, 5), water)
    assert found.filled[1, 2] == 4 and found.outlet_of[1, 3] == 0


@pytest.mark.parametrize(
    ("changed", "words"),
    [
        ({"terrain": np.ones((2, 4))}, r"terrain: found an array of \(2, 4\). The grid of the catchment has \(4, 4\)."),
        ({"water": np.ones((4, 4), bool)}, "terrain: there is no land in it."),
        ({"terrain": np.full((4, 4), np.nan)}, "terrain: there is no land in it."),
        ({"terrain": np.full((4, 4), -32768.0)}, "found a height of 32768 m. .*declare the value for no data"),
        ({"terrain": np.full((4, 4), np.inf)}, "found a height of inf m."),
        ({"water": np.zeros((4, 4), bool)}, "water: none lies beside the terrain"),
        ({"least_area": -1.0}, "least_area: found -1 ha. It must be 0 ha or more."),
    ],
)
def test_what_cannot_be_routed_is_refused(changed, words):
    water = np.zeros((4, 4), bool)
    water[0] = True
    given_ = {"terrain": np.ones((4, 4)), "water": water, "least_area": 1.0} | changed
    with pytest.raises(ValueError, match=words):
        drainage(given_["terrain"], grid_of(4, 4), given_["water"], least_area=given_["least_area"])
