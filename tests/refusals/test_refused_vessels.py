"""Vessels, and the numbers of a profile that light and vessels are read with."""

from __future__ import annotations

import pytest
from shapely.geometry import LineString

from tests.files import write_shapes
from tests.refusals.refusal import Refusal, assert_refused
from tests.refusals.spoiling import Spoil, added, all_of, in_table, nothing, site, with_file, written
from tests.sites import NORTH, SOUTH

FIXES = (
    'feeds = "vessel_fix"\nfile = "fixes.csv"\ncrs = "EPSG:32745"\nx = "x"\ny = "y"\ntime = "time"\nvessel = "who"\n'
)
JOINED = (
    '\n[vessels]\nlongest_gap = { value = 1, units = "hour", source = "expert judgement" }\n'
    'greatest_speed = { value = 20, units = "m/s", source = "expert judgement" }\n'
    'least_speed = { value = 0.2, units = "m/s", source = "expert judgement" }\n'
)
SAILED = ("one,501000,7770500,2024-01-01T10:00", "one,501000,7770800,2024-01-01T10:05")


def fixes(*rows: str, keys: str = FIXES, joined: str = JOINED, header: str = "who,x,y,time") -> Spoil:
    """Add recorded positions."""
    text = header + "\n" + "".join(f"{row}\n" for row in rows or SAILED)
    return all_of(written("site/fixes.csv", text), added("site/site.toml", joined), with_file("fixes", keys))


def ferry(**columns: object) -> Spoil:
    """Put a route with these columns in the place of the ferry's."""

    def spoil(folder):
        route = [LineString([(501_550, SOUTH), (501_550, NORTH)])]
        write_shapes(folder / "site" / "ferry.gpkg", route, **{name: [value] for name, value in columns.items()})

    return spoil


