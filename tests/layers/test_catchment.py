import geopandas
import numpy as np
import pytest
import shapely
from exactextract import exact_extract
from exactextract.raster import NumPyRasterSource
from pytest import approx

from layers.catchment import catchment_of_drainage, catchment_of_polygons
from layers.drainage import drainage
from layers.fault import LayerError
from layers.grid import Grid

CRS = "EPSG:32745"
WEST, SOUTH = 500_000, 7_770_000
GRID = Grid.from_bounds(CRS, WEST, SOUTH, WEST + 1000, SOUTH + 800, 100)


def shapes(*boxes, names=None):
    return geopandas.GeoDataFrame(
        {"name": names or [f"creek {number}" for number in range(1, len(boxes) + 1)]},
        geometry=[shapely.box(WEST + w, SOUTH + s, WEST + e, SOUTH + n) for w, s, e, n in boxes],
        crs=CRS,
    )


def points(*names):
    at = [shapely.Point(WEST + 1000, SOUTH + 50 + 100 * number) for number in range(len(names))]
    return geopandas.GeoDataFrame({"name": list(names)}, geometry=at, crs=CRS)


def test_a_polygon_counts_each_cell_by_its_share_by_hand():
    # 2.5 by 1.5 cells: two whole ones, and four parts
    found = catchment_of_polygons(shapes((50, 0, 300, 150)), points("creek 1"), GRID)
    amount = np.zeros(GRID.shape)
    amount[-1, :3] = 10, 20, 30  # kg/ha on cells of 1 ha
    amount[-2, :3] = 100, 200, 300
    assert found.hectares.tolist() == [3.75]
    assert found.total(amount)[0] == approx(5 + 20 + 30 + 0.5 * (50 + 200 + 300))
    assert found.outlets_xy.tolist() == [[WEST + 1000, SOUTH + 50]]


def test_slanting_polygons_give_the_sums_of_an_independent_library():
    triangle = shapely.Polygon([(WEST + 33, SOUTH + 21), (WEST + 871, SOUTH + 95), (WEST + 402, SOUTH + 760)])
    sliver = shapely.Polygon([(WEST + 900, SOUTH), (WEST + 990, SOUTH + 700), (WEST + 985, SOUTH + 790)])
    drawn = geopandas.GeoDataFrame({"name": ["one", "two"]}, geometry=[triangle, sliver], crs=CRS)
    amount = np.random.default_rng(5).random(GRID.shape) * 40
    found = catchment_of_polygons(drawn, points("two", "one"), GRID)
    raster = NumPyRasterSource(amount, *GRID.bounds, srs_wkt=GRID.crs.to_wkt())
    expected = [row["properties"]["sum"] for row in exact_extract(raster, drawn, ["sum"])]
    np.testing.assert_allclose(found.total(amount), expected, rtol=1e-6)
    np.testing.assert_allclose(found.known_share(amount), 1, rtol=1e-6)
    assert found.outlets_xy[:, 1].tolist() == [SOUTH + 150, SOUTH + 50]  # by name, not by order


def test_polygons_that_share_out_the_grid_keep_the_sum():
    drawn = shapes((0, 0, 333, 800), (333, 0, 1000, 415), (333, 415, 1000, 800))
    found = catchment_of_polygons(drawn, points(*drawn["name"]), GRID)
    amount = np.random.default_rng(6).random(GRID.shape)
    assert found.total(amount).sum() == approx(amount.sum(), rel=1e-6)


def test_ground_that_is_not_known_is_like_the_rest_or_makes_the_sum_not_known():
    found = catchment_of_polygons(shapes((0, 0, 400, 100), (0, 100, 400, 200)), points("creek 1", "creek 2"), GRID)
    amount = np.full(GRID.shape, 7.0)
    amount[-1, :2] = np.nan  # half of the first
    amount[-2, :3] = np.nan  # three quarters of the second
    assert found.known_share(amount).tolist() == [0.5, 0.25]
    np.testing.assert_array_equal(found.total(amount), [28.0, np.nan])


