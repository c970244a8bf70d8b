"""What a map shows, and how it is thinned."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from habitat.view.window import greatest, nearest, window
from tests.grids import toy_grid


def test_without_ranges_the_whole_grid_is_shown():
    grid = toy_grid(60, 90, 50)
    view = window(grid)
    assert (view.rows, view.columns, view.step) == (slice(0, 60), slice(0, 90), 1)
    assert view.bounds == grid.bounds
    assert not view.is_thinned


def test_a_range_picks_the_cells_it_touches():
    grid = toy_grid(60, 90, 50)  # its south-west corner is (500 000, 7 770 000)
    view = window(grid, (500_110, 500_190), (7_772_905, 7_772_960))
    assert view.columns == slice(2, 4)
    assert view.rows == slice(0, 2)
    assert view.bounds == (500_100, 7_772_900, 500_200, 7_773_000)


def test_a_range_beside_the_grid_shows_nothing():
    assert window(toy_grid(), (400_000, 410_000), (7_770_000, 7_771_000)) is None


@given(
    rows=st.integers(1, 70),
    columns=st.integers(1, 70),
    most=st.integers(1, 40),
    west=st.floats(-0.2, 1.0),
    width=st.floats(0.05, 1.2),
)
def test_a_picture_never_holds_more_blocks_than_asked_and_covers_its_window(rows, columns, most, west, width):
    grid = toy_grid(rows, columns, 50)
    span = columns * 50
    x_range = (500_000 + west * span, 500_000 + (west + width) * span)
    view = window(grid, x_range, most=most)
    if view is None:
        assert x_range[1] <= 500_000 or x_range[0] >= 500_000 + span
        return
    values = np.arange(rows * columns, dtype=np.float32).reshape(rows, columns)
    for thin in (nearest, greatest):
        picture = thin(values, view)
        # a window that begins within a block needs one more block than its cells divide into
        assert max(picture.shape) <= most + 1
        bottom, left = view.bounds[1], view.bounds[0]
        assert view.bounds[2] - left == pytest.approx(picture.shape[1] * view.step * 50)
        assert view.bounds[3] - bottom == pytest.approx(picture.shape[0] * view.step * 50)
        assert np.isin(picture, values[view.rows, view.columns]).all()


def test_blocks_begin_at_the_same_cells_while_the_map_is_dragged():
    grid = toy_grid(400, 400, 10)
    starts = {
        window(grid, (500_000 + shift, 502_000 + shift), (7_770_000, 7_772_000), most=50).columns.start % 4
        for shift in range(0, 200, 10)
    }
    assert starts == {0}


def test_a_single_pressed_cell_stays_in_a_thinned_threat():
    grid = toy_grid(100, 100, 10)
    threat = np.zeros((100, 100), np.float32)
    threat[37, 61] = 0.9
    view = window(grid, most=10)
    assert nearest(threat, view).max() == 0  # sampling loses it
    assert greatest(threat, view).max() == np.float32(0.9)
    assert np.argwhere(greatest(threat, view)).tolist() == [[3, 6]]


def test_a_block_without_data_stays_without_data():
    grid = toy_grid(4, 4, 10)
    threat = np.full((4, 4), np.nan, np.float32)
    threat[0, 0] = 0.0
    picture = greatest(threat, window(grid, most=2))
    assert picture[0, 0] == 0
    assert np.isnan(picture).sum() == 3
