"""Land that drains to the site: maps, tables and rain that do not fit together."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pandas as pd
import pytest

from tests.files import write_raster
from tests.refusals.refusal import Refusal, assert_refused
from tests.refusals.spoiling import Spoil, added, all_of, edited, site, with_file, written
from tests.sites import NORTH

WATER = ("coast", "bed")
PLAN = "\n[catchment]\nwest = 499000\nsouth = 7770000\neast = 500600\nnorth = 7771500\ncell = 100\n"
SHAPE = (15, 16)
FILES = {
    "terrain": 'feeds = "terrain"\nfile = "terrain.tif"\nunits = "m"\n',
    "land_cover": 'feeds = "land_cover"\nfile = "land_cover.tif"\nunits = "1"\n',
    "covers": 'feeds = "cover_table"\nfile = "land_cover.csv"\n',
    "soil": 'feeds = "soil_group"\nfile = "soil.tif"\nunits = "1"\n',
    "soils": 'feeds = "soil_table"\nfile = "soil.csv"\n',
    "rain": 'feeds = "rain"\nfile = "rain.csv"\ntime = "date"\ncolumn = "rain"\nunits = "mm"\n',
}


def catchment(*left_out: str, plan: str = PLAN) -> Spoil:
    """Add a catchment that falls eastwards to the shore, in forest and fields, without some of its tables."""
    tables = [with_file(name, keys) for name, keys in FILES.items() if name not in left_out]
    return all_of(_write_land, added("site/site.toml", plan), *tables)


def _write_land(folder: Path) -> None:
    here = folder / "site"
    form = {"west": 499_000, "north": NORTH, "cell": 100}
    fall = np.tile(np.linspace(40, -0.5, SHAPE[1]), (SHAPE[0], 1))
    write_raster(
        here / "terrain.tif", (fall + 0.1 * np.abs(np.arange(SHAPE[0]) - 7)[:, None]).astype(np.float32), **form
    )
    write_raster(here / "land_cover.tif", np.where(np.arange(SHAPE[1]) < 8, 1, 2) * np.ones(SHAPE, np.float32), **form)
    write_raster(here / "soil.tif", np.full(SHAPE, 7, np.float32), **form)
    (here / "land_cover.csv").write_text(COVERS, encoding="utf-8")
    (here / "soil.csv").write_text("code,soil_group\n7,B\n", encoding="utf-8")
    days = pd.date_range("2020-01-01", "2023-12-31").strftime("%Y-%m-%d")
    rows = "".join(f"{day},{40 * (number % 7 == 0)}\n" for number, day in enumerate(days))
    (here / "rain.csv").write_text(f"date,rain\n{rows}", encoding="utf-8")


COVERS = (
    "code,label,curve_number_cover,export_cover,concentration_cover\n"
    '1,forest,"woods, good",forest,nothing\n2,fields,"pasture, good",row crops,nothing\n'
)

REFUSALS = (
    Refusal(
        kind="land cover has no table of its codes",
        tables=WATER,
        spoil=catchment("covers"),
        says=(
            "site.toml: 1 problem\n"
            "  files.land_cover: this is of no use without a file that feeds cover_table. Add it, or leave "
            "this table out.\n"
        ),
    ),
    Refusal(
        kind="land cover has no soil",
        tables=WATER,
        spoil=catchment("soil", "soils"),
        says=(
            "site.toml: 1 problem\n"
            "  files.land_cover: this is of no use without a file that feeds soil_group and one that feeds "
            "soil_table. Add it, or leave this table out.\n"
        ),
    ),
    Refusal(
        kind="land cover has no rain",
        tables=WATER,
        spoil=catchment("rain"),
        says=(
            "site.toml: 1 problem\n"
            "  files.land_cover: this is of no use without a file that feeds rain. Add it, or leave this "
            "table out.\n"
        ),
    ),
    Refusal(
        kind="nothing says where the land drains to",
        tables=WATER,
        spoil=catchment("terrain"),
        says=(
            "site.toml: 1 problem\n"
            "  files.land_cover: nothing says where the land drains to. Add a file that feeds terrain, or one"
            " that feeds catchment and one that feeds catchment_outlet.\n"
        ),
    ),
    Refusal(
        kind="terrain has no land cover",
        tables=WATER,
        spoil=catchment("land_cover", "covers", "soil", "soils", "rain"),
        says=(
            "site.toml: 1 problem\n"
            "  files.terrain: this is of no use without a file that feeds land_cover. Add it, or leave this "
            "table out.\n"
        ),
    ),
    Refusal(
        kind="the catchment has no grid",
        tables=WATER,
        spoil=catchment(plan=""),
        says=(
            "site.toml: 1 problem\n"
            "  catchment: this is missing, and files.land_cover cannot be read without it. Add a table "
            "[catchment] with west, south, east, north and cell.\n"
        ),
    ),
    Refusal(
        kind="the catchment is no whole number of cells",
        tables=WATER,
        spoil=catchment(plan=PLAN.replace("cell = 100", "cell = 70")),
        says=(
            "site.toml: 1 problem\n"
            "  catchment: 1600 m by 1500 m is not a whole number of 70 m cells. Choose a cell that divides "
            "both sides, or move an edge.\n"
        ),
    ),
    Refusal(
        kind="west of the catchment lies east",
        tables=WATER,
        spoil=catchment(plan=PLAN.replace("499000", "501000")),
        says=("site.toml: 1 problem\n  catchment: west is 501000 and east is 500600. West must be less than east.\n"),
    ),
    Refusal(
        kind="a load of the land is told by no method",
        tables=WATER,
        spoil=catchment(plan=PLAN + 'nitrogen = "guess"\n'),
        says=(
            "site.toml: 1 problem\n"
            '  catchment.nitrogen: "guess" is not known. Use "export coefficient" or "event-mean '
            'concentration".\n'
        ),
    ),
    Refusal(
        kind="the map of land cover holds a code without a row",
        tables=WATER,
        spoil=all_of(catchment(), edited("site/land_cover.csv", '2,fields,"pasture, good",row crops,nothing\n', "")),
        says=("land_cover.csv: 1 problem\n  rows: The map holds code 2, which has none. Add a row for each.\n"),
    ),
    Refusal(
        kind="a code of land cover has two rows",
        tables=WATER,
        spoil=all_of(catchment(), edited("site/land_cover.csv", "2,fields", "1,fields")),
        says=("site.toml: 1 problem\n  land_cover.csv, code 1: it stands 2 times. Leave one row for each code.\n"),
    ),
    Refusal(
        kind="a cover is not in the table of curve numbers",
        tables=WATER,
        spoil=all_of(catchment(), edited("site/land_cover.csv", '"woods, good"', "wood")),
        says=(
            "site.toml: 1 problem\n"
            '  land_cover.csv, row 2, curve_number_cover: "wood" is not in curve_number.csv. Write "nothing" '
            "or one of: brush, fair; brush, good; brush, poor; commercial; dirt road; farmsteads; gravel "
            "road; industrial; meadow; newly graded; open space, fair; open space, good; open space, poor; "
            "pasture, fair; pasture, good; pasture, poor; paved road, open ditches; paved, roofs; "
            "residential, 1 acre; residential, 1/2 acre; residential, 1/3 acre; residential, 1/4 acre; "
            "residential, 1/8 acre; residential, 2 acres; woods with grass, fair; woods with grass, good; "
            "woods with grass, poor; woods, fair; woods, good; woods, poor.\n"
        ),
    ),
    Refusal(
        kind="a cover is not in the table of export coefficients",
        tables=WATER,
        spoil=all_of(catchment(), edited("site/land_cover.csv", "row crops,nothing", "corn,nothing")),
        says=(
            "site.toml: 1 problem\n"
            '  land_cover.csv, row 3, export_cover: "corn" is not in export_coefficient.csv. Write "nothing" '
            "or one of: forest; mixed agriculture; other crops; pasture; row crops; urban.\n"
        ),
    ),
    Refusal(
        kind="a table of covers has a column nobody knows",
        tables=WATER,
        spoil=all_of(catchment(), edited("site/land_cover.csv", "concentration_cover\n", "concentration\n")),
        says=(
            "site.toml: 1 problem\n"
            "  land_cover.csv, column concentration: it is not known. Known are: code, label, "
            "curve_number_cover, export_cover, concentration_cover, impervious_share, cover_factor, "
            "practice_factor, source, note.\n"
        ),
    ),
    Refusal(
        kind="a soil is of no hydrologic group",
        tables=WATER,
        spoil=all_of(catchment(), edited("site/soil.csv", "7,B", "7,E")),
        says=(
            "site.toml: 1 problem\n"
            '  soil.csv, row 2: "E" is no hydrologic soil group. Write A, B, C, D, or nothing for ground '
            "without soil.\n"
        ),
    ),
    Refusal(
        kind="a soil code has two rows",
        tables=WATER,
        spoil=all_of(catchment(), edited("site/soil.csv", "7,B", "7,B\n7,C")),
        says=("site.toml: 1 problem\n  soil.csv, column code: 7 is there twice. Keep one row.\n"),
    ),
    Refusal(
        kind="the map of soils holds a code without a row",
        tables=WATER,
        spoil=all_of(catchment(), edited("site/soil.csv", "7,B", "8,B")),
        says=(
            "site.toml: 1 problem\n"
            "  files.soils: the map holds code 7, which is not listed. Give its name, or None if "
            "it is no data.\n"
        ),
    ),
    Refusal(
        kind="a soil code is not whole",
        tables=WATER,
        spoil=all_of(catchment(), edited("site/soil.csv", "7,B", "7,B\n7.5,C")),
        says=(
            "site.toml: 1 problem\n"
            "  soil.csv, row 3, column code: 7.5 is not a whole number. Write the code of the map.\n"
        ),
    ),
    Refusal(
        kind="a day is missing from the rain",
        tables=WATER,
        spoil=all_of(catchment(), edited("site/rain.csv", "2021-03-05,0\n", "")),
        says=(
            "site.toml: 1 problem\n"
            "  files.rain: 2021-03-06 follows 2021-03-04. Give every day once, in order: a missing day "
            "is not a dry day: fill it from a gauge nearby.\n"
        ),
    ),
    Refusal(
        kind="a day of rain is negative",
        tables=WATER,
        spoil=all_of(catchment(), edited("site/rain.csv", "2021-03-05,0\n", "2021-03-05,-1\n")),
        says=(
            "site.toml: 1 problem\n"
            "  rain.csv, column rain: 1 row is outside the plausible range of rain in a day, 0 to 2000 mm; "
            "the worst is -1 mm at row 431. Check the file and `units` of files.rain; if the values are "
            "right, set `plausible = [lowest, highest]` there.\n"
        ),
    ),
    Refusal(
        kind="rain in millimetres is called metres",
        tables=WATER,
        spoil=all_of(catchment(), site('units = "mm"', 'units = "m"')),
        says=(
            "site.toml: 1 problem\n"
            "  rain.csv, column rain: 209 rows are outside the plausible range of rain in a day, 0 to 2000 "
            "mm; the worst is 40000 mm at row 2. Check the file and `units` of files.rain; if the values are "
            "right, set `plausible = [lowest, highest]` there.\n"
        ),
    ),
    Refusal(
        kind="no land of the terrain lies beside the water",
        tables=WATER,
        spoil=catchment(plan=PLAN.replace("500600", "500300")),
        says=(
            "site.toml: 1 problem\n"
            "  files.terrain: water: none lies beside the terrain, so nothing can drain into it. Check grid "
            "and extent.\n"
        ),
    ),
    Refusal(
        kind="the rain is that of two days",
        tables=WATER,
        spoil=all_of(catchment(), written("site/rain.csv", "date,rain\n2021-03-05,3\n2021-03-06,0\n")),
        says=(
            "site.toml: 1 problem\n"
            "  files.rain: found 2 days. Give a year at least, so that every month is in the record.\n"
        ),
    ),
)


@pytest.mark.parametrize("refusal", REFUSALS, ids=lambda refusal: refusal.kind)
def test_the_command_refuses(refusal, outcome):
    assert_refused(refusal, outcome)
