"""Fetch against shapely's rays, by hand, and its laws."""

import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st

from layers.shelter import DIRECTIONS, fetch
from tests.grids import toy_grid


def ray_lengths(land, direction, reach):
    """Length from each cell's centre to the land, cells of side 1 as squares, by shapely."""
    rows, columns = np.nonzero(land)
    # a hair wider, so that two squares that touch at a corner let nothing through
    squares = shapely.union_all(shapely.box(columns, -rows, columns + 1, -rows - 1).tolist()).buffer(1e-7)
    y, x = np.indices(land.shape)
    centres = np.stack([x + 0.5, -y - 0.5], axis=-1)
    way = np.array([np.sin(np.radians(direction)), np.cos(np.radians(direction))]) * reach
    rays = shapely.linestrings(np.stack([centres, centres + way], axis=-2))
    met = shapely.distance(shapely.points(centres), shapely.intersection(rays, squares))
    return np.where(land, np.nan, np.where(np.isnan(met), reach, met))


@pytest.mark.parametrize(
    ("direction", "share"),
    zip(
        [22.5, 67.5, 0, 90, 200, 247.5, 311, 350.25, 180],
        [0.1, 0.02, 0.1, 0.02, 0.02, 0.1, 0.1, 0.02, 0.02],
        strict=True,
    ),
)
def test_fetch_in_one_direction_is_the_ray_of_shapely(direction, share):
    land = np.random.default_rng(3).random((20, 25)) < share
    found = fetch(land, toy_grid(20, 25, cell=1), 25, {direction: 1.0})
    expected = ray_lengths(land, direction, 25)
    grazing = np.abs(found - expected) > 1e-4  # rays that touch a corner and no more are a matter of rounding
    assert grazing[~land].mean() < 0.01
    np.testing.assert_array_equal(np.isnan(found), land)


def test_four_directions_in_a_pond_by_hand():
    land = np.ones((3, 4), bool)
    land[1, 1:3] = False
    found = fetch(land, toy_grid(3, 4, cell=10), 100, {0: 1, 90: 1, 180: 1, 270: 1})
    # to the near shore 5 m, along the pond 15 m, and 5 m north and south
    assert found[1, 1:3].tolist() == [7.5, 7.5]


def test_shares_weight_the_directions():
    land = np.zeros((1, 5), bool)
    land[0, 0] = True
    grid = toy_grid(1, 5, cell=100)
    west, east = 150, 1000  # from the second cell of water to the land, and to the reach beyond the grid
    assert fetch(land, grid, 1000, {270: 1})[0, 2] == west
    assert fetch(land, grid, 1000, {270: 3, 90: 1})[0, 2] == pytest.approx((3 * west + east) / 4)
    assert fetch(land, grid, 1000, {270: 0.75, 90: 0.25})[0, 2] == pytest.approx((3 * west + east) / 4)


def test_a_direction_is_where_the_wind_comes_from():
    land = np.zeros((7, 7), bool)
    land[0, 3] = True  # land in the north
    grid = toy_grid(7, 7, cell=10)
    assert fetch(land, grid, 500, {0: 1})[6, 3] == 55
    assert fetch(land, grid, 500, {180: 1})[6, 3] == 500
    diagonal = np.zeros((7, 7), bool)
    diagonal[0, 6] = True  # in the north-east
    assert fetch(diagonal, grid, 500, {45: 1})[6, 0] == pytest.approx(5.5 * np.sqrt(2) * 10)


def test_no_wind_gets_between_two_land_cells_that_touch_at_a_corner():
    land = np.array([[0, 1, 0], [1, 0, 0], [0, 0, 0]], bool)
    found = fetch(land, toy_grid(3, 3, cell=10), 100, {315: 1})
    assert found[1, 1] == pytest.approx(5 * np.sqrt(2))
    assert found[2, 2] == pytest.approx(15 * np.sqrt(2))


def test_without_land_every_fetch_is_the_reach():
    assert (fetch(np.zeros((4, 4), bool), toy_grid(4, 4), 321) == 321).all()


def test_what_is_not_known_has_no_fetch_and_stops_no_wind():
    land = np.zeros((1, 6), bool)
    land[0, 0] = True
    known = np.array([[True, True, False, True, True, True]])
    found = fetch(land, toy_grid(1, 6, cell=10), 100, {270: 1}, known=known)
    np.testing.assert_array_equal(found, np.array([[np.nan, 5, np.nan, 25, 35, 45]], np.float32))


@given(
    seed=st.integers(0, 10**6),
    share=st.sampled_from([0.01, 0.1, 0.5]),
    reach=st.sampled_from([2.0, 6.5, 20.0]),
    top=st.integers(0, 30),
    left=st.integers(0, 30),
    size=st.sampled_from([2, 15]),
)
@settings(max_examples=40, deadline=None)
def test_a_block_with_a_rim_as_wide_as_the_reach_gives_the_bits_of_the_whole(seed, share, reach, top, left, size):
    land = np.random.default_rng(seed).random((40, 44)) < share
    grid = toy_grid(40, 44, cell=30)
    winds = dict(zip(DIRECTIONS, np.random.default_rng(seed).random(16) + 0.1, strict=True))
    whole = fetch(land, grid, reach * 30, winds)
    rim = int(np.ceil(reach)) + 1
    rows, columns = slice(max(top - rim, 0), top + size + rim), slice(max(left - rim, 0), left + size + rim)
    block = fetch(land[rows, columns], grid.window(rows, columns), reach * 30, winds)
    core = block[top - rows.start :, left - columns.start :][:size, :size]
    np.testing.assert_array_equal(core, whole[top : top + size, left : left + size])


def test_any_number_of_threads_gives_the_same_bits():
    land = np.random.default_rng(9).random((200, 50)) < 0.05
    grid = toy_grid(200, 50, cell=10)
    one = fetch(land, grid, 300, workers=1)
    for workers in (2, 5):
        np.testing.assert_array_equal(fetch(land, grid, 300, workers=workers), one)


@given(seed=st.integers(0, 10**6))
@settings(max_examples=20, deadline=None)
def test_more_land_never_makes_a_fetch_longer(seed):
    rng = np.random.default_rng(seed)
    land = rng.random((15, 15)) < 0.1
    more = land | (rng.random((15, 15)) < 0.1)
    grid = toy_grid(15, 15, cell=10)
    before, after = fetch(land, grid, 100), fetch(more, grid, 100)
    assert (after[~more] <= before[~more] + 1e-4).all()


def test_refusals():
    grid = toy_grid(2, 2)
    land = np.zeros((2, 2), bool)
    with pytest.raises(ValueError, match=r"^reach: found 0 m\. It must be greater than 0 and finite\.$"):
        fetch(land, grid, 0)
    with pytest.raises(ValueError, match=r"^shares: each must be 0 or more, and not all 0\.$"):
        fetch(land, grid, 100, {0: 0})
    with pytest.raises(ValueError, match=r"^shares: each must be 0 or more, and not all 0\.$"):
        fetch(land, grid, 100, {0: -1, 90: 2})
