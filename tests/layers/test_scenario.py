"""A site with something added is what a full run makes of it, bit for bit, and no more is made again than has to be."""

from __future__ import annotations

from itertools import combinations
from pathlib import Path

import geopandas as gpd
import numpy as np
import pytest
from shapely.geometry import LineString, Point, box

from layers.derivation import Derivation
from layers.inputs import read_inputs
from layers.recipe import RECIPES, derive
from layers.scenario import Addition, derive_after, with_additions
from layers.site import FileEntry
from tests.layers.test_recipe import SETTINGS
from tests.sites import CRS, write_small_site

IN_WATER = box(501_000, 7_770_400, 501_300, 7_770_900)
WORK = {
    "name": "cut",
    "equipment": "cutter suction dredge",
    "volume_m3": 20_000.0,
    "rate_m3_h": 500.0,
    "hours_day": 10.0,
    "dry_kg_m3": 800.0,
    "fines": 0.3,
    "fines_um": 20.0,
    "season": "wet",
}
LEVEL = {"units": "m", "positive": "up", "datum": "mean sea level", "column": "level"}
SHARE = {"units": "1", "column": "share"}
LOAD = {"units": "kg/year", "column": "load"}
# what is added: shape, columns, keys of the entry
ADDED = {
    "bed_change": (IN_WATER, {"value": -6.0}, LEVEL),
    "land_change": (IN_WATER, {}, {}),
    "seagrass_change": (IN_WATER, {"value": 0.0}, SHARE),
    "mangrove_change": (box(500_450, 7_771_200, 500_550, 7_771_400), {"value": 0.0}, SHARE),
    "nitrogen_load": (Point(500_525, 7_770_525), {"value": 5000.0}, LOAD),
    "phosphorus_load": (Point(500_525, 7_770_525), {"value": 500.0}, LOAD),
    "dredge_work": (IN_WATER, WORK, {}),
    "dredging": (IN_WATER, {}, {}),
    "vessel_route": (
        LineString([(501_000, 7_770_100), (501_900, 7_771_400)]),
        {"value": 5.0, "draft": 2.0},
        {"units": "1/day", "column": "trips", "draft": "draft"},
    ),
    "landing": (Point(500_525, 7_771_300), {}, {}),
    "net": (LineString([(500_900, 7_771_000), (501_000, 7_771_100)]), {}, {}),
}
# the layers that have to come out differently, worked out from what each addition is
DIFFERS = {
    "seagrass_change": {"seagrass_cover", "forage"},
    "mangrove_change": {"mangrove_cover", "mangrove_distance"},
    # chlorophyll is measured on this site, so that nitrogen goes no farther
    "nitrogen_load": {"nitrogen_concentration"},
    "phosphorus_load": {"phosphorus_concentration"},
    "dredging": {"dredging_distance"},
    "dredge_work": {
        *("dredge_plume", "dredge_solids", "dredge_deposit"),
        *("attenuation", "bed_light", "depth_limit", "forage"),
    },
    "landing": {"landing_distance"},
    "net": {"net_distance"},
    "vessel_route": {"vessel_density", "keel_clearance", "strike_exposure"},
}


def _added(*feeds: str) -> list[Addition]:
    additions = []
    for name in feeds:
        shape, columns, keys = ADDED[name]
        entry = FileEntry(
            name=f"plan: {name}",
            feeds=name,
            path=Path("plan.gpkg"),
            source="drawn for a test",
            licence="CC0-1.0",
            credit="nobody",
            date="2026",
            **keys,
        )
        table = gpd.GeoDataFrame({column: [value] for column, value in columns.items()}, geometry=[shape], crs=CRS)
        additions.append(Addition(entry=entry, features=table))
    return additions


@pytest.fixture(scope="module")
def before(tmp_path_factory) -> Derivation:
    return derive(read_inputs(write_small_site(tmp_path_factory.mktemp("site"))), SETTINGS)


def _assert_full_run(before: Derivation, after: Derivation, additions: list[Addition]) -> None:
    full = derive(with_additions(before.inputs, additions, {}), before.settings)
    assert set(after.made) == set(full.made)
    for name, layer in full.made.items():
        np.testing.assert_array_equal(after.made[name].to_numpy(), layer.to_numpy(), err_msg=name)


@pytest.mark.parametrize("feeds", ADDED)
def test_what_is_made_again_is_what_a_full_run_makes(before, feeds):
    additions = _added(feeds)
    after = derive_after(before, additions, {})
    _assert_full_run(before, after, additions)
    if feeds in DIFFERS:
        assert set(after.made_again) == DIFFERS[feeds]
    for name in set(after.made) - set(after.made_again):
        assert np.array_equal(after.made[name].to_numpy(), before.made[name].to_numpy(), equal_nan=True), name


@pytest.mark.parametrize("pair", list(combinations(ADDED, 2))[::9], ids=" and ".join)
def test_two_changes_together_are_what_a_full_run_makes(before, pair):
    additions = _added(*pair)
    _assert_full_run(before, derive_after(before, additions, {}), additions)


def test_nothing_added_makes_nothing_again(before):
    after = derive_after(before, [], {})
    assert after.made_again == ()
    assert all(after.made[name] is layer for name, layer in before.made.items())


def test_a_layer_that_a_plan_first_makes_possible_is_made(tmp_path):
    path = write_small_site(tmp_path)
    text = path.read_text(encoding="utf-8")
    head, _, tail = text.partition("[files.jetty]")
    path.write_text(head + "[files." + tail.partition("[files.")[2], encoding="utf-8")
    without = derive(read_inputs(path), SETTINGS)
    assert "landing_distance" not in without.made
    assert "landing_distance" in derive_after(without, _added("landing"), {}).made


def test_a_name_that_is_taken_and_what_features_cannot_feed_are_refused(before):
    (one,) = _added("net")
    with pytest.raises(ValueError, match="name of a file of the site already"):
        with_additions(before.inputs, [one, one], {})
    entry = FileEntry(name="x", feeds="wind", path=Path("x.csv"), source="", licence="", credit="", date="2026")
    with pytest.raises(ValueError, match="features cannot feed wind"):
        with_additions(before.inputs, [Addition(entry=entry, features=one.features)], {})


def test_every_layer_is_looked_at(before):
    assert set(before.made) >= {name for name in RECIPES if not name.endswith("_error")}
