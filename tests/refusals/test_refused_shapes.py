"""Vector files that are damaged, of the wrong kind, or hold what they cannot."""

from pathlib import Path

import pytest
from shapely.geometry import LineString, Point, Polygon, box

from tests.files import write_shapes
from tests.refusals.refusal import Refusal, assert_refused
from tests.refusals.spoiling import Spoil, all_of, cut, site, written
from tests.sites import NORTH, SOUTH, WEST

LAND = box(WEST, SOUTH, WEST + 500, NORTH)
MEADOW = box(501_000, 7_770_500, 501_400, 7_771_000)
SECOND_MEADOW = box(501_500, 7_770_500, 501_600, 7_771_000)
OUTLET = Point(500_525, 7_771_025)


def shapes(file: str, geometries: list, crs: str | None = "EPSG:32745", **columns: list) -> Spoil:
    """Put a file of these shapes in the place of the site's."""

    def spoil(folder: Path) -> None:
        path = folder / "site" / file
        path.unlink()
        write_shapes(path, geometries, crs, **columns)

    return spoil


def two_layers(folder: Path) -> None:
    """A file with the coast and a second layer."""
    path = folder / "site" / "coast.gpkg"
    path.unlink()
    write_shapes(path, [LAND], layer="coast_2020")
    write_shapes(path, [LAND], layer="coast_1990")


def lost_companion(folder: Path) -> None:
    """A shapefile of which only the .shp was copied."""
    path = write_shapes(folder / "site" / "channel.shp", [box(501_500, SOUTH, 501_600, 7_770_800)])
    for ending in (".shx", ".dbf", ".prj", ".cpg"):
        path.with_suffix(ending).unlink(missing_ok=True)