REFUSALS = (
    Refusal(
        kind="a route has no column of drafts",
        tables=("coast", "ferry"),
        spoil=ferry(trips=8.0, keel=1.5),
        says=(
            'site.toml: 1 problem\n  files.ferry.draft: ferry.gpkg has no column "draft". Columns there: trips, keel.\n'
        ),
    ),
    Refusal(
        kind="a draft is in centimetres",
        tables=("coast", "ferry"),
        spoil=ferry(trips=8.0, draft=150.0),
        says=(
            "site.toml: 1 problem\n"
            "  ferry.gpkg, feature 1, column draft: the draft is 150. Drafts are in metres, from 0 to 30.\n"
        ),
    ),
    Refusal(
        kind="a draft is not filled in",
        tables=("coast", "ferry"),
        spoil=ferry(trips=8.0, draft=None),
        says=(
            "site.toml: 1 problem\n"
            "  ferry.gpkg, feature 1, column draft: the feature has no value. Fill it in: write 0 for a "
            "vessel that hardly draws water.\n"
        ),
    ),
    Refusal(
        kind="a draft is a word",
        tables=("coast", "ferry"),
        spoil=ferry(trips=8.0, draft="deep"),
        says=(
            "site.toml: 1 problem\n"
            '  ferry.gpkg, feature 1, column draft: the feature holds text that is not a number: "deep". '
            "Write a number.\n"
        ),
    ),
    Refusal(
        kind="positions of vessels cannot be joined to tracks",
        spoil=fixes(joined=""),
        says=(
            "site.toml: 1 problem\n"
            "  vessels: this is missing, and the positions of files.fixes cannot be joined to tracks without "
            "it. Add a table [vessels] with longest_gap, greatest_speed and least_speed.\n"
        ),
    ),
    Refusal(
        kind="the speed of vessels is told in tonnes",
        spoil=fixes(joined=JOINED.replace('20, units = "m/s"', '20, units = "t"')),
        says=(
            "site.toml: 1 problem\n"
            '  vessels.greatest_speed: "t" is not a unit of speed. Known units of speed: m/s, km/hour, knot. '
            "Write one of these, or convert the number.\n"
        ),
    ),
    Refusal(
        kind="the greatest speed in kilometres an hour is called metres a second",
        spoil=fixes(joined=JOINED.replace("value = 20", "value = 72")),
        says=(
            "site.toml: 1 problem\n"
            "  vessels.greatest_speed: 72 m/s is out of bounds. Give more than 0 and at most 40 m/s.\n"
        ),
    ),
    Refusal(
        kind="the least speed of vessels is left out",
        spoil=fixes(joined=JOINED.rpartition("least_speed")[0]),
        says=("site.toml: 1 problem\n  vessels.least_speed: this is missing. Add `least_speed`.\n"),
    ),
    Refusal(
        kind="the greatest speed is less than the least",
        spoil=fixes(joined=JOINED.replace("value = 20", "value = 0.1")),
        says=(
            "site.toml: 1 problem\n"
            "  fixes.csv: least speed: found 0.2 m/s. It must be 0 or more and less than the greatest, 0.1 "
            "m/s.\n"
        ),
    ),
    Refusal(
        kind="positions name no vessel",
        spoil=fixes(keys=FIXES.replace('vessel = "who"\n', "")),
        says=(
            "site.toml: 1 problem\n"
            "  files.fixes: positions of vessels cannot be read without `vessel`. Add `vessel` to this table.\n"
        ),
    ),
    Refusal(
        kind="positions have no such column of vessels",
        spoil=fixes(keys=FIXES.replace('"who"', '"mmsi"')),
        says=(
            "site.toml: 1 problem\n"
            '  files.fixes.vessel: fixes.csv has no column "mmsi". Columns there: who, x, y, time.\n'
        ),
    ),
    Refusal(
        kind="a position has a time that cannot be read",
        spoil=fixes("one,501000,7770500,noon"),
        says=(
            "site.toml: 1 problem\n"
            '  fixes.csv, row 2, column time: the row holds a date that cannot be read: "noon". Write dates '
            "as year-month-day, such as 2021-04-03 or 2021-04-03T14:30.\n"
        ),
    ),
    Refusal(
        kind="there is one position and no track",
        spoil=fixes(SAILED[0]),
        says=(
            "site.toml: 1 problem\n"
            "  fixes.csv: fixes: no two fixes can be joined. Of the legs 0 have too long a gap, 0 are too "
            "fast, and 0 too slow. Are the limits in hours and metres per second?\n"
        ),
    ),
    Refusal(
        kind="positions leave the vessel empty",
        spoil=fixes(",501000,7770500,2024-01-01T10:00", ",501000,7770800,2024-01-01T10:05"),
        says=(
            "site.toml: 1 problem\n"
            "  fixes.csv, column who: 2 rows name no vessel: row 2, row 3. Name it, or remove it.\n"
        ),
    ),
    Refusal(
        kind="vessels reach nowhere",
        spoil=all_of(fixes(), site("vessels = 300\n", "")),
        says=(
            "site.toml: 1 problem\n"
            "  reach.vessels: this is missing, and files.fixes cannot be carried onto the grid without it. "
            "Add a distance in metres to the table [reach].\n"
        ),
    ),
    Refusal(
        kind="constituents of a tide have no phases",
        tables=("coast", "tide"),
        spoil=site('phase = "phase"\n', ""),
        says=(
            "site.toml: 1 problem\n"
            "  files.tide: tidal constituents cannot be read without `phase`. Add `phase` to this table.\n"
        ),
    ),
    Refusal(
        kind="the column of phases is not in the table of tides",
        tables=("coast", "tide"),
        spoil=site('phase = "phase"\n', 'phase = "lag"\n'),
        says=(
            'site.toml: 1 problem\n  tide.csv: the file has no column "lag". Columns there: name, amplitude, phase.\n'
        ),
    ),
    Refusal(
        kind="a number of the light is in another unit",
        spoil=in_table("light", 'water = { value = 0.32, units = "1/m"', 'water = { value = 0.0032, units = "1/cm"'),
        says=(
            "profile.toml: 1 problem\n"
            '  light.water: the unit is "1/cm", and "1/m" is needed here. Convert the number and write units '
            '= "1/m".\n'
        ),
    ),
    Refusal(
        kind="the light that plants need is in per cent",
        spoil=in_table("light", "requirement = { value = 0.24", "requirement = { value = 24"),
        says=(
            "profile.toml: 1 problem\n"
            "  light.requirement: 24 is out of bounds. Give more than 0 and at most 0.999. It is a share of "
            "1: 30 % is 0.3.\n"
        ),
    ),
    Refusal(
        kind="a number of the light stands bare",
        spoil=in_table("light", 'requirement = { value = 0.24, units = "1", source = ', "requirement = 0.24 # "),
        says=(
            "profile.toml: 1 problem\n"
            "  light.requirement: 0.24 stands without its unit and its source. Write { value = 0.24, units"
            ' = "1", source = "..." }.\n'
        ),
    ),
    Refusal(
        kind="a number of the light is misspelt",
        spoil=in_table("light", "requirement =", "requirment ="),
        says=("profile.toml: 1 problem\n  light.requirment: there is no such key. Did you mean `requirement`?\n"),
    ),
    Refusal(
        kind="only half is told of where vessels strike",
        spoil=in_table("striking", "share_when_deep", "#"),
        says=("profile.toml: 1 problem\n  striking.share_when_deep: this is missing. Add `share_when_deep`.\n"),
    ),
    Refusal(
        kind="the share of time near the surface is in per cent",
        spoil=in_table("striking", "value = 0.47", "value = 47"),
        says=(
            "profile.toml: 1 problem\n"
            "  striking.share_when_deep: 47 is out of bounds. Give 0 to 1. It is a share of 1: 30 % is 0.3.\n"
        ),
    ),
    Refusal(
        kind="the recipe of a layer nobody makes is asked for",
        command=("check", "site", "--layer", "salinty"),
        spoil=nothing,
        says=('command line: 1 problem\n  --layer: there is no layer "salinty". Did you mean "salinity"?\n'),
    ),
    Refusal(
        kind="the recipe of a layer is asked for that the site cannot give",
        command=("check", "site", "--layer", "salinity"),
        spoil=nothing,
        says=(
            "command line: 1 problem\n"
            "  --layer: the site cannot give salinity. Add a file that feeds salinity or conductivity or "
            "specific_conductance, and the numbers it needs.\n"
        ),
    ),
    Refusal(
        kind="the recipe of a layer is asked for that lacks a tide",
        command=("check", "site", "--layer", "wet_time"),
        tables=("coast", "bed"),
        spoil=nothing,
        says=(
            "command line: 1 problem\n"
            "  --layer: the site cannot give wet_time. Its file is there, so something else is not: look for "
            "a tide, a number with its source, a season.\n"
        ),
    ),
    Refusal(
        kind="the recipe of a distance is asked for that the profile does not use",
        command=("check", "site", "--layer", "fresh_water_distance"),
        tables=("coast", "bed", "spring"),
        spoil=nothing,
        says=(
            "command line: 1 problem\n"
            "  --layer: the profile does not use fresh_water_distance, so nothing says how far it reaches. "
            "Name a profile that uses it with --profile, or add it to this one.\n"
        ),
    ),
)


@pytest.mark.parametrize("refusal", REFUSALS, ids=lambda refusal: refusal.kind)
def test_the_command_refuses(refusal, outcome):
    assert_refused(refusal, outcome)
