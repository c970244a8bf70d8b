"""Numbers with a unit and a source: what is read, what is converted, what is refused."""

from __future__ import annotations

import pytest
from pytest import approx

from layers.amount import Amount, amount_field, amounts_of
from layers.textfile import Table, validate


class Numbers(Table):
    """One number of each sort that files hold."""

    density: amount_field("kg/m3", above=True, most=3000) | None = None
    loss: amount_field("1/day", most=100) | None = None
    length: amount_field("m") | None = None
    warmth: amount_field("degree_Celsius", least=-5, most=60) | None = None
    share: amount_field("1", most=1) | None = None
    exactly: amount_field("1/m", above=True, most=100, exact=True) | None = None


def read(key, **given):
    """The amount of a table with this one number, and what was refused of it."""
    faults = []
    table = validate(Numbers, {key: {"source": "a report"} | given}, "", faults)
    return (None if table is None else amounts_of({"numbers": table}, "site.toml")[f"numbers.{key}"]), faults


def refused(key, given):
    faults = []
    assert validate(Numbers, {key: given}, "numbers", faults) is None
    return [str(fault) for fault in faults]


# exact by definition: a foot is 0.3048 m, a pound 0.45359237 kg, a nautical mile 1,852 m; a year here is 365.25 days
@pytest.mark.parametrize(
    ("key", "value", "units", "expected"),
    [
        ("density", 0.8, "t/m3", 800.0),
        ("density", 50, "lb/ft**3", 50 * 0.45359237 / 0.3048**3),
        ("loss", 1, "1/hour", 24.0),
        ("loss", 0.7, "1/week", 0.1),
        ("loss", 36.525, "1/year", 0.1),
        ("length", 10, "ft", 3.048),
        ("length", 2, "nautical_mile", 3704.0),
        ("warmth", 77, "degree_Fahrenheit", 25.0),
        ("warmth", 298.15, "kelvin", 25.0),
        ("share", 30, "percent", 0.3),
        ("exactly", 1.5, "1/m", 1.5),
    ],
)
def test_a_number_comes_out_in_the_unit_that_is_wanted(key, value, units, expected):
    amount, faults = read(key, value=value, units=units)
    assert faults == []
    assert amount.value == approx(expected, rel=1e-9)
    assert amount.source == "a report" and amount.file == "site.toml"


def test_bounds_are_those_of_the_wanted_unit():
    assert read("density", value=3.0, units="t/m3")[1] == []
    assert [fault.found for fault in read("density", value=3.01, units="t/m3")[1]] == ["3.01 t/m3 is out of bounds."]
    assert read("loss", value=0, units="1/day")[1] == [], "a loss of nothing is a loss"
    assert [fault.found for fault in read("density", value=0, units="kg/m3")[1]] == ["0 kg/m3 is out of bounds."]


@pytest.mark.parametrize(
    ("key", "given", "sentence"),
    [
        (
            "density",
            {"value": -1, "units": "kg/m3"},
            "-1 kg/m3 is out of bounds. Give more than 0 and at most 3000 kg/m3.",
        ),
        ("length", {"value": -1, "units": "m"}, "-1 m is out of bounds. Give 0 or more m."),
        (
            "warmth",
            {"value": 70, "units": "degree_Celsius"},
            "70 degree_Celsius is out of bounds. Give -5 to 60 degree_Celsius.",
        ),
        ("share", {"value": 30, "units": "1"}, "30 is out of bounds. Give 0 to 1. It is a share of 1: 30 % is 0.3."),
        (
            "exactly",
            {"value": 1.5, "units": "1/cm"},
            'the unit is "1/cm", and "1/m" is needed here. Convert the number and write units = "1/m".',
        ),
        (
            "loss",
            {"value": 1, "units": "m"},
            '"m" is not a unit of number in a time. Known units of number in a time: 1/day, 1/week, 1/year. '
            "Write one of these, or convert the number.",
        ),
    ],
)
def test_what_is_out_of_bounds_or_of_another_unit_is_refused(key, given, sentence):
    assert refused(key, {"source": "a report"} | given) == [f"numbers.{key}: {sentence}"]


@pytest.mark.parametrize("bare", [5, 0.05, "5 m"])
def test_a_number_that_stands_bare_is_refused_with_what_to_write(bare):
    assert refused("length", bare) == [
        f"numbers.length: {bare} stands without its unit and its source. "
        f'Write {{ value = {bare}, units = "m", source = "..." }}.'
    ]


def test_a_number_without_value_unit_or_source_is_refused():
    assert len(refused("length", {"units": "m", "source": "a report"})) == 1
    assert len(refused("length", {"value": 1.0, "source": "a report"})) == 1
    assert len(refused("length", {"value": 1.0, "units": "m"})) == 1
    assert refused("length", {"value": 1.0, "units": "m", "source": "  "}) == [
        'numbers.length.source: this is empty. Say where the number comes from, or say "expert judgement".'
    ]


@pytest.mark.parametrize("value", [float("nan"), float("inf"), True, "1"])
def test_what_is_no_finite_number_is_refused(value):
    assert len(refused("length", {"value": value, "units": "m", "source": "a report"})) == 1


def test_numbers_stand_under_their_table_and_absent_ones_nowhere():
    table = validate(Numbers, {"length": {"value": 1.0, "units": "km", "source": "a map"}}, "", [])
    found = amounts_of({"reach": table, "nothing": None}, "site.toml")
    assert list(found) == ["reach.length"]
    assert str(found["reach.length"]) == "1000 m (site.toml; a map)"
    assert str(Amount(value=0.24, units="1", source="a paper", file="profile.toml")) == "0.24 (profile.toml; a paper)"
