"""Rules of alignment on grids one can work out by hand, and against exactextract, rasterio and shapely."""

from itertools import pairwise

import geopandas
import numpy as np
import pytest
import shapely
from affine import Affine
from exactextract.exact_extract import exact_extract
from exactextract.raster import NumPyRasterSource
from hypothesis import given, settings
from hypothesis import strategies as st
from pyproj import CRS, Transformer
from rasterio.warp import Resampling, reproject
from scipy.ndimage import map_coordinates
from shapely.geometry import LineString, Point, Polygon, box

from layers.alignment import (
    RULES,
    area_mean,
    area_sum,
    bilinear,
    cover_fraction,
    line_length,
    nearest,
    point_sum,
)
from layers.grid import Grid

UTM = CRS.from_epsg(32745)
GRID = Grid.from_bounds("EPSG:32745", 500_000, 7_770_000, 500_040, 7_770_030, 10)  # 3 rows, 4 columns of 10 m
NAN = np.nan


def place(cell, west=500_000.0, north=7_770_030.0):
    return Affine(cell, 0, west, 0, -cell, north)


def cells(column, row, width=1.0, height=1.0):
    """A rectangle, counted in cells of the grid from its north-west corner."""
    left, top = 500_000 + 10 * column, 7_770_030 - 10 * row
    return box(left, top - 10 * height, left + 10 * width, top)


def series(*shapes):
    return geopandas.GeoSeries(list(shapes), crs=UTM)


FINE = np.arange(48, dtype=np.float32).reshape(6, 8)  # two by two raster cells in each grid cell


# --- rasters, by hand


@pytest.mark.parametrize("rule", ["nearest", "bilinear", "area mean", "area sum", "area fraction"])
def test_a_raster_on_the_grid_itself_is_left_as_it_is(rule):
    values = np.arange(12, dtype=np.float32).reshape(3, 4)
    np.testing.assert_allclose(RULES[rule](values, place(10), UTM, GRID), values, rtol=1e-6)


def test_area_mean_of_four_is_their_mean():
    np.testing.assert_allclose(
        area_mean(FINE, place(5), UTM, GRID),
        [[4.5, 6.5, 8.5, 10.5], [20.5, 22.5, 24.5, 26.5], [36.5, 38.5, 40.5, 42.5]],
    )


def test_area_mean_counts_parts_of_raster_cells_by_their_area():
    # cells of 20 m shifted by 5 m: the first column of cells is 5 m in the first raster cell, 5 m in the second
    values = np.array([[0, 8, 16], [0, 8, 16]], np.float32)
    field = area_mean(values, place(20, west=499_985), UTM, GRID)
    np.testing.assert_allclose(field[0], [4, 8, 12, 16], rtol=1e-6)


def test_area_mean_of_a_coarser_raster_repeats_its_blocks():
    values = np.array([[1, 2], [3, 4]], np.float32)
    np.testing.assert_array_equal(area_mean(values, place(20), UTM, GRID), [[1, 1, 2, 2], [1, 1, 2, 2], [3, 3, 4, 4]])


def test_area_mean_is_missing_where_less_than_half_of_a_cell_is_known():
    values = FINE.copy()
    values[0, :2] = NAN  # half of cell 0, 0
    values[0:2, 2:4] = [[NAN, NAN], [NAN, 11]]  # three quarters of cell 0, 1
    values[0:2, 4:6] = NAN  # all of cell 0, 2
    field = area_mean(values, place(5), UTM, GRID)
    np.testing.assert_array_equal(field[0], [8.5, NAN, NAN, 10.5])


def test_area_mean_counts_what_lies_outside_the_raster_as_unknown():
    # the raster begins 4 m inside the first column of cells, and 6 m inside the last it has ended
    values = np.full((6, 6), 3, np.float32)
    np.testing.assert_array_equal(area_mean(values, place(5, west=500_004), UTM, GRID)[0], [3, 3, 3, NAN])
    np.testing.assert_array_equal(area_mean(values, place(5, west=500_006), UTM, GRID)[0], [NAN, 3, 3, 3])


def test_nearest_takes_the_raster_cell_under_the_centre():
    values = np.arange(6, dtype=np.float32).reshape(2, 3)  # cells of 15 m, edges at -1, 14, 29 and 44 m
    field = nearest(values, place(15, west=499_999, north=7_770_031), UTM, GRID)  # centres at 5, 15, 25 and 35 m
    np.testing.assert_array_equal(field, [[0, 1, 1, 2], [3, 4, 4, 5], [3, 4, 4, 5]])


