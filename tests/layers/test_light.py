import numpy as np
import pytest
import xarray as xr
from hypothesis import given
from hypothesis import strategies as st
from pytest import approx

from layers.light import (
    BED_LIGHT,
    CELLS_AT_A_TIME,
    DEPTH_LIMIT,
    LIKELY_LEVELS,
    NOT_INTERCHANGEABLE,
    bed_light,
    light_depth_limit,
    mean_bed_light,
    regression_depth_limit,
)
from tests.agreement import assert_kinds_agree
from tests.evidence import published, rows

COSINE = np.cos(2 * np.pi * (np.arange(20_000) + 0.5) / 20_000)
ATTENUATIONS = st.floats(0.02, 10)
DEPTHS = st.floats(0, 50)
CELLS = [[0.3, 1.0, 2.5], [np.nan, 6.0, 0.1]]
CLARITY = [[0.2, 0.5, np.nan], [1.0, 2.0, 4.0]]


@published("light_at_depth.csv")
def test_light_fades_by_the_law_of_beer_and_lambert(row):
    # depths are given to 1e-5 m
    assert bed_light(row.depth, row.attenuation) == approx(row.share, abs=2e-6)
    assert light_depth_limit(row.attenuation, row.share) == approx(row.depth, abs=1e-5)


@published("seagrass_depth_limit.csv")
def test_depth_limit_gives_the_regression_of_duarte_1991(row):
    assert regression_depth_limit(row.attenuation) == approx(row.depth, rel=2e-5)  # five figures


@published("seagrass_depth_limit.csv")
def test_the_regression_and_the_eleven_per_cent_rule_are_not_interchangeable(row):
    limit = regression_depth_limit(row.attenuation)
    assert bed_light(limit, row.attenuation) == approx(row.light_left, abs=5e-4)
    assert limit < 0.95 * light_depth_limit(row.attenuation, 0.11)


def test_the_statement_holds_the_numbers_of_the_table():
    left = [row.light_left for row in rows("seagrass_depth_limit.csv")]
    assert f"{100 * min(left):.0f} to {100 * max(left):.0f} %" in NOT_INTERCHANGEABLE
    grid = xr.DataArray([1.0], dims="x")
    for layer in (regression_depth_limit(grid), light_depth_limit(grid, 0.11)):
        assert layer.attrs["comment"] == NOT_INTERCHANGEABLE


@given(DEPTHS, DEPTHS, ATTENUATIONS, ATTENUATIONS)
def test_deeper_or_murkier_is_never_lighter(depth, deeper, attenuation, murkier):
    depth, deeper = sorted((depth, deeper))
    attenuation, murkier = sorted((attenuation, murkier))
    assert 0 <= bed_light(deeper, attenuation) <= bed_light(depth, attenuation) <= 1
    assert bed_light(depth, murkier) <= bed_light(depth, attenuation)
    assert regression_depth_limit(murkier) <= regression_depth_limit(attenuation)
    assert light_depth_limit(murkier, 0.2) <= light_depth_limit(attenuation, 0.2)


@given(ATTENUATIONS, st.floats(0.001, 0.999))
def test_at_the_depth_limit_the_light_is_what_the_plant_needs(attenuation, need):
    assert bed_light(light_depth_limit(attenuation, need), attenuation) == approx(need, rel=1e-9)


def test_a_bed_above_the_water_has_all_the_light():
    assert bed_light(-0.5, 2.0) == 1.0
    assert mean_bed_light(3.0, COSINE, 2.0) == approx(1.0, abs=1e-12)


@pytest.mark.parametrize("attenuation", [0.1, 1.0, 3.0])
@pytest.mark.parametrize("amplitude", [0.3, 2.0])
def test_mean_light_under_a_cosine_tide_is_the_closed_form(attenuation, amplitude):
    # mean of exp(-K (z + A cos t)) = exp(-K z) I0(K A), the modified Bessel function as scipy computes it
    from scipy.special import i0

    expected = np.exp(-attenuation * 2.5) * i0(attenuation * amplitude)
    # the levels stand in groups of fifty; so coarse a tail costs the stated 0.001 at most
    assert mean_bed_light(-2.5, amplitude * COSINE, attenuation) == approx(expected, abs=1e-4)


@given(st.floats(-4, 3), ATTENUATIONS, st.floats(0.1, 3))
def test_grouped_levels_give_the_mean_of_all_of_them_within_a_thousandth(bed, attenuation, amplitude):
    levels = amplitude * COSINE
    every = np.exp(-attenuation * np.maximum(levels - bed, 0)).mean()
    assert mean_bed_light(bed, levels, attenuation) == approx(every, abs=1e-3)


