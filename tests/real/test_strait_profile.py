"""A profile tuned for the real strait: each number that was changed has its reason, and the hectares follow from it.

What is expected is reckoned from the raster of the bed and the constituents of the gauge by numpy, rasterio and pyproj.
"""

from __future__ import annotations

import os
from pathlib import Path

import geopandas as gpd
import numpy as np
import pandas as pd
import pytest
import rasterio
from pyproj import Geod, Transformer
from rasterio.features import geometry_mask
from rasterio.transform import from_bounds
from rasterio.warp import Resampling, reproject
from utide import ut_constants

from habitat.profile import read_profile
from habitat.profile_change import changes, without_reason
from habitat.profile_edit import part_of
from habitat.profile_mark import reasons_in
from habitat.rescoring import rescored
from habitat.site_map import map_site
from tests.real.strait import HERE, write_strait

DATA = os.environ.get("SHALLOWS_REAL_DATA", "")
pytestmark = pytest.mark.skipif(not DATA, reason="SHALLOWS_REAL_DATA names no folder: REAL DATA NOT TESTED")
FILE = HERE / "strait_profile.toml"


@pytest.fixture(scope="module")
def folder(tmp_path_factory) -> Path:
    return write_strait(tmp_path_factory.mktemp("strait"), DATA)


@pytest.fixture(scope="module")
def tuned(folder):
    return map_site(folder, FILE)


@pytest.fixture(scope="module")
def shipped(folder):
    """With what nobody mapped accepted, as the tuned one accepts it; nothing else is changed."""
    return map_site(folder)


def levels_at(hours: np.ndarray) -> np.ndarray:
    """Water above mean sea level at Urangan, ascending: sum of A cos(speed t - g), without nodal factors. [m]"""
    known = pd.read_csv(Path(DATA) / "great_sandy_strait" / "tide_constituents_ticon4.csv")
    known = known[known["name"] == "Urangan"]
    speeds = {name.strip(): speed for name, speed in zip(ut_constants.const.name, ut_constants.const.freq, strict=True)}
    total = np.zeros(len(hours))
    for row in known.itertuples():
        if row.constituent.upper() in speeds:
            turned = 360 * speeds[row.constituent.upper()] * hours - row.phase_deg_gmt
            total += row.amplitude_m * np.cos(np.radians(turned))
    return np.sort(total)


@pytest.fixture(scope="module")
def levels() -> np.ndarray:
    """Hour by hour of a year."""
    return levels_at(np.arange(24 * 365.0))


@pytest.fixture(scope="module")
def bed(tuned) -> tuple[np.ndarray, np.ndarray]:
    """Depth below mean sea level of every pixel of the raster in the site's sea [m], and its area on the globe [ha]."""
    grid = tuned.inputs.site.grid
    with rasterio.open(Path(DATA) / "great_sandy_strait" / "gbr100_elevation_msl.tif") as source:
        depth, turn = -source.read(1).astype(float), source.transform
        assert source.crs.to_epsg() == 4326
        missing = source.read_masks(1) == 0
    sea = gpd.read_file(Path(DATA) / "great_sandy_strait" / "marine_region_burnett_mary.gpkg").to_crs(4326)
    rows, columns = depth.shape
    east, north = np.meshgrid(turn.c + turn.a * (np.arange(columns) + 0.5), turn.f + turn.e * (np.arange(rows) + 0.5))
    x, y = Transformer.from_crs(4326, grid.crs, always_xy=True).transform(east, north)
    left, bottom, right, top = grid.bounds
    inside = (x > left) & (x < right) & (y > bottom) & (y < top)
    inside &= ~geometry_mask(sea.geometry, depth.shape, turn) & ~missing
    area = np.empty(depth.shape)
    for row in range(rows):
        south, upper = turn.f + turn.e * (row + 1), turn.f + turn.e * row
        ring = ([turn.c, turn.c + turn.a, turn.c + turn.a, turn.c], [south, south, upper, upper])
        area[row] = abs(Geod(ellps="WGS84").polygon_area_perimeter(*ring)[0]) / 1e4
    return depth[inside], area[inside]


def share_within(levels, depth, low, high):
    """Share of the hours at which the water over a depth lies between two depths."""
    below = np.searchsorted(levels, low - depth, "left"), np.searchsorted(levels, high - depth, "right")
    return (below[1] - below[0]) / len(levels)


