"""Stations, gauges, tides and winds that cannot be as they are written."""

import pytest

from tests.refusals.refusal import Refusal, assert_refused
from tests.refusals.spoiling import STATION_PLACE, added, all_of, edited, site, stations, written

SERIES = """
[files.gauge]
feeds = "water_level"
file = "gauge.csv"
time = "time"
column = "level"
units = "m"
datum = "mean sea level"
date = "2024"
source = "written for a test"
licence = "CC0-1.0"
credit = "nobody"
"""


def gauge(*rows: str):
    """Add a record of the water level to the site."""
    text = "time,level\n" + "".join(f"{row}\n" for row in rows)
    return all_of(written("site/gauge.csv", text), added("site/site.toml", SERIES))


REFUSALS = (
    Refusal(
        kind="a date cannot be read",
        tables=("coast", "salinity"),
        spoil=stations(f"A,{STATION_PLACE},mid January,30,24"),
        says=(
            "site.toml: 1 problem\n"
            '  stations.csv, row 2, column date: the row holds a date that cannot be read: "mid '
            'January". Write dates as year-month-day, such as 2021-04-03 or 2021-04-03T14:30.\n'
        ),
    ),
    Refusal(
        kind="a date can be read in two ways",
        tables=("coast", "salinity"),
        spoil=stations(f"A,{STATION_PLACE},03/04/2023,30,24"),
        says=(
            "site.toml: 1 problem\n"
            "  stations.csv, row 2, column date: the row holds a date that can be read in two ways (day "
            'first or month first): "03/04/2023". Write dates as year-month-day, such as 2021-04-03.\n'
        ),
    ),
    Refusal(
        kind="some times say their offset and some do not",
        tables=("coast", "salinity"),
        spoil=stations(f"A,{STATION_PLACE},2023-01-15T10:00+10:00,30,24", f"A,{STATION_PLACE},2023-02-15T10:00,31,24"),
        says=(
            "site.toml: 1 problem\n"
            "  stations.csv, column date: 1 of 2 times has an offset from universal time, the others "
            "have none. Write all times with an offset (such as +10:00 or Z), or none.\n"
        ),
    ),
    Refusal(
        kind="a station is twice at one time",
        tables=("coast", "salinity"),
        spoil=stations(f"A,{STATION_PLACE},2023-01-15,30,24", f"A,{STATION_PLACE},2023-01-15,31,24"),
        says=(
            "site.toml: 1 problem\n"
            '  stations.csv, row 3: station "A" at 2023-01-15 00:00 is in row 2 already. Keep one of them.\n'
        ),
    ),
    Refusal(
        kind="the times of a station run to and fro",
        tables=("coast", "salinity"),
        spoil=stations(*(f"A,{STATION_PLACE},2023-{month:02d}-15,30,24" for month in (1, 3, 2))),
        says=(
            "site.toml: 1 problem\n"
            '  stations.csv, row 4, column date: the times of station "A" run forwards and backwards. '
            "Check the date of this row, then sort the rows of each station by time.\n"
        ),
    ),
    Refusal(
        kind="a row has no station",
        tables=("coast", "salinity"),
        spoil=stations(f"A,{STATION_PLACE},2023-01-15,30,24", f",{STATION_PLACE},2023-02-15,31,24"),
        says=("site.toml: 1 problem\n  stations.csv, row 3, column station: 1 row has no station. Name the station.\n"),
    ),
    Refusal(
        kind="a station moves",
        tables=("coast", "salinity"),
        spoil=stations(f"A,{STATION_PLACE},2023-01-15,30,24", "A,87.014,-20.159,2023-02-15,31,24"),
        says=(
            "site.toml: 1 problem\n"
            '  stations.csv, row 3: station "A" lies 1,003 m from where an earlier row puts it. Correct '
            "the coordinates, or give the new place a name of its own.\n"
        ),
    ),
    Refusal(
        kind="latitude and longitude of one station are exchanged",
        tables=("coast", "salinity"),
        spoil=stations(f"A,{STATION_PLACE},2023-01-15,30,24", "B,-20.159,87.014,2023-01-15,31,24"),
        says=(
            "site.toml: 1 problem\n"
            "  stations.csv, row 3: longitude and latitude are swapped in 1 row: with that mended, it "
            "would lie in the site. Exchange them in the file; in a CSV, exchange the columns that `x` "
            "and `y` name.\n"
        ),
    ),
    Refusal(
        kind="all stations are outside the site",
        tables=("coast", "salinity"),
        spoil=stations("A,87.106,-20.164,2023-01-15,30,24", "B,87.206,-20.264,2023-01-15,30,24"),
        says=(
            "site.toml: 1 problem\n"
            "  stations.csv: the file does not overlap the site. The file covers longitude 87.106 to "
            "87.206, latitude -20.264 to -20.164; the site covers longitude 87.000 to 87.019, latitude "
            "-20.167 to -20.154. Check the CRS and the coordinates of the file, and the bounds of the grid.\n"
        ),
    ),
    Refusal(
        kind="a station is far from any water",
        tables=("coast", "salinity"),
        spoil=stations("A,87.0005,-20.160,2023-01-15,30,24", f"B,{STATION_PLACE},2023-01-15,31,24"),
        says=(
            "site.toml: 1 problem\n"
            "  stations.csv, row 2: no water lies within 150 m of the point. Correct the coordinates, "
            "move the point to the water it belongs to, or leave it out.\n"
        ),
    ),
    Refusal(
        kind="a tidal constituent is unknown",
        tables=("coast", "tide"),
        spoil=edited("site/tide.csv", "S2", "X9"),
        says=(
            "site.toml: 1 problem\n"
            "  tide.csv, column name: the speed of X9 is not known, and 0.20 of 0.70 m of the tide rest "
            'on it. Use standard names such as "M2", "S2", "K1".\n'
        ),
    ),
    Refusal(
        kind="a table of tides is not a CSV",
        tables=("coast", "tide"),
        spoil=site('file = "tide.csv"', 'file = "nets.gpkg"'),
        says=(
            "site.toml: 1 problem\n"
            "  files.tide.file: nets.gpkg is not a CSV, and one is needed here. Name a CSV file.\n"
        ),
    ),
    Refusal(
        kind="the amplitude of a tide is negative",
        tables=("coast", "tide"),
        spoil=edited("site/tide.csv", "S2,0.2", "S2,-0.2"),
        says=(
            "site.toml: 1 problem\n"
            "  tide.csv, column amplitude: the amplitude of S2 is -0.2 m. It should lie from 0 to 10 m: "
            "check the unit.\n"
        ),
    ),
    Refusal(
        kind="a direction of the wind is not on the compass",
        tables=("coast", "wind"),
        spoil=edited("site/wind.csv", "270,0.1", "700,0.1"),
        says=(
            "site.toml: 1 problem\n"
            "  wind.csv, column direction: a direction is 700 degrees. Give 0 to 360, clockwise from north.\n"
        ),
    ),
    Refusal(
        kind="a share of the wind is negative",
        tables=("coast", "wind"),
        spoil=edited("site/wind.csv", "270,0.1", "270,-0.1"),
        says=(
            "site.toml: 1 problem\n  wind.csv, column share: a share is -0.1. Write a share of the time, 0 or more.\n"
        ),
    ),
    Refusal(
        kind="a direction of the wind stands twice",
        tables=("coast", "wind"),
        spoil=edited("site/wind.csv", "270,0.1", "180,0.1"),
        says=(
            "site.toml: 1 problem\n"
            "  wind.csv, column direction: a direction is there more than once. Keep one row for each direction.\n"
        ),
    ),
    Refusal(
        kind="the shares of the wind do not make a whole",
        tables=("coast", "wind"),
        spoil=edited("site/wind.csv", "270,0.1", "270,40"),
        says=(
            "site.toml: 1 problem\n"
            "  wind.csv, column share: the shares add up to 40.9. Write shares of the time, which add up to 1.\n"
        ),
    ),
    Refusal(
        kind="a record has one time twice",
        tables=("coast",),
        spoil=gauge("2024-01-01T00:00,0.1", "2024-01-01T01:00,0.2", "2024-01-01T01:00,0.3"),
        says=(
            "site.toml: 1 problem\n"
            '  gauge.csv, row 4, column time: "2024-01-01T01:00" has the time of the row before. Keep one of them.\n'
        ),
    ),
    Refusal(
        kind="a record runs backwards",
        tables=("coast",),
        spoil=gauge("2024-01-01T00:00,0.1", "2024-01-01T02:00,0.2", "2024-01-01T01:00,0.3"),
        says=(
            "site.toml: 1 problem\n"
            '  gauge.csv, row 4, column time: "2024-01-01T01:00" is earlier than the row before. Sort '
            "the rows by time.\n"
        ),
    ),
    Refusal(
        kind="a record has nothing but gaps",
        tables=("coast",),
        spoil=gauge("2024-01-01T00:00,", "2024-01-01T01:00,"),
        says=("site.toml: 1 problem\n  gauge.csv, column level: no row has a value. Check the column.\n"),
    ),
    Refusal(
        kind="no row is left by what the site file picks",
        tables=("coast", "tide"),
        spoil=site('phase = "phase"', 'phase = "phase"\nwhere = { name = "M4" }'),
        says=(
            "site.toml: 1 problem\n"
            '  files.tide.where: nothing in tide.csv has name = "M4". Correct the value of `where`.\n'
        ),
    ),
)


@pytest.mark.parametrize("refusal", REFUSALS, ids=lambda refusal: refusal.kind)
def test_the_command_refuses(refusal, outcome):
    assert_refused(refusal, outcome)