def test_bilinear_is_exact_on_a_plane():
    # centres of the raster's cells are at 10, 30, 50 m; a plane z = x/10 is met at 15, 25, 35 m
    values = np.tile(np.array([1, 3, 5], np.float32), (2, 1))
    field = bilinear(values, place(20), UTM, GRID)
    np.testing.assert_allclose(field[1, 1:], [1.5, 2.5, 3.5], rtol=1e-6)


def test_bilinear_leaves_missing_neighbours_out_and_invents_nothing():
    values = np.array([[1, NAN, 5], [1, NAN, 5]], np.float32)
    field = bilinear(values, place(20), UTM, GRID)
    np.testing.assert_array_equal(field[0], [1, 1, NAN, NAN])


def test_area_sum_splits_amounts_by_area():
    values = np.array([[8, 16], [4, 0]], np.float32)  # kg in cells of 20 m, four grid cells each
    np.testing.assert_allclose(
        area_sum(values, place(20), UTM, GRID), [[2, 2, 4, 4], [2, 2, 4, 4], [1, 1, 0, 0]], rtol=1e-6
    )


def test_area_sum_is_missing_only_where_nothing_is_known():
    values = np.array([[8, NAN], [NAN, NAN]], np.float32)
    field = area_sum(values, place(20, west=500_005), UTM, GRID)
    np.testing.assert_allclose(field, [[1, 2, 1, NAN], [1, 2, 1, NAN], [NAN] * 4], rtol=1e-6)


# --- rasters, laws and outside libraries


@settings(max_examples=20, deadline=None)
@given(st.integers(0, 10_000), st.floats(3, 60), st.booleans())
def test_area_sum_keeps_the_total_in_any_projection(seed, cell, in_degrees):
    random = np.random.default_rng(seed)
    values = random.uniform(0, 100, (5, 6))
    grid = Grid.from_bounds("EPSG:32745", 499_000, 7_769_000, 501_000, 7_771_000, cell)
    crs, transform = UTM, place(random.uniform(2, 90), 499_500, 7_770_600)
    if in_degrees:
        west, north = Transformer.from_crs(UTM, 4326, always_xy=True).transform(499_500, 7_770_600)
        crs, transform = CRS.from_epsg(4326), Affine(0.0005, 0, west, 0, -0.0005, north)
    field = area_sum(values, transform, crs, grid)
    assert np.nansum(field, dtype=float) == pytest.approx(values.sum(), rel=1e-6)


def test_area_sum_of_a_south_up_raster_is_that_of_the_raster_turned():
    values = np.arange(48, dtype=np.float32).reshape(6, 8)
    south_up = Affine(5, 0, 500_000, 0, 5, 7_770_000)
    np.testing.assert_allclose(
        area_sum(values[::-1], south_up, UTM, GRID), area_sum(values, place(5), UTM, GRID), rtol=1e-6
    )


def test_area_mean_is_the_weighted_mean_of_exactextract():
    random = np.random.default_rng(4)
    values = random.normal(size=(40, 40)).astype(np.float32)
    values[random.random(values.shape) < 0.1] = NAN
    transform = place(1.7, 499_990, 7_770_045)
    squares = [cells(column, row) for row in range(3) for column in range(4)]
    source = NumPyRasterSource(values, 499_990, 7_770_045 - 68, 499_990 + 68, 7_770_045, nodata=NAN)
    frame = geopandas.GeoDataFrame(geometry=squares, crs=UTM)
    expected = exact_extract(source, frame, ["mean"], output="pandas")["mean"].to_numpy(dtype=float)
    np.testing.assert_allclose(area_mean(values, transform, UTM, GRID).ravel(), expected, atol=2e-6)


def in_degrees(seed, side, columns=60, rows=50):
    """A raster of noise in degrees that lies under the middle of a grid of 100 m cells, and that grid."""
    grid = Grid.from_bounds("EPSG:32745", 460_000, 7_750_000, 464_000, 7_753_000, 100)
    west, north = Transformer.from_crs(UTM, 4326, always_xy=True).transform(459_000, 7_754_000)
    values = np.random.default_rng(seed).normal(20, 5, (rows, columns)).astype(np.float32)
    return values, Affine(side, 0, west, 0, -side, north), CRS.from_epsg(4326), grid


def raster_places(transform, crs, grid):
    x, y = Transformer.from_crs(grid.crs, crs, always_xy=True).transform(*np.meshgrid(grid.x, grid.y))
    return ~transform * (x, y)


