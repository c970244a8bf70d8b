"""Habitat units over target years against numerical quadrature and exact fractions."""

from fractions import Fraction
from itertools import pairwise

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from pytest import approx
from scipy.integrate import quad

from habitat.interval import (
    TargetYear,
    average_annual_habitat_units,
    interval_habitat_units,
    net_annual_habitat_units,
    recovery_years,
    total_habitat_units,
    unchanged_years,
)
from tests.evidence import published, rows

AREAS = st.floats(0, 1e5)
INDICES = st.floats(0, 1)
LENGTHS = st.floats(0.01, 100)


def targets(*rows):
    return [TargetYear(year=year, hectares=hectares, index=index) for year, hectares, index in rows]


def case(name):
    return targets(
        *((row.year, row.hectares, row.index) for row in rows("annual_habitat_units.csv") if row.case == name)
    )


def quadrature(table):
    """The integral of area times index by scipy, interval by interval."""
    years = [target.year for target in table]
    areas, indices = ([getattr(target, name) for target in table] for name in ("hectares", "index"))
    return sum(
        quad(lambda year: np.interp(year, years, areas) * np.interp(year, years, indices), first, last)[0]
        for first, last in pairwise(years)
    )


@published("interval_habitat_units.csv")
def test_an_interval_holds_the_units_of_the_published_formula_and_not_those_of_the_short_cuts(row):
    years = row.last_year - row.first_year
    ends = (row.first_area, row.last_area, row.first_index, row.last_index)
    assert interval_habitat_units(years, *ends) == approx(row.habitat_units, abs=1e-6)
    trapezoid = years * (row.first_area * row.first_index + row.last_area * row.last_index) / 2
    means = years * (row.first_area + row.last_area) * (row.first_index + row.last_index) / 4
    assert (trapezoid, means) == approx((row.trapezoid, row.means), abs=1e-6)
    if row.first_area != row.last_area:
        assert means < interval_habitat_units(years, *ends) < trapezoid


@given(LENGTHS, AREAS, AREAS, INDICES, INDICES)
def test_an_interval_is_the_integral_that_scipy_finds(years, first_area, last_area, first_index, last_index):
    def habitat(at):
        share = at / years
        return (first_area + share * (last_area - first_area)) * (first_index + share * (last_index - first_index))

    found = interval_habitat_units(years, first_area, last_area, first_index, last_index)
    assert found == approx(quad(habitat, 0, years)[0], rel=1e-9, abs=1e-9)


@given(LENGTHS, AREAS, AREAS, INDICES, INDICES, st.floats(0.01, 0.99))
def test_cutting_an_interval_in_two_changes_nothing(years, first_area, last_area, first_index, last_index, share):
    area, index = first_area + share * (last_area - first_area), first_index + share * (last_index - first_index)
    whole = targets((0, first_area, first_index), (years, last_area, last_index))
    cut = targets((0, first_area, first_index), (share * years, area, min(index, 1)), (years, last_area, last_index))
    assert total_habitat_units(cut) == approx(total_habitat_units(whole), rel=1e-9, abs=1e-9)


def test_arrays_and_numbers_give_the_same_and_no_data_stays_no_data():
    found = interval_habitat_units(10.0, np.array([100.0, np.nan]), np.array([50.0, 1.0]), 0.8, 0.2)
    assert found[0] == interval_habitat_units(10.0, 100.0, 50.0, 0.8, 0.2)
    assert np.isnan(found[1])


def test_average_annual_units_are_those_worked_out_with_fractions():
    for name, total in (("without", Fraction(119590, 6)), ("with", Fraction(64390, 6))):
        assert total_habitat_units(case(name)) == approx(float(total), abs=1e-6)
        assert average_annual_habitat_units(case(name)) == approx(float(total / 50), abs=1e-6)
        assert quadrature(case(name)) == approx(float(total), abs=1e-6)
    assert average_annual_habitat_units(case("without")) == approx(398.63333333, abs=1e-6)
    assert average_annual_habitat_units(case("with")) == approx(214.63333333, abs=1e-6)
    assert net_annual_habitat_units(case("with"), case("without")) == approx(-184.0, abs=1e-6)


def test_units_are_averaged_over_years_and_not_over_target_years():
    seldom, often = (targets(*((year, 10, 0.5) for year in years)) for years in ((0, 40), (0, 1, 2, 3, 40)))
    assert average_annual_habitat_units(seldom) == approx(5) == approx(average_annual_habitat_units(often))


def test_a_project_that_changes_nothing_nets_nothing():
    still = unchanged_years(120, 0.6, period=50)
    same = recovery_years((120, 0.6), (120, 0.6), construction=2, recovery=None, period=50)
    assert net_annual_habitat_units(same, still) == approx(0, abs=1e-9)
    assert average_annual_habitat_units(still) == approx(72)


