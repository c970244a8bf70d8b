"""Files that the site file does not say enough of to read, or in units that do not fit."""

import pytest

from tests.refusals.refusal import Refusal, assert_refused
from tests.refusals.spoiling import site

REFUSALS = (
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
            'known temperature and pressure. Write feeds = "conductivity" and name the column of its '
            "temperature, or, if the meter has brought it to 25 degrees Celsius, feeds = "
            '"specific_conductance".\n'
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
)


@pytest.mark.parametrize("refusal", REFUSALS, ids=lambda refusal: refusal.kind)
def test_the_command_refuses(refusal, outcome):
    assert_refused(refusal, outcome)
