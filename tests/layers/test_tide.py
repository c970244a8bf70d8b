"""Predicted tides against a general library of tides, and against a sum by hand with its conventions."""

import numpy as np
import pytest
from pytest import approx

from layers.water import tide_levels

NAMES = ["M2", "S2", "K1", "O1"]
AMPLITUDES, PHASES = np.array([1.0, 0.3, 0.2, 0.15]), np.array([30.0, 60.0, 200.0, 180.0])


def analysed(levels, start, **how):
    """Constituents that utide finds in hourly levels from `start` on; at 45 degrees north where it matters."""
    import utide

    time = np.datetime64(start) + np.arange(len(levels)) * np.timedelta64(1, "h")
    options = {"lat": 45, "trend": False, "conf_int": "none", "method": "ols", "constit": NAMES, "verbose": False}
    found = utide.solve(time, levels, **{**options, **how})
    again = utide.reconstruct(time, found, verbose=False).h
    return dict(zip(found.name, found.A, strict=True)), again


def test_the_level_of_one_hour_by_hand_with_its_phase_and_nodal_convention():
    """h = A cos(speed t - g): g lags behind hour 0 of the levels, node factors are 1, equilibrium arguments 0.

    Hour 1, arguments in degrees: M2 28.9841042 - 30 = -1.0158958, S2 30 - 60 = -30, K1 15.0410686 - 200 =
    -184.9589314, O1 13.9430356 - 180 = -166.0569644 (speeds of Schureman, 1958, from memory). Cosines to eight
    figures: 0.99984281, 0.86602540, -0.99625690, -0.97053576.
    """
    by_hand = 1.0 * 0.99984281 + 0.3 * 0.86602540 - 0.2 * 0.99625690 - 0.15 * 0.97053576
    assert by_hand == approx(0.914819, abs=5e-7)
    assert tide_levels(AMPLITUDES, PHASES, NAMES)[1] == approx(by_hand, abs=1e-6)


def test_a_phase_is_a_lag_so_high_water_comes_that_much_after_hour_nothing():
    # a lag of 90 degrees at 30 degrees an hour: high water of S2 at hour 3, and not at hour 9
    levels = tide_levels(np.array([1.0]), np.array([90.0]), ["S2"])
    assert levels[3] == approx(1.0)
    assert levels[9] == approx(-1.0)


@pytest.mark.parametrize("start", ["2000-01-01", "2021-03-04"])
def test_utide_finds_the_constituents_in_thirty_days_of_predicted_levels(start):
    levels = tide_levels(AMPLITUDES, PHASES, NAMES, mean_level=1.5)[: 24 * 30]
    amplitudes, again = analysed(levels, start, nodal=False)
    for name, amplitude in zip(NAMES, AMPLITUDES, strict=True):
        assert amplitudes[name] == approx(amplitude, abs=1e-5)
    assert np.sqrt(np.mean((again - levels) ** 2)) < 1e-6


def test_node_factors_left_out_are_within_four_per_cent_for_the_moon_and_a_fifth_for_the_daily_tides():
    # over half of the 18.6 years; from memory (Schureman, 1958): M2 0.963 to 1.037, K1 0.88 to 1.11, O1 0.81 to 1.18
    levels = tide_levels(AMPLITUDES, PHASES, NAMES)[: 24 * 30]
    factors = {name: [] for name in NAMES}
    for year in (1997, 2002, 2006):
        amplitudes, _ = analysed(levels, f"{year}-06-01", nodal=True)
        for name, amplitude in zip(NAMES, AMPLITUDES, strict=True):
            factors[name].append(amplitude / amplitudes[name])
    for name, least, most in (("M2", 0.96, 1.04), ("S2", 0.99, 1.01), ("K1", 0.87, 1.13), ("O1", 0.80, 1.20)):
        assert least < min(factors[name]) <= max(factors[name]) < most
    # and they do swing: least for the moon's half-daily tide when most for the daily ones
    assert factors["M2"][0] > 1.03
    assert factors["M2"][2] < 0.97
    assert factors["O1"][0] < 0.85
    assert factors["O1"][2] > 1.15