REFUSALS = (
    Refusal(
        kind="a GeoPackage is cut short",
        spoil=cut("site/coast.gpkg", 0.5),
        says=(
            "site.toml: 1 problem\n"
            "  coast.gpkg: the file cannot be opened as a vector file: it is cut short, damaged, or of "
            "an unknown format. Copy it again, or export it as GeoPackage or GeoJSON.\n"
        ),
    ),
    Refusal(
        kind="a zipped shapefile is cut short",
        tables=("coast", "channel"),
        spoil=cut("site/channel.zip", 0.5),
        says=(
            "site.toml: 1 problem\n"
            "  channel.zip: the file cannot be opened as a vector file: it is cut short, damaged, or of "
            "an unknown format. Copy it again, or export it as GeoPackage or GeoJSON.\n"
        ),
    ),
    Refusal(
        kind="a shapefile came without its other files",
        tables=("coast", "channel"),
        spoil=all_of(lost_companion, site('file = "channel.zip"', 'file = "channel.shp"')),
        says=(
            "site.toml: 1 problem\n"
            "  channel.shp: the shapefile lacks its .shx and .dbf. Copy all its files, or send it zipped.\n"
        ),
    ),
    Refusal(
        kind="a GeoJSON is broken off",
        tables=("coast", "bed", "outlets"),
        spoil=cut("site/outlets.geojson", 0.7),
        says=(
            "site.toml: 1 problem\n"
            "  outlets.geojson: the file cannot be opened as a vector file: it is cut short, damaged, or "
            "of an unknown format. Copy it again, or export it as GeoPackage or GeoJSON.\n"
        ),
    ),
    Refusal(
        kind="a page of the web was saved as a GeoJSON",
        tables=("coast", "bed", "outlets"),
        spoil=written("site/outlets.geojson", "<!DOCTYPE html><html><body>Please log in.</body></html>\n"),
        says=(
            "site.toml: 1 problem\n"
            "  outlets.geojson: the file cannot be opened as a vector file: it is cut short, damaged, or "
            "of an unknown format. Copy it again, or export it as GeoPackage or GeoJSON.\n"
        ),
    ),
    Refusal(
        kind="lines stand where polygons are needed",
        spoil=shapes("coast.gpkg", [LineString([(500_500, SOUTH), (500_500, NORTH)])]),
        says=(
            "site.toml: 1 problem\n"
            "  coast.gpkg: the file holds 1 line, and polygons are needed here. Keep only polygons in the file.\n"
        ),
    ),
    Refusal(
        kind="the kinds of shapes are mixed",
        tables=("coast", "bed", "outlets"),
        spoil=shapes("outlets.geojson", [OUTLET, MEADOW], nitrogen=[12.0, 3.0]),
        says=(
            "site.toml: 1 problem\n"
            "  outlets.geojson: the file holds 1 point and 1 polygon, and points are needed here. Keep "
            "only points in the file.\n"
        ),
    ),
    Refusal(
        kind="shapes have no CRS",
        spoil=shapes("coast.gpkg", [LAND], None),
        says=(
            "site.toml: 1 problem\n"
            "  coast.gpkg: the file does not say in which CRS its coordinates are. Add `crs`, for "
            'example crs = "EPSG:4326", to the table files.coast, or set it in the file.\n'
        ),
    ),
    Refusal(
        kind="a layer has no shapes",
        spoil=shapes("coast.gpkg", []),
        says=("site.toml: 1 problem\n  coast.gpkg: the layer has no features. Export it again, or remove the table.\n"),
    ),
    Refusal(
        kind="a shape crosses itself",
        spoil=shapes("coast.gpkg", [Polygon([(WEST, SOUTH), (WEST + 500, NORTH), (WEST + 500, SOUTH), (WEST, NORTH)])]),
        says=(
            "site.toml: 1 problem\n"
            "  coast.gpkg, feature 1: the geometry is not valid: Self-intersection at 500250 7770750. "
            "Mend it in a GIS, which can mostly do so by itself.\n"
        ),
    ),
    Refusal(
        kind="a row has no shape",
        tables=("coast", "seagrass"),
        spoil=shapes("seagrass.gpkg", [MEADOW, None], cover=[60.0, 30.0]),
        says=("site.toml: 1 problem\n  seagrass.gpkg, feature 2: 1 feature has no geometry. Draw it, or remove it.\n"),
    ),
    Refusal(
        kind="a file of several layers, and none is named",
        spoil=two_layers,
        says=(
            "site.toml: 1 problem\n"
            "  files.coast.layer: coast.gpkg holds 2 layers, and none is named. Name one of them as "
            "`layer`: coast_2020, coast_1990.\n"
        ),
    ),
    Refusal(
        kind="a layer that is not there is named",
        spoil=site('file = "coast.gpkg"', 'file = "coast.gpkg"\nlayer = "shore"'),
        says=('site.toml: 1 problem\n  files.coast.layer: coast.gpkg has no layer "shore". Layers there: coast.\n'),
    ),
    Refusal(
        kind="shapes have no such column",
        tables=("coast", "seagrass"),
        spoil=site('column = "cover"', 'column = "density"'),
        says=(
            "site.toml: 1 problem\n"
            '  files.seagrass.column: seagrass.gpkg has no column "density". Columns there: cover.\n'
        ),
    ),
    Refusal(
        kind="a column of numbers holds text",
        tables=("coast", "seagrass"),
        spoil=shapes("seagrass.gpkg", [MEADOW, SECOND_MEADOW], cover=["60", "dense"]),
        says=(
            "site.toml: 1 problem\n"
            "  seagrass.gpkg, feature 2, column cover: the feature holds text that is not a number: "
            '"dense". Write a number, or remove the feature.\n'
        ),
    ),
    Refusal(
        kind="a column of numbers has a gap",
        tables=("coast", "seagrass"),
        spoil=shapes("seagrass.gpkg", [MEADOW, SECOND_MEADOW], cover=[60.0, None]),
        says=(
            "site.toml: 1 problem\n"
            "  seagrass.gpkg, feature 2, column cover: the feature has no value. Fill it in, or remove the feature.\n"
        ),
    ),
    Refusal(
        kind="a cover is above 100 percent",
        tables=("coast", "seagrass"),
        spoil=shapes("seagrass.gpkg", [MEADOW, SECOND_MEADOW], cover=[60.0, 150.0]),
        says=(
            "site.toml: 1 problem\n"
            "  seagrass.gpkg, column cover: 1 feature is outside the plausible range of seagrass cover, "
            "0 to 1; the worst is 1.5 at feature 2. Check the file and `units` of files.seagrass; if the "
            "values are right, set `plausible = [lowest, highest]` there.\n"
        ),
    ),
    Refusal(
        kind="a load is negative",
        tables=("coast", "bed", "outlets"),
        spoil=shapes("outlets.geojson", [OUTLET], nitrogen=[-12.0]),
        says=(
            "site.toml: 1 problem\n"
            "  outlets.geojson, column nitrogen: 1 feature is outside the plausible range of load, 0 to 1e+09 "
            "kg/year; the worst is -12000 kg/year at feature 1. Check the file and `units` of files.outlets; if "
            "the values are right, set `plausible = [lowest, highest]` there.\n"
        ),
    ),
    Refusal(
        kind="shapes lie all round the site and none in it",
        tables=("coast", "bed", "outlets"),
        spoil=shapes("outlets.geojson", [Point(499_000, 7_769_000), Point(503_000, 7_772_000)], nitrogen=[1.0, 2.0]),
        says=(
            "site.toml: 1 problem\n"
            "  outlets.geojson: none of the 2 features lies in the site, though their extent overlaps "
            "it. Check the coordinates, or remove the table.\n"
        ),
    ),
    Refusal(
        kind="an outlet is far from any water",
        tables=("coast", "bed", "outlets"),
        spoil=shapes("outlets.geojson", [Point(500_010, 7_770_700)], nitrogen=[12.0]),
        says=(
            "site.toml: 1 problem\n"
            "  outlets.geojson, feature 1: no water lies within 150 m of the point. Correct the "
            "coordinates, move the point to the water it belongs to, or leave it out.\n"
        ),
    ),
    Refusal(
        kind="a zone has no name",
        tables=("coast", "zones"),
        spoil=shapes("zones.gpkg", [MEADOW, SECOND_MEADOW], name=["Inner", None]),
        says=("site.toml: 1 problem\n  zones.gpkg, feature 2, column name: the feature has no value. Fill it in.\n"),
    ),
)


@pytest.mark.parametrize("refusal", REFUSALS, ids=lambda refusal: refusal.kind)
def test_the_command_refuses(refusal, outcome):
    assert_refused(refusal, outcome)