def test_every_change_from_the_shipped_profile_has_its_reason_in_the_file():
    before, after = read_profile("marine_seagrass_grazer"), read_profile(FILE)
    made, reasons = changes(before, after), reasons_in(after.text)
    assert {change.place for change in made} == set(reasons)
    assert without_reason(made, {place: said.rpartition(" (")[0] for place, said in reasons.items()}) == ()
    assert [change.place for change in made if change.place.startswith(("factors", "settings"))] == [
        "settings.feeding_depth.deepest",
        "settings.feeding_depth.source",
        "factors.water_depth.points[1]",
    ]


def test_the_shallow_end_of_the_depth_curve_is_the_highest_flat_that_is_ever_deep_enough(levels):
    profile = read_profile(FILE)
    shallowest, deepest = profile.feeding_depth
    # the highest of 19 years, hour by hour: an hour may miss the crest by some centimetres
    highest = levels_at(np.arange(24 * 365.25 * 19))[-1]
    assert part_of(profile, "water_depth").curve.values[0] == pytest.approx(shallowest - highest, abs=0.05)
    # 4.8 m is the mean greatest depth of a dive: Chilvers et al. 2004, J Exp Mar Biol Ecol 304:203-224, abstract
    assert deepest == 4.8
    # a range of depths narrower than the tide holds no place all the time; the shipped one holds none for 0.9 of it
    depths = np.linspace(-3, 10, 1301)
    assert share_within(levels, depths, 0.5, 3.0).max() < 0.9 < 0.99 < share_within(levels, depths, 0.5, 4.8).max()


def test_hectares_with_half_of_the_time_to_feed_are_those_of_the_raster_and_the_tide(tuned, shipped, levels, bed):
    depth, area = bed
    found = []
    for site_map, deepest in ((shipped, 3.0), (tuned, 4.8)):
        expected = area[share_within(levels, depth, 0.5, deepest) >= 0.5].sum()
        found.append((int((site_map.layers["feeding_time"] >= 0.5).sum()), expected))
    for cells, expected in found:
        assert cells == pytest.approx(expected, rel=0.03), "a cell is one hectare"


def test_flats_that_the_highest_tides_reach_are_no_longer_worth_nothing(tuned, shipped):
    grid = tuned.inputs.site.grid
    turn = from_bounds(*grid.bounds, grid.shape[1], grid.shape[0])
    depth = np.full(grid.shape, np.nan)
    with rasterio.open(Path(DATA) / "great_sandy_strait" / "gbr100_elevation_msl.tif") as source:
        reproject(
            rasterio.band(source, 1), depth, dst_transform=turn, dst_crs=grid.crs, dst_nodata=np.nan,
            resampling=Resampling.bilinear,
        )  # fmt: skip
    depth = -depth
    sea = gpd.read_file(Path(DATA) / "great_sandy_strait" / "marine_region_burnett_mary.gpkg").to_crs(grid.crs)
    at_sea = ~geometry_mask(sea.geometry, grid.shape, turn)
    was, now = (one.assessment["suitability"].to_numpy() for one in (shipped, tuned))
    mended = (was == 0) & (now > 0)
    expected = (at_sea & (depth > -1.97) & (depth < -1.5)).sum()
    assert mended.sum() == pytest.approx(expected, rel=0.1)
    higher = tuned.layers["water_depth"].to_numpy() < -1.97
    assert higher.any() and (now[higher] == 0).all()


def test_what_moved_is_better_and_nothing_is_worse(tuned, shipped):
    was, now = (one.assessment["suitability"].to_numpy() for one in (shipped, tuned))
    known = np.isfinite(was)
    assert np.array_equal(known, np.isfinite(now))
    assert (now[known] >= was[known]).all(), "a wider range of depths and a later veto can only add"
    depth = tuned.layers["water_depth"].to_numpy()
    codes = [one.assessment["suitability_class"].to_numpy() for one in (shipped, tuned)]
    moved = codes[1] > codes[0]
    # beyond the highest depth that the lowest tide (-2.05 m) brings within 4.8 m, and on flats too high, nothing moves
    assert moved.sum() > 1000 and (depth[moved] < 4.8 + 2.1).all() and (depth[moved] > -1.97).all()
    # most of it is water that the shipped range of feeding depths leaves for half of the time, 3.0 m at mean level
    assert np.mean(depth[moved] > 3.0) > 0.9


def test_scored_again_on_the_page_it_is_what_it_is_when_read_from_the_file(tuned):
    curve = part_of(read_profile("marine_seagrass_grazer"), "water_depth").curve
    before = tuned.profile.with_curve("water_depth", curve)
    first = rescored(tuned.layers, before, tuned.assessment, tuned.profile)
    assert not first["suitability"].equals(tuned.assessment["suitability"])
    assert rescored(tuned.layers, tuned.profile, first, before).identical(tuned.assessment)
