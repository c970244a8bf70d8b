"""Works of dredges from a file of footprints: the worked source, what is missing, and where the fines are put."""

from __future__ import annotations

import numpy as np
import pytest
from pytest import approx
from shapely.geometry import box

from layers.dredge_work import footprint_source, works_of
from layers.fault import LayerError
from layers.site import parse_site
from layers.vector import read_features
from tests.files import entry_for, write_shapes, write_text
from tests.sites import CELL, LAND_COLUMNS, SOUTH, TABLES, WEST, site_text

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


def read(tmp_path, *left_out, footprint=CHANNEL, file="works.gpkg", **numbers):
    """The works of a file with one, what was refused, and the site and entry they were read with."""
    site = parse_site(write_text(tmp_path / "site.toml", site_text({"coast": TABLES["coast"]})), [])
    columns = {name: [value] for name, value in (WORK | numbers).items() if name not in left_out}
    write_shapes(tmp_path / file, [footprint], **columns)
    entry, faults = entry_for(tmp_path / file, feeds="dredge_work"), []
    table = read_features(entry, site, faults, kinds=frozenset({"Polygon"}))
    assert faults == []
    works = works_of(table, entry, site, faults)
    return works, [str(fault) for fault in faults], site, entry


def work_of(tmp_path, *left_out, **more):
    works, faults, *_ = read(tmp_path, *left_out, **more)
    assert faults == []
    return works[0]


@pytest.mark.parametrize("file", ["works.gpkg", "works.geojson", "works.shp"])
def test_the_worked_source_comes_through_a_file(tmp_path, file):
    # 500 m3/h / 3600 * 800 kg/m3 * 0.30 * 0.02 = 0.66667 kg/s, computed; 0.02 is the middle of the 1 to 3 % of a
    # cutter dredge: van Rijn 2025, J. Mar. Sci. Eng. 13(6), 1186 (abstract)
    work = work_of(tmp_path, file=file)
    assert work.source == approx(0.66667, abs=5e-6)
    assert work.loss == (0.01, 0.02, 0.03)
    assert work.hours_of_digging == 72 and work.days == approx(7.2)
    assert work.name == "the channel" and work.season == "dry"


def test_the_settling_speed_is_that_of_the_grain(tmp_path):
    # Ferguson & Church 2004, J. Sed. Res. 74:933-937: R g D2 / (C1 nu + sqrt(0.75 C2 R g D3)), R 1.65, nu 1e-6 m2/s,
    # C1 18, C2 1: 62.5 um settles at 3.20606 mm/s, computed
    assert work_of(tmp_path, fines_um=62.5).settling_speed == approx(3.20606e-3, rel=1e-4)


def test_a_stated_share_goes_before_the_published_one(tmp_path):
    work = work_of(tmp_path, equipment="a bucket chain", loss_share=0.05, loss_src="measured on site")
    assert work.source == approx(0.66667 * 2.5, abs=2e-5)
    assert work.loss == (None, 0.05, None)
    assert "published" not in str(work)


def test_a_measure_leaves_its_share(tmp_path):
    work = work_of(tmp_path, measure="silt curtain", left_share=0.25, left_src="a trial")
    assert work.source == approx(0.66667 / 4, abs=2e-6)
    assert "silt curtain leaves 0.25 of it" in str(work)


def test_slower_digging_is_half_the_source_for_twice_the_time(tmp_path):
    fast, slow = work_of(tmp_path), work_of(tmp_path, rate_m3_h=250.0, file="slow.gpkg")
    assert slow.source == approx(fast.source / 2)
    assert slow.source * slow.hours_of_digging == approx(fast.source * fast.hours_of_digging)


def test_what_may_be_left_out_may_be_empty_too(tmp_path):
    assert work_of(tmp_path, "season").season is None
    work = work_of(tmp_path, season=None, loss_share=np.nan, left_share=None, measure="", file="empty.gpkg")
    assert work.season is None and work.loss == (0.01, 0.02, 0.03) and work.measures == ()


