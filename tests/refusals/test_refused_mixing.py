"""Loads and the numbers that mix them into the water, wrong or left out."""

from __future__ import annotations

import numpy as np
import pytest

from tests.files import write_raster
from tests.refusals.refusal import Refusal, assert_refused
from tests.refusals.spoiling import Spoil, all_of, bed_raster, mixing, nothing, site, with_file
from tests.sites import CELL, COLUMNS, NORTH, ROWS, WEST, bed

WATER = ("coast", "bed", "outlets")
CURRENT = 'feeds = "current_{way}"\nfile = "current_{way}.tif"\nunits = "m/s"\n'


def current(way: str, speed: float = 0.1) -> Spoil:
    """Add an even current to the site."""

    def write(folder) -> None:
        values = np.full((ROWS, COLUMNS), speed, np.float32)
        write_raster(folder / "site" / f"current_{way}.tif", values, west=WEST, north=NORTH, cell=CELL)

    return all_of(write, with_file(f"current_{way}", CURRENT.format(way=way)))


DISPERSION = 'dispersion = { value = 5, units = "m2/s", source = "expert judgement" }\n'
LOSS = 'nitrogen_loss = { value = 0.05, units = "1/day", source = "expert judgement" }\n'
HELD = 'nitrogen = { value = 0.1, units = "mg/L", source = "expert judgement" }\n'
HOLED = bed()
HOLED[:5, 30:] = np.nan