def test_bilinear_and_nearest_are_those_of_scipy_at_the_exact_place_in_another_projection():
    values, transform, crs, grid = in_degrees(1, side=0.001)
    column, row = raster_places(transform, crs, grid)
    for rule, order in ((bilinear, 1), (nearest, 0)):
        expected = map_coordinates(values.astype(float), [row - 0.5, column - 0.5], order=order, mode="nearest")
        np.testing.assert_allclose(rule(values, transform, crs, grid), expected, rtol=1e-6)


def test_bilinear_from_finer_rasters_is_that_of_gdal():
    values = np.random.default_rng(2).normal(size=(90, 120)).astype(np.float32)
    grid = Grid.from_bounds("EPSG:32745", 500_000, 7_770_000, 500_400, 7_770_300, 10)
    transform = place(3.5, west=499_990, north=7_770_310)
    expected = np.full(grid.shape, NAN, np.float32)
    reproject(
        values,
        expected,
        src_transform=transform,
        src_crs=UTM.to_wkt(),
        dst_transform=grid.transform,
        dst_crs=UTM.to_wkt(),
        resampling=Resampling.bilinear,
        dst_nodata=NAN,
        XSCALE=0.35,
        YSCALE=0.35,
    )
    inside = np.isfinite(expected)
    assert inside.sum() > 500
    np.testing.assert_allclose(bilinear(values, transform, UTM, grid)[inside], expected[inside], atol=2e-6)


def test_area_mean_is_that_of_exactextract_in_another_projection():
    values, transform, crs, grid = in_degrees(3, side=0.0004, columns=150, rows=130)
    values[np.random.default_rng(3).random(values.shape) < 0.1] = NAN
    bounds = transform.c, transform.f - 130 * 0.0004, transform.c + 150 * 0.0004, transform.f
    x, y = np.meshgrid(grid.x, grid.y)
    squares = geopandas.GeoSeries(shapely.box(x - 50, y - 50, x + 50, y + 50).ravel(), crs=UTM).to_crs(4326)
    expected, share = (
        exact_extract(
            NumPyRasterSource(raster, *bounds, nodata=NAN),
            geopandas.GeoDataFrame(geometry=squares),
            ["mean"],
            output="pandas",
        )["mean"]
        .to_numpy(dtype=float)
        .reshape(grid.shape)
        for raster in (values, np.isfinite(values).astype(np.float32))
    )
    assert 0 < (share < 0.5).sum() < 50
    # exactextract weighs by square degrees, which differ by less than 1e-5 across a cell
    np.testing.assert_allclose(area_mean(values, transform, crs, grid), np.where(share < 0.5, NAN, expected), rtol=1e-5)


# --- polygons


def coverage(polygon, grid):
    """Share of each cell that exactextract says a polygon covers."""
    source = NumPyRasterSource(np.zeros(grid.shape), *grid.bounds)
    frame = geopandas.GeoDataFrame(geometry=[polygon], crs=grid.crs)
    found = exact_extract(source, frame, ["coverage", "cell_id"], output="pandas")
    field = np.zeros(grid.shape[0] * grid.shape[1])
    if len(found["cell_id"][0]):
        field[found["cell_id"][0]] = found["coverage"][0]
    return field.reshape(grid.shape)


def test_cover_of_rectangles_by_hand():
    field = cover_fraction(series(cells(0.5, 0.5, 2, 1), cells(3, 2)), GRID)
    np.testing.assert_allclose(field, [[0.25, 0.5, 0.25, 0], [0.25, 0.5, 0.25, 0], [0, 0, 0, 1]], rtol=1e-6)


def test_ground_under_two_polygons_counts_once():
    field = cover_fraction(series(cells(0, 0, 0.75), cells(0.25, 0, 0.75)), GRID)
    assert field[0, 0] == 1


def test_the_greater_share_counts_where_polygons_overlap():
    polygons = series(cells(0, 0, 2), cells(0.5, 0, 1), cells(3, 0))
    np.testing.assert_allclose(
        cover_fraction(polygons, GRID, np.array([0.2, 0.8, 0.5]))[0], [0.5, 0.5, 0, 0.5], rtol=1e-6
    )


def test_holes_are_not_covered_and_what_lies_outside_the_grid_is_cut_off():
    ring = box(499_000, 7_769_000, 501_000, 7_771_000).difference(cells(1, 1, 2, 1))
    np.testing.assert_array_equal(cover_fraction(series(ring), GRID), [[1, 1, 1, 1], [1, 0, 0, 1], [1, 1, 1, 1]])


