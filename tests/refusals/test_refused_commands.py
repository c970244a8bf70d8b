"""Commands that ask for what cannot be done; nothing is written where they end."""

from pathlib import Path

import pytest

from tests.refusals.refusal import Refusal, assert_refused
from tests.refusals.spoiling import all_of, bed_raster, cut, folder_at, nothing, removed, site, written
from tests.sites import bed

MAP = ("map", "site", "--out")

REFUSALS = (
    Refusal(
        kind="no command is given",
        command=(),
        spoil=nothing,
        says=("command line: 1 problem\n  COMMAND: this is missing. See: shallows --help\n"),
    ),
    Refusal(
        kind="the command is unknown",
        command=("chart", "site"),
        spoil=nothing,
        says=('command line: 1 problem\n  COMMAND: there is no "chart". See: shallows --help\n'),
    ),
    Refusal(
        kind="an option is unknown",
        command=("check", "site", "--cellsize", "25"),
        spoil=nothing,
        says=("command line: 1 problem\n  --cellsize 25: this is not known. See: shallows --help\n"),
    ),
    Refusal(
        kind="a map has no place to go to",
        command=("map", "site"),
        spoil=nothing,
        says=("command line: 1 problem\n  --out: this is missing. See: shallows map --help\n"),
    ),
    Refusal(
        kind="the size of a cell is a word",
        command=("check", "site", "--cell", "fine"),
        spoil=nothing,
        says=(
            'command line: 1 problem\n  --cell: "fine" is not a length in metres above 0. See: shallows check --help\n'
        ),
    ),
    Refusal(
        kind="the grid does not divide into the cells asked for",
        command=("check", "site", "--cell", "33"),
        spoil=nothing,
        says=(
            "site.toml: 1 problem\n"
            "  grid: 2000 m by 1500 m is not a whole number of 33 m cells. Choose a cell that divides "
            "both sides, or move an edge.\n"
        ),
    ),
    Refusal(
        kind="the size asked for a cell is not a number",
        command=("check", "site", "--cell", "nan"),
        spoil=nothing,
        says=(
            'command line: 1 problem\n  --cell: "nan" is not a length in metres above 0. See: shallows check --help\n'
        ),
    ),
    Refusal(
        kind="the folder of results is there already",
        command=(*MAP, "results"),
        spoil=folder_at("results"),
        says=("results: 1 problem\n  results: exists already. Choose another name, or replace it with --replace.\n"),
    ),
    Refusal(
        kind="a folder that holds no results is to be replaced",
        command=(*MAP, "results", "--replace"),
        spoil=folder_at("results"),
        says=(
            "results: 1 problem\n"
            "  results: exists and is not a folder of results: it has no record.zip. Choose another "
            "name; only results are replaced.\n"
        ),
    ),
    Refusal(
        kind="the results would replace the site",
        command=(*MAP, "site", "--replace"),
        spoil=nothing,
        says=(
            "site: 1 problem\n"
            "  site: exists and is not a folder of results: it has no record.zip. Choose another name; "
            "only results are replaced.\n"
        ),
    ),
    Refusal(
        kind="the folder to write in is not there",
        command=(*MAP, "reports/2026/results"),
        spoil=nothing,
        says=("results: 1 problem\n  results: there is no folder 2026 to make it in. Make that first.\n"),
    ),
    Refusal(
        kind="the folder to write in is a file",
        command=(*MAP, "notes.txt/results"),
        spoil=written("notes.txt", "keep me\n"),
        says=("results: 1 problem\n  results: there is no folder notes.txt to make it in. Make that first.\n"),
    ),
    Refusal(
        kind="the date of print is not a date",
        command=(*MAP, "results", "--date", "5 March 2026"),
        spoil=nothing,
        says=('command line: 1 problem\n  --date: "5 March 2026" is not a date. Write it like "2026-03-05".\n'),
    ),
    Refusal(
        kind="the site to map has a fault",
        command=(*MAP, "results"),
        tables=("coast", "bed"),
        spoil=cut("site/bed.tif", 0.6),
        says=(
            "site.toml: 1 problem\n"
            "  bed.tif, band 1: the file opens, but its cells cannot be read: it is cut short or "
            "damaged. Copy or export it again.\n"
        ),
    ),
    Refusal(
        kind="a starter would overwrite a site",
        command=("new", "site"),
        spoil=nothing,
        says=(
            "site: 2 problems\n"
            "  site.toml: the file is there already. Choose another folder, or move the file away.\n"
            "  profile.toml: the file is there already. Choose another folder, or move the file away.\n"
        ),
    ),
    Refusal(
        kind="a starter is to go where a file is",
        command=("new", "notes.txt"),
        spoil=written("notes.txt", "keep me\n"),
        says=("notes.txt: 1 problem\n  notes.txt: a file has this name. Choose another folder.\n"),
    ),
    Refusal(
        kind="a starter wants a profile that is not shipped",
        command=("new", "lagoon", "--profile", "manatee"),
        spoil=nothing,
        says=(
            "lagoon: 1 problem\n"
            '  --profile: "manatee" is not shipped. Known: estuarine_grazer, marine_seagrass_grazer.\n'
        ),
    ),
    Refusal(
        kind="a starter around a file has no size of cell",
        command=("new", "lagoon", "--around", "site/bed.tif"),
        spoil=nothing,
        says=("lagoon: 1 problem\n  --cell: no cell size is given. Give the side of a cell in metres, above 0.\n"),
    ),
    Refusal(
        kind="a size of cell is given and nothing to lay a grid around",
        command=("new", "lagoon", "--cell", "25"),
        spoil=nothing,
        says=(
            "lagoon: 1 problem\n"
            "  --cell: there is no file to lay a grid around. Name it with --around, or write the cell "
            "into the site file.\n"
        ),
    ),
    Refusal(
        kind="a starter is to go around a file that is not there",
        command=("new", "lagoon", "--around", "site/lidar.tif", "--cell", "25"),
        spoil=nothing,
        says=('lagoon: 1 problem\n  --around: there is no file "site/lidar.tif". Correct the name.\n'),
    ),
    Refusal(
        kind="a starter is to go around a damaged file",
        command=("new", "lagoon", "--around", "site/coast.gpkg", "--cell", "25"),
        spoil=cut("site/coast.gpkg", 0.5),
        says=('lagoon: 1 problem\n  --around: "coast.gpkg" cannot be read. Give a raster or a vector file.\n'),
    ),
    Refusal(
        kind="a starter is to go around a table",
        command=("new", "lagoon", "--around", "site/stations.csv", "--cell", "25"),
        spoil=nothing,
        says=('lagoon: 1 problem\n  --around: "stations.csv" is a table. Give a raster or a vector file.\n'),
    ),
    Refusal(
        kind="a starter is to go around a file without a CRS",
        command=("new", "lagoon", "--around", "site/bed.tif", "--cell", "25"),
        spoil=bed_raster(bed(), crs=None),
        says=('lagoon: 1 problem\n  --around: "bed.tif" has no CRS. Assign its CRS in a GIS first.\n'),
    ),
    Refusal(
        kind="the invented site is to go where a folder is",
        command=("demo", "lagoon"),
        spoil=folder_at("lagoon"),
        says=("lagoon: 1 problem\n  lagoon: exists already. Choose another name, or move it away.\n"),
    ),
    Refusal(
        kind="the invented site is to go into a folder that is not there",
        command=("demo", "sites/lagoon"),
        spoil=nothing,
        says=("lagoon: 1 problem\n  sites: there is no such folder. Make it first.\n"),
    ),
    Refusal(
        kind="the invented site is asked for in cells it has not",
        command=("demo", "lagoon", "--cell", "7"),
        spoil=nothing,
        says=(
            "lagoon: 1 problem\n"
            "  cell: 7 m was given, and the invented site is 20,000 m wide. Give a cell from 5 to 250 m "
            "that divides it, such as 10, 20, 40 or 100.\n"
        ),
    ),
    Refusal(
        kind="the site to serve is not there",
        command=("serve", "lagoon", "--no-browser"),
        spoil=nothing,
        says=(
            "lagoon: 1 problem\n"
            "  lagoon: there is no such file or folder. Name the folder of a site, or its site file.\n"
        ),
    ),
    Refusal(
        kind="the site to serve has a fault",
        command=("serve", "site", "--no-browser"),
        spoil=all_of(removed("site/coast.gpkg"), site("cell = 50", "cell = 25")),
        says=(
            "site.toml: 1 problem\n"
            '  files.coast.file: there is no file "coast.gpkg". Correct the name or add the file. Files '
            "of that kind there: ferry.gpkg, mangrove.gpkg, nets.gpkg, road.gpkg, seagrass.gpkg.\n"
        ),
    ),
    Refusal(
        kind="there is no such port",
        command=("serve", "site", "--no-browser", "--port", "99999"),
        spoil=nothing,
        says=(
            "command line: 1 problem\n"
            '  --port: "99999" is not the number of a port, 0 to 65535. See: shallows serve --help\n'
        ),
    ),
)
if Path("/proc").is_dir():  # the one folder that takes nothing even from an administrator
    REFUSALS += (
        Refusal(
            kind="the folder to write in is the system's and takes nothing",
            command=(*MAP, "/proc/results"),
            spoil=nothing,
            says=("results: 1 problem\n  /proc: nothing can be written in this folder. Choose one you may write to.\n"),
        ),
    )


@pytest.mark.parametrize("refusal", REFUSALS, ids=lambda refusal: refusal.kind)
def test_the_command_refuses(refusal, outcome):
    assert_refused(refusal, outcome)
