"""Site files whose tables do not go together: water nobody decides, seasons, datums and reaches left out."""

from pathlib import Path

import pytest
from shapely.geometry import box

from tests.files import write_shapes
from tests.refusals.refusal import Refusal, assert_refused
from tests.refusals.spoiling import added, site
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
