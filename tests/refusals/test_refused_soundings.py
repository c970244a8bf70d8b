"""Soundings that cannot be made a bed, and conductivity that cannot be made salinity."""

from __future__ import annotations

import pytest

from tests.refusals.refusal import Refusal, assert_refused
from tests.refusals.spoiling import STATION_PLACE, Spoil, all_of, site, with_file, written
from tests.sites import SOUTH, WEST

SURVEY = (
    'feeds = "sounding"\nfile = "soundings.csv"\ncrs = "EPSG:32745"\nx = "x"\ny = "y"\ncolumn = "depth"\nunits = "m"\n'
    'positive = "down"\ndatum = "mean sea level"\nerror = 0.1\n'
)
# depths of the small site's plane bed, in the water from its eastern edge inwards
PLACES = [(WEST + x, SOUTH + y, 0.005 * x - 2.125) for y in (225, 725, 1225) for x in (1925, 1525, 1125, 725)]
METER = (
    'feeds = "conductivity"\nfile = "meter.csv"\ncrs = "EPSG:4326"\nx = "x"\ny = "y"\ncolumn = "conductivity"\n'
    'units = "mS/cm"\ntemperature = "warmth"\ntemperature_scale = "ITS-90"\n'
)


def surveyed(keys: str = SURVEY, *, scale: float = 1.0, count: int = len(PLACES), shift: float = 0.0) -> Spoil:
    """Add soundings of the plane bed, their depths times `scale`, their places moved west by `shift`. [m]"""
    rows = "".join(f"{x - shift},{y},{depth * scale}\n" for x, y, depth in PLACES[:count])
    return all_of(written("site/soundings.csv", f"x,y,depth\n{rows}"), with_file("survey", keys))


def metered(*rows: str, keys: str = METER) -> Spoil:
    """Add readings of a meter: conductivity and temperature."""
    text = "x,y,conductivity,warmth\n" + "".join(f"{STATION_PLACE},{row}\n" for row in rows)
    return all_of(written("site/meter.csv", text), with_file("meter", keys))


def without(keys: str, *names: str) -> str:
    """Lines of a table but for those of some keys."""
    return "".join(line for line in keys.splitlines(True) if line.split(" = ")[0] not in names)


