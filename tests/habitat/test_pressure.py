import itertools

import dask.array
import numpy as np
import pytest
import xarray as xr
from hypothesis import given, settings
from hypothesis import strategies as st
from pytest import approx

from habitat.pressure import Fade, combined_threat
from tests.evidence import published

quick = settings(max_examples=40, deadline=None)  # machines differ in speed, not in arithmetic
SHAPES = ("linear", "exponential", "gaussian")
NAN = float("nan")
share = st.floats(0, 1)
pressures = st.lists(st.tuples(share, share), min_size=1, max_size=6)


@published("fading.csv")
def test_exposure_half_way_gives_the_closed_form(row):
    assert Fade(0, 1000, row.shape)(500.0) == approx(row.exposure, abs=1e-6)


@pytest.mark.parametrize("shape", SHAPES)
def test_exposure_is_full_up_to_its_distance_and_exactly_0_from_the_reach_on(shape):
    fade = Fade(100, 1000, shape)
    assert [fade(distance) for distance in (0.0, 100.0)] == [1, 1]
    assert 0 < fade(999.999) < 1
    assert [fade(distance) for distance in (1000.0, 1000.001, 1e6, float("inf"))] == [0, 0, 0, 0]
    assert np.isnan(fade(NAN))


@pytest.mark.parametrize("shape", SHAPES)
def test_a_saturating_layer_is_at_the_reach_although_float32_holds_it_a_hair_short(shape):
    reach = 2000.1
    assert float(np.float32(reach)) < reach
    assert Fade(0, reach, shape)(np.array([reach], np.float32)).tolist() == [0]


@quick
@given(st.floats(0, 500), st.floats(501, 5000), st.lists(st.floats(0, 6000), min_size=2, max_size=2))
@pytest.mark.parametrize("shape", SHAPES)
def test_farther_is_never_more_exposed(shape, full, reach, distances):
    near, far = sorted(distances)
    fade = Fade(full, reach, shape)
    assert 0 <= fade(far) <= fade(near) <= 1


def test_threat_of_two_pressures_by_hand():
    # 1 - (1 - 0.5 x 1)(1 - 0.5 x 0.5) = 1 - 0.5 x 0.75
    assert combined_threat([1.0, 0.5], [0.5, 0.5]) == 0.625


def test_a_missing_pressure_is_left_out_and_none_present_gives_none():
    assert combined_threat([NAN, 0.5], [0.5, 0.5]) == 0.25
    assert np.isnan(combined_threat([NAN, NAN], [0.5, 0.5]))


@quick
@given(pressures)
def test_threat_is_bounded_and_at_least_that_of_every_single_pressure(parts):
    exposures, weights = zip(*parts, strict=True)
    threat = combined_threat(exposures, weights)
    assert max(e * w for e, w in parts) <= threat + 1e-12
    assert threat <= 1


@quick
@given(pressures, st.integers(0, 5), share)
def test_more_exposure_never_lowers_threat(parts, which, more):
    exposures, weights = (list(column) for column in zip(*parts, strict=True))
    before = combined_threat(exposures, weights)
    which %= len(parts)
    exposures[which] = max(exposures[which], more)
    assert combined_threat(exposures, weights) >= before


@quick
@given(pressures, share, share)
def test_one_more_pressure_never_lowers_threat(parts, exposure, weight):
    exposures, weights = zip(*parts, strict=True)
    assert combined_threat([*exposures, exposure], [*weights, weight]) >= combined_threat(exposures, weights)


@quick
@given(st.lists(st.tuples(share, share), min_size=2, max_size=4))
def test_the_order_of_pressures_changes_nothing(parts):
    first = combined_threat(*zip(*parts, strict=True))
    for order in itertools.permutations(parts):
        assert combined_threat(*zip(*order, strict=True)) == approx(first, abs=1e-12)


@quick
@given(st.lists(st.floats(0, 1500, width=32), min_size=4, max_size=4))
@pytest.mark.parametrize("shape", SHAPES)
def test_number_array_grid_and_dask_agree(shape, distances):
    array = np.array(distances, np.float32).reshape(2, 2)
    fade = Fade(0, 1000, shape)
    # numpy's exp of an array and of a number may differ in the last of 53 bits
    expected = np.array([np.float32(fade(float(distance))) for distance in array.ravel()]).reshape(2, 2)
    np.testing.assert_allclose(fade(array), expected, rtol=1e-7)
    grid = xr.DataArray(array, dims=("y", "x"))
    np.testing.assert_array_equal(fade(grid).to_numpy(), fade(array))
    np.testing.assert_array_equal(fade(grid.chunk(y=1)).to_numpy(), fade(array))
    np.testing.assert_array_equal(fade(dask.array.from_array(array, chunks=1)).compute(), fade(array))


@pytest.mark.parametrize(
    ("arguments", "sentence"),
    [
        ((500, 500, "linear"), "a fade needs 0 <= full < reach, got full 500 m and reach 500 m."),
        ((-1, 500, "linear"), "a fade needs 0 <= full < reach, got full -1 m and reach 500 m."),
        ((0, float("inf"), "linear"), "a fade needs 0 <= full < reach, got full 0 m and reach inf m."),
        ((0, 500, "step"), 'a fade is "linear", "exponential" or "gaussian", not "step".'),
    ],
)
def test_a_fade_that_makes_no_sense_cannot_be_built(arguments, sentence):
    with pytest.raises(ValueError) as error:
        Fade(*arguments)
    assert str(error.value) == sentence


def test_a_weight_above_1_is_refused():
    with pytest.raises(ValueError, match=r"^weights of pressures must lie between 0 and 1, got \[1\.5\]\.$"):
        combined_threat([0.5], [1.5])
