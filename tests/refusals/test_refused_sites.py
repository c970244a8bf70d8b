"""Site files whose tables do not go together: grids that cannot be, water nobody decides, units that do not fit."""

import pytest

from tests.refusals.refusal import Refusal, assert_refused
from tests.refusals.spoiling import added, all_of, nothing, site

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

REFUSALS = (
    Refusal(
        kind="the grid does not divide into its cells",
        spoil=site("cell = 50", "cell = 55"),
        says="",
    ),
    Refusal(
        kind="the grid has too many cells",
        spoil=site("cell = 50", "cell = 0.1"),
        says="",
    ),
    Refusal(
        kind="a cell has no size",
        spoil=site("cell = 50", "cell = 0"),
        says="",
    ),
    Refusal(
        kind="west and east are exchanged",
        spoil=all_of(site("west = 500000", "west = 502000"), site("east = 502000", "east = 500000")),
        says="",
    ),
    Refusal(
        kind="an edge of the grid is infinite",
        spoil=site("east = 502000", "east = inf"),
        says="",
    ),
    Refusal(
        kind="the grid is in degrees",
        spoil=site('crs = "EPSG:32745"', 'crs = "EPSG:4326"'),
        says="",
    ),
    Refusal(
        kind="the grid is in feet",
        spoil=site('crs = "EPSG:32745"', 'crs = "EPSG:2277"'),
        says="",
    ),
    Refusal(
        kind="the CRS of the grid is unknown",
        spoil=site('crs = "EPSG:32745"', 'crs = "EPSG:99999"'),
        says="",
    ),
    Refusal(
        kind="the grid lies in the wrong hemisphere of its zone",
        spoil=site('crs = "EPSG:32745"', 'crs = "EPSG:32645"'),
        says="",
    ),
    Refusal(
        kind="the grid has the negative northing of another convention",
        spoil=all_of(site("south = 7770000", "south = -2230000"), site("north = 7771500", "north = -2228500")),
        says="",
    ),
    Refusal(
        kind="the grid lies nowhere on the earth",
        spoil=all_of(site("south = 7770000", "south = 97770000"), site("north = 7771500", "north = 97771500")),
        says="",
    ),
    Refusal(
        kind="two files could say what is water and none decides",
        tables=("coast", "bed"),
        spoil=site('[water]\ndecided_by = "coast"\n', ""),
        says="",
    ),
    Refusal(
        kind="no file says what is water",
        tables=("nets",),
        spoil=site('[water]\ndecided_by = "coast"\n', ""),
        says="",
    ),
    Refusal(
        kind="what decides the water is not a table of the site",
        spoil=site('decided_by = "coast"', 'decided_by = "shore"'),
        says="",
    ),
    Refusal(
        kind="what decides the water cannot",
        tables=("coast", "nets"),
        spoil=site('decided_by = "coast"', 'decided_by = "nets"'),
        says="",
    ),
    Refusal(
        kind="a season is unknown",
        tables=("coast", "salinity"),
        spoil=site('units = "PSU"', 'units = "PSU"\nseason = "winter"'),
        says="",
    ),
    Refusal(
        kind="the seasons leave out a month",
        spoil=site("[5, 6, 7, 8, 9, 10]", "[5, 6, 7, 8, 9]"),
        says="",
    ),
    Refusal(
        kind="two files feed what only one can",
        tables=("coast", "bed"),
        spoil=added("site/site.toml", SECOND_BED),
        says="",
    ),
    Refusal(
        kind="the height of a datum is unknown",
        tables=("coast", "bed", "tide"),
        spoil=site('positive = "up"\ndatum = "mean sea level"', 'positive = "up"\ndatum = "chart datum"'),
        says="",
    ),
    Refusal(
        kind="how far a station reaches is missing",
        tables=("coast", "salinity"),
        spoil=site("stations = 3000\n", ""),
        says="",
    ),
    Refusal(
        kind="a reach is negative",
        tables=("coast", "salinity"),
        spoil=site("stations = 3000\n", "stations = -3000\n"),
        says="",
    ),
    Refusal(
        kind="a raster has no unit",
        tables=("coast", "bed"),
        spoil=site('units = "m"\npositive = "up"', 'positive = "up"'),
        says="",
    ),
    Refusal(
        kind="nothing says whether a bed counts up or down",
        tables=("coast", "bed"),
        spoil=site('positive = "up"\n', ""),
        says="",
    ),
    Refusal(
        kind="a unit is unknown",
        tables=("coast", "bed"),
        spoil=site('units = "m"\npositive = "up"', 'units = "fathoms deep"\npositive = "up"'),
        says="",
    ),
    Refusal(
        kind="a unit is of another dimension",
        tables=("coast", "bed"),
        spoil=site('units = "m"\npositive = "up"', 'units = "kg"\npositive = "up"'),
        says="",
    ),
    Refusal(
        kind="salinity is given as conductivity",
        tables=("coast", "salinity"),
        spoil=site('units = "PSU"', 'units = "mS/cm"'),
        says="",
    ),
    Refusal(
        kind="salinity is given as a salt content",
        tables=("coast", "salinity"),
        spoil=site('units = "PSU"', 'units = "g/kg"'),
        says="",
    ),
    Refusal(
        kind="a CSV of places does not name its coordinates",
        tables=("coast", "jetty"),
        spoil=site('crs = "EPSG:32745"\nx = "easting"\ny = "northing"', 'x = "easting"'),
        says="",
    ),
    Refusal(
        kind="the CRS of a CSV is unknown",
        tables=("coast", "jetty"),
        spoil=site('crs = "EPSG:32745"\nx = "easting"', 'crs = "UTM 45 south"\nx = "easting"'),
        says="",
    ),
    Refusal(
        kind="a raster stands where points are needed",
        tables=("coast", "outlets"),
        spoil=site('file = "outlets.geojson"', 'file = "bed.tif"'),
        says="",
    ),
    Refusal(
        kind="land covers the whole site",
        tables=("coast",),
        spoil=nothing,
        says="",
    ),
)


@pytest.mark.parametrize("refusal", REFUSALS, ids=lambda refusal: refusal.kind)
def test_the_command_refuses(refusal, outcome):
    assert_refused(refusal, outcome)