def test_no_polygons_cover_nothing():
    assert not cover_fraction(geopandas.GeoSeries([], crs=UTM), GRID).any()
    assert not cover_fraction(series(box(0, 0, 1, 1)), GRID).any()


@settings(max_examples=60, deadline=None)
@given(st.integers(0, 100_000))
def test_cover_is_that_of_exactextract(seed):
    random = np.random.default_rng(seed)
    grid = Grid.from_bounds("EPSG:32745", 500_000, 7_770_000, 500_400, 7_770_300, 10)
    shapes = []
    for _ in range(random.integers(1, 5)):
        angles = np.sort(random.uniform(0, 2 * np.pi, random.integers(3, 40)))
        radius = random.uniform(5, 200, len(angles))
        middle = random.uniform((499_950, 7_769_950), (500_450, 7_770_350))
        shapes.append(Polygon(middle + radius[:, None] * np.column_stack([np.cos(angles), np.sin(angles)])).buffer(0))
    shapes = [shape for shape in shapes if not shape.is_empty] or [cells(0, 0)]
    field = cover_fraction(geopandas.GeoSeries(shapes, crs=UTM), grid)
    union = shapely.union_all(shapes)
    np.testing.assert_allclose(field, coverage(union, grid), atol=1e-6)
    assert field.sum(dtype=float) * 100 == pytest.approx(union.intersection(box(*grid.bounds)).area, abs=1e-2)


@settings(max_examples=40, deadline=None)
@given(st.integers(0, 100_000))
def test_cover_by_shares_is_the_sum_over_the_ground_of_its_greatest_share(seed):
    random = np.random.default_rng(seed)
    corners = random.uniform(0, 3, (5, 2))
    shapes = series(*(cells(x, y, *random.uniform(0.1, 2, 2)) for x, y in corners))
    shares = random.choice([0.0, 0.1, 0.4, 0.4, 1.0], 5)
    field = cover_fraction(shapes, GRID, shares)
    # layer by layer: each step in share times the union of all polygons at or above it
    steps = np.unique(np.append(shares, 0))
    expected = sum(
        (upper - lower) * coverage(shapely.union_all(shapes.to_numpy()[shares >= upper]), GRID)
        for lower, upper in pairwise(steps)
    )
    np.testing.assert_allclose(field, expected + np.zeros(GRID.shape), atol=1e-6)
    assert field.max() <= 1


# --- lines and points


def test_length_of_lines_by_hand():
    lines = series(
        LineString([(500_005, 7_770_025), (500_035, 7_770_025)]),  # 5, 10, 10 and 5 m of the first row
        LineString([(500_000, 7_770_000), (500_010, 7_770_010)]),  # a diagonal of the last row's first cell
        LineString([(490_000, 7_770_015), (510_000, 7_770_015)]),  # through and beyond the middle row
    )
    expected = [[5, 10, 10, 5], [10, 10, 10, 10], [10 * 2**0.5, 0, 0, 0]]
    np.testing.assert_allclose(line_length(lines, GRID), expected, rtol=1e-6)
    weighted = line_length(lines, GRID, np.array([2, 0, 1]))
    np.testing.assert_allclose(weighted, [[10, 20, 20, 10], [10] * 4, [0] * 4], rtol=1e-6)


@settings(max_examples=40, deadline=None)
@given(st.integers(0, 100_000))
def test_length_of_lines_is_that_of_shapely_in_every_cell(seed):
    random = np.random.default_rng(seed)
    line = LineString(random.uniform((499_990, 7_769_990), (500_050, 7_770_040), (6, 2)))
    expected = [[line.intersection(cells(column, row)).length for column in range(4)] for row in range(3)]
    np.testing.assert_allclose(line_length(series(line), GRID), expected, atol=1e-4)


def test_points_are_counted_and_summed_in_their_cells():
    points = series(Point(500_001, 7_770_029), Point(500_002, 7_770_028), Point(500_035, 7_770_001), Point(0, 0))
    np.testing.assert_array_equal(point_sum(points, GRID), [[2, 0, 0, 0], [0, 0, 0, 0], [0, 0, 0, 1]])
    summed = point_sum(points, GRID, np.array([1.5, 2.5, 7, 9]))
    np.testing.assert_array_equal(summed, [[4, 0, 0, 0], [0, 0, 0, 0], [0, 0, 0, 7]])
