"""Grids that cannot be."""

import pytest

from tests.refusals.refusal import Refusal, assert_refused
from tests.refusals.spoiling import all_of, site

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
)


@pytest.mark.parametrize("refusal", REFUSALS, ids=lambda refusal: refusal.kind)
def test_the_command_refuses(refusal, outcome):
    assert_refused(refusal, outcome)
