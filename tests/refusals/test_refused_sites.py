"""Site files whose tables do not go together: grids that cannot be, water nobody decides, units that do not fit."""

from pathlib import Path

import pytest
from shapely.geometry import box

from tests.files import write_shapes
from tests.refusals.refusal import Refusal, assert_refused
from tests.refusals.spoiling import added, all_of, site
from tests.sites import EAST, NORTH, SOUTH, WEST

SECOND_BED = """
[files.lidar]
feeds = "bed_elevation"
file = "bed.tif"
units = "m"
positive = "up"
datum = "mean sea level"
date = "2024"
source = "flown for a test"
licence = "CC0-1.0"
credit = "nobody"
"""


def all_land(folder: Path) -> None:
    """Leave no water in the site."""
    write_shapes(folder / "site" / "coast.gpkg", [box(WEST, SOUTH, EAST, NORTH)])


REFUSALS = (
    Refusal(
        kind="the grid does not divide into its cells",
        spoil=site("cell = 50", "cell = 55"),
        says=(
            "site.toml: 1 problem\n"
            "  grid: 2000 m by 1500 m is not a whole number of 55 m cells. Choose a cell that divides "
            "both sides, or move an edge.\n"
        ),
    ),
    Refusal(
        kind="the grid has too many cells",
        spoil=site("cell = 50", "cell = 0.1"),
        says=(
            "site.toml: 1 problem\n"
            "  grid: 300,000,000 cells are too many. Keep below 100 million: larger cells, or less ground.\n"
        ),
    ),
    Refusal(
        kind="a cell has no size",
        spoil=site("cell = 50", "cell = 0"),
        says=("site.toml: 1 problem\n  grid: cell is 0 m. A cell must be greater than 0 m.\n"),
    ),
    Refusal(
        kind="west and east are exchanged",
        spoil=all_of(site("west = 500000", "west = 502000"), site("east = 502000", "east = 500000")),
        says=("site.toml: 1 problem\n  grid: west is 502000 and east is 500000. West must be less than east.\n"),
    ),
    Refusal(
        kind="an edge of the grid is infinite",
        spoil=site("east = 502000", "east = inf"),
        says=("site.toml: 1 problem\n  grid.east: inf is not a finite number. Give a finite number.\n"),
    ),
    Refusal(
        kind="the grid is in degrees",
        spoil=site('crs = "EPSG:32745"', 'crs = "EPSG:4326"'),
        says=(
            "site.toml: 1 problem\n"
            '  grid.crs: "EPSG:4326" (WGS 84) is not a projection in metres. Give a projected CRS, for '
            "example the site's UTM zone.\n"
        ),
    ),
    Refusal(
        kind="the grid is in feet",
        spoil=site('crs = "EPSG:32745"', 'crs = "EPSG:2277"'),
        says=(
            "site.toml: 1 problem\n"
            '  grid.crs: "EPSG:2277" (NAD83 / Texas Central (ftUS)) is not a projection in metres. Give '
            "a projected CRS, for example the site's UTM zone.\n"
        ),
    ),
    Refusal(
        kind="the CRS of the grid is unknown",
        spoil=site('crs = "EPSG:32745"', 'crs = "EPSG:99999"'),
        says=(
            "site.toml: 1 problem\n"
            '  grid.crs: "EPSG:99999" is not a known CRS. Give an authority code such as "EPSG:32755".\n'
        ),
    ),
    Refusal(
        kind="the grid lies in the wrong hemisphere of its zone",
        spoil=site('crs = "EPSG:32745"', 'crs = "EPSG:32645"'),
        says=(
            "site.toml: 1 problem\n"
            "  coast.gpkg: northings lack the 10,000,000 m of a southern zone: with that mended, the "
            "file would lie in the site. Add 10,000,000 m to the northings, or name the CRS of the "
            "northern zone; if the file is right, correct the zone of the grid.\n"
        ),
    ),
    Refusal(
        kind="the grid has the negative northing of another convention",
        spoil=all_of(site("south = 7770000", "south = -2230000"), site("north = 7771500", "north = -2228500")),
        says=(
            "site.toml: 1 problem\n"
            "  grid: the middle of the grid is at longitude -93.03, latitude -70.01, outside the area of "
            "EPSG:32745: Between 84°E and 90°E, southern hemisphere between 80°S and equator, onshore "
            "and offshore. Check the zone and its hemisphere, and that west and east are eastings, south "
            "and north northings.\n"
        ),
    ),
    Refusal(
        kind="the grid lies nowhere on the earth",
        spoil=all_of(site("south = 7770000", "south = 97770000"), site("north = 7771500", "north = 97771500")),
        says=(
            "site.toml: 1 problem\n"
            "  grid: the middle of the grid is at longitude 87.03, latitude 70.19, outside the area of "
            "EPSG:32745: Between 84°E and 90°E, southern hemisphere between 80°S and equator, onshore "
            "and offshore. Check the zone and its hemisphere, and that west and east are eastings, south "
            "and north northings.\n"
        ),
    ),
    Refusal(
        kind="two files could say what is water and none decides",
        tables=("coast", "bed"),
        spoil=site('[water]\ndecided_by = "coast"\n', ""),
        says=(
            "site.toml: 1 problem\n"
            '  water: "bed", "coast" can each say what is water, and nothing says which one does. Add '
            "`decided_by` with one of these names to a table [water].\n"
        ),
    ),
    Refusal(
        kind="no file says what is water",
        tables=("nets",),
        spoil=site('[water]\ndecided_by = "coast"\n', ""),
        says=(
            "site.toml: 1 problem\n"
            "  files: no file says what is water. Add a file that feeds land, sea or bed_elevation.\n"
        ),
    ),
    Refusal(
        kind="what decides the water is not a table of the site",
        spoil=site('decided_by = "coast"', 'decided_by = "shore"'),
        says=(
            "site.toml: 1 problem\n"
            '  water.decided_by: no file named "shore" says what is water. Name a table under [files] '
            'that feeds land, sea or bed_elevation: "coast".\n'
        ),
    ),
    Refusal(
        kind="what decides the water cannot",
        tables=("coast", "nets"),
        spoil=site('decided_by = "coast"', 'decided_by = "nets"'),
        says=(
            "site.toml: 1 problem\n"
            '  water.decided_by: no file named "nets" says what is water. Name a table under [files] '
            'that feeds land, sea or bed_elevation: "coast".\n'
        ),
    ),
    Refusal(
        kind="a season is unknown",
        tables=("coast", "salinity"),
        spoil=site('units = "PSU"', 'units = "PSU"\nseason = "winter"'),
        says=('site.toml: 1 problem\n  files.salinity.season: "winter" is not a season. Known seasons: wet, dry.\n'),
    ),
    Refusal(
        kind="the seasons leave out a month",
        spoil=site("[5, 6, 7, 8, 9, 10]", "[5, 6, 7, 8, 9]"),
        says=(
            "site.toml: 1 problem\n"
            "  seasons: of the months: 10 in no season. Each month, 1 to 12, must stand in one season.\n"
        ),
    ),
    Refusal(
        kind="two files feed what only one can",
        tables=("coast", "bed"),
        spoil=added("site/site.toml", SECOND_BED),
        says=(
            "site.toml: 1 problem\n"
            '  files.lidar: "bed" already feeds bed_elevation. Keep one of them, or give each a season.\n'
        ),
    ),
    Refusal(
        kind="the height of a datum is unknown",
        tables=("coast", "bed", "tide"),
        spoil=site('positive = "up"\ndatum = "mean sea level"', 'positive = "up"\ndatum = "chart datum"'),
        says=(
            "site.toml: 2 problems\n"
            '  files.bed.datum: the height of "chart datum" is not known, and the site uses 2 datums. '
            "Add its height in metres above a common zero to the table [datums].\n"
            '  files.tide.datum: the height of "mean sea level" is not known, and the site uses 2 '
            "datums. Add its height in metres above a common zero to the table [datums].\n"
        ),
    ),
    Refusal(
        kind="how far a station reaches is missing",
        tables=("coast", "salinity"),
        spoil=site("stations = 3000\n", ""),
        says=(
            "site.toml: 1 problem\n"
            "  reach.stations: this is missing, and files.salinity cannot be carried onto the grid "
            "without it. Add a distance in metres to the table [reach].\n"
        ),
    ),
    Refusal(
        kind="a reach is negative",
        tables=("coast", "salinity"),
        spoil=site("stations = 3000\n", "stations = -3000\n"),
        says=("site.toml: 1 problem\n  reach.stations: -3000 is too small. Give a number above 0.\n"),
    ),
    Refusal(
        kind="a raster has no unit",
        tables=("coast", "bed"),
        spoil=site('units = "m"\npositive = "up"', 'positive = "up"'),
        says=(
            "site.toml: 1 problem\n"
            "  files.bed: bed elevation or depth cannot be read without `units`. Add `units` to this table.\n"
        ),
    ),
    Refusal(
        kind="nothing says whether a bed counts up or down",
        tables=("coast", "bed"),
        spoil=site('positive = "up"\n', ""),
        says=(
            "site.toml: 1 problem\n"
            "  files.bed: bed elevation or depth cannot be read without `positive`. Add `positive` to this table.\n"
        ),
    ),
    Refusal(
        kind="a unit is unknown",
        tables=("coast", "bed"),
        spoil=site('units = "m"\npositive = "up"', 'units = "fathoms deep"\npositive = "up"'),
        says=(
            "site.toml: 1 problem\n"
            '  files.bed.units: the unit "fathoms deep" is not known. Known units of length: m, ft, km, '
            "cm, mm, fathom, nautical_mile. Write one of these, or convert the file.\n"
        ),
    ),
    Refusal(
        kind="a unit is of another dimension",
        tables=("coast", "bed"),
        spoil=site('units = "m"\npositive = "up"', 'units = "kg"\npositive = "up"'),
        says=(
            "site.toml: 1 problem\n"
            '  files.bed.units: "kg" is not a unit of length. Known units of length: m, ft, km, cm, mm, '
            "fathom, nautical_mile. Write one of these, or convert the file.\n"
        ),
    ),
    Refusal(
        kind="salinity is given as conductivity",
        tables=("coast", "salinity"),
        spoil=site('units = "PSU"', 'units = "mS/cm"'),
        says=(
            "site.toml: 1 problem\n"
            '  files.salinity.units: "mS/cm" is the unit of conductivity, which is salinity only at a '
            "known temperature and pressure. Convert conductivity, temperature and pressure to practical "
            'salinity (PSS-78) first, and write units = "1".\n'
        ),
    ),
    Refusal(
        kind="salinity is given as a salt content",
        tables=("coast", "salinity"),
        spoil=site('units = "PSU"', 'units = "g/kg"'),
        says=(
            "site.toml: 1 problem\n"
            '  files.salinity.units: "g/kg" is the unit of a salt content, and the layer is practical '
            "salinity, which has no unit. If the values were measured on the practical scale (PSS-78), "
            'write "1"; if they are absolute salinity, convert them first with the TEOS-10 function from '
            "absolute to practical salinity.\n"
        ),
    ),
    Refusal(
        kind="a CSV of places does not name its coordinates",
        tables=("coast", "jetty"),
        spoil=site('crs = "EPSG:32745"\nx = "easting"\ny = "northing"', 'x = "easting"'),
        says=(
            "site.toml: 1 problem\n"
            "  files.jetty: places in a CSV cannot be read without `crs`, `y`. Name the columns of x and "
            "y and their CRS.\n"
        ),
    ),
    Refusal(
        kind="the CRS of a CSV is unknown",
        tables=("coast", "jetty"),
        spoil=site('crs = "EPSG:32745"\nx = "easting"', 'crs = "UTM 45 south"\nx = "easting"'),
        says=(
            "site.toml: 1 problem\n"
            '  files.jetty.crs: "UTM 45 south" is not a known CRS. Give an authority code such as "EPSG:4326".\n'
        ),
    ),
    Refusal(
        kind="a raster stands where points are needed",
        tables=("coast", "outlets"),
        spoil=site('file = "outlets.geojson"', 'file = "bed.tif"'),
        says=(
            "site.toml: 1 problem\n"
            '  files.outlets.file: "bed.tif" would be read as a raster, and nitrogen loads at outlets '
            "come as points. Name a vector file or a CSV.\n"
        ),
    ),
    Refusal(
        kind="land covers the whole site",
        spoil=all_land,
        says=(
            "site.toml: 1 problem\n"
            "  files.coast: coast.gpkg decides what is water, and by it no cell of the site is. Check "
            "what it feeds, and the bounds of the grid.\n"
        ),
    ),
)


@pytest.mark.parametrize("refusal", REFUSALS, ids=lambda refusal: refusal.kind)
def test_the_command_refuses(refusal, outcome):
    assert_refused(refusal, outcome)
