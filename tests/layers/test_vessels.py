"""Traffic density against shapely's lengths in circles, closed forms, and its laws."""

import numpy as np
import pytest
import shapely
from geopandas import GeoSeries
from hypothesis import given, settings
from hypothesis import strategies as st

from layers.vessels import vessel_density
from tests.grids import toy_grid


def random_routes(seed, grid, count=4):
    rng = np.random.default_rng(seed)
    west, south, east, north = grid.bounds
    points = rng.uniform((west - 300, south - 300), (east + 300, north + 300), (count, 5, 2))
    return GeoSeries(shapely.linestrings(points), crs=grid.crs), rng.uniform(0, 9, count)


@pytest.mark.parametrize("seed", range(4))
def test_density_is_the_length_in_the_circle_by_shapely(seed):
    grid = toy_grid(9, 11, cell=80)
    routes, trips = random_routes(seed, grid)
    corners = 720  # shapely's circle is a polygon: its area and lengths are short by about (pi / corners)**2
    circles = shapely.buffer(shapely.points(*np.meshgrid(grid.x, grid.y)), 250, quad_segs=corners // 4)
    length = sum(
        trip * shapely.length(shapely.intersection(circles, route)) for trip, route in zip(trips, routes, strict=True)
    )
    expected = length / 1000 / (np.pi * 0.25**2)
    np.testing.assert_allclose(vessel_density(routes, trips, grid, 250), expected, rtol=1e-3, atol=0.02)


def test_a_route_beside_the_centre_gives_the_chord_of_the_circle():
    grid = toy_grid(1, 1, cell=100)
    beside = GeoSeries([shapely.LineString([(490_000, 7_770_110), (510_000, 7_770_110)])], crs=grid.crs)
    # 60 m from the centre at 7,770,050, in a circle of 100 m: the chord is 2 sqrt(100^2 - 60^2) = 160 m
    assert vessel_density(beside, [5], grid, 100)[0, 0] == pytest.approx(5 * 0.160 / (np.pi * 0.1**2), rel=1e-6)


@pytest.mark.parametrize("turn", range(0, 180, 20))
def test_all_the_traffic_is_in_the_sum_over_a_wide_grid(turn):
    grid = toy_grid(200, 200, cell=10)
    along = np.array([np.cos(np.radians(turn)), np.sin(np.radians(turn))]) * 600
    middle = np.array([501_003, 7_771_002])
    route = GeoSeries([shapely.LineString([middle - along, middle + along])], crs=grid.crs)
    total = vessel_density(route, [2], grid, 200).astype(float).sum() * 0.01**2
    assert total == pytest.approx(2 * 1.2, rel=2e-3)  # the circle is sampled by cells of a twentieth of its radius


@given(
    seed=st.integers(0, 10**6),
    top=st.integers(0, 29),
    left=st.integers(0, 29),
    radius=st.sampled_from([30, 210, 900]),
)
@settings(max_examples=30, deadline=None)
def test_a_window_of_the_grid_gives_the_bits_of_the_whole_whatever_the_threads(seed, top, left, radius):
    grid = toy_grid(30, 30, cell=40)
    routes, trips = random_routes(seed, grid)
    window = slice(top, min(top + 12, 30)), slice(left, min(left + 12, 30))
    whole = vessel_density(routes, trips, grid, radius, workers=1)
    np.testing.assert_array_equal(vessel_density(routes, trips, grid.window(*window), radius), whole[window])


def test_strips_and_threads_change_no_bit():
    grid = toy_grid(600, 20, cell=40)
    routes, trips = random_routes(1, grid)
    one = vessel_density(routes, trips, grid, 300, workers=1)
    assert (one > 0).any()
    np.testing.assert_array_equal(vessel_density(routes, trips, grid, 300, workers=3), one)


def test_far_from_all_routes_the_density_is_nothing():
    grid = toy_grid(2, 2)
    assert (vessel_density(GeoSeries([], crs=grid.crs), [], grid, 100) == 0).all()
    away = GeoSeries([shapely.LineString([(0, 0), (100, 0)]), None], crs=grid.crs)
    assert (vessel_density(away, [9, 9], grid, 100) == 0).all()


def test_refusals():
    grid = toy_grid(2, 2)
    route = GeoSeries([shapely.LineString([(0, 0), (100, 0)])], crs=grid.crs)
    with pytest.raises(ValueError, match=r"^radius: found 0 m\. It must be greater than 0\.$"):
        vessel_density(route, [1], grid, 0)
    with pytest.raises(ValueError, match=r"^routes: route 0 has nan trips per day\. Give 0 or more\.$"):
        vessel_density(route, [np.nan], grid, 100)
    with pytest.raises(ValueError, match=r"^routes: found 1 routes and 2 trips\. Give one for each\.$"):
        vessel_density(route, [1, 2], grid, 100)
