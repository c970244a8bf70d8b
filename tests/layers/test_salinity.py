import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from pytest import approx

from layers.quantity import SALINITY, WATER_TEMPERATURE
from layers.salinity import (
    CONDUCTIVITY,
    EXTENDED,
    NO_DATA,
    OUTSIDE,
    PUREST_WATER,
    SALINITY_VALIDITY,
    SPECIFIC_CONDUCTANCE,
    WITHIN,
    conductivity_of,
    its90_temperature,
    practical_salinity,
    salinity_validity,
    specific_conductance,
)
from tests.agreement import assert_kinds_agree
from tests.evidence import published

TEMPERATURES = st.floats(0, 35)
CELLS = [[0.001, 5.0, 20.0], [np.nan, 45.0, 60.0]]
WARMTH = [[25.0, 10.0, 31.0], [20.0, np.nan, 15.0]]


@published("practical_salinity.csv")
def test_practical_salinity_gives_the_unesco_check_values(row):
    temperature = its90_temperature(row.temperature)
    # printed to four decimals; 36.2864 is 36.28645 cut short, hence 6e-5 for 5e-5
    assert practical_salinity(42.9140 * row.ratio, temperature, row.pressure) == approx(row.salinity, abs=6e-5)


def test_without_the_change_of_scale_the_unesco_values_are_missed():
    # 42.91754 mS/cm at 15 degrees on ITS-90: computed with gsw
    assert practical_salinity(42.9140, 15.0) != approx(35.0, abs=5e-4)
    assert conductivity_of(35.0, 15.0) == approx(42.91754, abs=5e-6)


@published("low_salinity.csv")
def test_the_low_salinity_extension_is_used_below_2(row):
    assert practical_salinity(row.conductivity, 25.0) == approx(row.extended, abs=1e-5)
    assert _scale_of_1978(row.conductivity, 25.0) == approx(row.plain, abs=1e-5)
    assert row.extended < row.plain


@given(st.floats(2.05, 42), TEMPERATURES)
def test_within_the_scale_salinity_is_that_of_the_polynomials_of_1978(salinity, temperature):
    conductivity = conductivity_of(salinity, temperature)
    assert practical_salinity(conductivity, temperature) == approx(_scale_of_1978(conductivity, temperature), abs=2e-6)


@given(st.floats(0.01, 42), TEMPERATURES)
def test_salinity_survives_the_way_to_conductivity_and_back(salinity, temperature):
    assert practical_salinity(conductivity_of(salinity, temperature), temperature) == approx(salinity, abs=1e-6)


@given(st.floats(0, 60), st.floats(0, 60), TEMPERATURES)
def test_more_conductivity_is_more_salinity(one, other, temperature):
    less, more = sorted((one, other))
    assert practical_salinity(less, temperature) <= practical_salinity(more, temperature)


@given(st.floats(0.01, 60), TEMPERATURES, TEMPERATURES)
def test_the_same_conductivity_in_warmer_water_is_less_salt(conductivity, one, other):
    cold, warm = sorted((one, other))
    assert practical_salinity(conductivity, warm) <= practical_salinity(conductivity, cold) + 1e-12


@given(st.floats(0, PUREST_WATER, exclude_max=True), TEMPERATURES)
def test_water_purer_than_rain_is_fresh_and_not_without_data(conductivity, temperature):
    assert practical_salinity(conductivity, temperature) == 0.0
    assert practical_salinity(PUREST_WATER, temperature) == approx(0.0, abs=0.002)
    assert specific_conductance(conductivity, temperature) == conductivity


def test_specific_conductance_of_sea_water_is_that_of_its_salinity_at_25_degrees():
    # 53.0710 mS/cm: computed with gsw
    assert specific_conductance(42.9140, its90_temperature(15.0)) == approx(53.0710, abs=5e-5)


