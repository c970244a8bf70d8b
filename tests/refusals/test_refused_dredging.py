"""Works of dredges whose numbers cannot be."""

from __future__ import annotations

import pytest
from shapely.geometry import LineString, box

from tests.files import write_shapes
from tests.refusals.refusal import Refusal, assert_refused
from tests.refusals.spoiling import Spoil, all_of, site
from tests.sites import SOUTH, WEST

WATER = ("coast", "bed", "works")
CHANNEL = box(501_500, SOUTH, 501_600, 7_770_800)
WORK = {
    "name": "the channel",
    "equipment": "cutter suction dredge",
    "volume_m3": 36_000.0,
    "rate_m3_h": 500.0,
    "hours_day": 10.0,
    "dry_kg_m3": 800.0,
    "fines": 0.3,
    "fines_um": 20.0,
    "season": "dry",
}


def work(*left_out: str, footprint=CHANNEL, **numbers: object) -> Spoil:
    """Put a work like the small site's, with these numbers, in the place of it."""

    def spoil(folder):
        columns = {name: [value] for name, value in (WORK | numbers).items() if name not in left_out}
        write_shapes(folder / "site" / "works.gpkg", [footprint], **columns)

    return all_of(
        site('feeds = "dredge_work"\nfile = "channel.zip"', 'feeds = "dredge_work"\nfile = "works.gpkg"'), spoil
    )


