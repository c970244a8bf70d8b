"""Vector files into the grid's CRS, and each thing that can be wrong with one."""

import zipfile

import geopandas
import numpy as np
import pytest
from shapely.geometry import GeometryCollection, LineString, MultiPolygon, Point, Polygon, box

from layers.feeds import LOAD, TRIPS
from layers.quantity import SEAGRASS_COVER
from layers.vector import read_features
from tests.files import (
    CRS,
    GRID,
    entry_for,
    sentences,
    site_in,
    write_raster,
    write_shapes,
    write_text,
)

POLYGONS, LINES, POINTS = (frozenset({kind}) for kind in ("Polygon", "LineString", "Point"))
FIELD = box(500_000, 7_770_000, 500_100, 7_770_100)
BOW_TIE = Polygon([(500_000, 7_770_000), (500_100, 7_770_100), (500_100, 7_770_000), (500_000, 7_770_100)])
RNG = np.random.default_rng(0)
MANY = [Point(x, y).buffer(5) for x, y in RNG.uniform((500_000, 7_770_000), (500_200, 7_770_150), (400, 2))]


def degrees(shapes):
    return list(geopandas.GeoSeries(shapes, crs=CRS).to_crs(4326))


def faults_of(path, keys, kinds=POLYGONS, quantity=None, grid=GRID):
    faults = []
    result = read_features(entry_for(path, **keys), site_in(path.parent, grid), faults, kinds=kinds, quantity=quantity)
    assert result is None
    return [str(fault) for fault in faults]


def cut(path, share):
    content = path.read_bytes()
    path.write_bytes(content[: int(len(content) * share)])
    return path


def two_layers(folder):
    write_shapes(folder / "land.gpkg", [FIELD], layer="islands")
    return write_shapes(folder / "land.gpkg", [FIELD], layer="mainland")


def shapefile(folder, shapes, without=(), crs=CRS):
    path = write_shapes(folder / "land.shp", shapes, crs=crs)
    for ending in without:
        path.with_suffix(ending).unlink()
    return path


def zipped(folder, shapes, crs=CRS):
    shapefile(folder, shapes, crs=crs)
    with zipfile.ZipFile(folder / "land.zip", "w") as archive:
        for part in sorted(folder.glob("land.???")):
            if part.suffix != ".zip":
                archive.write(part, part.name)
                part.unlink()
    return folder / "land.zip"


