"""Where distance through the water begins, for points, lines and polygons on the water and on land."""

import numpy as np
import pytest
import shapely
from geopandas import GeoSeries

from layers.starts import UNIT, start_at, starts_of
from layers.waterway import through_water_distance
from tests.grids import toy_grid


def test_a_polygon_over_the_shore_begins_at_its_water():
    grid = toy_grid(10, 30, cell=10)
    water = np.ones(grid.shape, bool)
    water[:, :10] = False
    water[:, 20] = False
    across = GeoSeries([shapely.box(500_050, 7_770_000, 500_125, 7_770_100)], crs=grid.crs)
    found = through_water_distance(across, water, grid, 1000)
    assert np.isnan(found[:, :10]).all()
    assert found[5, 10] == 0
    assert found[5, 14] == pytest.approx(20, abs=0.7)
    assert (found[:, 21:] == 1000).all()


def test_a_place_on_land_begins_at_the_nearest_water_with_its_distance_to_it():
    grid = toy_grid(9, 30, cell=10)
    water = np.zeros(grid.shape, bool)
    water[:, 10:] = True
    inland = GeoSeries([shapely.Point(500_060, 7_770_045)], crs=grid.crs)
    found = through_water_distance(inland, water, grid, 150)
    np.testing.assert_allclose(found[4, 10:22], np.minimum(45 + 10 * np.arange(12), 150))
    assert (through_water_distance(inland, water, grid, 40)[water] == 40).all()


def test_geometry_that_is_missing_empty_or_off_the_grid_starts_nothing():
    grid = toy_grid(5, 5, cell=10)
    water = np.ones(grid.shape, bool)
    nothing = GeoSeries([None, shapely.Point(), shapely.Point(0, 0)], crs=grid.crs)
    found = starts_of(nothing, water, grid, 100)
    assert len(found.columns) == 0
    assert (through_water_distance(nothing, water, grid, 100) == 100).all()


def test_a_point_on_the_edge_between_land_and_water_begins_in_the_water():
    grid = toy_grid(3, 6, cell=10)
    water = np.zeros(grid.shape, bool)
    water[:, :3] = True
    field = through_water_distance(GeoSeries([shapely.Point(500_030, 7_770_015)], crs=grid.crs), water, grid, 100)
    np.testing.assert_allclose(field[1, :3], [25, 15, 5])


def test_a_point_on_land_starts_at_the_nearest_water_cell_within_the_given_distance():
    grid = toy_grid(5, 8, cell=10)
    water = np.zeros(grid.shape, bool)
    water[2, 6] = True
    assert start_at(500_042, 7_770_025, water, grid, within=20) is None
    start = start_at(500_042, 7_770_025, water, grid, within=25)
    assert (start.columns[0] / UNIT, start.rows[0] / UNIT) == (6.5, 2.5)
    assert start_at(400_000, 7_770_025, water, grid, within=25) is None


def test_inside_polygons_the_distance_is_nothing_and_outside_it_is_from_their_edge():
    grid = toy_grid(40, 40, cell=10)
    square = GeoSeries([shapely.box(500_100, 7_770_100, 500_200, 7_770_200)], crs=grid.crs)
    found = through_water_distance(square, np.ones(grid.shape, bool), grid, 300)
    row, column = grid.cell_at(500_155, 7_770_155)
    assert found[row, column] == 0
    assert found[row, column + 15] == pytest.approx(105, abs=0.1)  # from x = 200 to the centre at 305


def test_a_polygon_whose_outline_is_on_land_begins_at_the_water_inside_it():
    grid = toy_grid(5, 12, cell=10)
    water = np.zeros(grid.shape, bool)
    water[2, 2:] = True
    water[2, 7] = False
    pond = GeoSeries([shapely.box(500_005, 7_770_001, 500_075, 7_770_049)], crs=grid.crs)
    found = through_water_distance(pond, water, grid, 100)
    assert found[2, 2:7].tolist() == [0] * 5
    assert found[2, 8:].tolist() == [100] * 4


def test_a_polygon_that_ends_in_the_water_goes_on_from_its_cells_and_outline():
    grid = toy_grid(1, 10, cell=10)
    half = GeoSeries([shapely.box(499_000, 7_769_000, 500_045, 7_771_000)], crs=grid.crs)  # to a cell's centre
    found = through_water_distance(half, np.ones(grid.shape, bool), grid, 100)
    np.testing.assert_allclose(found[0], [0, 0, 0, 0, 0, 10, 20, 30, 40, 50], atol=0.02)


def test_starts_along_a_line_lie_at_most_half_a_cell_apart_and_only_in_the_water():
    grid = toy_grid(3, 30, cell=10)
    water = np.ones(grid.shape, bool)
    water[:, 10:20] = False
    line = GeoSeries([shapely.LineString([(500_001, 7_770_015), (500_299, 7_770_015)])], crs=grid.crs)
    columns = np.sort(starts_of(line, water, grid, 100).columns) / UNIT
    assert not ((columns > 10) & (columns < 20)).any()
    assert np.diff(columns[columns <= 10]).max() <= 0.5 + 1 / UNIT
    assert columns[0] == pytest.approx(0.1, abs=1 / UNIT)
