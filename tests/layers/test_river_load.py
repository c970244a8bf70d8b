from fractions import Fraction

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from pytest import approx

from layers.rating_curve import lognormal, minimum_variance, smearing
from layers.river_load import RiverLoad, rating_load, ratio_load, ratio_load_bounds, sum_of_loads
from layers.river_samples import KILOGRAMS_A_DAY, RiverSamples
from tests.evidence import rows


def _measured(flow, c, **others):
    return RiverSamples(flow=flow, lowest=c, highest=c, **others)


def _river(seed: int, days: int = 365):
    """Flow and concentration of each day of a year: dilution with normal scatter of the logarithm."""
    draw = np.random.default_rng(seed)
    flow = np.exp(draw.normal(1.0, 0.8, days))
    return flow, np.exp(0.5 - 0.3 * np.log(flow) + draw.normal(0, 0.4, days)), draw


def test_the_ratio_estimator_gives_its_equations_in_exact_fractions():
    table = rows("beale_ratio.csv")
    X = [Fraction(int(row.flow)) for row in table]
    pairs = [(Fraction(int(row.flow)), Fraction(int(row.load))) for row in table if row.load != ""]
    n, N = len(pairs), len(X)
    mx, my = sum(x for x, _ in pairs) / n, sum(y for _, y in pairs) / n

    def moment(i, j):
        return sum((x - mx) ** i * (y - my) ** j for x, y in pairs) / (n - 1) / (mx**i * my**j)

    t = Fraction(1, n) - Fraction(1, N)
    simple = sum(X) * my / mx
    estimate = simple * (1 + t * moment(1, 1)) / (1 + t * moment(2, 0))
    first = moment(2, 0) + moment(0, 2) - 2 * moment(1, 1)
    first += 2 * (moment(3, 0) - 2 * moment(2, 1) + moment(1, 2)) / N
    second = 2 * moment(2, 0) ** 2 - 4 * moment(2, 0) * moment(1, 1) + moment(1, 1) ** 2 + moment(2, 0) * moment(0, 2)
    variance = simple**2 * (t * first + t**2 * second)

    flow = np.array([float(x) for x, _ in pairs])
    c = np.array([float(y) for _, y in pairs]) / flow / KILOGRAMS_A_DAY
    found = ratio_load(_measured(flow, c), [float(x) for x in X])
    assert found.load == approx(float(estimate), rel=1e-12)
    assert found.standard_error == approx(float(variance) ** 0.5, rel=1e-9)


def test_the_ratio_estimator_has_hardly_any_bias_and_states_its_error_on_a_river_of_known_load():
    flow, c, draw = _river(11)
    known = KILOGRAMS_A_DAY * np.sum(flow * c)
    loads, errors = [], []
    for _ in range(2000):
        days = draw.choice(365, 24, replace=False)
        found = ratio_load(_measured(flow[days], c[days]), flow)
        loads.append(found.load)
        errors.append(found.standard_error)
    spread = np.std(loads, ddof=1)
    # a longer simulation gives a bias of 0.5 % with 24 samples and 0.1 % with 60, the standard error being 12 %
    assert np.mean(loads) == approx(known, rel=0.01)
    assert abs(np.mean(loads) - known) < spread / 10
    assert np.sqrt(np.mean(np.square(errors))) == approx(spread, rel=0.1)


@pytest.mark.parametrize("correction", [smearing, minimum_variance, lognormal])
def test_the_rating_curve_has_no_bias_and_states_its_error_where_its_line_is_true(correction):
    draw = np.random.default_rng(12)
    flow = np.exp(draw.normal(1.0, 0.8, 365))
    misses, errors = [], []
    for _ in range(400):
        c = np.exp(0.5 - 0.3 * np.log(flow) + draw.normal(0, 0.4, 365))
        days = draw.choice(365, 40, replace=False)
        found = rating_load(_measured(flow[days], c[days]), flow, correction=correction)
        misses.append(found.load - KILOGRAMS_A_DAY * np.sum(flow * c))
        errors.append(found.standard_error)
    known = KILOGRAMS_A_DAY * np.sum(flow * np.exp(0.5 - 0.3 * np.log(flow) + 0.08))
    # within 1.5 % of the load (3 standard errors of the simulation are 1.1 %); uncorrected it is 8 % low
    assert np.mean(misses) / known == approx(0, abs=0.015)
    # stated a seventh too large: the scatter of the days sampled is in the line and in the known load alike
    assert np.sqrt(np.mean(np.square(errors))) == approx(1.14 * np.std(misses), rel=0.1)


