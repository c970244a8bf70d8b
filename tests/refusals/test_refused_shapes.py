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
        says="",
    ),
    Refusal(
        kind="a zipped shapefile is cut short",
        tables=("coast", "channel"),
        spoil=cut("site/channel.zip", 0.5),
        says="",
    ),
    Refusal(
        kind="a shapefile came without its other files",
        tables=("coast", "channel"),
        spoil=all_of(lost_companion, site('file = "channel.zip"', 'file = "channel.shp"')),
        says="",
    ),
    Refusal(
        kind="a GeoJSON is broken off",
        tables=("coast", "outlets"),
        spoil=cut("site/outlets.geojson", 0.7),
        says="",
    ),
    Refusal(
        kind="a page of the web was saved as a GeoJSON",
        tables=("coast", "outlets"),
        spoil=written("site/outlets.geojson", "<!DOCTYPE html><html><body>Please log in.</body></html>\n"),
        says="",
    ),
    Refusal(
        kind="lines stand where polygons are needed",
        spoil=shapes("coast.gpkg", [LineString([(500_500, SOUTH), (500_500, NORTH)])]),
        says="",
    ),
    Refusal(
        kind="the kinds of shapes are mixed",
        tables=("coast", "outlets"),
        spoil=shapes("outlets.geojson", [OUTLET, MEADOW], nitrogen=[12.0, 3.0]),
        says="",
    ),
    Refusal(
        kind="shapes have no CRS",
        spoil=shapes("coast.gpkg", [LAND], None),
        says="",
    ),
    Refusal(
        kind="a layer has no shapes",
        spoil=shapes("coast.gpkg", []),
        says="",
    ),
    Refusal(
        kind="a shape crosses itself",
        spoil=shapes("coast.gpkg", [Polygon([(WEST, SOUTH), (WEST + 500, NORTH), (WEST + 500, SOUTH), (WEST, NORTH)])]),
        says="",
    ),
    Refusal(
        kind="a row has no shape",
        tables=("coast", "seagrass"),
        spoil=shapes("seagrass.gpkg", [MEADOW, None], cover=[60.0, 30.0]),
        says="",
    ),
    Refusal(
        kind="a file of several layers, and none is named",
        spoil=two_layers,
        says="",
    ),
    Refusal(
        kind="a layer that is not there is named",
        spoil=site('file = "coast.gpkg"', 'file = "coast.gpkg"\nlayer = "shore"'),
        says="",
    ),
    Refusal(
        kind="shapes have no such column",
        tables=("coast", "seagrass"),
        spoil=site('column = "cover"', 'column = "density"'),
        says="",
    ),
    Refusal(
        kind="a column of numbers holds text",
        tables=("coast", "seagrass"),
        spoil=shapes("seagrass.gpkg", [MEADOW, SECOND_MEADOW], cover=["60", "dense"]),
        says="",
    ),
    Refusal(
        kind="a column of numbers has a gap",
        tables=("coast", "seagrass"),
        spoil=shapes("seagrass.gpkg", [MEADOW, SECOND_MEADOW], cover=[60.0, None]),
        says="",
    ),
    Refusal(
        kind="a cover is above 100 percent",
        tables=("coast", "seagrass"),
        spoil=shapes("seagrass.gpkg", [MEADOW, SECOND_MEADOW], cover=[60.0, 150.0]),
        says="",
    ),
    Refusal(
        kind="a load is negative",
        tables=("coast", "outlets"),
        spoil=shapes("outlets.geojson", [OUTLET], nitrogen=[-12.0]),
        says="",
    ),
    Refusal(
        kind="shapes lie all round the site and none in it",
        tables=("coast", "outlets"),
        spoil=shapes("outlets.geojson", [Point(499_000, 7_769_000), Point(503_000, 7_772_000)], nitrogen=[1.0, 2.0]),
        says="",
    ),
    Refusal(
        kind="an outlet is far from any water",
        tables=("coast", "outlets"),
        spoil=shapes("outlets.geojson", [Point(500_010, 7_770_700)], nitrogen=[12.0]),
        says="",
    ),
    Refusal(
        kind="a zone has no name",
        tables=("coast", "zones"),
        spoil=shapes("zones.gpkg", [MEADOW, SECOND_MEADOW], name=["Inner", None]),
        says="",
    ),
    Refusal(
        kind="two zones have one name",
        tables=("coast", "zones"),
        spoil=shapes("zones.gpkg", [MEADOW, SECOND_MEADOW], name=["Inner", "Inner"]),
        says="",
    ),
)


@pytest.mark.parametrize("refusal", REFUSALS, ids=lambda refusal: refusal.kind)
def test_the_command_refuses(refusal, outcome):
    assert_refused(refusal, outcome)