CASES = {
    "cut GeoPackage": (lambda d: cut(write_shapes(d / "land.gpkg", MANY), 0.6), {}, POLYGONS, None),
    "cut GeoPackage early": (lambda d: cut(write_shapes(d / "land.gpkg", MANY), 0.1), {}, POLYGONS, None),
    "cut GeoJSON": (lambda d: cut(write_shapes(d / "land.geojson", degrees(MANY), 4326), 0.6), {}, POLYGONS, None),
    "cut zip": (lambda d: cut(zipped(d, MANY), 0.6), {}, POLYGONS, None),
    "cut shapefile": (lambda d: cut(shapefile(d, MANY), 0.6), {}, POLYGONS, None),
    "cut FlatGeobuf": (lambda d: cut(write_shapes(d / "land.fgb", MANY), 0.6), {}, POLYGONS, None),
    "shapefile without its attributes": (lambda d: shapefile(d, [FIELD], (".dbf", ".shx")), {}, POLYGONS, None),
    "shapefile without its projection": (lambda d: shapefile(d, [FIELD], (".prj",)), {}, POLYGONS, None),
    "not a vector file": (lambda d: write_text(d / "land.gpkg", "hello"), {}, POLYGONS, None),
    "a raster": (lambda d: write_raster(d / "land.tif", np.ones((3, 4), np.float32)), {}, POLYGONS, None),
    "no such layer": (two_layers, {"layer": "coast"}, POLYGONS, None),
    "several layers": (two_layers, {}, POLYGONS, None),
    "no features": (
        lambda d: write_text(d / "land.geojson", '{"type": "FeatureCollection", "features": []}'),
        {},
        POLYGONS,
        None,
    ),
    "no shapes": (lambda d: write_shapes(d / "land.gpkg", [None, FIELD]), {}, POLYGONS, None),
    "no shapes at all": (
        lambda d: write_text(
            d / "land.geojson",
            '{"type": "FeatureCollection", "features": ['
            '{"type": "Feature", "properties": {"a": 1}, "geometry": null}]}',
        ),
        {},
        POLYGONS,
        None,
    ),
    "points for polygons": (lambda d: write_shapes(d / "land.gpkg", [Point(500_010, 7_770_010)]), {}, POLYGONS, None),
    "mixed shapes": (
        lambda d: write_shapes(
            d / "land.gpkg", [FIELD, FIELD, LineString([(500_000, 7_770_000), (500_100, 7_770_000)])]
        ),
        {},
        POLYGONS,
        None,
    ),
    "a collection": (
        lambda d: write_shapes(d / "land.gpkg", [GeometryCollection([FIELD, Point(500_010, 7_770_010)])]),
        {},
        POLYGONS,
        None,
    ),
    "not valid": (lambda d: write_shapes(d / "land.gpkg", [FIELD, BOW_TIE]), {}, POLYGONS, None),
    "metres in a GeoJSON": (lambda d: write_shapes(d / "land.geojson", [FIELD], 4326), {}, POLYGONS, None),
    "swapped": (
        lambda d: write_shapes(
            d / "land.geojson", [Polygon([(y, x) for x, y in p.exterior.coords]) for p in degrees([FIELD])], 4326
        ),
        {},
        POLYGONS,
        None,
    ),
    "elsewhere": (
        lambda d: write_shapes(d / "land.gpkg", [box(600_000, 7_770_000, 600_100, 7_770_100)]),
        {},
        POLYGONS,
        None,
    ),
    "around but not in": (
        lambda d: write_shapes(
            d / "land.gpkg", [box(499_000, 7_769_000, 499_100, 7_769_100), box(501_000, 7_771_000, 501_100, 7_771_100)]
        ),
        {},
        POLYGONS,
        None,
    ),
    "no such column": (
        lambda d: write_shapes(d / "land.gpkg", [FIELD], cover=[0.5], year=[2020]),
        {"column": "share", "units": "1"},
        POLYGONS,
        SEAGRASS_COVER,
    ),
    "text in the column": (
        lambda d: write_shapes(d / "land.gpkg", [FIELD, FIELD], cover=["0.5", "dense"]),
        {"column": "cover", "units": "1"},
        POLYGONS,
        SEAGRASS_COVER,
    ),
    "no value": (
        lambda d: write_shapes(d / "land.gpkg", [FIELD, FIELD], cover=[0.5, None]),
        {"column": "cover", "units": "1"},
        POLYGONS,
        SEAGRASS_COVER,
    ),
    "no name": (
        lambda d: write_shapes(d / "land.gpkg", [FIELD, FIELD], name=["A", None]),
        {"column": "name"},
        POLYGONS,
        None,
    ),
    "percent said to be shares": (
        lambda d: write_shapes(d / "land.gpkg", [FIELD, FIELD], cover=[50.0, 20.0]),
        {"column": "cover", "units": "1"},
        POLYGONS,
        SEAGRASS_COVER,
    ),
    "share in metres": (
        lambda d: write_shapes(d / "land.gpkg", [FIELD], cover=[0.5]),
        {"column": "cover", "units": "m"},
        POLYGONS,
        SEAGRASS_COVER,
    ),
    "mark": (
        lambda d: write_shapes(d / "out.gpkg", [Point(500_010, 7_770_010)], load=[-9999.0]),
        {"column": "load", "units": "kg/year"},
        POINTS,
        LOAD,
    ),
    "nitrogen written into the unit": (
        lambda d: write_shapes(d / "out.gpkg", [Point(500_010, 7_770_010)], load=[5.0]),
        {"column": "load", "units": "kg N/year"},
        POINTS,
        LOAD,
    ),
    "where finds nothing": (
        lambda d: write_shapes(d / "land.gpkg", [FIELD], kind=["reef"]),
        {"where": {"kind": "island"}},
        POLYGONS,
        None,
    ),
    "where in no column": (
        lambda d: write_shapes(d / "land.gpkg", [FIELD], kind=["reef"]),
        {"where": {"type": "island"}},
        POLYGONS,
        None,
    ),
    "all at once": (
        lambda d: write_shapes(
            d / "land.gpkg", [BOW_TIE, None, Point(500_010, 7_770_010)], cover=["a", "0.5", None], crs=None
        ),
        {"column": "cover", "units": "acres"},
        POLYGONS,
        SEAGRASS_COVER,
    ),
}
SENTENCES = sentences("vector")


def test_every_sentence_has_its_file():
    assert list(SENTENCES) == list(CASES)


@pytest.mark.parametrize("case", CASES)
def test_what_is_wrong_is_said(case, tmp_path):
    write, *rest = CASES[case]
    assert faults_of(write(tmp_path), *rest) == SENTENCES[case]