@pytest.mark.parametrize(
    ("changed", "said"),
    [
        (
            {"fines_um": 0.02},
            "column fines_um: it holds 0.02. Give a number from 0.5 to 63. Sizes are in micrometres: 0.02 mm is 20 um.",
        ),
        ({"fines": 30.0}, "column fines: it holds 30. Give a number from 0 to 1. It is a share of 1: 30 % is 0.3."),
        (
            {"dry_kg_m3": 0.8},
            "column dry_kg_m3: it holds 0.8. Give a number from 50 to 3000. Densities are in kilograms: 0.8 t/m3 is "
            "800 kg/m3.",
        ),
        ({"volume_m3": 0.0}, "column volume_m3: it holds 0. Give a number above 0, at most 1,000,000,000."),
        ({"hours_day": 24.5}, "column hours_day: it holds 24.5. Give a number above 0, at most 24."),
        ({"rate_m3_h": "fast"}, 'column rate_m3_h: it holds "fast". Give a number above 0, at most 100,000.'),
        ({"rate_m3_h": np.nan}, "column rate_m3_h: it holds nothing. Give a number above 0, at most 100,000."),
        (
            {"loss_share": 0.04},
            "column loss_src: a share that is lost is stated, and nothing says who found it. Name the source of "
            "loss_share.",
        ),
        (
            {"left_share": 0.4},
            "column left_src: a measure takes sediment off, and nothing says who found that. Name the source of "
            "left_share.",
        ),
        (
            {"measure": "silt curtain"},
            'column measure: the measure "silt curtain" is named, and nothing says how much of the loss it leaves. '
            "Give left_share, from 0 to 1, and its source as left_src, or leave the measure out.",
        ),
        ({"season": "monsoon"}, 'column season: "monsoon" is not a season. Known seasons: wet, dry.'),
    ],
)
def test_what_cannot_be_is_refused_by_its_column(tmp_path, changed, said):
    works, faults, *_ = read(tmp_path, **changed)
    assert works == []
    assert faults == [f"works.gpkg, feature 1, {said}"]


def test_columns_that_are_missing_are_told_together(tmp_path):
    works, faults, *_ = read(tmp_path, "fines", "fines_um")
    assert works == []
    assert faults == [
        "works.gpkg: the file has no column fines, fines_um. A work of a dredge needs the columns name, equipment, "
        "volume_m3, rate_m3_h, hours_day, dry_kg_m3, fines, fines_um."
    ]


def test_every_fault_of_a_work_is_told_at_once(tmp_path):
    _, faults, *_ = read(tmp_path, fines=30.0, equipment="a spoon", season="monsoon", left_share=0.5)
    assert [fault.split(": ")[0].rpartition(" ")[2] for fault in faults] == ["fines", "equipment", "season", "left_src"]


def test_a_work_longer_than_its_season_is_refused(tmp_path):
    # May to October are 184 days; 900,000 m3 at 500 m3/h and 10 hours a day take 180, 930,000 take 186
    assert read(tmp_path, volume_m3=900_000.0)[1] == []
    assert read(tmp_path, volume_m3=930_000.0, file="long.gpkg")[1] == [
        "long.gpkg, feature 1: 930,000 m3 take 186 days, and there are 184. Correct the volume, the rate or the hours, "
        "or split the work by season."
    ]


def test_a_work_of_any_season_must_fit_into_the_shortest(tmp_path):
    # else the mean of a season would be thicker than the plume while it is dug
    assert read(tmp_path, "season", volume_m3=900_000.0)[1] == []
    assert read(tmp_path, "season", volume_m3=920_000.0, file="long.gpkg")[1] == [
        "long.gpkg, feature 1: 920,000 m3 take 184 days, no season is named, and the shortest has 181. Correct the "
        "volume, the rate or the hours, or split the work by season."
    ]


def test_the_source_is_shared_out_over_the_water_of_the_footprint(tmp_path):
    # half on land: all of the source goes into the ten cells of water, each cell by its share inside
    footprint = box(WEST + LAND_COLUMNS * CELL - 100, SOUTH, WEST + LAND_COLUMNS * CELL + 75, SOUTH + 5 * CELL)
    works, _, site, entry = read(tmp_path, footprint=footprint)
    water = np.ones(site.grid.shape, bool)
    water[:, :LAND_COLUMNS] = False
    source = footprint_source(works[0], water, site.grid, entry)
    assert source.sum() == approx(1000 * works[0].source)  # g/s
    expected = np.zeros(water.shape)
    expected[-5:, LAND_COLUMNS], expected[-5:, LAND_COLUMNS + 1] = 2.0, 1.0
    np.testing.assert_allclose(source, expected * source.sum() / expected.sum(), rtol=1e-6)


def test_a_footprint_without_water_is_refused_by_the_name_of_the_work(tmp_path):
    works, _, site, entry = read(tmp_path, footprint=box(WEST + 50, SOUTH + 50, WEST + 150, SOUTH + 150))
    water = np.ones(site.grid.shape, bool)
    water[:, :LAND_COLUMNS] = False
    with pytest.raises(LayerError, match='work "the channel": no water lies in the footprint of this work'):
        footprint_source(works[0], water, site.grid, entry)
