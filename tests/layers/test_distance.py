"""Straight distance against shapely, scipy and closed forms, and its laws."""

import numpy as np
import pytest
import shapely
from geopandas import GeoSeries
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.ndimage import distance_transform_edt

from layers.distance import straight_distance
from tests.grids import toy_grid


def random_shapes(seed, grid, count=12):
    """Points, lines and polygons (some with a hole) in and round the grid."""
    rng = np.random.default_rng(seed)
    west, south, east, north = grid.bounds
    shapes = []
    for number in range(count):
        x, y = rng.uniform(west - 500, east + 500), rng.uniform(south - 500, north + 500)
        around = shapely.Point(x, y).buffer(rng.uniform(20, 400), quad_segs=6)
        if number % 4 == 0:
            shapes.append(shapely.Point(x, y))
        elif number % 4 == 1:
            shapes.append(shapely.LineString(rng.uniform(-600, 600, (5, 2)) + np.array([x, y])))
        elif number % 4 == 2:
            shapes.append(around)
        else:
            shapes.append(around.difference(around.buffer(-10)))
    return GeoSeries(shapes, crs=grid.crs)


@pytest.mark.parametrize("seed", range(8))
@pytest.mark.parametrize("reach", [90, 700, 20_000])
def test_distance_is_that_of_shapely_for_each_cell(seed, reach):
    grid = toy_grid(70, 90, cell=25)
    shapes = random_shapes(seed, grid)
    centres = shapely.points(*np.meshgrid(grid.x, grid.y))
    expected = np.minimum(shapely.distance(shapely.union_all(shapes.array), centres), reach)
    found = straight_distance(shapes, grid, reach)
    assert found.dtype == np.float32
    np.testing.assert_allclose(found, expected, rtol=1e-7, atol=1e-6)


def test_points_on_cell_centres_give_the_distance_transform_of_scipy():
    grid = toy_grid(60, 80, cell=50)
    rng = np.random.default_rng(1)
    away = rng.random(grid.shape) > 0.01
    rows, columns = np.nonzero(~away)
    points = GeoSeries(shapely.points(grid.x[columns], grid.y[rows]), crs=grid.crs)
    expected = distance_transform_edt(away, sampling=50)
    np.testing.assert_allclose(straight_distance(points, grid, 1e5), expected, rtol=1e-7)


def test_five_by_five_cells_round_one_give_the_value_computed_with_scipy():
    # 2.828427 cells: the corner of a 5 x 5 mask whose middle is 0, scipy.ndimage.distance_transform_edt
    grid = toy_grid(5, 5, cell=10)
    middle = GeoSeries([shapely.Point(500_025, 7_770_025)], crs=grid.crs)
    assert straight_distance(middle, grid, 100)[0, 0] == pytest.approx(28.28427, abs=5e-6)


def test_buffer_is_measured_to_the_drawn_edge_and_not_to_the_cell_it_falls_in():
    grid = toy_grid(1, 4, cell=100)
    footprint = GeoSeries([shapely.box(499_000, 7_769_000, 500_070, 7_771_000)], crs=grid.crs)
    assert straight_distance(footprint, grid, 250).tolist() == [[0, 80, 180, 250]]


@given(
    seed=st.integers(0, 10**6),
    reach=st.sampled_from([40.0, 333.0, 3000.0]),
    top=st.integers(0, 69),
    left=st.integers(0, 89),
    size=st.sampled_from([1, 9, 64]),
)
@settings(max_examples=40, deadline=None)
def test_a_window_of_the_grid_gives_the_bits_of_the_whole(seed, reach, top, left, size):
    grid = toy_grid(70, 90, cell=25)
    shapes = random_shapes(seed, grid)
    window = slice(top, min(top + size, 70)), slice(left, min(left + size, 90))
    whole = straight_distance(shapes, grid, reach)
    np.testing.assert_array_equal(straight_distance(shapes, grid.window(*window), reach), whole[window])


def test_any_number_of_threads_gives_the_same_bits():
    grid = toy_grid(300, 90, cell=25)
    shapes = random_shapes(5, grid)
    one = straight_distance(shapes, grid, 500, workers=1)
    for workers in (2, 3):
        np.testing.assert_array_equal(straight_distance(shapes, grid, 500, workers=workers), one)


@given(seed=st.integers(0, 10**6), added=st.integers(0, 10**6))
@settings(max_examples=20, deadline=None)
def test_one_more_footprint_never_makes_anything_farther(seed, added):
    grid = toy_grid(20, 20, cell=50)
    some = random_shapes(seed, grid, 4)
    more = GeoSeries([*some, *random_shapes(added, grid, 3)], crs=grid.crs)
    assert (straight_distance(more, grid, 900) <= straight_distance(some, grid, 900)).all()


def test_without_a_geometry_everything_is_at_the_reach():
    grid = toy_grid(3, 3)
    assert (straight_distance(GeoSeries([None, shapely.Point()], crs=grid.crs), grid, 70) == 70).all()
    assert (straight_distance(GeoSeries([], crs=grid.crs), grid, 70) == 70).all()


@pytest.mark.parametrize("reach", [0, -1, np.nan, np.inf])
def test_a_reach_that_is_nothing_or_without_end_is_refused(reach):
    grid = toy_grid(3, 3)
    with pytest.raises(ValueError, match=r"^reach: found .* m\. It must be greater than 0 and finite\.$"):
        straight_distance(GeoSeries([shapely.Point(0, 0)], crs=grid.crs), grid, reach)
