import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from pytest import approx

from layers.deposition import (
    DEPOSITION_RATE,
    SETTLING_DISTANCE,
    SETTLING_LOSS,
    SHARE_SUSPENDED,
    deposition_rate,
    settling_distance,
    settling_loss,
    share_suspended,
)
from tests.agreement import assert_kinds_agree
from tests.evidence import published

SPEEDS = st.floats(1e-6, 0.1)
DEPTHS = st.floats(0.2, 30)
CURRENTS = st.floats(0.01, 2)
DISTANCES = st.floats(0, 50_000)


@published("settling_in_a_stream.csv")
def test_sediment_settles_along_a_stream_by_the_closed_form(row):
    loss = settling_loss(row.settling_speed, row.depth)
    assert share_suspended(row.distance, loss, row.current) == approx(row.share, abs=1e-6)
    assert settling_distance(row.share, loss, row.current) == approx(row.distance, rel=1e-5)


def test_the_finest_class_is_carried_for_tens_of_kilometres():
    # closed form: 1 % is left after 46.05 km
    assert settling_distance(0.01, settling_loss(1e-4, 5.0), 0.2) == approx(46_050, abs=5)


@given(DISTANCES, DISTANCES, SPEEDS, DEPTHS, CURRENTS)
def test_sediment_only_settles(one, other, speed, depth, current):
    near, far = sorted((one, other))
    loss = settling_loss(speed, depth)
    assert share_suspended(0.0, loss, current) == 1
    assert 0 <= share_suspended(far, loss, current) <= share_suspended(near, loss, current) <= 1
    assert share_suspended(far, settling_loss(2 * speed, depth), current) <= share_suspended(far, loss, current)
    assert share_suspended(far, loss, 2 * current) >= share_suspended(far, loss, current)


@given(DISTANCES, DISTANCES, SPEEDS, DEPTHS, CURRENTS)
def test_two_reaches_of_a_stream_are_one_long_one(first, second, speed, depth, current):
    loss = settling_loss(speed, depth)
    apart = share_suspended(first, loss, current) * share_suspended(second, loss, current)
    assert share_suspended(first + second, loss, current) == approx(apart, rel=1e-6, abs=1e-300)


@given(st.floats(0, 1000), SPEEDS, DEPTHS)
def test_what_leaves_the_water_arrives_on_the_bed(concentration, speed, depth):
    in_the_water = concentration / 1000 * depth  # kg/m2
    lost = settling_loss(speed, depth) * in_the_water * 86_400
    assert deposition_rate(concentration, speed) == approx(lost, rel=1e-12)


def test_float_array_grid_and_dask_agree():
    small = [[1e-4, 1e-3, 1e-5], [np.nan, 2e-4, 1e-2]]
    large = [[1.0, 0.5, np.nan], [0.2, 2.0, 5.0]]
    assert_kinds_agree(settling_loss, SETTLING_LOSS, small, large)
    assert_kinds_agree(deposition_rate, DEPOSITION_RATE, large, small)
    assert_kinds_agree(lambda x, k: share_suspended(x, k, 0.3), SHARE_SUSPENDED, large, small)
    assert_kinds_agree(lambda k, u: settling_distance(0.1, k, u), SETTLING_DISTANCE, small, large)


@pytest.mark.parametrize(
    ("formula", "sentence"),
    [
        (lambda: settling_loss(-1.0, 2.0), "settling speed: found -1 m/s. It must be at least 0 m/s"),
        (lambda: settling_loss(2.3, 2.0), "settling speed: found 2.3 m/s. It must be at least 0 m/s and at most 0.5"),
        (lambda: settling_loss(0.1, 0.0), "depth: found 0 m. It must be above 0 m."),
        (lambda: share_suspended(-1.0, 0.1, 0.1), "distance: found -1 m. It must be at least 0 m."),
        (lambda: share_suspended(1.0, -0.1, 0.1), "loss: found -0.1 1/s. It must be at least 0 1/s."),
        (lambda: share_suspended(1.0, 0.1, 0.0), "current: found 0 m/s. It must be above 0 m/s."),
        (lambda: settling_distance(5.0, 0.1, 0.1), "share: found 5. It must be above 0 and at most 1. It is a share"),
        (lambda: settling_distance(0.5, 0.0, 0.1), "loss: found 0 1/s. It must be above 0 1/s."),
        (lambda: settling_distance(0.5, 0.1, 0.0), "current: found 0 m/s. It must be above 0 m/s."),
        (lambda: deposition_rate(-1.0, 0.1), "concentration: found -1 mg/L. It must be at least 0 mg/L."),
        (lambda: deposition_rate(1.0, 7.0), "settling speed: found 7 m/s. It must be at least 0 m/s and at most 0.5"),
    ],
)
def test_what_cannot_be_is_refused(formula, sentence):
    with pytest.raises(ValueError) as told:
        formula()
    assert str(told.value).startswith(sentence)
