"""Time within striking depth: published shares, closed forms over the tide, and its laws."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from pytest import approx
from scipy.integrate import quad

from layers.light import CELLS_AT_A_TIME, LIKELY_LEVELS
from layers.striking import (
    STRIKE_EXPOSURE,
    STRIKING_SHARE,
    mean_share_within_striking_depth,
    share_within_striking_depth,
    strike_exposure,
)
from layers.water import share_of_time_wet
from tests.agreement import assert_kinds_agree
from tests.evidence import published

COSINE = np.cos(2 * np.pi * (np.arange(20_000) + 0.5) / 20_000)
STRIKING, DEEP = st.floats(0.2, 4), st.floats(0.05, 1)
DEPTHS = [[-0.4, 0.8, 1.4], [np.nan, 5.0, 0.0]]
SHARES = [[0.78, 0.78, np.nan], [0.96, 0.96, 0.5]]


@published("striking_depth.csv")
def test_the_form_beside_the_published_shares(row):
    found = share_within_striking_depth(row.depth, row.striking_depth, row.share_when_deep)
    if row.kind == "deep":
        assert found == row.share
        # even use of the water is what the share stands for at a depth that such animals dive through: dugongs went
        # down to 4.8 m on average (same abstract), manatees' mean depth was 1.09 m
        assert row.striking_depth < row.striking_depth / row.share_when_deep < 4.8
    else:
        # in shallow water it errs towards danger, within twice the half-width of the published interval, 0.93 to 0.98
        assert 0 <= found - row.share <= 0.98 - 0.93


def test_the_form_by_hand():
    depth = np.array([-1.0, 0.0, 1e-9, 1.0, 1.5, 2.0, 3.0, 3.2, 30.0, np.nan])
    found = share_within_striking_depth(depth, 1.5, 0.47)
    np.testing.assert_allclose(found, [0, 0, 1, 1, 1, 0.75, 0.5, 0.47, 0.47, np.nan])


@given(depth=st.floats(1e-6, 50), step=st.floats(0, 1e-3), striking=STRIKING, deep=DEEP)
def test_the_share_falls_with_depth_without_a_jump_and_never_below_that_of_deep_water(depth, step, striking, deep):
    here = share_within_striking_depth(depth, striking, deep)
    deeper = share_within_striking_depth(depth + step, striking, deep)
    assert deep <= deeper <= here <= 1
    assert here - deeper <= step / striking + 1e-12  # the steepest fall is at the striking depth itself
    assert share_within_striking_depth(depth, 2 * striking, deep) >= here


def test_float_array_grid_and_dask_agree():
    assert_kinds_agree(lambda z, deep: share_within_striking_depth(z, 1.25, deep), STRIKING_SHARE, DEPTHS, SHARES)
    levels = np.array([-0.5, 0.0, 0.25, 1.0])
    assert_kinds_agree(
        lambda bed, deep: mean_share_within_striking_depth(bed, levels, 1.25, deep), STRIKING_SHARE, DEPTHS, SHARES
    )
    assert_kinds_agree(strike_exposure, STRIKE_EXPOSURE, [[0.0, 3.0, 4.0], [np.nan, 1.0, 2.0]], SHARES)


@pytest.mark.parametrize("bed", [-0.3, -1.0, -1.6, -3.0, -6.0, 0.4, 1.2])
def test_mean_share_under_a_cosine_tide_is_the_integral(bed):
    amplitude, striking, deep = 0.9, 1.25, 0.5

    def share(turn):  # of the depth at this part of the tide, written out anew
        depth = amplitude * np.cos(turn) - bed
        return 0.0 if depth <= 0 else 1.0 if depth <= striking else max(deep, striking / depth)

    turns = [
        np.arccos((bed + depth) / amplitude)
        for depth in (0.0, striking, striking / deep)
        if abs(bed + depth) < amplitude
    ]
    expected = quad(share, 0, np.pi, points=turns or None, limit=200)[0] / np.pi
    found = mean_share_within_striking_depth(bed, amplitude * COSINE, striking, deep)
    assert found == approx(expected, abs=1.5 / LIKELY_LEVELS)


def test_where_it_is_never_deep_the_mean_is_the_share_of_time_under_water():
    for bed in (-0.5, 0.0, 0.6):
        levels = COSINE[:: len(COSINE) // 300]
        found = mean_share_within_striking_depth(bed, levels, 5.0, 0.3)
        # a level that stands at the bed to the last bit is dry here and wet there: none does
        assert found == approx(share_of_time_wet(bed, levels))


def test_the_mean_goes_by_blocks_of_cells_and_over_groups_that_are_not_even():
    bed = np.linspace(-5, 1, CELLS_AT_A_TIME + 7).astype(np.float32)
    levels = np.random.default_rng(3).normal(0, 0.5, LIKELY_LEVELS + 37)
    found = mean_share_within_striking_depth(bed, levels, 1.5, 0.47)
    for at in (0, 5000, CELLS_AT_A_TIME - 1, CELLS_AT_A_TIME, len(bed) - 1):
        each = np.mean([share_within_striking_depth(level - float(bed[at]), 1.5, 0.47) for level in levels])
        assert found[at] == approx(each, abs=1 / LIKELY_LEVELS)


@given(bed=st.floats(-8, 2), striking=STRIKING, deep=DEEP, seed=st.integers(0, 999))
def test_the_mean_lies_between_nothing_and_the_time_under_water(bed, striking, deep, seed):
    levels = np.random.default_rng(seed).normal(0, 0.6, 40)
    wet = share_of_time_wet(bed, levels)
    assert deep * wet - 1e-12 <= mean_share_within_striking_depth(bed, levels, striking, deep) <= wet + 1e-12


def test_exposure_is_the_traffic_times_the_share_by_hand():
    found = strike_exposure(np.array([0.0, 10.0, 4.0, np.nan]), np.array([1.0, 0.78, 0.0, 0.5]))
    np.testing.assert_allclose(found, [0, 7.8, 0, np.nan])


@pytest.mark.parametrize(
    ("call", "sentence"),
    [
        (
            lambda: share_within_striking_depth(1.0, 0.0, 0.5),
            "striking depth: found 0 m. It must be above 0 m.",
        ),
        (
            lambda: share_within_striking_depth(1.0, 1.25, 78),
            "share when deep: found 78. It must be above 0 and at most 1. It is a share of 1: 78 % is 0.78.",
        ),
        (
            lambda: mean_share_within_striking_depth(-1.0, [0.0], 1.25, 0.0),
            "share when deep: found 0. It must be above 0 and at most 1. It is a share of 1: 78 % is 0.78.",
        ),
        (
            lambda: mean_share_within_striking_depth(-1.0, [], 1.25, 0.5),
            "levels: at least one water level is needed, and every level must be a number.",
        ),
        (
            lambda: strike_exposure(-1.0, 0.5),
            "vessel density: found -1 km/km2/day. It must be at least 0 km/km2/day.",
        ),
        (
            lambda: strike_exposure(1.0, 1.5),
            "share of the time: found 1.5. It must be at least 0 and at most 1. It is a share of 1: 78 % is 0.78.",
        ),
    ],
)
def test_refusals(call, sentence):
    with pytest.raises(ValueError) as told:
        call()
    assert str(told.value) == sentence


def test_the_table_by_the_bed_is_the_plain_mean_and_the_same_for_one_cell_as_for_many():
    levels = 1.5 * np.sin(np.linspace(0, 60, 8760))
    beds = np.array([-40.0, -3.2, -1.71, -0.5, 0.0, 1.4, 1.6, np.nan])
    found = mean_share_within_striking_depth(beds, levels, 1.25, 0.6)
    plain = [np.mean(share_within_striking_depth(levels - bed, 1.25, 0.6)) for bed in beds[:-1]]
    np.testing.assert_allclose(found[:-1], plain, atol=1.5 / LIKELY_LEVELS)
    assert np.isnan(found[-1])
    assert [mean_share_within_striking_depth(bed, levels, 1.25, 0.6) for bed in beds[:-1]] == found[:-1].tolist()