REFUSALS = (
    Refusal(
        kind="a load comes without the dispersion of the water",
        tables=WATER,
        spoil=mixing(DISPERSION, ""),
        says=(
            "site.toml: 1 problem\n"
            "  mixing.dispersion: this is missing, and files.outlets cannot be mixed into the water without "
            'it. Add `dispersion = { value = ..., units = "...", source = "..." }` to the table [mixing].\n'
        ),
    ),
    Refusal(
        kind="a load comes without what is lost of it and what the sea holds",
        tables=WATER,
        spoil=all_of(mixing(LOSS, ""), site(HELD, "")),
        says=(
            "site.toml: 2 problems\n"
            "  mixing.nitrogen_loss: this is missing, and files.outlets cannot be mixed into the water "
            'without it. Add `nitrogen_loss = { value = ..., units = "...", source = "..." }` to the table '
            "[mixing].\n"
            "  background.nitrogen: this is missing, and files.outlets cannot be mixed into the water without"
            ' it. Add `nitrogen = { value = ..., units = "...", source = "..." }` to the table [background].\n'
        ),
    ),
    Refusal(
        kind="what is put into the water neither goes out nor is lost",
        tables=WATER,
        spoil=all_of(
            mixing('open_edges = ["east"]', "open_edges = []"),
            mixing("nitrogen_loss = { value = 0.05", "nitrogen_loss = { value = 0"),
        ),
        says=(
            "site.toml: 1 problem\n"
            "  mixing: 900 water cells (the first in row 0, column 10) have no loss and no way to an open edge, so a "
            "load there grows for ever and there is no steady state. Give a loss rate above 0, open an edge they "
            "reach, or take them off the water.\n"
        ),
    ),
    Refusal(
        kind="a load comes without a bed to mix it over",
        tables=("coast", "outlets"),
        spoil=nothing,
        says=(
            "site.toml: 1 problem\n"
            "  files.outlets: what is released in the water cannot be mixed into it, as no file says how deep"
            " it is. Add a file that feeds bed_elevation or sounding.\n"
        ),
    ),
    Refusal(
        kind="dispersion is in a unit of speed",
        tables=WATER,
        spoil=mixing("m2/s", "m/s"),
        says=(
            "site.toml: 1 problem\n"
            '  mixing.dispersion: "m/s" is not a unit of dispersion. Known units of dispersion: m2/s, m2/day, '
            "cm2/s. Write one of these, or convert the number.\n"
        ),
    ),
    Refusal(
        kind="dispersion is negative",
        tables=WATER,
        spoil=mixing("value = 5", "value = -5"),
        says=(
            "site.toml: 1 problem\n"
            "  mixing.dispersion: -5 m2/s is out of bounds. Give more than 0 and at most 10000 m2/s.\n"
        ),
    ),
    Refusal(
        kind="dispersion is one of km2 a second",
        tables=WATER,
        spoil=mixing("m2/s", "km2/s"),
        says=(
            "site.toml: 1 problem\n"
            "  mixing.dispersion: 5 km2/s is out of bounds. Give more than 0 and at most 10000 m2/s.\n"
        ),
    ),
    Refusal(
        kind="the least depth is nothing",
        tables=WATER,
        spoil=mixing("value = 0.3", "value = 0"),
        says=(
            "site.toml: 1 problem\n  mixing.least_depth: 0 m is out of bounds. Give more than 0 and at most 100 m.\n"
        ),
    ),
    Refusal(
        kind="an open edge is no side of the grid",
        tables=WATER,
        spoil=mixing('["east"]', '["seaward"]'),
        says=(
            "site.toml: 1 problem\n"
            '  mixing.open_edges.0: "seaward" is not known. Use "north", "east", "south" or "west".\n'
        ),
    ),
    Refusal(
        kind="an open edge is no list",
        tables=WATER,
        spoil=mixing('["east"]', '"east"'),
        says=(
            "site.toml: 1 problem\n"
            '  mixing.open_edges: "east" is not a list in square brackets. Give a list in square brackets.\n'
        ),
    ),
    Refusal(
        kind="a number of the mixing is misspelt",
        tables=WATER,
        spoil=mixing("dispersion =", "dispertion ="),
        says=("site.toml: 1 problem\n  mixing.dispertion: there is no such key. Did you mean `dispersion`?\n"),
    ),
    Refusal(
        kind="a number of the mixing has no source",
        tables=WATER,
        spoil=mixing('units = "m2/s", source = "expert judgement"', 'units = "m2/s"'),
        says=("site.toml: 1 problem\n  mixing.dispersion.source: this is missing. Add `source`.\n"),
    ),
    Refusal(
        kind="the source of a number is empty",
        tables=WATER,
        spoil=mixing('units = "m2/s", source = "expert judgement"', 'units = "m2/s", source = " "'),
        says=(
            "site.toml: 1 problem\n"
            '  mixing.dispersion.source: this is empty. Say where the number comes from, or say "expert '
            'judgement".\n'
        ),
    ),
    Refusal(
        kind="a number of the mixing stands bare",
        tables=WATER,
        spoil=mixing(DISPERSION, "dispersion = 5\n"),
        says=(
            "site.toml: 1 problem\n"
            "  mixing.dispersion: 5 stands without its unit and its source. Write { value = 5, units = "
            '"m2/s", source = "..." }.\n'
        ),
    ),
    Refusal(
        kind="a number of the mixing is a text",
        tables=WATER,
        spoil=mixing("value = 5", 'value = "5"'),
        says=('site.toml: 1 problem\n  mixing.dispersion.value: "5" is not a number. Give a number.\n'),
    ),
    Refusal(
        kind="a loss is told by the metre",
        tables=WATER,
        spoil=mixing(LOSS, LOSS.replace("1/day", "1/m")),
        says=(
            "site.toml: 1 problem\n"
            '  mixing.nitrogen_loss: "1/m" is not a unit of number in a time. Known units of number in a '
            "time: 1/day, 1/week, 1/year. Write one of these, or convert the number.\n"
        ),
    ),
    Refusal(
        kind="a load settles and nobody says how fast",
        tables=WATER,
        spoil=with_file(
            "mud", 'feeds = "sediment_load"\nfile = "outlets.geojson"\ncolumn = "nitrogen"\nunits = "t/year"\n'
        ),
        says=(
            "site.toml: 1 problem\n"
            "  mixing.sediment_settling: this is missing, and files.mud cannot be mixed into the water "
            'without it. Add `sediment_settling = { value = ..., units = "...", source = "..." }` to the '
            "table [mixing].\n"
        ),
    ),
    Refusal(
        kind="a current goes eastward only",
        tables=WATER,
        spoil=current("east"),
        says=(
            "site.toml: 1 problem\n"
            "  files.current_east: this is of no use without a file that feeds current_north. Add it, or "
            "leave this table out.\n"
        ),
    ),
    Refusal(
        kind="a current is faster than any of the sea",
        tables=WATER,
        spoil=all_of(current("east", 20.0), current("north", 0.0)),
        says=(
            "site.toml: 1 problem\n"
            "  current_east.tif, band 1: 1,200 cells are outside the plausible range of speed of the current,"
            " -5 to 5 m/s; the worst is 20 m/s at row 1, column 1 (x 500025, y 7771475). Check the file and "
            "`units` of files.current_east; if the values are right, set `plausible = [lowest, highest]` "
            "there.\n"
        ),
    ),
    Refusal(
        kind="part of the water has no bed",
        tables=WATER,
        spoil=bed_raster(HOLED),
        says=(
            "site.toml: 1 problem\n"
            "  mixing.unknown_depth: this is missing, and 50 cells of water have no depth to mix in. Add "
            '`unknown_depth = { value = ..., units = "m", source = "..." }` to the table [mixing].\n'
        ),
    ),
)


@pytest.mark.parametrize("refusal", REFUSALS, ids=lambda refusal: refusal.kind)
def test_the_command_refuses(refusal, outcome):
    assert_refused(refusal, outcome)