@given(st.floats(-4, 3), ATTENUATIONS, st.lists(st.floats(-3, 3), min_size=1, max_size=LIKELY_LEVELS))
def test_few_levels_give_their_plain_mean(bed, attenuation, levels):
    mean = mean_bed_light(bed, np.array(levels), attenuation)
    assert mean == approx(np.mean([bed_light(level - bed, attenuation) for level in levels]), abs=1e-12)
    assert mean <= 1


@given(ATTENUATIONS, st.lists(st.floats(-3, 3), min_size=1, max_size=LIKELY_LEVELS))
def test_a_bed_that_is_always_wet_gets_at_least_the_light_of_its_mean_depth(attenuation, levels):
    mean = mean_bed_light(-3.0, np.array(levels), attenuation)
    assert mean >= bed_light(np.mean(levels) + 3.0, attenuation) - 1e-12


def test_levels_that_do_not_fill_their_groups_evenly_count_by_their_number():
    levels = np.concatenate([np.full(LIKELY_LEVELS // 2, -1.0), np.full(LIKELY_LEVELS, 1.0)])
    # one third of the time at 1 m of water, two thirds at 3 m, in groups of one and of two
    expected = (np.exp(-1.0) + 2 * np.exp(-3.0)) / 3
    assert mean_bed_light(-2.0, levels, 1.0) == approx(expected, abs=1e-12)


def test_many_cells_are_taken_in_blocks_that_leave_no_trace():
    bed = np.linspace(-4, 1, 2 * CELLS_AT_A_TIME + 7).reshape(-1, 5)
    levels = np.array([-1.0, 0.2, 1.1])
    whole = mean_bed_light(bed, levels, 0.7)
    rows = [mean_bed_light(row, levels, 0.7) for row in bed]
    np.testing.assert_array_equal(whole, rows)
    assert mean_bed_light(np.empty((0, 3)), levels, 0.7).shape == (0, 3)


def test_a_flat_that_dries_can_get_less_than_the_light_of_its_mean_depth():
    # half the time dry (1), half the time under 1 m: (1 + exp(-1)) / 2, and not the 1 of a mean depth of 0
    assert mean_bed_light(0.0, np.array([-1.0, 1.0]), 1.0) == approx(0.683940, abs=1e-6)


def test_float_array_grid_and_dask_agree():
    levels = np.array([-1.0, -0.2, 0.4, 1.1])
    assert_kinds_agree(bed_light, BED_LIGHT, CELLS, CLARITY)
    assert_kinds_agree(lambda bed, K: mean_bed_light(bed, levels, K), BED_LIGHT, CELLS, CLARITY)
    assert_kinds_agree(lambda bed: mean_bed_light(bed, levels, 0.8), BED_LIGHT, CELLS)
    assert_kinds_agree(lambda K: light_depth_limit(K, 0.2), DEPTH_LIMIT, CLARITY)
    assert_kinds_agree(regression_depth_limit, DEPTH_LIMIT, CLARITY)


@pytest.mark.parametrize("attenuation", [0.0, -0.3])
@pytest.mark.parametrize(
    "formula",
    [
        lambda K: bed_light(1.0, K),
        lambda K: mean_bed_light(-1.0, COSINE, K),
        lambda K: light_depth_limit(K, 0.2),
        regression_depth_limit,
    ],
)
def test_an_attenuation_not_above_0_is_refused(formula, attenuation):
    with pytest.raises(ValueError, match=r"attenuation: found .* 1/m\. It must be above 0 1/m\."):
        formula(attenuation)


@pytest.mark.parametrize("need", [0.0, 1.0, 11.0])
def test_a_light_requirement_that_is_no_share_is_refused(need):
    with pytest.raises(ValueError, match=r"light requirement: found .* It is a share of 1: 11 % is 0\.11\."):
        light_depth_limit(1.0, need)


@pytest.mark.parametrize("levels", [[], [0.1, np.nan]])
def test_levels_without_numbers_are_refused(levels):
    with pytest.raises(ValueError, match="at least one water level is needed, and every level must be a number"):
        mean_bed_light(-1.0, np.array(levels), 1.0)


def test_the_table_for_beds_always_under_water_is_the_plain_sum():
    # a tide of 6 m, and attenuations on and between the steps of the table, below and beyond its end
    levels = 3 * np.sin(np.linspace(0, 60, 8760))
    attenuation = np.array([0.05, 0.3021, 1.0, 2.4999, 9.0, 29.99, 31.0])
    beds = np.full(attenuation.size, -3.4)
    plain = [np.mean(np.exp(-K * (levels - b))) for K, b in zip(attenuation, beds, strict=True)]
    # the groups of levels alone take part of this
    np.testing.assert_allclose(mean_bed_light(beds, levels, attenuation), plain, rtol=1e-3)
    assert mean_bed_light(beds, levels, attenuation)[2] == mean_bed_light(-3.4, levels, 1.0)
