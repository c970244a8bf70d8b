import itertools

import dask.array
import numpy as np
import pytest
import xarray as xr
from hypothesis import given, settings
from hypothesis import strategies as st
from pytest import approx

from habitat.combine import (
    RULES,
    known,
    lowest_index,
    missing_count,
    vetoed,
    weighted_arithmetic_mean,
    weighted_geometric_mean,
)
from tests.evidence import published

quick = settings(max_examples=40, deadline=None)  # machines differ in speed, not in arithmetic
NAN = float("nan")
index = st.floats(0, 1, width=32)
weight = st.floats(0.01, 100)
factors = st.lists(st.tuples(index, weight), min_size=1, max_size=8)


@published("habitat_evaluation.csv")
def test_the_agency_s_teaching_example_comes_out(row):
    food = weighted_geometric_mean([row.food_1, row.food_2], [1, 1])
    assert food == approx(row.food, abs=5e-3)  # printed to two digits
    whole = lowest_index([food, row.reproduction], [1, 1])
    assert whole == approx(row.index, abs=1e-12)
    assert whole * row.acres == approx(row.habitat_units, abs=1e-9)


@published("combining_rules.csv")
def test_a_rule_gives_the_closed_form(row):
    assert RULES[row.rule]([0.8, 0.6, 0.3], [row.weight_1, row.weight_2, row.weight_3]) == approx(row.score, abs=1e-6)


def test_an_index_of_0_makes_a_geometric_mean_0_and_an_arithmetic_mean_lower():
    assert weighted_geometric_mean([0.9, 0.0], [100, 0.01]) == 0
    assert lowest_index([0.9, 0.0], [100, 0.01]) == 0
    assert weighted_arithmetic_mean([0.8, 0.0], [1, 1]) == 0.4


def test_a_missing_factor_is_left_out_and_the_others_share_its_weight():
    assert weighted_arithmetic_mean([0.8, NAN, 0.2], [1, 5, 1]) == approx(0.5)
    assert weighted_geometric_mean([0.9, NAN, 0.4], [1, 5, 1]) == approx(0.6)
    assert lowest_index([0.9, NAN, 0.4], [1, 5, 1]) == 0.4


@pytest.mark.parametrize("rule", RULES.values(), ids=RULES)
def test_nothing_present_gives_nothing(rule):
    assert np.isnan(rule([NAN, NAN], [1, 1]))
    assert np.isnan(rule([0.5, NAN], [0, 1]))


@pytest.mark.parametrize("rule", RULES.values(), ids=RULES)
def test_a_factor_of_no_weight_takes_no_part(rule):
    assert rule([0.5, 0.0, 1.0], [1, 0, 0]) == approx(0.5)


@quick
@given(factors)
def test_the_geometric_mean_lies_between_the_lowest_index_and_the_arithmetic_mean(parts):
    indices, weights = zip(*parts, strict=True)
    geometric = weighted_geometric_mean(indices, weights)
    assert lowest_index(indices, weights) <= geometric + 1e-9
    assert geometric <= weighted_arithmetic_mean(indices, weights) + 1e-9
    assert 0 <= geometric <= 1


@quick
@given(factors, st.floats(1e-3, 1e3))
@pytest.mark.parametrize("rule", RULES.values(), ids=RULES)
def test_scaling_all_weights_changes_nothing(rule, parts, scale):
    indices, weights = zip(*parts, strict=True)
    assert rule(indices, [w * scale for w in weights]) == approx(rule(indices, weights), rel=1e-9, abs=1e-12)


@quick
@given(factors, st.integers(-20, 20))
@pytest.mark.parametrize("rule", RULES.values(), ids=RULES)
def test_scaling_all_weights_by_a_power_of_two_changes_no_bit(rule, parts, power):
    indices, weights = zip(*parts, strict=True)
    assert rule(indices, [w * 2.0**power for w in weights]) == rule(indices, weights)


@quick
@given(st.lists(st.tuples(st.one_of(index, st.just(NAN)), weight), min_size=1, max_size=4))
@pytest.mark.parametrize("rule", RULES.values(), ids=RULES)
def test_the_order_of_factors_changes_nothing(rule, parts):
    first = rule(*zip(*parts, strict=True))
    for order in itertools.permutations(parts):
        assert rule(*zip(*order, strict=True)) == approx(first, rel=1e-12, nan_ok=True)


@quick
@given(st.lists(st.lists(st.one_of(index, st.just(NAN)), min_size=4, max_size=4), min_size=2, max_size=3))
@pytest.mark.parametrize("rule", RULES.values(), ids=RULES)
def test_number_array_grid_and_dask_agree_to_the_bit(rule, columns):
    weights = [3, 2, 1][: len(columns)]
    arrays = [np.array(column, np.float32).reshape(2, 2) for column in columns]
    cells = zip(*(array.ravel().tolist() for array in arrays), strict=True)
    expected = np.array([np.float32(rule(cell, weights)) for cell in cells]).reshape(2, 2)
    grids = [xr.DataArray(array, dims=("y", "x")) for array in arrays]
    np.testing.assert_array_equal(rule(arrays, weights), expected)
    np.testing.assert_array_equal(rule(grids, weights).to_numpy(), expected)
    blocks = [dask.array.from_array(array, chunks=1) for array in arrays]
    np.testing.assert_array_equal(rule(blocks, weights).compute(), expected)
    lazy = rule([grid.chunk(y=1) for grid in grids], weights)
    assert lazy.chunks is not None
    np.testing.assert_array_equal(lazy.to_numpy(), expected)


def test_grids_whose_cells_do_not_match_are_refused():
    here, there = (xr.DataArray([0.5, 0.6], coords={"x": [0.0, end]}, dims="x") for end in (1.0, 1.0 + 1e-7))
    with pytest.raises(ValueError, match="exact"):
        weighted_geometric_mean([here, there], [1, 1])


def test_a_veto_holds_under_any_rule_and_only_at_exactly_0():
    assert vetoed(0.7, [0.4, 0.0]) == 0
    assert vetoed(0.7, [0.4, 1e-9]) == 0.7
    assert vetoed(0.7, []) == 0.7
    assert vetoed(0.7, [NAN]) == 0.7
    assert np.isnan(vetoed(NAN, [0.0]))


def test_a_score_needs_its_essential_factors_and_enough_of_the_others():
    assert known(0.6, [0.6, NAN], [], 1) == 0.6
    assert np.isnan(known(0.6, [0.6, NAN], [], 0))
    assert np.isnan(known(0.6, [0.6, NAN], [NAN], 1))


def test_missing_factors_are_counted_cell_by_cell():
    first, second = np.array([0.1, NAN, NAN]), np.array([0.2, 0.2, NAN])
    assert missing_count([first, second]).tolist() == [0, 1, 2]
