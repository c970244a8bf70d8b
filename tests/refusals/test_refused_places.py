"""Rasters that lie somewhere else, by any of the usual slips."""

from pathlib import Path

import pytest
import rasterio
from affine import Affine
from rasterio.control import GroundControlPoint

from tests.refusals.refusal import Refusal, assert_refused
from tests.refusals.spoiling import Spoil, all_of, bed_raster, site
from tests.sites import CELL, COLUMNS, NORTH, ROWS, WEST, bed

IN_AMERICA = all_of(  # a lagoon like it, in a zone west of Greenwich
    site('[water]\ndecided_by = "coast"\n', ""),
    site('crs = "EPSG:32745"\nwest', 'crs = "EPSG:32617"\nwest'),
    site("south = 7770000", "south = 3000000"),
    site("north = 7771500", "north = 3001500"),
)


def degrees(west: float, north: float, **form: object) -> Spoil:
    """A bed of cells of a thousandth of a degree."""
    form = {"crs": "EPSG:4326"} | form
    return bed_raster(bed(), transform=Affine(0.001, 0, west, 0, -0.001, north), **form)


def placed_by_points(folder: Path) -> None:
    """A scan whose corners are known, and which nobody has warped."""
    corners = [(0, 0), (0, COLUMNS), (ROWS, 0), (ROWS, COLUMNS)]
    points = [GroundControlPoint(row, column, WEST + CELL * column, NORTH - CELL * row) for row, column in corners]
    form = {"driver": "GTiff", "width": COLUMNS, "height": ROWS, "count": 1, "dtype": "float32"}
    with rasterio.open(folder / "site" / "bed.tif", "w", gcps=points, crs="EPSG:32745", **form) as target:
        target.write(bed(), 1)


REFUSALS = (
    Refusal(
        kind="a raster has no CRS",
        tables=("coast", "bed"),
        spoil=bed_raster(bed(), crs=None),
        says=(
            "site.toml: 1 problem\n"
            "  bed.tif: the file does not say in which CRS its coordinates are. Add `crs`, for example "
            'crs = "EPSG:4326", to the table files.bed, or set it in the file.\n'
        ),
    ),
    Refusal(
        kind="a raster has a CRS and the site file says another",
        tables=("coast", "bed"),
        spoil=site('positive = "up"', 'positive = "up"\ncrs = "EPSG:32755"'),
        says=(
            "site.toml: 1 problem\n"
            '  files.bed.crs: the site file says "EPSG:32755", but the file says "EPSG:32745". Remove '
            "`crs` from the site file, or set the right one in the file.\n"
        ),
    ),
    Refusal(
        kind="a raster does not say where it lies",
        tables=("coast", "bed"),
        spoil=bed_raster(bed(), transform=Affine.identity()),
        says=(
            "site.toml: 1 problem\n"
            "  bed.tif: the raster does not say where it lies. Georeference it and export it again.\n"
        ),
    ),
    Refusal(
        kind="a raster is placed by control points",
        tables=("coast", "bed"),
        spoil=placed_by_points,
        says=(
            "site.toml: 1 problem\n  bed.tif: the raster is placed by control points only. Warp it with a GIS first.\n"
        ),
    ),
    Refusal(
        kind="a raster in degrees has a CRS in metres",
        tables=("coast", "bed"),
        spoil=degrees(86.99, -20.16, crs="EPSG:32745"),
        says=(
            "site.toml: 1 problem\n"
            "  bed.tif: the coordinates (86.99 to 87.03, -20.19 to -20.16) look like degrees, but the "
            'CRS EPSG:32745 is in metres. Name the CRS that the coordinates are in, for degrees mostly "EPSG:4326".\n'
        ),
    ),
    Refusal(
        kind="a raster in metres has a CRS in degrees",
        tables=("coast", "bed"),
        spoil=bed_raster(bed(), crs="EPSG:4326"),
        says=(
            "site.toml: 1 problem\n"
            "  bed.tif: the coordinates (500000 to 502000, 7.77e+06 to 7.7715e+06) cannot be degrees, "
            "but the CRS EPSG:4326 is in degrees. Name the projected CRS that the coordinates are in.\n"
        ),
    ),
    Refusal(
        kind="latitude and longitude of a raster are exchanged",
        tables=("coast", "bed"),
        spoil=degrees(-20.17, 87.02),
        says=(
            "site.toml: 1 problem\n"
            "  bed.tif: longitude and latitude are swapped: with that mended, the file would lie in the "
            "site. Exchange them in the file; in a CSV, exchange the columns that `x` and `y` name.\n"
        ),
    ),
    Refusal(
        kind="southern latitudes of a raster have no sign",
        tables=("coast", "bed"),
        spoil=degrees(86.99, 20.18),
        says=(
            "site.toml: 1 problem\n"
            "  bed.tif: latitudes are south of the equator but have no minus sign: with that mended, the "
            "file would lie in the site. Write southern latitudes with a minus sign.\n"
        ),
    ),
    Refusal(
        kind="western longitudes of a raster have no sign",
        tables=("bed",),
        spoil=all_of(IN_AMERICA, degrees(80.98, 27.14)),
        says=(
            "site.toml: 1 problem\n"
            "  bed.tif: longitudes are west of Greenwich but have no minus sign: with that mended, the "
            "file would lie in the site. Write western longitudes with a minus sign.\n"
        ),
    ),
    Refusal(
        kind="northings of a raster are negative",
        tables=("coast", "bed"),
        spoil=bed_raster(bed(), north=NORTH - 10_000_000),
        says=(
            "site.toml: 1 problem\n"
            "  bed.tif: northings lack the 10,000,000 m of a southern zone: with that mended, the file "
            "would lie in the site. Add 10,000,000 m to the northings, or name the CRS of the northern "
            "zone; if the file is right, correct the zone of the grid.\n"
        ),
    ),
    Refusal(
        kind="a raster of the southern hemisphere has a northern CRS",
        tables=("coast", "bed"),
        spoil=bed_raster(bed(), crs="EPSG:32645"),
        says=(
            "site.toml: 1 problem\n"
            "  bed.tif: northings carry the 10,000,000 m of a southern zone: with that mended, the file "
            "would lie in the site. Subtract 10,000,000 m from the northings, or name the CRS of the "
            "southern zone; if the file is right, correct the zone of the grid.\n"
        ),
    ),
    Refusal(
        kind="a raster is in kilometres",
        tables=("coast", "bed"),
        spoil=bed_raster(bed(), transform=Affine(0.05, 0, 500, 0, -0.05, 7771.5)),
        says=(
            "site.toml: 1 problem\n"
            "  bed.tif: coordinates are in kilometres: with that mended, the file would lie in the site. "
            "Multiply the coordinates by 1000.\n"
        ),
    ),
    Refusal(
        kind="a raster lies somewhere else",
        tables=("coast", "bed"),
        spoil=bed_raster(bed(), west=WEST + 50_000),
        says=(
            "site.toml: 1 problem\n"
            "  bed.tif: the file does not overlap the site. The file covers longitude 87.478 to 87.498, "
            "latitude -20.167 to -20.153; the site covers longitude 87.000 to 87.019, latitude -20.167 "
            "to -20.154. Check the CRS and the coordinates of the file, and the bounds of the grid.\n"
        ),
    ),
)


@pytest.mark.parametrize("refusal", REFUSALS, ids=lambda refusal: refusal.kind)
def test_the_command_refuses(refusal, outcome):
    assert_refused(refusal, outcome)
