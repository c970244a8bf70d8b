"""Works that stand in a site file as changes of the bed, the land, the plants or the land cover, and cannot be."""

from __future__ import annotations

from pathlib import Path

import pytest
from shapely.geometry import LineString, Point, box

from tests.files import write_shapes
from tests.refusals.refusal import Refusal, assert_refused
from tests.refusals.spoiling import Spoil, all_of, with_file
from tests.refusals.test_refused_catchments import catchment

WATER = ("coast", "bed")
AREA = box(501_100, 7_770_600, 501_300, 7_770_800)
WAY = LineString([(501_150, 7_770_050), (501_150, 7_771_450)])
PLACE = Point(501_150, 7_770_700)
BED = 'column = "depth"\nunits = "m"\npositive = "down"\ndatum = "mean sea level"\n'
COVER = 'column = "share"\nunits = "1"\n'
USE = 'column = "code"\nunits = "1"\n'


def change(feeds: str, keys: str, shape: object = AREA, **columns: object) -> Spoil:
    """Add a file of one shape that changes something."""

    def spoil(folder: Path) -> None:
        write_shapes(folder / "site" / "change.gpkg", [shape], **{name: [value] for name, value in columns.items()})

    return all_of(spoil, with_file("change", f'feeds = "{feeds}"\nfile = "change.gpkg"\n{keys}'))


REFUSALS = (
    Refusal(
        kind="digging says no datum",
        tables=WATER,
        spoil=change("bed_change", BED.replace('datum = "mean sea level"\n', ""), depth=4.0),
        says=(
            "site.toml: 1 problem\n"
            "  files.change: areas dug or filled to a level cannot be read without `datum`. Add `datum` "
            "to this table.\n"
        ),
    ),
    Refusal(
        kind="digging does not say which way is down",
        tables=WATER,
        spoil=change("bed_change", BED.replace('positive = "down"\n', ""), depth=4.0),
        says=(
            "site.toml: 1 problem\n"
            "  files.change: areas dug or filled to a level cannot be read without `positive`. Add "
            "`positive` to this table.\n"
        ),
    ),
    Refusal(
        kind="digging is deeper than any sea",
        tables=WATER,
        spoil=change("bed_change", BED, depth=40_000.0),
        says=(
            "site.toml: 1 problem\n"
            "  change.gpkg, column depth: 1 feature is outside the plausible range of bed elevation, -200"
            " to 500 m; the worst is 40000 m at feature 1. All values would be plausible if they were in "
            "centimetres or millimetres. Check the file and `units` of files.change; if the values are "
            "right, set `plausible = [lowest, highest]` there.\n"
        ),
    ),
    Refusal(
        kind="digging is drawn as a line",
        tables=WATER,
        spoil=change("bed_change", BED, WAY, depth=4.0),
        says=(
            "site.toml: 1 problem\n"
            "  change.gpkg: the file holds 1 line, and polygons are needed here. Keep only polygons in "
            "the file.\n"
        ),
    ),
    Refusal(
        kind="digging has a depth in words",
        tables=WATER,
        spoil=change("bed_change", BED, depth="deep"),
        says=(
            "site.toml: 1 problem\n"
            '  change.gpkg, feature 1, column depth: the feature holds text that is not a number: "deep".'
            " Write a number, or remove the feature.\n"
        ),
    ),
    Refusal(
        kind="land is claimed by points",
        tables=WATER,
        spoil=change("land_change", "", PLACE),
        says=(
            "site.toml: 1 problem\n"
            "  change.gpkg: the file holds 1 point, and polygons are needed here. Keep only polygons in "
            "the file.\n"
        ),
    ),
    Refusal(
        kind="seagrass is planted by the hundred",
        tables=(*WATER, "seagrass"),
        spoil=change("seagrass_change", COVER, share=60.0),
        says=(
            "site.toml: 1 problem\n"
            "  change.gpkg, column share: 1 feature is outside the plausible range of seagrass cover, 0 "
            "to 1; the worst is 60 at feature 1. All values would be plausible if they were in percent. "
            "Check the file and `units` of files.change; if the values are right, set `plausible = "
            "[lowest, highest]` there.\n"
        ),
    ),
    Refusal(
        kind="seagrass that is cleared does not say its column",
        tables=(*WATER, "seagrass"),
        spoil=change("seagrass_change", 'units = "1"\n', share=0.0),
        says=(
            "site.toml: 1 problem\n"
            "  files.change: seagrass cleared or planted cannot be read without `column`. Add `column` to"
            " this table.\n"
        ),
    ),
    Refusal(
        kind="mangrove is planted with a share below nothing",
        tables=(*WATER, "mangrove"),
        spoil=change("mangrove_change", COVER, share=-0.5),
        says=(
            "site.toml: 1 problem\n"
            "  change.gpkg, column share: 1 feature is outside the plausible range of mangrove cover, 0 "
            "to 1; the worst is -0.5 at feature 1. Check the file and `units` of files.change; if the "
            "values are right, set `plausible = [lowest, highest]` there.\n"
        ),
    ),
    Refusal(
        kind="mangrove that is cleared lies elsewhere",
        tables=(*WATER, "mangrove"),
        spoil=change("mangrove_change", COVER, box(601_100, 7_770_600, 601_300, 7_770_800), share=0.0),
        says=(
            "site.toml: 1 problem\n"
            "  change.gpkg: the file does not overlap the site. The file covers longitude 87.967 to "
            "87.969, latitude -20.159 to -20.157; the site covers longitude 87.000 to 87.019, latitude "
            "-20.167 to -20.154. Check the CRS and the coordinates of the file, and the bounds of the "
            "grid.\n"
        ),
    ),
    Refusal(
        kind="land is put to a use that no table knows",
        tables=WATER,
        spoil=all_of(
            catchment(), change("land_cover_change", USE, box(499_200, 7_770_400, 499_600, 7_770_800), code=9.0)
        ),
        says=(
            "change.gpkg: 1 problem\n"
            "  column code: code 9 has no row in land_cover.csv. Give one of 1, 2, or add a row there.\n"
        ),
    ),
    Refusal(
        kind="land is put to another use without a catchment",
        tables=WATER,
        spoil=change("land_cover_change", USE, code=2.0),
        says=(
            "site.toml: 1 problem\n"
            "  files.change: this is of no use without a file that feeds land_cover. Add it, or leave "
            "this table out.\n"
        ),
    ),
    Refusal(
        kind="a change of something that cannot be changed",
        tables=WATER,
        spoil=change("seagras_change", COVER, share=0.0),
        says=(
            "site.toml: 1 problem\n"
            '  files.change: nothing is fed by "seagras_change". Did you mean "seagrass_change"?\n'
        ),
    ),
)


@pytest.mark.parametrize("refusal", REFUSALS, ids=lambda refusal: refusal.kind)
def test_the_command_refuses(refusal, outcome):
    assert_refused(refusal, outcome)
