"""Indices of sensitivity beside closed forms."""

from __future__ import annotations

from functools import cache

import numpy as np
import pytest
from pytest import approx

from habitat.doubt import doubts_of
from habitat.draws import drawn
from habitat.sensitivity import first_order, screening, variance_shares
from tests.doubting import doubtful_profile
from tests.evidence import published

NAMES = ("a", "b", "c")


def _ishigami(numbers):
    x = np.pi * (2 * numbers - 1)
    return (np.sin(x[:, 0]) + 7 * np.sin(x[:, 1]) ** 2 + 0.1 * x[:, 2] ** 4 * np.sin(x[:, 0]))[:, None]


def _additive(numbers):
    return (numbers @ [0.5, 0.3, 0.2])[:, None]


def _product(numbers):
    return (numbers[:, 0] * numbers[:, 1])[:, None]


FUNCTIONS = {"ishigami": _ishigami, "additive": _additive, "product": _product}


@cache
def _shares(name):
    return variance_shares(FUNCTIONS[name], NAMES, base=8192, seed=1)


@published("sensitivity_indices.csv")
def test_indices_are_those_of_the_closed_form(row):
    found = _shares(row.function).iloc[int(row.number)]
    assert found.first_order == approx(row.first_order, abs=0.01)
    assert found.total == approx(row.total, abs=0.01)
    assert abs(found.total - row.total) <= 3 * found.confidence


@published("sensitivity_indices.csv")
def test_first_order_from_any_even_draws_is_near_the_closed_form(row):
    numbers = drawn(doubts_of(doubtful_profile()), 4000, seed=2).numbers[:, :3]
    found = first_order(numbers, FUNCTIONS[row.function](numbers)[:, 0], NAMES)
    # 0.03: what is left of the harmonics that are not looked at, and of 4000 draws
    assert found["first_order"][int(row.number)] == approx(row.first_order, abs=0.03)


def test_screening_of_a_straight_function_gives_its_slopes_exactly():
    # closed form: every elementary effect of a plane is its slope
    found = screening(lambda numbers: (numbers @ [2, -3, 0.5])[:, None], NAMES)
    assert found["mean"].to_list() == approx([2, -3, 0.5])
    assert found["size"].to_list() == approx([2, 3, 0.5])
    assert found["spread"].to_list() == approx([0, 0, 0], abs=1e-9)


def test_several_conclusions_are_looked_at_at_once():
    found = variance_shares(lambda numbers: numbers[:, :2], NAMES, base=256)
    assert found["conclusion"].to_list() == [0, 0, 0, 1, 1, 1]
    assert found["total"].to_numpy() == approx([1, 0, 0, 0, 1, 0], abs=0.1)


def test_a_value_that_does_not_vary_depends_on_nothing():
    numbers = np.random.default_rng(1).random((100, 3))
    assert (first_order(numbers, np.full(100, 7.0), NAMES)["first_order"] == 0).all()
    found = variance_shares(lambda numbers: np.full((len(numbers), 1), 3.0), NAMES, base=8)
    assert (found[["first_order", "total", "confidence"]] == 0).all(axis=None)


def test_too_few_draws_tell_nothing():
    numbers = np.random.default_rng(1).random((20, 3))
    assert first_order(numbers, numbers[:, 0], NAMES)["first_order"].isna().all()


def test_a_base_that_is_no_power_of_two_is_refused():
    with pytest.raises(ValueError, match=r"base: found 100\. Give a power of 2\."):
        variance_shares(_additive, NAMES, base=100)
