"""High and low waters by hand, and the higher one of each tidal day."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from pytest import approx

from layers.high_water import LEAST_RISE, TIDAL_DAY, mean_of_highest, turning_points


def test_high_and_low_waters_of_levels_written_out():
    levels = [0.0, 0.5, 1.0, 0.5, 0.1, 0.5, 0.9, 0.4, -0.2, -0.2, 0.6, 0.7]
    times, heights, is_high = turning_points(levels, 2)
    # the crests at steps 2, 6 and the troughs at steps 4 and between 8 and 9; by parabola
    np.testing.assert_allclose(times, [4.0, 8.0, 2 * (6 - 0.05 / 0.9), 2 * 8.5], atol=1e-12)
    np.testing.assert_allclose(heights, [1.0, 0.1, 0.9 + 0.25 * 0.1 * 0.05 / 0.9, -0.2 - 0.25 * 0.6 * 0.5], atol=1e-12)
    np.testing.assert_array_equal(is_high, [True, False, True, False])


def test_a_parabola_is_found_exactly():
    hours = np.arange(0, 40, 1.0)
    hump = 2 - 0.01 * (np.mod(hours, 20) - 9.3) ** 2  # a high water at 9.3 and at 29.3 h
    times, heights, is_high = turning_points(hump, 1)
    np.testing.assert_allclose(times[is_high], [9.3, 29.3])
    np.testing.assert_allclose(heights[is_high], 2.0)


def test_a_change_less_than_the_least_rise_is_no_water():
    levels = np.array([0, 1, 2, 2 - 0.9 * LEAST_RISE, 2.5, 1, 0, 1, 2])
    times, _, is_high = turning_points(levels, 3)
    assert list(is_high) == [True, False]
    assert times[0] // 3 == 3 or times[0] // 3 == 4  # the higher of the two crests


def test_waters_sooner_than_two_hours_after_each_other_are_no_waters():
    hours = np.arange(0, 50, 0.25)
    tide = np.cos(2 * np.pi * hours / 12)
    dented = tide.copy()
    at = np.flatnonzero(np.isclose(hours, 23.5))[0]
    dented[at] -= 0.3  # a passing dip half an hour before the high water at 24 h
    plain, troubled = turning_points(tide, 0.25), turning_points(dented, 0.25)
    np.testing.assert_allclose(troubled[0], plain[0])
    np.testing.assert_allclose(troubled[1], plain[1])


@given(seed=st.integers(0, 10**6), step=st.sampled_from([0.1, 0.5, 1.0, 3.0]))
def test_high_and_low_waters_alternate_and_are_far_enough_apart(seed, step):
    levels = np.cumsum(np.random.default_rng(seed).normal(0, 0.05, 400))
    times, heights, is_high = turning_points(levels, step)
    assert (np.diff(is_high.astype(int)) != 0).all()
    assert (np.diff(times) >= min(2.0, step) - step).all()  # each is within half a step of its level
    change = np.diff(heights) * np.where(is_high[:-1], -1, 1)
    assert (change >= LEAST_RISE - 1e-12).all()


def test_the_highest_of_each_tidal_day_by_hand():
    times = TIDAL_DAY / 2 * np.arange(8) + 3
    heights = np.array([1.0, 1.5, 0.8, 1.1, 1.2, 0.9, 1.3, 2.0])
    # the first whole day begins midway between two high waters, at 9.21 h, and holds 1.5 and 0.8; the next ones hold
    # 1.1 and 1.2, 0.9 and 1.3
    assert mean_of_highest(times, heights, length=times[-1] + 4) == approx((1.5 + 1.2 + 1.3) / 3)


def test_a_day_without_a_high_water_is_left_out():
    times = np.array([12.0, 12.0 + 2 * TIDAL_DAY])
    assert mean_of_highest(times, np.array([1.0, 3.0]), length=4 * TIDAL_DAY) == approx(2.0)


@pytest.mark.parametrize("times", [[], [1.0]])
def test_without_a_whole_day_there_is_none(times):
    assert mean_of_highest(np.array(times), np.ones(len(times)), length=20) is None
