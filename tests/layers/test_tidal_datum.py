"""Tidal datums against closed forms and tides made up by hand; the form number; water that has no tide."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from pytest import approx
from scipy.special import ellipe

from layers.tidal_datum import (
    HIGH_WATER_DEPTH,
    LOW_WATER_DEPTH,
    TIDAL_DAY,
    form_number,
    high_water_depth,
    low_water_depth,
    tidal_datums,
    tide_type,
)
from layers.water import constituent_speed, tide_levels
from tests.agreement import assert_kinds_agree
from tests.evidence import published, rows

NO_TIDE = ("mean_high_water", "mean_low_water", "mean_higher_high_water", "mean_lower_low_water", "mean_range")


def between(waters, step):
    """Levels that go from each of `waters`, a quarter of a tidal day apart, to the next along half a cosine."""
    hours = np.arange(0, (len(waters) - 1) * TIDAL_DAY / 4, step)
    number, part = np.divmod(hours / (TIDAL_DAY / 4), 1)
    waters, number = np.asarray(waters, float), number.astype(int)
    return waters[number] + (waters[number + 1] - waters[number]) * (1 - np.cos(np.pi * part)) / 2


@published("tidal_datums.csv")
def test_a_year_predicted_for_a_station_has_the_datums_that_were_published_for_it(row):
    """Nineteen observed years beside one predicted from nine constituents, without weather and season."""
    known = [one for one in rows("station_constituents.csv") if one.station == row.station]
    names = [one.constituent for one in known]
    size, lag = np.array([(one.amplitude, one.phase) for one in known]).T
    found = tidal_datums(tide_levels(size, lag, names), 1)
    # of ranges of 0.4 to 1.8 m; by our own figures, the worst is 0.029 m
    assert found.mean_higher_high_water == approx(row.mean_higher_high_water - row.mean_sea_level, abs=0.035)
    assert found.mean_lower_low_water == approx(row.mean_lower_low_water - row.mean_sea_level, abs=0.035)
    # at St. Petersburg the second waters of the day come and go, and how many count hangs on the least rise
    tolerance = 0.05 if row.station == "St. Petersburg" else 0.02
    assert found.mean_high_water == approx(row.mean_high_water - row.mean_sea_level, abs=tolerance)
    assert found.mean_low_water == approx(row.mean_low_water - row.mean_sea_level, abs=tolerance)
    assert tide_type(form_number(dict(zip(names, size, strict=True)))) == row.kind


@pytest.mark.parametrize(("step", "tolerance"), [(1.0, 1e-3), (0.5, 1e-4), (0.1, 1e-5)])
@pytest.mark.parametrize("phase", [0.0, 1.3, 4.0])
def test_a_single_half_daily_tide_has_its_amplitude_for_high_and_low_water(phase, step, tolerance):
    hours = np.arange(0, 60 * TIDAL_DAY, step)
    found = tidal_datums(0.4 + 1.5 * np.cos(np.deg2rad(constituent_speed("M2")) * hours - phase), step)
    assert found.mean_high_water == approx(0.4 + 1.5, abs=1.5 * tolerance)
    assert found.mean_low_water == approx(0.4 - 1.5, abs=1.5 * tolerance)
    # the higher of two that differ only by what is lost between the levels
    assert found.mean_higher_high_water == approx(found.mean_high_water, abs=1.5 * tolerance)
    assert found.mean_lower_low_water == approx(found.mean_low_water, abs=1.5 * tolerance)
    assert found.mean_range == approx(3.0, abs=3 * tolerance)
    assert found.mean_sea_level == approx(0.4, abs=0.01)  # 60 tidal days are no whole number of steps


def test_the_waters_of_a_mixed_tide_give_the_means_by_hand():
    # each day: higher high 1.2, low -0.3, lower high 0.8, lower low -0.9 m
    found = tidal_datums(between([1.2, -0.3, 0.8, -0.9] * 20, step=0.1), 0.1)
    assert found.mean_high_water == approx((1.2 + 0.8) / 2, abs=0.01)  # 39 of 40 high waters: the first is an end
    assert found.mean_low_water == approx((-0.3 - 0.9) / 2, abs=0.01)
    assert found.mean_higher_high_water == approx(1.2, abs=1e-4)
    assert found.mean_lower_low_water == approx(-0.9, abs=1e-4)
    assert found.highest == approx(1.2, abs=1e-4)
    assert found.lowest == approx(-0.9, abs=1e-4)


@pytest.mark.parametrize("start", range(0, 248, 31))
def test_the_higher_water_of_the_day_does_not_depend_on_when_the_record_begins(start):
    levels = between([1.2, -0.3, 0.8, -0.9] * 20, step=0.1)[start:]
    found = tidal_datums(levels, 0.1)
    assert found.mean_higher_high_water == approx(1.2, abs=1e-3)
    assert found.mean_lower_low_water == approx(-0.9, abs=1e-3)


def test_where_the_day_has_one_high_water_it_counts_as_the_higher():
    hours = np.arange(0, 60 * TIDAL_DAY, 0.5)
    found = tidal_datums(0.3 * np.cos(np.deg2rad(constituent_speed("K1")) * hours - 1), 0.5)
    assert found.mean_high_water == approx(0.3, abs=1e-4)
    assert found.mean_higher_high_water == approx(0.3, abs=1e-4)
    assert found.mean_range == approx(0.6, abs=1e-4)


@pytest.mark.parametrize("ratio", [0.15, 0.3, 0.45])
def test_mean_high_water_of_springs_and_neaps_is_the_mean_of_the_envelope(ratio):
    """Closed form. Crests of cos(a t) + r cos(b t) lie on R = sqrt(1 + r^2 + 2 r cos u), with u = (b - a) t."""
    moon, sun = (np.deg2rad(constituent_speed(name)) for name in ("M2", "S2"))
    u = 2 * np.pi * (np.arange(20_000) + 0.5) / 20_000
    envelope = np.sqrt(1 + ratio**2 + 2 * ratio * np.cos(u))
    # over time its mean is a complete elliptic integral; crests come a little faster at springs
    assert envelope.mean() == approx(2 / np.pi * (1 + ratio) * ellipe(4 * ratio / (1 + ratio) ** 2), rel=1e-9)
    crests_an_hour = moon + (sun - moon) * (ratio**2 + ratio * np.cos(u)) / envelope**2
    expected = (envelope * crests_an_hour).sum() / crests_an_hour.sum()
    hours = np.arange(0, 24 * 14.7653 * 12, 0.25)  # twelve whole times from springs to springs
    found = tidal_datums(np.cos(moon * hours) + ratio * np.cos(sun * hours), 0.25)
    assert found.mean_high_water == approx(expected, abs=1e-3)
    assert found.mean_low_water == approx(-expected, abs=1e-3)
    assert found.highest == approx(1 + ratio, abs=3e-3)
    assert found.mean_range < 2 * (1 + ratio)


def test_springs_come_every_fourteen_days_and_eighteen_hours():
    # check value 14.7653 days, from the speeds of Schureman (1958), from memory
    assert 360 / (constituent_speed("S2") - constituent_speed("M2")) / 24 == approx(14.7653, abs=5e-5)


def test_ripples_and_noise_make_no_high_waters():
    rng = np.random.default_rng(5)
    hours = np.arange(0, 40 * TIDAL_DAY, 0.1)
    tide = 0.8 * np.cos(np.deg2rad(constituent_speed("M2")) * hours)
    plain = tidal_datums(tide, 0.1)
    ripples = 0.06 * np.cos(2 * np.pi * hours / 0.5)  # a seiche of half an hour
    troubled = tidal_datums(tide + ripples + rng.normal(0, 0.01, len(hours)), 0.1)
    assert troubled.said.split(" of ")[0] == plain.said.split(" of ")[0]  # as many high and low waters
    assert troubled.mean_high_water == approx(plain.mean_high_water + 0.06, abs=0.03)


def test_a_river_and_a_swamp_have_levels_and_no_tide():
    hours = np.arange(24 * 365)
    season = 2 + 1.5 * np.sin(2 * np.pi * hours / len(hours))
    flood = 0.8 * np.exp(-(((hours - 5000) / 40) ** 2))
    found = tidal_datums(season + flood, 1)
    assert [getattr(found, name) for name in NO_TIDE] == [None] * 5
    assert not found.has_tide
    assert found.highest == (season + flood).max()
    assert found.lowest == (season + flood).min()
    assert found.mean_sea_level == approx((season + flood).mean())
    assert found.said.startswith("no tide is seen: ")
    assert not tidal_datums(np.full(1000, 1.7), 1).has_tide


@pytest.mark.parametrize("memory", [1, 6, 12, 24, 200])
@pytest.mark.parametrize("days", [8, 60])
def test_weather_is_not_taken_for_a_tide(memory, days):
    from scipy.signal import lfilter

    for seed in range(8):
        noise = np.random.default_rng(seed).standard_normal(24 * days + 1000)
        levels = lfilter([1], [1, -np.exp(-1 / memory)], noise)[1000:]
        assert not tidal_datums(levels, 1).has_tide


def test_a_tide_on_a_seasonal_level_is_seen():
    hours = np.arange(24 * 365)
    tide = 0.2 * np.cos(np.deg2rad(constituent_speed("M2")) * hours)
    found = tidal_datums(tide + 2 * np.sin(2 * np.pi * hours / len(hours)), 1)
    assert found.mean_range == approx(0.4, abs=0.01)


def test_daily_levels_cannot_show_a_tide():
    found = tidal_datums(np.linspace(1, 2, 365), 24)
    assert not found.has_tide
    assert found.said == "steps of 24 h are too long to see a tide in"
    assert (found.lowest, found.highest, found.mean_sea_level) == (1, 2, approx(1.5))


@given(seed=st.integers(0, 10**6), up=st.floats(-3, 3))
@settings(max_examples=25)
def test_datums_keep_their_order_and_rise_and_turn_over_with_the_levels(seed, up):
    rng = np.random.default_rng(seed)
    size, lag = rng.uniform(0.05, 1, 4), rng.uniform(0, 360, 4)
    levels = tide_levels(size, lag, ["M2", "S2", "K1", "O1"])[: 24 * 60]
    found, raised, turned = tidal_datums(levels, 1), tidal_datums(levels + up, 1), tidal_datums(-levels, 1)
    ordered = [
        found.lowest,
        found.mean_lower_low_water,
        found.mean_low_water,
        found.mean_sea_level,
        found.mean_high_water,
        found.mean_higher_high_water,
        found.highest,
    ]
    assert ordered == sorted(ordered)
    assert raised.mean_higher_high_water == approx(found.mean_higher_high_water + up, abs=1e-9)
    assert raised.mean_low_water == approx(found.mean_low_water + up, abs=1e-9)
    assert turned.mean_high_water == approx(-found.mean_low_water, abs=1e-9)
    assert turned.mean_lower_low_water == approx(-found.mean_higher_high_water, abs=1e-9)


def test_form_number_of_the_four_constituents_by_hand():
    # (0.2 + 0.15) / (1.0 + 0.3)
    assert form_number({"M2": 1.0, "s2 ": 0.3, "K1": 0.2, "O1": 0.15, "N2": 9.0}) == approx(0.269231, abs=5e-7)
    assert form_number({"M2": 0, "S2": 0, "K1": 0.2, "O1": 0}) == np.inf


@pytest.mark.parametrize(
    ("form", "name"),
    [
        (0.0, "semidiurnal"),
        (0.2499, "semidiurnal"),
        (0.25, "mixed, mainly semidiurnal"),
        (1.4999, "mixed, mainly semidiurnal"),
        (1.5, "mixed, mainly diurnal"),
        (2.9999, "mixed, mainly diurnal"),
        (3.0, "diurnal"),
        (np.inf, "diurnal"),
    ],
)
def test_kinds_of_tide_by_the_limits_of_common_practice(form, name):
    assert tide_type(form) == name


def test_depths_at_high_and_low_water():
    bed = [[-2.0, -0.5, 0.3], [np.nan, 1.0, 0.0]]
    for depth, quantity in ((high_water_depth, HIGH_WATER_DEPTH), (low_water_depth, LOW_WATER_DEPTH)):
        assert_kinds_agree(lambda cells, depth=depth: depth(cells, -0.25), quantity, bed)
    expected = np.array([[1.75, 0.25, -0.55], [np.nan, -1.25, -0.25]])
    np.testing.assert_allclose(low_water_depth(np.array(bed), -0.25), expected)


def test_depth_at_mean_sea_level_is_charted_depth_and_the_height_of_mean_sea_level_above_its_datum():
    # NOAA Special Publication NOS CO-OPS 1 (2001), from memory: charts give the depth below mean lower low water
    tide = tidal_datums(between([1.2, -0.3, 0.8, -0.9] * 20, step=0.1), 0.1)
    bed, mean_lower_low = -4.0, tide.mean_lower_low_water
    charted = low_water_depth(bed, mean_lower_low)
    assert tide.mean_sea_level - bed == approx(charted + (tide.mean_sea_level - mean_lower_low))
    assert charted == approx(3.1, abs=1e-4)


@pytest.mark.parametrize(
    ("call", "sentence"),
    [
        (lambda: tidal_datums([0.0, 1.0], 0), "step: found 0 h. It must be greater than 0."),
        (
            lambda: tidal_datums(np.where(np.arange(500) == 3, np.nan, 0.0), 1),
            "levels: 1 of 500 are not a number. Give a part of the record without gaps: high and low waters cannot be "
            "told from levels that are not at equal steps.",
        ),
        (
            lambda: tidal_datums(np.zeros(1000), 0.1),
            "levels: found 1,000 levels of 0.1 h, 4.2 days. At least 7 tidal days (7.2 days) are needed. Is the "
            "step in hours?",
        ),
        (
            lambda: form_number({"M2": 1.0, "K1": 0.1}),
            "amplitudes: S2, O1 is absent. A form number needs M2, S2, K1 and O1.",
        ),
        (
            lambda: form_number({"M2": 1.0, "S2": np.nan, "K1": 0, "O1": 0}),
            "amplitudes: S2 is nan. An amplitude is 0 or more.",
        ),
        (
            lambda: form_number(dict.fromkeys(("M2", "S2", "K1", "O1"), 0)),
            "amplitudes: all four are 0, so there is no tide to classify.",
        ),
        (lambda: tide_type(np.nan), "form number: found nan. It is 0 or more."),
        (
            lambda: high_water_depth(-1.0, None),
            "mean high water: found None. A level is needed; water without a tide has no mean high water.",
        ),
    ],
)
def test_refusals(call, sentence):
    with pytest.raises(ValueError) as told:
        call()
    assert str(told.value) == sentence