@given(st.floats(0.05, 42), TEMPERATURES)
def test_specific_conductance_does_not_depend_on_the_temperature_it_was_measured_at(salinity, temperature):
    measured = conductivity_of(salinity, temperature)
    assert specific_conductance(measured, temperature) == approx(conductivity_of(salinity, 25.0), rel=1e-6)
    assert practical_salinity(specific_conductance(measured, temperature), 25.0) == approx(salinity, abs=1e-6)


def test_salinity_validity_by_hand():
    salinity = np.array([0.0, 1.9, 2.0, 42.0, 42.1, 20.0, 20.0, 20.0, np.nan, 1.0])
    temperature = np.array([20, 20, -2, 35, 20, 35.1, -2.1, np.nan, 20, 36])
    expected = [EXTENDED, EXTENDED, WITHIN, WITHIN, OUTSIDE, OUTSIDE, OUTSIDE, NO_DATA, NO_DATA, OUTSIDE]
    np.testing.assert_array_equal(salinity_validity(salinity, temperature), expected)
    assert salinity_validity(20.0, 20.0, 10_001.0) == OUTSIDE


def test_a_number_outside_the_scale_is_given_and_flagged():
    salinity = practical_salinity(42.9140, 0.0)
    assert salinity == approx(54.1, abs=0.1)  # computed with gsw
    assert salinity_validity(salinity, 0.0) == OUTSIDE


@pytest.mark.parametrize(
    ("formula", "quantity"),
    [
        (practical_salinity, SALINITY),
        (specific_conductance, SPECIFIC_CONDUCTANCE),
        (conductivity_of, CONDUCTIVITY),
        (salinity_validity, SALINITY_VALIDITY),
    ],
)
def test_float_array_grid_and_dask_agree(formula, quantity):
    assert_kinds_agree(formula, quantity, CELLS, WARMTH)


def test_float_array_grid_and_dask_of_temperature_agree():
    assert_kinds_agree(its90_temperature, WATER_TEMPERATURE, WARMTH)


def test_no_data_is_never_fresh_water():
    assert np.isnan(practical_salinity(0.0, np.nan))
    assert np.isnan(practical_salinity(np.nan, 20.0))
    assert np.isnan(specific_conductance(0.0, np.nan))


@pytest.mark.parametrize("formula", [practical_salinity, specific_conductance])
def test_conductivity_in_microsiemens_is_refused(formula):
    with pytest.raises(
        ValueError, match=r"conductivity: found 53000 mS/cm\. .* Values in uS/cm must be divided by 1000"
    ):
        formula(53_000.0, 20.0)
    with pytest.raises(ValueError, match=r"conductivity: found -1 mS/cm\. It must be at least 0 mS/cm"):
        formula(-1.0, 20.0)


@pytest.mark.parametrize("formula", [practical_salinity, specific_conductance, conductivity_of])
@pytest.mark.parametrize("temperature", [77.0, 293.15, -40.0])
def test_a_temperature_in_fahrenheit_or_kelvin_is_refused(formula, temperature):
    with pytest.raises(ValueError, match=r"temperature: found .* Fahrenheit\? kelvin\?"):
        formula(30.0, temperature)


def test_a_negative_pressure_or_salinity_is_refused():
    with pytest.raises(ValueError, match="pressure: found -1 dbar"):
        practical_salinity(30.0, 20.0, -1.0)
    with pytest.raises(ValueError, match=r"salinity: found -1\. It must be at least 0 and at most 120"):
        conductivity_of(-1.0, 20.0)


def _scale_of_1978(conductivity, temperature):
    """The practical salinity scale at 0 dbar, written out; polynomials of UNESCO 44 (1983), from memory."""
    t = temperature * 1.00024
    r_t = np.polyval([1.0031e-9, -6.9698e-7, 1.104259e-4, 2.00564e-2, 0.6766097], t)
    root = np.sqrt(conductivity / 42.9140 / r_t)
    at_15 = np.polyval([2.7081, -7.0261, 14.0941, 25.3851, -0.1692, 0.0080], root)
    change = np.polyval([-0.0144, 0.0636, -0.0375, -0.0066, -0.0056, 0.0005], root)
    return at_15 + (t - 15) / (1 + 0.0162 * (t - 15)) * change