REFUSALS = (
    Refusal(
        kind="works lack columns",
        tables=WATER,
        spoil=work("fines", "fines_um"),
        says=(
            "site.toml: 1 problem\n"
            "  works.gpkg: the file has no column fines, fines_um. A work of a dredge needs the columns name,"
            " equipment, volume_m3, rate_m3_h, hours_day, dry_kg_m3, fines, fines_um.\n"
        ),
    ),
    Refusal(
        kind="the grain size of fines is in millimetres",
        tables=WATER,
        spoil=work(fines_um=0.02),
        says=(
            "site.toml: 1 problem\n"
            "  works.gpkg, feature 1, column fines_um: it holds 0.02. Give a number from 0.5 to 63. Sizes are"
            " in micrometres: 0.02 mm is 20 um.\n"
        ),
    ),
    Refusal(
        kind="the volume of a work is negative",
        tables=WATER,
        spoil=work(volume_m3=-36_000.0),
        says=(
            "site.toml: 1 problem\n"
            "  works.gpkg, feature 1, column volume_m3: it holds -36000. Give a number above 0, at most "
            "1,000,000,000.\n"
        ),
    ),
    Refusal(
        kind="a dredge works more than a day in a day",
        tables=WATER,
        spoil=work(hours_day=25.0),
        says=(
            "site.toml: 1 problem\n"
            "  works.gpkg, feature 1, column hours_day: it holds 25. Give a number above 0, at most 24.\n"
        ),
    ),
    Refusal(
        kind="the share of fines is in per cent",
        tables=WATER,
        spoil=work(fines=30.0),
        says=(
            "site.toml: 1 problem\n"
            "  works.gpkg, feature 1, column fines: it holds 30. Give a number from 0 to 1. It is a share of "
            "1: 30 % is 0.3.\n"
        ),
    ),
    Refusal(
        kind="the density of a bed is in tonnes",
        tables=WATER,
        spoil=work(dry_kg_m3=0.8),
        says=(
            "site.toml: 1 problem\n"
            "  works.gpkg, feature 1, column dry_kg_m3: it holds 0.8. Give a number from 50 to 3000. "
            "Densities are in kilograms: 0.8 t/m3 is 800 kg/m3.\n"
        ),
    ),
    Refusal(
        kind="a number of a work is a word",
        tables=WATER,
        spoil=work(rate_m3_h="fast"),
        says=(
            "site.toml: 1 problem\n"
            '  works.gpkg, feature 1, column rate_m3_h: it holds "fast". Give a number above 0, at most '
            "100,000.\n"
        ),
    ),
    Refusal(
        kind="a number of a work is not filled in",
        tables=WATER,
        spoil=work(rate_m3_h=None),
        says=(
            "site.toml: 1 problem\n"
            "  works.gpkg, feature 1, column rate_m3_h: it holds nothing. Give a number above 0, at most "
            "100,000.\n"
        ),
    ),
    Refusal(
        kind="the equipment of a work is not known",
        tables=WATER,
        spoil=work(equipment="bucket chain"),
        says=(
            "site.toml: 1 problem\n"
            '  works.gpkg, feature 1, column equipment: no share that is lost is known for "bucket chain". '
            "Name one of cutter suction dredge, hopper dredge without overflow, hopper dredge in mud with "
            "intensive overflow, disposal through bottom doors in deep water, hydraulic dredge, mechanical "
            "dredge, or add columns loss_share and loss_src.\n"
        ),
    ),
    Refusal(
        kind="a share that is lost has no source",
        tables=WATER,
        spoil=work(equipment="bucket chain", loss_share=0.04),
        says=(
            "site.toml: 1 problem\n"
            "  works.gpkg, feature 1, column loss_src: a share that is lost is stated, and nothing says who "
            "found it. Name the source of loss_share.\n"
        ),
    ),
    Refusal(
        kind="a share that is lost is in per cent",
        tables=WATER,
        spoil=work(loss_share=4.0, loss_src="a report"),
        says=(
            "site.toml: 1 problem\n"
            "  works.gpkg, feature 1, column loss_share: it holds 4. Give a number from 0 to 1. It is a share"
            " of 1: 30 % is 0.3.\n"
        ),
    ),
    Refusal(
        kind="a measure has no source",
        tables=WATER,
        spoil=work(measure="silt curtain", left_share=0.5),
        says=(
            "site.toml: 1 problem\n"
            "  works.gpkg, feature 1, column left_src: a measure takes sediment off, and nothing says who "
            "found that. Name the source of left_share.\n"
        ),
    ),
    Refusal(
        kind="a measure leaves more than all",
        tables=WATER,
        spoil=work(measure="silt curtain", left_share=50.0, left_src="a report"),
        says=(
            "site.toml: 1 problem\n"
            "  works.gpkg, feature 1, column left_share: it holds 50. Give a number from 0 to 1. It is a "
            "share of 1: 30 % is 0.3.\n"
        ),
    ),
    Refusal(
        kind="a measure is named and has no share",
        tables=WATER,
        spoil=work(measure="silt curtain"),
        says=(
            "site.toml: 1 problem\n"
            '  works.gpkg, feature 1, column measure: the measure "silt curtain" is named, and nothing says '
            "how much of the loss it leaves. Give left_share, from 0 to 1, and its source as left_src, or "
            "leave the measure out.\n"
        ),
    ),
    Refusal(
        kind="a work takes longer than its season",
        tables=WATER,
        spoil=work(volume_m3=1_000_000.0),
        says=(
            "site.toml: 1 problem\n"
            "  works.gpkg, feature 1: 1,000,000 m3 take 200 days, and there are 184. Correct the volume, the "
            "rate or the hours, or split the work by season.\n"
        ),
    ),
    Refusal(
        kind="the season of a work is unknown",
        tables=WATER,
        spoil=work(season="monsoon"),
        says=(
            "site.toml: 1 problem\n"
            '  works.gpkg, feature 1, column season: "monsoon" is not a season. Known seasons: wet, dry.\n'
        ),
    ),
    Refusal(
        kind="the footprint of a work is on land",
        tables=(*WATER, "seagrass"),
        spoil=work(footprint=box(WEST + 50, SOUTH + 50, WEST + 150, SOUTH + 150)),
        says=(
            "works.gpkg: 1 problem\n"
            '  work "the channel": no water lies in the footprint of this work. Correct its place, or leave '
            "it out.\n"
        ),
    ),
    Refusal(
        kind="a work is drawn as lines",
        tables=WATER,
        spoil=work(footprint=LineString(CHANNEL.exterior.coords)),
        says=(
            "site.toml: 1 problem\n"
            "  works.gpkg: the file holds 1 line, and polygons are needed here. Keep only polygons in the "
            "file.\n"
        ),
    ),
    Refusal(
        kind="a work has a fault in each of many columns",
        tables=WATER,
        spoil=work(equipment="bucket chain", season="monsoon", fines=30.0, fines_um=0.02),
        says=(
            "site.toml: 4 problems\n"
            "  works.gpkg, feature 1, column fines: it holds 30. Give a number from 0 to 1. It is a share of "
            "1: 30 % is 0.3.\n"
            "  works.gpkg, feature 1, column fines_um: it holds 0.02. Give a number from 0.5 to 63. Sizes are"
            " in micrometres: 0.02 mm is 20 um.\n"
            '  works.gpkg, feature 1, column equipment: no share that is lost is known for "bucket chain". '
            "Name one of cutter suction dredge, hopper dredge without overflow, hopper dredge in mud with "
            "intensive overflow, disposal through bottom doors in deep water, hydraulic dredge, mechanical "
            "dredge, or add columns loss_share and loss_src.\n"
            '  works.gpkg, feature 1, column season: "monsoon" is not a season. Known seasons: wet, dry.\n'
        ),
    ),
    Refusal(
        kind="a site has no seasons and a work has one",
        tables=WATER,
        spoil=site("[seasons]\nwet = [11, 12, 1, 2, 3, 4]\ndry = [5, 6, 7, 8, 9, 10]\n", ""),
        says=(
            "site.toml: 1 problem\n"
            '  channel.zip, feature 1, column season: "dry" is not a season. Known seasons: none; add a table'
            " [seasons].\n"
        ),
    ),
)


@pytest.mark.parametrize("refusal", REFUSALS, ids=lambda refusal: refusal.kind)
def test_the_command_refuses(refusal, outcome):
    assert_refused(refusal, outcome)
