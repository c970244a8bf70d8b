"""Units as people write them against their exact definitions."""

import numpy as np
import pytest

from layers.quantity import LAYERS
from layers.units import UnitError, converter

# Exact by definition: international foot and inch (international yard and pound agreement, 1959), international
# nautical mile (1929, 1852 m), avoirdupois pound (1959, 0.45359237 kg), zero of the Celsius scale (273.15 K);
# hectare 10,000 m2, tonne 1,000 kg. The fathom is six feet, the acre 43,560 square feet, the hour 3,600 s.
EXACT = [
    ("m", "m", 7.0, 7.0),
    ("ft", "m", 1.0, 0.3048),
    ("feet", "m", 10.0, 3.048),
    ("inch", "m", 1.0, 0.0254),
    ("yard", "m", 1.0, 0.9144),
    ("cm", "m", 250.0, 2.5),
    ("km", "m", 1.2, 1_200.0),
    ("nautical_mile", "m", 1.0, 1_852.0),
    ("kelvin", "degree_Celsius", 273.15, 0.0),
    ("degF", "degree_Celsius", 212.0, 100.0),
    ("degF", "degree_Celsius", -40.0, -40.0),
    ("percent", "1", 40.0, 0.4),
    ("%", "1", 40.0, 0.4),
    ("t/year", "kg/year", 2.5, 2_500.0),
    ("lb/year", "kg/year", 1.0, 0.45359237),
    ("1/week", "1/day", 7.0, 1.0),
    ("g/m2/day", "kg/ha/year", 1.0, 10 * 365.25),
    ("g m-2 day-1", "kg/ha/year", 1.0, 10 * 365.25),
    ("kg/ha/year", "kg/ha/year", 3.0, 3.0),
    ("1/km/day", "km/km2/day", 3.0, 3.0),
    ("PSU", "1", 35.0, 35.0),
    ("PSS-78", "1", 35.0, 35.0),
]


@pytest.mark.parametrize("given, wanted, value, expected", EXACT)
def test_conversion_is_exact_by_definition(given, wanted, value, expected):
    convert = converter(given, wanted, quantity="salinity" if "PS" in given else "")
    assert convert(value) == pytest.approx(expected, rel=1e-12, abs=1e-10)


def test_a_fathom_is_six_feet_within_the_two_feet_in_use():
    # the general library takes the survey foot of 1200/3937 m here: 2 parts in a million longer
    assert converter("fathom", "m")(1.0) == pytest.approx(1.8288, rel=3e-6)


def test_arrays_keep_their_kind_and_precision():
    values = np.array([[1, np.nan]], np.float32)
    converted = converter("ft", "m")(values)
    assert converted.dtype == np.float32
    np.testing.assert_allclose(converted, [[0.3048, np.nan]], rtol=1e-7)
    assert converter("m", "m")(values) is values


@pytest.mark.parametrize("quantity", LAYERS.values(), ids=lambda quantity: quantity.name)
def test_every_layer_can_be_given_in_its_own_unit(quantity):
    assert converter(quantity.units, quantity.units, quantity=quantity.name)(1.0) == 1.0


LENGTHS = "Known units of length: m, ft, km, cm, mm, fathom, nautical_mile. Write one of these, or convert the file."
DEGREES = (
    "Known units of temperature: degree_Celsius, degree_Fahrenheit, kelvin. Write one of these, or convert the file."
)
REFUSED = [
    (None, "m", "", 'there is no unit, and a unit is never guessed. Add `units`, for example units = "m".'),
    (" ", "kg/year", "", 'there is no unit, and a unit is never guessed. Add `units`, for example units = "kg/year".'),
    ("smoots", "m", "", f'the unit "smoots" is not known. {LENGTHS}'),
    ("m (MSL)", "m", "", f'the unit "m (MSL)" is not known. {LENGTHS}'),
    ("__import__('os')", "m", "", f"the unit \"__import__('os')\" is not known. {LENGTHS}"),
    ("2 ft", "m", "", f'the unit "2 ft" is not known. {LENGTHS}'),
    ("kg", "m", "", f'"kg" is not a unit of length. {LENGTHS}'),
    ("M", "m", "", f'"M" is not a unit of length. Did you mean "m"? {LENGTHS}'),
    ("Meter", "m", "", f'the unit "Meter" is not known. Did you mean "m"? {LENGTHS}'),
    ("C", "degree_Celsius", "", f'"C" is not a unit of temperature. Did you mean "degree_Celsius"? {DEGREES}'),
    ("F", "degree_Celsius", "", f'"F" is not a unit of temperature. Did you mean "degree_Fahrenheit"? {DEGREES}'),
    ("degree", "1", "", 'the unit "degree" is not that of a share. Write "1" (0 to 1) or "percent".'),
]


@pytest.mark.parametrize("given, wanted, quantity, sentence", REFUSED)
def test_a_unit_that_cannot_be_used_is_refused_with_what_to_do(given, wanted, quantity, sentence):
    with pytest.raises(UnitError) as refusal:
        converter(given, wanted, quantity=quantity)
    assert str(refusal.value) == sentence


@pytest.mark.parametrize("given", ["g/kg", "g kg-1", "ppt", "‰"])
def test_salt_content_is_not_practical_salinity(given):
    with pytest.raises(UnitError, match="is the unit of a salt content"):
        converter(given, "1", quantity="salinity")


@pytest.mark.parametrize("given", ["mS/cm", "S/m", "uS / cm"])
def test_conductivity_is_not_practical_salinity(given):
    with pytest.raises(UnitError, match="is the unit of conductivity"):
        converter(given, "1", quantity="salinity")
