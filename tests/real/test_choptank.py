"""Nitrate and ammonia of a real river, from samples and daily flow: do two estimators that fail differently agree?"""

from __future__ import annotations

import os
from itertools import pairwise
from pathlib import Path

import numpy as np
import pandas as pd
import pytest
from pytest import approx

from layers.rating_curve import fit_rating_curve, lognormal, minimum_variance, smearing
from layers.river_load import rating_load, ratio_load, ratio_load_bounds, sum_of_loads
from layers.river_samples import KILOGRAMS_A_DAY, RiverSamples, samples_below_detection

DATA = os.environ.get("SHALLOWS_REAL_DATA", "")
pytestmark = pytest.mark.skipif(not DATA, reason="SHALLOWS_REAL_DATA names no folder: REAL DATA NOT TESTED")
CATCHMENT = 29_300  # hectares above the gauge: 113 square miles, from memory


def _year(dates: pd.Series) -> np.ndarray:
    return (dates.dt.year + (dates.dt.dayofyear - 0.5) / 365.25).to_numpy()


@pytest.fixture(scope="module")
def flow() -> pd.DataFrame:
    table = pd.read_csv(Path(DATA) / "river" / "choptank_daily_discharge_m3s.csv", parse_dates=["Date"])
    return table.assign(year=_year(table["Date"]))


@pytest.fixture(scope="module")
def nitrate(flow) -> pd.DataFrame:
    table = pd.read_csv(Path(DATA) / "river" / "choptank_nitrate_samples.csv", parse_dates=["Date"])
    # one sample a day is what the estimators ask for; the flow is that of the day
    table = table.drop_duplicates("Date").drop(columns="Q").merge(flow[["Date", "Q", "year"]], on="Date")
    assert len(table) > 600
    return table.fillna({"ConcLow": 0.0})


def _samples(table: pd.DataFrame, *, with_time: bool = False) -> RiverSamples:
    year = table["year"] if with_time else None
    return RiverSamples(flow=table["Q"], lowest=table["ConcLow"], highest=table["ConcHigh"], year=year)


@pytest.fixture(scope="module")
def ratio(flow, nitrate):
    """Ratio estimator by flow classes: floods were sampled far more often than their share of days."""
    edges = [0, *flow["Q"].quantile([0.5, 0.9]), np.inf]
    parts = []
    for low, high in pairwise(edges):
        days, taken = (table[(table["Q"] > low) & (table["Q"] <= high)] for table in (flow, nitrate))
        parts.append(ratio_load_bounds(_samples(taken), days["Q"]))
    return tuple(sum_of_loads([part[end] for part in parts]) for end in (0, 1))


@pytest.fixture(scope="module")
def rating(flow, nitrate):
    return rating_load(_samples(nitrate, with_time=True), flow["Q"], daily_year=flow["year"])


def test_ratio_and_rating_curve_agree_on_the_yearly_nitrate_load(ratio, rating):
    for bound in ratio:
        # apart by less than 7 %, and each within 5 % of standard error
        assert rating.load == approx(bound.load, rel=0.07)
        assert bound.standard_error < 0.05 * bound.load
    assert rating.standard_error < 0.05 * rating.load


def test_one_sample_below_detection_hardly_matters_to_the_load(ratio):
    least, greatest = ratio
    assert greatest.censored == 1
    assert least.load < greatest.load < 1.001 * least.load


def test_the_load_is_the_mean_flow_times_a_concentration_among_those_sampled(flow, nitrate, rating):
    load, _ = rating.a_year
    mean_flow = flow["Q"].mean()
    weighted = load / (KILOGRAMS_A_DAY * mean_flow * 365.25)
    low, high = nitrate["ConcHigh"].quantile([0.2, 0.8])
    assert low < weighted < high
    # farmland of the coastal plain: a few kg of nitrogen from a hectare in a year
    assert 2 < load / CATCHMENT < 10


def test_the_corrections_agree_where_samples_are_many(flow, nitrate):
    measured = nitrate[nitrate["Uncen"] == 1]
    loads = [
        rating_load(_samples(measured), flow["Q"], correction=c).load for c in (smearing, lognormal, minimum_variance)
    ]
    assert max(loads) < 1.03 * min(loads)


def test_floods_sampled_more_often_than_they_come_make_a_ratio_without_strata_too_low(flow, nitrate, ratio):
    # nitrate of this river thins out in floods, and the flow of the days sampled is on average twice that of all days
    assert nitrate["Q"].mean() > 1.5 * flow["Q"].mean()
    whole = ratio_load_bounds(_samples(nitrate), flow["Q"])[1]
    assert whole.load < 0.9 * ratio[1].load


def test_single_years_differ_by_a_tenth_and_by_more_than_their_errors_say(flow, nitrate):
    curve = _samples(nitrate, with_time=True)
    apart, in_errors = [], []
    for year, days in flow.groupby(flow["Date"].dt.year):
        taken = nitrate[nitrate["Date"].dt.year == year]
        if len(days) < 365 or len(taken) < 15 or (taken["Uncen"] == 0).any():
            continue
        edge = days["Q"].quantile(0.8)
        parts = [
            ratio_load(_samples(taken[taken["Q"] <= edge]), days.loc[days["Q"] <= edge, "Q"]),
            ratio_load(_samples(taken[taken["Q"] > edge]), days.loc[days["Q"] > edge, "Q"]),
        ]
        one, other = sum_of_loads(parts), rating_load(curve, days["Q"], daily_year=days["year"])
        apart.append(abs(one.load / other.load - 1))
        in_errors.append(abs(one.load - other.load) / np.hypot(one.standard_error, other.standard_error))
    assert len(apart) >= 15
    assert np.median(apart) < 0.15
    assert max(apart) < 0.5
    # three of twenty years are more than three errors apart: the scatter of a year is not independent from day to
    # day, so the stated error of a single year is too small
    assert np.mean(np.array(in_errors) < 3) >= 0.8


def test_ammonia_below_detection_moves_the_load_the_right_way(flow):
    table = pd.read_csv(Path(DATA) / "river" / "choptank_ammonia_usgs_remarks.csv", parse_dates=["sample_dt"])
    table = table.drop_duplicates("sample_dt").merge(flow, left_on="sample_dt", right_on="Date")
    below = (table["remark_cd"] == "<").to_numpy()
    limit = table["result_va"].to_numpy()
    assert below.sum() >= 20
    period = flow[flow["Date"].between(table["Date"].min(), table["Date"].max())]
    loads, lines = {}, {}
    for name, samples in {
        "likelihood": samples_below_detection(table["Q"], limit, below),
        "at the limit": samples_below_detection(table["Q"], limit, np.zeros(len(limit), bool)),
        "near zero": samples_below_detection(
            table["Q"], np.where(below, limit / 100, limit), np.zeros(len(limit), bool)
        ),
    }.items():
        lines[name] = fit_rating_curve(samples)
        loads[name] = rating_load(samples, period["Q"]).load
    # what is below the limit is less than the limit: the middle of the line falls, but not to nothing
    middle = {name: line.coefficients[0] for name, line in lines.items()}
    assert middle["near zero"] < middle["likelihood"] < middle["at the limit"]
    least, greatest = ratio_load_bounds(samples_below_detection(table["Q"], limit, below), period["Q"])
    assert least.load < greatest.load
    assert loads["likelihood"] < loads["at the limit"]
