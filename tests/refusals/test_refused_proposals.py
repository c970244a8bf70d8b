"""Proposals that the command cannot take, and searches that ask for half of what they need."""

from __future__ import annotations

import warnings
import zipfile
from pathlib import Path

import numpy as np
import pytest
from shapely.affinity import translate
from shapely.geometry import Polygon

from habitat.proposal_file import LARGEST, MOST_VERTICES
from tests.proposals import BOW, CHANNEL, DREDGED, OUTFALL, PIPE, write
from tests.refusals.refusal import Refusal, assert_refused
from tests.refusals.spoiling import Spoil, written

APPRAISE = ("appraise", "site", "port.gpkg")
WATER = ("coast", "bed")
CLAIM = {"kind": "land claim"}


def port(*features: tuple[dict, object], crs: str | None = "EPSG:32745") -> Spoil:
    """A proposal of these features."""

    def spoil(folder: Path) -> None:
        with warnings.catch_warnings():
            warnings.filterwarnings("ignore", "'crs' was not provided")
            write(folder / "port.gpkg", *features, crs=crs)

    return spoil


def cut_short(folder: Path) -> None:
    """A GeoPackage of which a third was copied."""
    whole = write(folder / "port.gpkg", (CLAIM, CHANNEL)).read_bytes()
    (folder / "port.gpkg").write_bytes(whole[: len(whole) // 3])


def letters(folder: Path) -> None:
    """An archive in which nothing is drawn."""
    with zipfile.ZipFile(folder / "port.zip", "w") as archive:
        archive.writestr("letter.txt", "Dear planner")


def hole(folder: Path) -> None:
    """A file of one byte too many, which takes no room on the disk."""
    with (folder / "port.gpkg").open("wb") as stream:
        stream.truncate(LARGEST + 1_000_000)


def many_vertices() -> Polygon:
    """A circle of more vertices than are taken."""
    turn = np.linspace(0, 2 * np.pi, MOST_VERTICES + 1, endpoint=False)
    return Polygon(np.column_stack([501_200 + 90 * np.cos(turn), 7_770_700 + 90 * np.sin(turn)]))


REFUSALS = (
    Refusal(
        kind="a proposal lies outside the site",
        command=APPRAISE,
        tables=WATER,
        spoil=port((CLAIM, translate(CHANNEL, 3_000, 0))),
        says=(
            "port.gpkg: 1 problem\n"
            "  port.gpkg, feature 1: it lies 2,100 m outside the site. Check its coordinates and their "
            "CRS, or remove it.\n"
        ),
    ),
    Refusal(
        kind="a proposal does not say its CRS",
        command=APPRAISE,
        tables=WATER,
        spoil=port((CLAIM, CHANNEL), crs=None),
        says=(
            "port.gpkg: 1 problem\n"
            "  port.gpkg: the file does not say in which CRS its coordinates are. Set it in a GIS and "
            "export the file again, or send it as GeoJSON in degrees.\n"
        ),
    ),
    Refusal(
        kind="what is proposed crosses itself",
        command=APPRAISE,
        tables=WATER,
        spoil=port((CLAIM, BOW)),
        says=(
            "port.gpkg: 1 problem\n"
            "  port.gpkg, feature 1: its outline crosses itself at x 501100, y 7770700 (longitude "
            "87.01053, latitude -20.16102). Draw it again there, or mend it in a GIS, which can mostly do"
            " so by itself.\n"
        ),
    ),
    Refusal(
        kind="the file of a proposal is empty",
        command=APPRAISE,
        tables=WATER,
        spoil=written("port.gpkg", b""),
        says=("port.gpkg: 1 problem\n  port.gpkg: the file is empty (0 bytes). Copy or export it again.\n"),
    ),
    Refusal(
        kind="a proposal has an unknown kind and a negative volume",
        command=APPRAISE,
        tables=WATER,
        spoil=port(({"kind": "heliport"}, CHANNEL), (DREDGED | {"volume_m3": -5.0}, CHANNEL)),
        says=(
            "port.gpkg: 2 problems\n"
            '  port.gpkg, feature 1, column kind: "heliport" is not a kind of feature that is known. '
            "Known kinds: dredged area, land claim, structure, outfall, land use, mangrove cleared, "
            "mangrove planted, seagrass cleared, seagrass planted, moorings, vessel route.\n"
            "  port.gpkg, feature 2, column volume_m3: it holds -5. Give a number of m3, above 0, at most"
            " 1,000,000,000.\n"
        ),
    ),
    Refusal(
        kind="a proposal is drawn by the millimetre",
        command=APPRAISE,
        tables=WATER,
        spoil=port((CLAIM, many_vertices())),
        says=(
            "port.gpkg: 1 problem\n"
            "  port.gpkg: the shapes have 100,002 vertices, and 100,000 are the most that are taken. "
            "Simplify the outlines, for example to 1 m; a drawing needs no more.\n"
        ),
    ),
    Refusal(
        kind="a proposal is larger than is read",
        command=APPRAISE,
        tables=WATER,
        spoil=hole,
        says=(
            "port.gpkg: 1 problem\n"
            "  port.gpkg: the file is 201 MB large, and 200 MB are the most that is read. Keep only the "
            "features of the proposal in it.\n"
        ),
    ),
    Refusal(
        kind="a proposal was cut short",
        command=APPRAISE,
        tables=WATER,
        spoil=cut_short,
        says=(
            "port.gpkg: 1 problem\n"
            "  port.gpkg: the file cannot be opened: it is cut short, damaged, or of an unknown format. "
            "Export it as GeoPackage, GeoJSON, KML or a zipped shapefile.\n"
        ),
    ),
    Refusal(
        kind="an archive of a proposal holds letters",
        command=("appraise", "site", "port.zip"),
        tables=WATER,
        spoil=letters,
        says=(
            "port.zip: 1 problem\n"
            "  port.zip: the archive holds no vector file; it holds letter.txt. Export it as GeoPackage, "
            "GeoJSON, KML or a zipped shapefile.\n"
        ),
    ),
    Refusal(
        kind="a proposal is not there",
        command=("appraise", "site", "prot.gpkg"),
        tables=WATER,
        spoil=port((CLAIM, CHANNEL)),
        says=("prot.gpkg: 1 problem\n  prot.gpkg: there is no such file. Correct the name.\n"),
    ),
    Refusal(
        kind="an approved proposal is the one that is appraised",
        command=(*APPRAISE, "--approved", "port.gpkg"),
        tables=WATER,
        spoil=port((CLAIM, CHANNEL)),
        says=("command line: 1 problem\n  port.gpkg: two files have this name. Rename one, or leave it out.\n"),
    ),
    Refusal(
        kind="a change is sought without limits",
        command=(*APPRAISE, "--seek", "size"),
        tables=WATER,
        spoil=port((CLAIM, CHANNEL)),
        says=("command line: 1 problem\n  --seek: no limit is given. Add --at-most-loss or --condition.\n"),
    ),
    Refusal(
        kind="limits are given and nothing is sought",
        command=(*APPRAISE, "--at-most-loss", "3"),
        tables=WATER,
        spoil=port((CLAIM, CHANNEL)),
        says=("command line: 1 problem\n  command line: a limit is given and nothing is sought. Add --seek.\n"),
    ),
    Refusal(
        kind="the chance of a loss is asked and nothing is drawn",
        command=(*APPRAISE, "--limit", "3"),
        tables=WATER,
        spoil=port((CLAIM, CHANNEL)),
        says=(
            "command line: 1 problem\n"
            "  command line: --limit and --seed are of draws, and none are made. Add --draws.\n"
        ),
    ),
    Refusal(
        kind="a part of a draw is asked for",
        command=(*APPRAISE, "--draws", "2.5"),
        tables=WATER,
        spoil=port((CLAIM, CHANNEL)),
        says=(
            "command line: 1 problem\n"
            '  --draws: "2.5" is not a whole number, 2 or more. See: shallows appraise --help\n'
        ),
    ),
    Refusal(
        kind="the largest loss that is allowed is a gain",
        command=(*APPRAISE, "--seek", "size", "--at-most-loss", "-3"),
        tables=WATER,
        spoil=port((CLAIM, CHANNEL)),
        says=(
            "command line: 1 problem\n"
            '  --at-most-loss: "-3" is not a number of habitat units, 0 or more. See: shallows appraise '
            "--help\n"
        ),
    ),
    Refusal(
        kind="something is sought that nobody can change",
        command=(*APPRAISE, "--seek", "colour", "--at-most-loss", "3"),
        tables=WATER,
        spoil=port((CLAIM, CHANNEL)),
        says=('command line: 1 problem\n  --seek: there is no "colour". See: shallows appraise --help\n'),
    ),
    Refusal(
        kind="a condition that is to be met is misspelt",
        tables=WATER,
        command=(*APPRAISE, "--seek", "size", "--condition", "dredging_from_seagras", "--loss-of", "units"),
        spoil=port((CLAIM, CHANNEL)),
        says=(
            "command line: 1 problem\n"
            '  --seek: "dredging_from_seagras" is no condition of starter.toml. Did you mean '
            '"dredging_from_seagrass"?\n'
        ),
    ),
    Refusal(
        kind="less volume is sought of what digs nothing",
        tables=WATER,
        command=(*APPRAISE, "--seek", "volume", "--at-most-loss", "3", "--loss-of", "units"),
        spoil=port((CLAIM, CHANNEL)),
        says=("command line: 1 problem\n  --seek: nothing of port.gpkg has a volume. Seek another quantity.\n"),
    ),
    Refusal(
        kind="an outfall of a proposal is far from the water",
        command=APPRAISE,
        tables=("coast", "bed"),
        spoil=port((OUTFALL, translate(PIPE, -400, -300))),
        says=(
            "port.gpkg: 1 problem\n"
            "  port.gpkg, outfall 1: no water lies within 150 m of it. Move it to the water it drains to.\n"
        ),
    ),
)


@pytest.mark.parametrize("refusal", REFUSALS, ids=lambda refusal: refusal.kind)
def test_the_command_refuses(refusal, outcome):
    assert_refused(refusal, outcome)