REFUSALS = (
    Refusal(
        kind="soundings are of no datum",
        spoil=surveyed(without(SURVEY, "datum")),
        says=(
            "site.toml: 1 problem\n"
            "  files.survey: soundings cannot be read without `datum`. Add `datum` to this table.\n"
        ),
    ),
    Refusal(
        kind="nobody says whether soundings grow downwards",
        spoil=surveyed(without(SURVEY, "positive")),
        says=(
            "site.toml: 1 problem\n"
            "  files.survey: soundings cannot be read without `positive`. Add `positive` to this table.\n"
        ),
    ),
    Refusal(
        kind="nobody says how far soundings may be out",
        spoil=surveyed(without(SURVEY, "error")),
        says=(
            "site.toml: 1 problem\n"
            "  files.survey: soundings cannot be read without `error`. Add `error` to this table.\n"
        ),
    ),
    Refusal(
        kind="soundings in feet are called metres",
        spoil=surveyed(scale=25 / 0.3048),
        says=(
            "site.toml: 1 problem\n"
            "  soundings.csv, column depth: 9 rows are outside the plausible range of sounded depth, -500 to "
            "200 m; the worst is 615.157 m at row 2. All values would be plausible if they were in feet or "
            "centimetres or millimetres. Check the file and `units` of files.survey; if the values are right,"
            " set `plausible = [lowest, highest]` there.\n"
        ),
    ),
    Refusal(
        kind="soundings are of a datum whose height is not known",
        tables=("coast", "bed"),
        spoil=surveyed(SURVEY.replace("mean sea level", "chart datum")),
        says=(
            "site.toml: 2 problems\n"
            '  files.bed.datum: the height of "mean sea level" is not known, and the site uses 2 datums. Add '
            "its height in metres above a common zero to the table [datums].\n"
            '  files.survey.datum: the height of "chart datum" is not known, and the site uses 2 datums. Add '
            "its height in metres above a common zero to the table [datums].\n"
        ),
    ),
    Refusal(
        kind="soundings are too few",
        spoil=surveyed(count=9),
        says=(
            "site.toml: 1 problem\n"
            "  files.survey: soundings: found 9. At least 10 are needed to tell how the bed varies with "
            "distance.\n"
        ),
    ),
    Refusal(
        kind="soundings mostly lie on land",
        spoil=surveyed(shift=500.0),
        says=(
            "site.toml: 1 problem\n"
            "  files.survey: soundings: found 9 in or beside the water, and 3 on land or off the grid. At "
            "least 10 are needed to tell how the bed varies with distance.\n"
        ),
    ),
    Refusal(
        kind="two surveys lie years apart and nobody says how the bed moves",
        spoil=all_of(surveyed(), with_file("older", SURVEY, date="1998")),
        says=(
            "site.toml: 1 problem\n"
            "  bed.yearly_change: this is missing, and 2 surveys of different dates cannot be weighed without"
            ' it. Add `yearly_change = { value = ..., units = "m", source = "..." }` to the table [bed]: how '
            "far the bed moves in a year, as a standard deviation.\n"
        ),
    ),
    Refusal(
        kind="soundings are carried no distance",
        spoil=all_of(surveyed(), site("soundings = 2000\n", "")),
        says=(
            "site.toml: 1 problem\n"
            "  reach.soundings: this is missing, and files.survey cannot be carried onto the grid without it."
            " Add a distance in metres to the table [reach].\n"
        ),
    ),
    Refusal(
        kind="soundings come as a raster",
        tables=("coast",),
        spoil=with_file("survey", SURVEY.replace("soundings.csv", "bed.tif")),
        says=(
            "site.toml: 1 problem\n"
            '  files.survey.file: "bed.tif" would be read as a raster, and soundings come as points. Name a '
            "vector file or a CSV.\n"
        ),
    ),
    Refusal(
        kind="conductivity has no column of temperature",
        spoil=metered("45,24", keys=without(METER, "temperature")),
        says=(
            "site.toml: 1 problem\n"
            "  files.meter: conductivity at the temperature of the water cannot be read without "
            "`temperature`. Add `temperature` to this table.\n"
        ),
    ),
    Refusal(
        kind="nobody says on which scale temperature was measured",
        spoil=metered("45,24", keys=without(METER, "temperature_scale")),
        says=(
            "site.toml: 1 problem\n"
            "  files.meter: conductivity at the temperature of the water cannot be read without "
            "`temperature_scale`. Add `temperature_scale` to this table.\n"
        ),
    ),
    Refusal(
        kind="the scale of temperature is not one we know",
        spoil=metered("45,24", keys=METER.replace("ITS-90", "ITS-48")),
        says=(
            'site.toml: 1 problem\n  files.meter.temperature_scale: "ITS-48" is not known. Use "ITS-90" or "IPTS-68".\n'
        ),
    ),
    Refusal(
        kind="the column of temperature is not in the file",
        spoil=metered("45,24", keys=METER.replace("warmth", "temp")),
        says=(
            "site.toml: 1 problem\n"
            '  files.meter.temperature: meter.csv has no column "temp". Columns there: x, y, conductivity, '
            "warmth.\n"
        ),
    ),
    Refusal(
        kind="conductivity in microsiemens is called millisiemens",
        spoil=metered("45000,24", "46000,25"),
        says=(
            "site.toml: 1 problem\n"
            "  meter.csv, column conductivity: 2 rows are outside the plausible range of electrical "
            "conductivity of the water, 0 to 120 mS/cm; the worst is 46000 mS/cm at row 3. All values would be "
            "plausible if they were in uS/cm. "
            "Check the file and `units` of files.meter; if the values are right, "
            "set `plausible = [lowest, highest]` there.\n"
        ),
    ),
    Refusal(
        kind="temperature beside conductivity is in degrees Fahrenheit",
        spoil=metered("45,75.2", "46,77"),
        says=(
            "site.toml: 1 problem\n"
            "  meter.csv, column warmth: 2 rows are outside the plausible range of water temperature, -2 to "
            "45 degree_Celsius; the worst is 77 degree_Celsius at row 3. All values would be plausible if "
            "they were in degrees Fahrenheit. Temperatures beside a conductivity are in degrees Celsius: "
            "convert them.\n"
        ),
    ),
    Refusal(
        kind="conductivity is called salinity",
        spoil=metered("45,24", keys=METER.replace('"conductivity"\nfile', '"salinity"\nfile')),
        says=(
            "site.toml: 1 problem\n"
            '  files.meter.units: "mS/cm" is the unit of conductivity, which is salinity only at a known '
            'temperature and pressure. Write feeds = "conductivity" and name the column of its temperature, '
            'or, if the meter has brought it to 25 degrees Celsius, feeds = "specific_conductance".\n'
        ),
    ),
)


@pytest.mark.parametrize("refusal", REFUSALS, ids=lambda refusal: refusal.kind)
def test_the_command_refuses(refusal, outcome):
    assert_refused(refusal, outcome)