def test_ground_beyond_the_grid_is_not_known():
    found = catchment_of_polygons(shapes((-100, 0, 300, 100)), points("creek 1"), GRID)
    assert found.known_share(np.ones(GRID.shape))[0] == approx(0.75)
    assert found.total(np.ones(GRID.shape))[0] == approx(4.0)


def test_a_routed_catchment_drawn_as_polygons_gives_the_same_loads():
    terrain = np.tile(0.5 * np.arange(10.0), (8, 1))
    water = np.zeros(GRID.shape, bool)
    water[:, 0] = True
    routed = catchment_of_drainage(drainage(terrain, GRID, water, least_area=0))
    drawn = shapes(*[(100, 100 * row, 1000, 100 * row + 100) for row in range(8)])
    polygons = catchment_of_polygons(drawn, points(*drawn["name"]), GRID)
    amount = np.random.default_rng(7).random(GRID.shape)
    np.testing.assert_allclose(np.sort(routed.total(amount)), np.sort(polygons.total(amount)), rtol=1e-6)
    assert routed.names[0] == "outlet 1" and routed.hectares.tolist() == [9.0] * 8


TWO = shapes((0, 0, 400, 400), (400, 0, 800, 400))


@pytest.mark.parametrize(
    ("polygons", "outlets", "words"),
    [
        (TWO, points("creek 1"), '"creek 2": The polygon has no outlet. Add the outlet of that name'),
        (TWO, points("creek 1", "creek 2", "drain"), '"drain": The outlet has no polygon.'),
        (TWO, points("creek 1", "creek 2", "creek 1"), 'outlets: "creek 1" stands 2 times.'),
        (
            TWO.assign(name=["a", "a"]),
            points("a"),
            'polygons: "a" stands 2 times. Give each a name of its own, or join',
        ),
        (TWO.assign(name=["a", None]), points("a"), "polygons, feature 2: It has no name."),
        (TWO.drop(columns="name"), points("a"), "polygons, column name: It is missing."),
        (TWO.iloc[:0], points("a"), "polygons: There are none."),
        (TWO, TWO, "outlets, feature 1: It is a Polygon. Draw a Point."),
        (TWO.to_crs("EPSG:4326"), points("a"), "polygons: Their CRS is EPSG:4326. Reproject them to that of the grid."),
        (
            shapes((0, 0, 400, 400), (390, 0, 800, 400)),
            points("creek 1", "creek 2"),
            '"creek 1" and "creek 2": They share 0.4 ha, 2% of the smaller. Draw ground once: cut one of them.',
        ),
        (
            shapes((2000, 0, 2400, 400)),
            points("creek 1"),
            '"creek 1": The polygon lies outside the grid of the catchment.',
        ),
    ],
)
def test_what_cannot_be_a_catchment_is_refused(polygons, outlets, words):
    with pytest.raises(LayerError) as caught:
        catchment_of_polygons(polygons, outlets, GRID)
    assert words in str(caught.value)


def test_slips_of_the_drawing_are_let_pass():
    slip = shapes((0, 0, 400, 400), (397, 0, 800, 400))  # 0.75 % of the smaller
    found = catchment_of_polygons(slip, points("creek 1", "creek 2"), GRID)
    assert found.names == ("creek 1", "creek 2")


def test_a_bow_tie_is_refused():
    bow = shapely.Polygon([(WEST, SOUTH), (WEST + 100, SOUTH + 100), (WEST + 100, SOUTH), (WEST, SOUTH + 100)])
    drawn = geopandas.GeoDataFrame({"name": ["a"]}, geometry=[bow], crs=CRS)
    with pytest.raises(LayerError, match=r"Self-intersection.*Repair its outline\."):
        catchment_of_polygons(drawn, points("a"), GRID)


def test_a_map_of_another_size_is_refused():
    found = catchment_of_polygons(TWO, points("creek 1", "creek 2"), GRID)
    with pytest.raises(ValueError, match=r"values: found \(3, 3\) cells. The catchment's grid has \(8, 10\)\."):
        found.total(np.ones((3, 3)))
