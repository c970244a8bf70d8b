import numpy as np
import pandas as pd
import pytest
from hypothesis import given
from hypothesis import strategies as st
from pytest import approx

from layers.runoff import runoff_depth
from layers.seasonal_runoff import YEAR, seasonal_runoff, share_of_year

SEASONS = {"wet": (11, 12, 1, 2, 3, 4), "dry": (5, 6, 7, 8, 9, 10)}


def record(days=365, start="2021-01-01", **storms):
    rain = pd.Series(0.0, pd.date_range(start, periods=days))
    for day, depth in storms.items():
        rain[pd.Timestamp(day.strip("_").replace("_", "-"))] = depth
    return rain


def test_one_storm_in_the_wet_season_by_hand():
    found = seasonal_runoff(record(_2021_01_05=50.0), np.array([80.0, np.nan]), SEASONS)
    # 13.802 mm by the closed form S = 25400 / 80 - 254; in the 181.25 days of the wet season
    assert found[YEAR][0] == approx(13.802, abs=5e-4)
    assert found["wet"][0] == approx(13.802 / (181.25 / 365.25), abs=2e-3)
    assert found["dry"][0] == 0
    assert all(np.isnan(rate[1]) for rate in found.values())


def test_the_year_is_the_seasons_weighed_by_their_length():
    random = np.random.default_rng(3)
    rain = record(1461, "2018-01-01") + random.gamma(0.2, 40, 1461)
    numbers = np.array([[40.0, 61.0], [74.0, 98.0]])
    found = seasonal_runoff(rain, numbers, SEASONS)
    together = sum(share_of_year(months) * found[season] for season, months in SEASONS.items())
    np.testing.assert_allclose(together, found[YEAR], rtol=1e-5)
    # four whole years with one leap day: the mean of the years, but for 28.25 days of February
    total = sum(runoff_depth(day, 74.0) for day in rain)
    assert found[YEAR][1, 0] == approx(total / 4, rel=1e-3)
    assert found[YEAR].shape == numbers.shape and found[YEAR].dtype == np.float32


def test_a_record_of_a_year_and_a_half_leans_to_no_season():
    # the same storm every January, of which the record holds two
    rain = record(500, _2021_01_05=50.0, _2022_01_05=50.0)
    assert seasonal_runoff(rain, np.array([80.0]), {})[YEAR][0] == approx(13.802, abs=5e-4)


@given(st.floats(1, 100), st.integers(0, 1000))
def test_no_more_runs_off_than_rains(number, seed):
    rain = record() + np.random.default_rng(seed).gamma(0.2, 40, 365)
    months = rain.groupby(rain.index.month).mean()
    days = (31, 28.25, 31, 30, 31, 30, 31, 31, 30, 31, 30, 31)
    assert seasonal_runoff(rain, np.array([number]), {})[YEAR][0] <= (months * days).sum() * (1 + 1e-6)


def test_months_that_make_a_year_are_a_year():
    assert share_of_year(range(1, 13)) == approx(1)


@pytest.mark.parametrize(
    ("rain", "seasons", "words"),
    [
        (record().reset_index(drop=True), {}, "the record has no dates"),
        (record().drop(pd.Timestamp("2021-03-01")), {}, "rain: 2021-03-02 follows 2021-02-28. Give every day once"),
        (record().iloc[::-1], {}, "2021-12-30 follows 2021-12-31"),
        (pd.concat([record(), record().iloc[-1:]]), {}, "2021-12-31 follows 2021-12-31"),
        (record(200), {}, "rain: found 200 days. Give a year at least"),
        (record(_2021_06_01=np.nan), {}, "1 of 30 days are missing"),
        (record(_2021_06_01=-2.0), {}, "rain: found -2 mm"),
        (record(), {"year": (1, 2)}, '"year" is taken'),
        (record(), {"wet": (12, 13)}, "Months are 1 to 12"),
    ],
)
def test_a_record_that_cannot_be_counted_is_refused(rain, seasons, words):
    with pytest.raises(ValueError, match=words):
        seasonal_runoff(rain, np.array([80.0]), seasons)