def read(path, kinds=POLYGONS, quantity=None, **keys):
    faults, remarks = [], []
    frame = read_features(
        entry_for(path, **keys), site_in(path.parent), faults, kinds=kinds, quantity=quantity, remarks=remarks
    )
    assert faults == []
    assert frame.crs.equals(GRID.crs, ignore_axis_order=True)
    return frame, remarks


@pytest.mark.parametrize("ending", ["gpkg", "geojson", "fgb", "shp", "kml", "gml"])
def test_every_common_format_gives_the_same_shapes(ending, tmp_path):
    in_degrees = ending in ("geojson", "kml")
    path = write_shapes(
        tmp_path / f"land.{ending}", degrees([FIELD]) if in_degrees else [FIELD], 4326 if in_degrees else CRS
    )
    frame, remarks = read(path)
    assert frame.geometry.iloc[0].symmetric_difference(FIELD).area < 1e-2  # m2: GeoJSON and KML keep 1e-7 degree or so
    assert remarks == []


def test_a_zipped_shapefile_is_read(tmp_path):
    frame, _ = read(zipped(tmp_path, [FIELD]))
    assert frame.geometry.iloc[0].equals(FIELD)


def test_a_parquet_file_is_read(tmp_path):
    geopandas.GeoDataFrame(geometry=[FIELD], crs=CRS).to_parquet(tmp_path / "land.parquet")
    frame, _ = read(tmp_path / "land.parquet")
    assert frame.geometry.iloc[0].equals(FIELD)


def test_a_named_layer_is_read(tmp_path):
    assert len(read(two_layers(tmp_path), layer="islands")[0]) == 1


def test_heights_are_dropped_and_parts_kept(tmp_path):
    solid = Polygon([(500_000, 7_770_000, 3), (500_100, 7_770_000, 4), (500_100, 7_770_100, 5)])
    frame, _ = read(write_shapes(tmp_path / "land.gpkg", [MultiPolygon([solid])]))
    assert not frame.has_z.any()
    assert frame.geometry.iloc[0].area == 5_000


def test_values_come_in_the_unit_of_the_layer_and_other_columns_stay(tmp_path):
    path = write_shapes(tmp_path / "beds.gpkg", [FIELD, FIELD], cover=[40, 85], species=["Zostera", "Halophila"])
    frame, _ = read(path, quantity=SEAGRASS_COVER, column="cover", units="percent")
    assert list(frame["value"]) == [0.40, 0.85]
    assert list(frame["species"]) == ["Zostera", "Halophila"]


def test_a_column_without_a_quantity_is_taken_as_it_is(tmp_path):
    path = write_shapes(tmp_path / "zones.gpkg", [FIELD, FIELD], name=["North", "South"])
    assert list(read(path, column="name")[0]["value"]) == ["North", "South"]


def test_features_outside_the_site_are_kept_and_counted(tmp_path):
    path = write_shapes(tmp_path / "land.gpkg", [FIELD, box(600_000, 7_770_000, 600_100, 7_770_100)])
    frame, remarks = read(path)
    assert len(frame) == 2
    assert remarks == ["land.gpkg: 1 of 2 features lies outside the site."]


def test_where_picks_features(tmp_path):
    path = write_shapes(tmp_path / "land.gpkg", [FIELD, FIELD], kind=["island", "reef"])
    assert list(read(path, where={"kind": "reef"})[0]["kind"]) == ["reef"]


def test_the_declared_value_for_no_data_leaves_features_out(tmp_path):
    path = write_shapes(
        tmp_path / "routes.gpkg", [LineString([(500_000, 7_770_000), (500_100, 7_770_000)])] * 2, n=[5, -1]
    )
    frame, remarks = read(path, LINES, TRIPS, column="n", units="1/week", nodata=-1)
    np.testing.assert_allclose(frame["value"], [5 / 7])
    assert remarks == ["routes.gpkg, column n: 1 of 2 features has no value and is left out."]


def test_a_csv_of_places_is_read_as_points(tmp_path):
    path = write_text(tmp_path / "jetty.csv", "name,x,y\nA,500010,7770010\nB,500150,7770100\n")
    frame, _ = read(path, POINTS, crs=CRS, x="x", y="y")
    assert [(p.x, p.y) for p in frame.geometry] == [(500_010, 7_770_010), (500_150, 7_770_100)]
    assert list(frame["name"]) == ["A", "B"]
