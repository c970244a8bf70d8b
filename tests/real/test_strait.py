"""Real bathymetry, tides and shores of a dugong strait, through the command as its user would run it."""

from __future__ import annotations

import os
from pathlib import Path

import numpy as np
import pandas as pd
import pytest
import rasterio
import xarray as xr
from utide import ut_constants

from tests.real.strait import shallows, write_strait

DATA = os.environ.get("SHALLOWS_REAL_DATA", "")
pytestmark = pytest.mark.skipif(not DATA, reason="SHALLOWS_REAL_DATA names no folder: REAL DATA NOT TESTED")


@pytest.fixture(scope="module")
def strait(tmp_path_factory) -> Path:
    return write_strait(tmp_path_factory.mktemp("strait"), DATA)


@pytest.fixture(scope="module")
def checked(strait) -> str:
    ran = shallows("check", strait)
    assert ran.returncode == 0, ran.stderr
    return ran.stdout


@pytest.fixture(scope="module")
def results(strait) -> Path:
    ran = shallows("map", strait, "--out", strait / "results", "--date", "2026-01-31")
    assert ran.returncode == 0, ran.stderr
    return strait / "results"


def test_check_reports_how_far_shores_and_bed_disagree(checked):
    said = {line.split(" disagree")[0]: line for line in checked.splitlines() if "disagree on what is water" in line}
    assert set(said) == {
        "Note: marine_region_burnett_mary.gpkg and coast_naturalearth_10m.geojson",
        "Note: marine_region_burnett_mary.gpkg and gbr100_elevation_msl.tif",
    }


def test_check_says_what_the_profile_asks_and_the_site_lacks(checked):
    (said,) = (line for line in checked.splitlines() if "also asks for" in line)
    for name in ("forage", "water_temperature", "salinity", "dredging_distance", "strike_exposure"):
        assert name in said
    assert "no cell can have a threat" in checked


def test_depth_is_the_elevation_of_the_model_with_its_sign_turned(strait, results):
    with xr.open_dataset(results / "results.nc") as found:
        depth = found["water_depth"].load()
    with rasterio.open(strait / "gbr100_elevation_msl.tif") as source:
        elevation = source.read(1)
    assert float(depth.max()) < -elevation.min() + 0.1
    # the deepest channel of the model is the deepest water of the map, within the averaging of cells
    assert float(depth.max()) > -elevation.min() - 5


def test_share_of_time_within_feeding_depth_is_that_of_the_constituents_summed_hour_by_hour(strait, results):
    # without nodal factors and from phase lags alone, as the layer says; TICON-4 constituents of the gauge at Urangan
    known = pd.read_csv(strait / "tide_constituents_ticon4.csv")
    known = known[known["name"] == "Urangan"]
    speeds = {name.strip(): speed for name, speed in zip(ut_constants.const.name, ut_constants.const.freq, strict=True)}
    with xr.open_dataset(results / "results.nc") as found:
        share, depth = found["feeding_time"].to_numpy(), found["water_depth"].to_numpy()
    hours = np.arange(24 * 365)
    levels = np.zeros(len(hours))
    for row in known.itertuples():
        if row.constituent.upper() in speeds:
            turned = 360 * speeds[row.constituent.upper()] * hours - row.phase_deg_gmt
            levels += row.amplitude_m * np.cos(np.radians(turned))
    rows, columns = np.nonzero((share > 0.05) & (share < 0.95))
    assert len(rows) > 1000, "the tide covers and uncovers a good part of the strait"
    for row, column in list(zip(rows, columns, strict=True))[:: len(rows) // 25]:
        standing = depth[row, column] + levels
        assert share[row, column] == pytest.approx(np.mean((standing >= 0.5) & (standing <= 3.0)), abs=0.005)


def test_threat_is_no_data_where_no_pressure_was_mapped(results):
    with xr.open_dataset(results / "results.nc") as found:
        assert bool(found["threat"].isnull().all())
        assert int(found["concern"].max()) == 0


def test_good_habitat_is_shallow_and_covers_a_plausible_share_of_the_strait(results):
    with xr.open_dataset(results / "results.nc") as found:
        found = found[["water_depth", "suitability", "suitability_class"]].load()
    good = found["suitability_class"].to_numpy() == 3
    depth = found["water_depth"].to_numpy()[good]
    assert 0 < np.median(depth) < 6
    assert depth.max() < 20.5
    table = pd.read_csv(results / "tables" / "hectares_by_class.csv")
    good_hectares = table.query("kind == 'suitability' and `class` == 'good habitat'")["hectares"].sum()
    assert good_hectares == pytest.approx(good.sum() * 1.0, rel=1e-6), "a cell is one hectare"
