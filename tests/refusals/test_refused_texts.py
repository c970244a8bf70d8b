"""Site files that cannot be read, or hold what no site file holds."""

import pytest

from layers.feeds import FEEDS
from tests.refusals.refusal import Refusal, assert_refused
from tests.refusals.spoiling import added, all_of, nothing, recoded, removed, site, written

REFUSALS = (
    Refusal(
        kind="the site is not there",
        command=("check", "lagoon"),
        spoil=nothing,
        says=(
            "lagoon: 1 problem\n"
            "  lagoon: there is no such file or folder. Name the folder of a site, or its site file.\n"
        ),
    ),
    Refusal(
        kind="the folder holds no site file",
        spoil=removed("site/site.toml"),
        says=(
            "site: 1 problem\n"
            '  site.toml: the folder "site" holds no site file. Name a folder with a site.toml in it.\n'
        ),
    ),
    Refusal(
        kind="a raster is named as the site",
        command=("check", "site/bed.tif"),
        spoil=nothing,
        says=("bed.tif: 1 problem\n  bed.tif: this is not a text file. Name a text file in TOML.\n"),
    ),
    Refusal(
        kind="the site file is empty",
        spoil=written("site/site.toml", ""),
        says=(
            "site.toml: 4 problems\n"
            "  format: this is missing. Add `format`.\n"
            "  title: this is missing. Add `title`.\n"
            "  grid: this is missing. Add `grid`.\n"
            "  files: this is missing. Add `files`.\n"
        ),
    ),
    Refusal(
        kind="the site file is not TOML",
        spoil=site('title = "Small site"', "title = Small site"),
        says=(
            "site.toml: 1 problem\n"
            "  line 2: what stands here is neither a number nor a text in quotes. Put texts in quotes.\n"
        ),
    ),
    Refusal(
        kind="the site file has a decimal comma",
        spoil=site("cell = 50", "cell = 50,5"),
        says=("site.toml: 1 problem\n  line 12: the number has a decimal comma. Write a decimal point.\n"),
    ),
    Refusal(
        kind="the site file names a key twice",
        spoil=site("cell = 50", "cell = 50\ncell = 25"),
        says=(
            "site.toml: 1 problem\n  line 13: the key or table stands here for the second time. Keep one of the two.\n"
        ),
    ),
    Refusal(
        kind="the site file is in Latin-1",
        spoil=all_of(site("Small site", "Baía pequena"), recoded("site/site.toml", "latin-1")),
        says=(
            "site.toml: 1 problem\n  line 2: a byte is not UTF-8 (the file may be Latin-1). Save the file as UTF-8.\n"
        ),
    ),
    Refusal(
        kind="the site file is in UTF-16",
        spoil=recoded("site/site.toml", "utf-16"),
        says=("site.toml: 1 problem\n  site.toml: the file is in UTF-16. Save it in UTF-8.\n"),
    ),
    Refusal(
        kind="a path has the backslashes of Windows",
        spoil=site('file = "coast.gpkg"', "file = 'shapes\\coast.gpkg'"),
        says=(
            "site.toml: 1 problem\n"
            "  files.coast.file: the path is written with backslashes. Write it with `/`, on Windows too.\n"
        ),
    ),
    Refusal(
        kind="a backslash in a path turns into another character",
        spoil=site('file = "coast.gpkg"', 'file = "shapes\\bay.gpkg"'),
        says=(
            "site.toml: 1 problem\n"
            "  files.coast.file: the path is written with backslashes. Write it with `/`, on Windows too.\n"
        ),
    ),
    Refusal(
        kind="a path leads out of the folder of the site",
        spoil=site('file = "coast.gpkg"', 'file = "../coast.gpkg"'),
        says=(
            "site.toml: 1 problem\n"
            '  files.coast.file: "../coast.gpkg" lies outside the folder of the site. Copy it into the folder.\n'
        ),
    ),
    Refusal(
        kind="a key is misspelt",
        spoil=site('licence = "CC0-1.0"', 'license = "CC0-1.0"'),
        says=("site.toml: 1 problem\n  files.coast.license: there is no such key. Did you mean `licence`?\n"),
    ),
    Refusal(
        kind="a table is unknown",
        spoil=added("site/site.toml", "\n[tides]\nrange = 2.0\n"),
        says=(
            "site.toml: 1 problem\n"
            "  tides: there is no such key. Known here: author, background, bed, catchment, datums, files, "
            "format, grid, invented, mixing, reach, seasons, title, vessels, water.\n"
        ),
    ),
    Refusal(
        kind="a key is missing",
        spoil=site('source = "written for a test"\n', ""),
        says=("site.toml: 1 problem\n  files.coast.source: this is missing. Add `source`.\n"),
    ),
    Refusal(
        kind="a number is written as a text",
        spoil=site("west = 500000", 'west = "500000"'),
        says=('site.toml: 1 problem\n  grid.west: "500000" is not a number. Give a number.\n'),
    ),
    Refusal(
        kind="yes or no is written as a text",
        spoil=site("invented = true", 'invented = "yes"'),
        says=('site.toml: 1 problem\n  invented: "yes" is not true or false. Give true or false.\n'),
    ),
    Refusal(
        kind="a file stands in place of its table",
        spoil=site("[files.coast]\n", '[files]\nbed = "bed.tif"\n\n[files.coast]\n'),
        says=(
            'site.toml: 1 problem\n  files.bed: "bed.tif" stands where a table is needed. Write a table [files.bed].\n'
        ),
    ),
    Refusal(
        kind="the site names no files",
        tables=(),
        spoil=nothing,
        says=("site.toml: 1 problem\n  files: this is missing. Add `files`.\n"),
    ),
    Refusal(
        kind="the number of the format is not one we read",
        spoil=site("format = 1", "format = 2"),
        says=("site.toml: 1 problem\n  format: 2 is not known. Use 1.\n"),
    ),
    Refusal(
        kind="nothing is fed by what a file feeds",
        spoil=site('feeds = "land"', 'feeds = "coastline"'),
        says=(f'site.toml: 1 problem\n  files.coast: nothing is fed by "coastline". Use one of: {", ".join(FEEDS)}.\n'),
    ),
    Refusal(
        kind="a date is not a date",
        spoil=site('date = "2024"', 'date = "summer 2024"'),
        says=(
            "site.toml: 1 problem\n"
            '  files.coast.date: "summer 2024" is not a date. Write "2021", "2021-03", "2021-03-05" or a '
            'span "2015/2022".\n'
        ),
    ),
    Refusal(
        kind="a date does not exist",
        spoil=site('date = "2024"', 'date = "2024-13-45"'),
        says=(
            "site.toml: 1 problem\n"
            '  files.coast.date: there is no "2024-13-45" in the calendar. Write year-month-day.\n'
        ),
    ),
    Refusal(
        kind="the licence is empty",
        spoil=site('licence = "CC0-1.0"', 'licence = ""'),
        says=('site.toml: 1 problem\n  files.coast.licence: this is empty. Say it, or say "unknown".\n'),
    ),
    Refusal(
        kind="a rule of alignment is unknown",
        tables=("coast", "bed"),
        spoil=site('datum = "mean sea level"', 'datum = "mean sea level"\nrule = "average"'),
        says=(
            "site.toml: 1 problem\n"
            '  files.bed.rule: "average" is not known. Use "nearest", "bilinear", "area mean", "area '
            'sum" or "area fraction".\n'
        ),
    ),
    Refusal(
        kind="a band is counted from 0",
        tables=("coast", "bed"),
        spoil=site('units = "m"\npositive = "up"', 'units = "m"\nband = 0\npositive = "up"'),
        says=("site.toml: 1 problem\n  files.bed.band: 0 is too small. Give 1 or more.\n"),
    ),
    Refusal(
        kind="a range runs from high to low",
        tables=("coast", "bed"),
        spoil=site('positive = "up"', 'positive = "up"\nplausible = [10, -10]'),
        says=("site.toml: 1 problem\n  files.bed.plausible: [10, -10] is not a range. Write [lowest, highest].\n"),
    ),
)


@pytest.mark.parametrize("refusal", REFUSALS, ids=lambda refusal: refusal.kind)
def test_the_command_refuses(refusal, outcome):
    assert_refused(refusal, outcome)
