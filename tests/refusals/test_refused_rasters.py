"""Rasters that are damaged, or hold what they cannot."""

from pathlib import Path

import numpy as np
import pytest

from tests.refusals.refusal import Refusal, assert_refused
from tests.refusals.spoiling import added, all_of, bed_raster, cut, removed, site, written
from tests.sites import COLUMNS, ROWS, bed

WARM = """
[files.warm]
feeds = "water_temperature"
file = "bed.tif"
units = "degC"
date = "2024"
source = "written for a test"
licence = "CC0-1.0"
credit = "nobody"
"""


def some_cells(value: float, values: np.ndarray | None = None) -> np.ndarray:
    """The bed with this value in three of its cells."""
    values = bed() if values is None else values
    values[2:5, 7] = value
    return values


def variables(folder: Path) -> None:
    """A NetCDF of two variables in the place of the bed."""
    import xarray as xr

    (folder / "site" / "bed.tif").unlink()
    table = xr.Dataset({name: (("y", "x"), bed()) for name in ("depth", "error")})
    table.to_netcdf(folder / "site" / "bed.nc", engine="h5netcdf")


REFUSALS = (
    Refusal(
        kind="a raster is not there",
        tables=("coast", "bed"),
        spoil=removed("site/bed.tif"),
        says=(
            'site.toml: 1 problem\n  files.bed.file: there is no file "bed.tif". Correct the name or add the file.\n'
        ),
    ),
    Refusal(
        kind="a raster is cut short",
        tables=("coast", "bed"),
        spoil=cut("site/bed.tif", 0.6),
        says=(
            "site.toml: 1 problem\n"
            "  bed.tif, band 1: the file opens, but its cells cannot be read: it is cut short or "
            "damaged. Copy or export it again.\n"
        ),
    ),
    Refusal(
        kind="a text is called a raster",
        tables=("coast", "bed"),
        spoil=written("site/bed.tif", "easting,northing,depth\n500025,7770025,3.5\n"),
        says=(
            "site.toml: 1 problem\n"
            "  bed.tif: the file cannot be opened as a raster: it is cut short, damaged, or of an "
            "unknown format. Copy it again, or export it as GeoTIFF.\n"
        ),
    ),
    Refusal(
        kind="a vector file stands where a raster is needed",
        tables=("coast", "bed"),
        spoil=site('file = "bed.tif"', 'file = "coast.gpkg"'),
        says=(
            "site.toml: 1 problem\n"
            '  files.bed.file: "coast.gpkg" would be read as a vector file, and bed elevation or depth '
            "comes as a raster. Name a raster, for example a GeoTIFF.\n"
        ),
    ),
    Refusal(
        kind="a raster is empty",
        tables=("coast", "bed"),
        spoil=written("site/bed.tif", ""),
        says=("site.toml: 1 problem\n  bed.tif: the file is empty (0 bytes). Copy or export it again.\n"),
    ),
    Refusal(
        kind="a raster has no such band",
        tables=("coast", "bed"),
        spoil=site('positive = "up"', 'positive = "up"\nband = 2'),
        says=("site.toml: 1 problem\n  files.bed.band: bed.tif has 1 band, and band 2 is asked for. Correct `band`.\n"),
    ),
    Refusal(
        kind="a file of several variables, and none is named",
        tables=("coast", "bed"),
        spoil=all_of(variables, site('file = "bed.tif"', 'file = "bed.nc"')),
        says=(
            "site.toml: 1 problem\n"
            "  files.bed.layer: bed.nc holds 2 variables (depth, error), and none is named. Name one of "
            "them as `layer`.\n"
        ),
    ),
    Refusal(
        kind="a bed of depths is said to be of elevations",
        tables=("coast", "bed"),
        spoil=bed_raster(np.abs(bed()) + 0.5),
        says=(
            "site.toml: 1 problem\n"
            '  files.bed.positive: with positive = "up", 100% of bed.tif would be dry: its values run '
            'from 0.5 to 8.25 m, and none is below 0. If the values are depths, write positive = "down"; '
            "if they are right, say so with `plausible = [lowest, highest]` in metres.\n"
        ),
    ),
    Refusal(
        kind="a bed of elevations is said to be of depths",
        tables=("coast", "bed"),
        spoil=all_of(bed_raster(-np.abs(bed()) - 0.5), site('positive = "up"', 'positive = "down"')),
        says=(
            "site.toml: 1 problem\n"
            '  files.bed.positive: with positive = "down", 100% of bed.tif would be dry: its values run '
            "from -8.25 to -0.5 m, and none is above 0. If the values are elevations, write positive = "
            '"up"; if they are right, say so with `plausible = [lowest, highest]` in metres.\n'
        ),
    ),
    Refusal(
        kind="no data is -9999 and nobody says so",
        tables=("coast", "bed"),
        spoil=bed_raster(some_cells(-9999)),
        says=(
            "site.toml: 1 problem\n"
            "  bed.tif, band 1: 3 cells hold -9999, which looks like a mark for no data that the file "
            "does not declare. Add `nodata = -9999` to the table files.bed, or mend the file.\n"
        ),
    ),
    Refusal(
        kind="no data is a huge number and nobody says so",
        tables=("coast", "bed"),
        spoil=bed_raster(some_cells(1e12)),
        says=(
            "site.toml: 1 problem\n"
            "  bed.tif, band 1: 3 cells hold 1e+12, which looks like a mark for no data that the file "
            "does not declare. Add `nodata = 1e+12` to the table files.bed, or mend the file.\n"
        ),
    ),
    Refusal(
        kind="no data may be 0 and nobody says so",
        tables=("coast", "bed"),
        spoil=bed_raster(np.where(np.arange(COLUMNS) < 25, 0, bed()).astype("float32")),
        says=(
            "site.toml: 1 problem\n"
            "  bed.tif, band 1: 62% of the cells are exactly 0, and the file declares no value for no "
            "data. If 0 means no data, add `nodata = 0` to the table files.bed; if the zeros are real, "
            "say so with `plausible = [-200, 500]`.\n"
        ),
    ),
    Refusal(
        kind="a raster has no data at all",
        tables=("coast", "bed"),
        spoil=bed_raster(np.full((ROWS, COLUMNS), -9999, "float32"), nodata=-9999),
        says=(
            "site.toml: 1 problem\n"
            "  bed.tif, band 1: the raster has no data anywhere in the site. Check the band, its value "
            "for no data, and its extent.\n"
        ),
    ),
    Refusal(
        kind="depths are in centimetres and said to be in metres",
        tables=("coast", "bed"),
        spoil=bed_raster(bed() * 100),
        says=(
            "site.toml: 1 problem\n"
            "  bed.tif, band 1: 690 cells are outside the plausible range of bed elevation, -200 to 500 "
            "m; the worst is -775 m at row 1, column 40 (x 501975, y 7771475). All values would be "
            "plausible if they were in centimetres or millimetres. Check the file and `units` of "
            "files.bed; if the values are right, set `plausible = [lowest, highest]` there.\n"
        ),
    ),
    Refusal(
        kind="temperatures are in kelvin and said to be in degrees Celsius",
        spoil=all_of(
            bed_raster(np.full((ROWS, COLUMNS), 297.5, "float32")),
            added("site/site.toml", WARM),
        ),
        says=(
            "site.toml: 1 problem\n"
            "  bed.tif, band 1: 1,200 cells are outside the plausible range of water temperature, -2 to "
            "45 degree_Celsius; the worst is 297.5 degree_Celsius at row 1, column 1 (x 500025, y "
            "7771475). All values would be plausible if they were in kelvin. Check the file and `units` "
            "of files.warm; if the values are right, set `plausible = [lowest, highest]` there.\n"
        ),
    ),
    Refusal(
        kind="a cover in percent is said to be a share",
        tables=("coast", "seagrass"),
        spoil=all_of(
            bed_raster(np.full((ROWS, COLUMNS), 60, "float32")),
            site('file = "seagrass.gpkg"\ncolumn = "cover"\nunits = "percent"', 'file = "bed.tif"\nunits = "1"'),
        ),
        says=(
            "site.toml: 1 problem\n"
            "  bed.tif, band 1: 1,200 cells are outside the plausible range of seagrass cover, 0 to 1; "
            "the worst is 60 at row 1, column 1 (x 500025, y 7771475). All values would be plausible if "
            "they were in percent. Check the file and `units` of files.seagrass; if the values are "
            "right, set `plausible = [lowest, highest]` there.\n"
        ),
    ),
    Refusal(
        kind="a raster holds infinite values",
        tables=("coast", "bed"),
        spoil=bed_raster(some_cells(np.inf)),
        says=(
            "site.toml: 1 problem\n"
            "  bed.tif, band 1: 3 cells hold an infinite value, first at row 3, column 8 (x 500375, y "
            "7771375). Replace infinite values with no data.\n"
        ),
    ),
    Refusal(
        kind="a raster holds complex numbers",
        tables=("coast", "bed"),
        spoil=bed_raster(bed().astype("complex64")),
        says=(
            "site.toml: 1 problem\n"
            "  bed.tif, band 1: the cells hold complex numbers. Export the raster with real numbers.\n"
        ),
    ),
)


@pytest.mark.parametrize("refusal", REFUSALS, ids=lambda refusal: refusal.kind)
def test_the_command_refuses(refusal, outcome):
    assert_refused(refusal, outcome)