def test_without_correction_the_rating_curve_is_too_low_by_the_scatter():
    flow, c, _ = _river(13, 2000)
    samples = _measured(flow, c)
    plain = rating_load(samples, flow, correction=lambda curve, terms: np.ones(len(terms)))
    assert plain.load / rating_load(samples, flow).load == approx(np.exp(-(0.4**2) / 2), abs=0.01)


def test_samples_below_detection_do_not_bias_the_load():
    draw = np.random.default_rng(14)
    flow = np.exp(draw.normal(1.0, 0.8, 365))
    ratios, at_limit = [], []
    for _ in range(150):
        c = np.exp(-0.2 + 0.3 * np.log(flow) + draw.normal(0, 0.6, 365))
        days = draw.choice(365, 60, replace=False)
        below = c[days] < 1.0
        highest = np.maximum(c[days], 1.0)
        censored = RiverSamples(flow=flow[days], lowest=np.where(below, 0, highest), highest=highest)
        known = KILOGRAMS_A_DAY * np.sum(flow * c)
        ratios.append(rating_load(censored, flow).load / known)
        at_limit.append(rating_load(_measured(flow[days], highest), flow).load / known)
    # 0.43 of the samples are below; 3 standard errors of the simulation are 2.7 %
    assert np.mean(ratios) == approx(1, abs=0.03)
    # the limit in their place gives 2 % more on average, not in every year: it also makes the line too flat for floods
    assert np.mean(at_limit) > np.mean(ratios) + 0.01


@given(
    st.lists(st.tuples(st.floats(0.1, 100), st.floats(0.01, 10), st.floats(0, 1)), min_size=3, max_size=8),
    st.floats(0, 1),
)
def test_the_bounds_hold_whatever_was_in_the_water_below_detection(drawn, place):
    flow, c, low = (np.array(values) for values in zip(*drawn, strict=True))
    samples = RiverSamples(flow=flow, lowest=c * low, highest=c)
    days = np.concatenate([flow, [1.0, 7.0]])
    least, greatest = ratio_load_bounds(samples, days)
    inside = ratio_load(_measured(flow, c * low + place * (c - c * low) + 1e-300), days)
    assert least.load * (1 - 1e-9) <= inside.load <= greatest.load * (1 + 1e-9)


@given(st.floats(0.1, 5), st.floats(1e-3, 1e3))
def test_one_concentration_gives_flow_times_concentration_by_either_way(c, scale):
    flow = np.array([1.0, 2.0, 5.0, 9.0]) * scale
    exact = KILOGRAMS_A_DAY * c * flow.sum()
    samples = _measured(flow, np.full(4, c))
    for found in (ratio_load(samples, flow), rating_load(samples, flow)):
        assert found.load == approx(exact)
        assert found.standard_error == approx(0, abs=1e-6 * exact)


def test_every_day_sampled_leaves_no_error_of_the_ratio():
    flow, c, _ = _river(15, 30)
    found = ratio_load(_measured(flow, c), flow)
    assert found.load == approx(KILOGRAMS_A_DAY * np.sum(flow * c))
    assert found.standard_error == 0


def test_nothing_found_in_any_sample_is_bounded_from_0():
    samples = RiverSamples(flow=[1, 2, 3], lowest=[0, 0, 0], highest=[0.1, 0.1, 0.1])
    least, greatest = ratio_load_bounds(samples, [1, 2, 3, 4])
    assert (least.load, least.standard_error) == (0, 0)
    assert greatest.load == approx(KILOGRAMS_A_DAY * 1.0)
    assert greatest.censored == 3


