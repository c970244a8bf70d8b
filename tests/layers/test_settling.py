from functools import partial

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from pytest import approx

from layers.settling import (
    SETTLING_SPEED,
    SMOOTH_SPHERES,
    ferguson_church_settling_speed,
    soulsby_settling_speed,
    stokes_settling_speed,
)
from tests.agreement import assert_kinds_agree
from tests.evidence import published

FORMULAS = {
    "stokes": stokes_settling_speed,
    "ferguson church natural": ferguson_church_settling_speed,
    "ferguson church sphere": partial(ferguson_church_settling_speed, shape=SMOOTH_SPHERES),
}
ALL = [stokes_settling_speed, ferguson_church_settling_speed, soulsby_settling_speed]
SIZES = st.floats(0.5, 2000)
SILT = st.floats(0.5, 62.5)


@published("settling_speed.csv")
def test_settling_speed_is_worked_out_by_hand(row):
    assert 1000 * FORMULAS[row.formula](row.grain_size) == approx(row.speed, abs=row.tolerance / 2 + 1e-12)


@published("soulsby_settling_speed.csv")
def test_settling_speed_gives_the_worked_values_of_soulsby_1997(row):
    # quartz of 2650 kg/m3 in sea water of 1025 has the relative density 2.585; printed to a tenth
    speed = soulsby_settling_speed(row.grain_size, water_density=2650 / 2.585, viscosity=1.05e-6)
    assert 1000 * speed == approx(row.speed, abs=0.05)


@given(SIZES, SIZES)
def test_a_bigger_grain_never_falls_slower(one, other):
    small, big = sorted((one, other))
    for formula in (ferguson_church_settling_speed, soulsby_settling_speed):
        assert 0 < formula(small) <= formula(big)
    if big <= 62.5:
        assert 0 < stokes_settling_speed(small) <= stokes_settling_speed(big)


@given(SILT)
def test_no_natural_grain_of_silt_falls_faster_than_the_sphere_of_stokes(size):
    stokes = stokes_settling_speed(size)
    assert 0.9 * stokes < ferguson_church_settling_speed(size) < stokes
    # the constants of Soulsby make clay fall at 2 * 10.36 / 1.049 in the place of Stokes' 18
    assert 0.85 * stokes < soulsby_settling_speed(size) < stokes


def test_clay_tends_to_the_law_of_stokes():
    assert ferguson_church_settling_speed(0.5) == approx(stokes_settling_speed(0.5), rel=1e-3)
    assert soulsby_settling_speed(0.5) == approx(stokes_settling_speed(0.5) * 18 * 1.049 / (2 * 10.36), rel=1e-3)


@given(SIZES, st.floats(0.8e-6, 1.8e-6), st.floats(0.8e-6, 1.8e-6))
def test_nothing_falls_faster_in_thicker_water(size, one, other):
    thin, thick = sorted((one, other))
    for formula in (ferguson_church_settling_speed, soulsby_settling_speed):
        assert formula(size, viscosity=thick) <= formula(size, viscosity=thin) * (1 + 1e-12)


@pytest.mark.parametrize("formula", ALL)
def test_float_array_grid_and_dask_agree(formula):
    assert_kinds_agree(formula, SETTLING_SPEED, [[0.5, 2.0, 10.0], [np.nan, 30.0, 62.5]])


def test_sand_is_refused_by_the_law_of_stokes():
    with pytest.raises(ValueError, match=r"grain size: 125 um falls too fast for the law of Stokes .* Use `ferguson_"):
        stokes_settling_speed(np.array([10.0, np.nan, 125.0]))


@pytest.mark.parametrize("formula", ALL)
@pytest.mark.parametrize("size", [0.0625, 0.0, -3.0, 5000.0])
def test_a_grain_size_in_millimetres_is_refused(formula, size):
    with pytest.raises(
        ValueError, match=r"grain size: found .* um\. .* Sizes are in micrometres: 0\.0625 mm is 62\.5 um"
    ):
        formula(size)


@pytest.mark.parametrize("formula", ALL)
@pytest.mark.parametrize(
    ("given", "sentence"),
    [
        ({"solid_density": 900.0}, "solid density: found 900 kg/m3. It must be above 1000 kg/m3. A grain no denser"),
        ({"water_density": 0.0}, "water density: found 0 kg/m3. It must be above 0 kg/m3."),
        (
            {"viscosity": 0.001},
            "viscosity: found 0.001 m2/s. It must be above 0 m2/s and at most 0.0001 m2/s. Kinematic",
        ),
    ],
)
def test_water_and_grains_that_cannot_be_are_refused(formula, given, sentence):
    with pytest.raises(ValueError) as told:
        formula(10.0, **given)
    assert str(told.value).startswith(sentence)


def test_a_shape_not_above_0_is_refused():
    with pytest.raises(ValueError, match=r"shape: found 0\. It must be above 0"):
        ferguson_church_settling_speed(10.0, shape=0.0)