def test_a_recovery_by_hand():
    # a triangle of loss: 10 units gone in year 1, back over the 10 years after; 10 / 2 + 10 * 10 / 2 = 55 over 20 years
    table = recovery_years((100, 0.5), (80, 0.5), construction=1, recovery=10, period=20)
    assert [(target.year, target.hectares) for target in table] == [(0, 100), (1, 80), (11, 100), (20, 100)]
    assert net_annual_habitat_units(table, unchanged_years(100, 0.5, period=20)) == approx(-55 / 20)


def test_a_recovery_that_outlasts_the_period_is_cut_off_on_its_line():
    table = recovery_years((100, 0.8), (60, 0.4), construction=2, recovery=20, period=12)
    assert (table[-1].year, table[-1].hectares, table[-1].index) == approx((12, 80, 0.6))


def test_works_that_fill_the_period_never_recover_in_it():
    table = recovery_years((100, 0.8), (60, 0.4), construction=5, recovery=20, period=5)
    assert [(target.year, target.hectares) for target in table] == [(0, 100), (1, 60), (5, 60)]


def test_short_works_are_felt_in_full_when_they_end():
    table = recovery_years((100, 0.8), (60, 0.4), construction=0.25, recovery=None, period=30)
    assert [target.year for target in table] == [0, 0.25, 30]
    assert table[-1].hectares == 60


@given(AREAS, INDICES, AREAS, INDICES, st.floats(0.1, 10), st.one_of(st.none(), st.floats(0.1, 80)))
def test_tables_are_in_order_and_longer_recovery_never_nets_more(area, index, left, worth, construction, recovery):
    before, after = (area, index), (min(left, area), min(worth, index))
    table = recovery_years(before, after, construction=construction, recovery=recovery, period=50)
    never = recovery_years(before, after, construction=construction, recovery=None, period=50)
    still = unchanged_years(area, index, period=50)
    tolerance = 1e-9 * (1 + area)
    assert net_annual_habitat_units(never, still) <= net_annual_habitat_units(table, still) + tolerance
    assert net_annual_habitat_units(table, still) <= tolerance
    assert total_habitat_units(table) == approx(quadrature(table), rel=1e-6, abs=1e-6)


@pytest.mark.parametrize(
    "table, said",
    [
        ([(0, 1, 0.5)], "target years: found 1. At least the baseline and the end are needed."),
        ([(1, 1, 0.5), (2, 1, 0.5)], "target years: the first is year 1. Begin with the baseline, year 0."),
        (
            [(0, 1, 0.5), (20, 1, 0.5), (5, 1, 0.5)],
            "target years: year 5 comes after year 20. Put them in order, each once.",
        ),
        ([(0, 1, 0.5), (0, 1, 0.5)], "target years: year 0 comes after year 0. Put them in order, each once."),
        ([(0, -1, 0.5), (1, 1, 0.5)], "area: found -1 ha. It must be at least 0 ha."),
        ([(0, 1, 1.2), (1, 1, 0.5)], "index: found 1.2. It must be at least 0 and at most 1."),
        ([(0, 1, -0.1), (1, 1, 0.5)], "index: found -0.1. It must be at least 0 and at most 1."),
        (
            [(0, 1, float("nan")), (1, 1, 0.5)],
            "index: found no number. A target year needs its year, its area and its index.",
        ),
        ([(0, float("inf"), 0.5), (1, 1, 0.5)], "area: found inf ha. It must be at least 0 ha."),
    ],
)
def test_impossible_tables_are_refused(table, said):
    with pytest.raises(ValueError) as refusal:
        total_habitat_units(targets(*table))
    assert str(refusal.value) == said


def test_a_project_may_not_begin_with_another_baseline_or_end_in_another_year():
    with pytest.raises(ValueError, match=r"year 0: the area is 90 ha with the project and 100 ha without"):
        net_annual_habitat_units(targets((0, 90, 0.5), (9, 1, 0.5)), targets((0, 100, 0.5), (9, 1, 0.5)))
    with pytest.raises(ValueError, match=r"year 0: the index is 0.4 with the project and 0.5 without"):
        net_annual_habitat_units(targets((0, 100, 0.4), (9, 1, 0.5)), targets((0, 100, 0.5), (9, 1, 0.5)))
    with pytest.raises(ValueError, match=r"ends in year 9 with the project and in year 50 without"):
        net_annual_habitat_units(targets((0, 100, 0.5), (9, 1, 0.5)), targets((0, 100, 0.5), (50, 1, 0.5)))


@pytest.mark.parametrize(
    "lengths, said",
    [
        ({"construction": 0, "recovery": 1, "period": 5}, "construction: found 0 years. It must be above 0 years."),
        ({"construction": 1, "recovery": -1, "period": 5}, "recovery: found -1 years. It must be above 0 years."),
        ({"construction": 1, "recovery": 1, "period": 0}, "period of analysis: found 0 years"),
        ({"construction": float("nan"), "recovery": 1, "period": 5}, "construction: found no number"),
        ({"construction": 9, "recovery": 1, "period": 5}, "construction: the works take 9 years"),
    ],
)
def test_impossible_lengths_are_refused(lengths, said):
    with pytest.raises(ValueError) as refusal:
        recovery_years((10, 0.5), (5, 0.5), **lengths)
    assert str(refusal.value).startswith(said)