def test_days_of_more_flow_than_any_sampled_are_told():
    found = ratio_load(_measured([1.0, 2.0, 3.0], [1.0, 1.0, 1.0]), [1.0, 2.0, 3.0, 6.0])
    assert found.beyond_highest_sample == approx(0.5)


def test_days_without_flow_carry_nothing():
    samples = _measured([1.0, 2.0, 5.0, 9.0], [1.0, 1.3, 0.8, 1.1])
    days = np.array([1.0, 4.0])
    with_dry = rating_load(samples, np.append(days, [0.0, 0.0]))
    assert with_dry.load == approx(rating_load(samples, days).load)
    assert with_dry.days == 4


def test_season_and_trend_are_used_on_the_days_they_belong_to():
    year = np.arange(2000, 2004, 1 / 50)
    flow = 2 + np.cos(7 * year)
    c = np.exp(0.1 * (year - 2002) + 0.5 * np.sin(2 * np.pi * year))
    found = rating_load(_measured(flow, c, year=year), flow, daily_year=year)
    assert found.load == approx(KILOGRAMS_A_DAY * np.sum(flow * c), rel=1e-9)


def test_independent_parts_add_up_and_their_errors_as_squares():
    part = {"days": 100, "samples": 10, "censored": 1, "method": "by hand"}
    found = sum_of_loads(
        [
            RiverLoad(load=30.0, standard_error=3.0, beyond_highest_sample=0.1, **part),
            RiverLoad(load=50.0, standard_error=4.0, beyond_highest_sample=0.0, **part),
        ]
    )
    assert (found.load, found.standard_error, found.days, found.samples) == (80.0, 5.0, 200, 20)
    assert found.beyond_highest_sample == 0.1
    assert found.a_year == approx((80 / 200 * 365.25, 5 / 200 * 365.25))


def test_strata_lower_the_error_where_floods_are_unlike_low_water():
    draw = np.random.default_rng(16)
    flow = np.sort(np.exp(draw.normal(1.0, 1.0, 360)))
    c = np.where(flow > np.median(flow), 3.0, 0.5) * np.exp(draw.normal(0, 0.1, 360))
    low, high = np.arange(0, 180, 9), np.arange(180, 360, 9)
    whole = ratio_load(_measured(flow[np.r_[low, high]], c[np.r_[low, high]]), flow)
    parts = sum_of_loads(
        [ratio_load(_measured(flow[low], c[low]), flow[:180]), ratio_load(_measured(flow[high], c[high]), flow[180:])]
    )
    assert parts.standard_error < whole.standard_error


CENSORED = RiverSamples(flow=[1, 2, 3], lowest=[1, 0, 1], highest=[1, 1, 1])
MEASURED = _measured([1, 2, 3], [1, 1, 2])


@pytest.mark.parametrize(
    ("call", "words"),
    [
        (lambda: ratio_load(CENSORED, [1, 2, 3]), "1 are below detection, and a ratio takes measured ones only."),
        (lambda: ratio_load(MEASURED, [1, 2]), "samples: 3 for 2 days."),
        (lambda: ratio_load(_measured([0, 0, 0], [1, 1, 1]), [1, 2, 3]), "none was taken while the river flowed"),
        (lambda: ratio_load(MEASURED, [1, np.nan, 2]), "A missing day is not a dry day"),
        (lambda: ratio_load_bounds(CENSORED, [1, -2, 2]), "daily_flow: found -2 m3/s."),
        (lambda: rating_load(MEASURED, [1, np.nan]), "A missing day is not a dry day"),
        (lambda: rating_load(MEASURED, [1, 2], daily_year=[2000, 2001]), "for samples or for days only"),
        (lambda: rating_load(_measured([1, 2, 3], [1, 1, 2], year=[1, 2, 3]), [1]), "for samples or for days only"),
        (
            lambda: rating_load(_measured([1, 2, 3], [1, 1, 2], year=[1, 2, 3]), [1, 2], daily_year=[2000]),
            "daily_year: it is missing for a day, or differs in length",
        ),
        (lambda: sum_of_loads([]), "there is none to add up"),
    ],
)
def test_what_cannot_be_is_refused(call, words):
    with pytest.raises(ValueError, match=words):
        call()
