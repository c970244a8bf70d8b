"""Soundings: their age by hand, the water they are in, and what becomes of two at one place."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from layers.soundings import Soundings, body_of, checked_soundings, merged, sounding_error, water_bodies
from tests.grids import toy_grid

METRES = st.floats(0.01, 5)


def test_an_old_sounding_by_hand():
    # 3-4-5: 0.3 m on the day, then 16 years of 0.1 m
    assert sounding_error(0.3, 0.1, 16) == pytest.approx(0.5)
    np.testing.assert_allclose(sounding_error(0.3, 0.1, np.array([0, 16, 55])), [0.3, 0.5, 0.8])


def test_it_is_the_spread_of_a_bed_that_moves_at_random():
    # simulated, 20 000 beds of 23 yearly steps: the sample's own error is sd / sqrt(2 n), 0.5 %
    random = np.random.default_rng(5)
    moved = 0.15 * random.standard_normal(20_000) + 0.08 * random.standard_normal((23, 20_000)).sum(axis=0)
    assert sounding_error(0.15, 0.08, 23) == pytest.approx(moved.std(), rel=0.02)


@given(METRES, METRES, st.floats(0, 200), st.floats(0, 200))
def test_the_older_the_less_certain(error, change, years, more):
    younger, older = sounding_error(error, change, years), sounding_error(error, change, years + more)
    assert error <= younger * (1 + 1e-12) and younger <= older
    # two periods one after the other are one
    assert sounding_error(younger, change, more) == pytest.approx(older)


def test_a_number_gives_a_number_and_no_date_gives_no_error():
    assert isinstance(sounding_error(0.2, 0.05, 3), float)
    np.testing.assert_array_equal(np.isnan(sounding_error(0.2, 0.05, np.array([1.0, np.nan]))), [False, True])


def test_a_survey_of_the_future_is_refused():
    with pytest.raises(
        ValueError, match=r"^years_before: found -2 yr\. It must be at least 0 yr\. A sounding is older"
    ):
        sounding_error(0.2, 0.1, np.array([3.0, -2.0]))
    with pytest.raises(ValueError, match=r"^error_of_one: found 0 m\. It must be above 0 m\.$"):
        sounding_error(0, 0.1, 3)


def test_waters_that_touch_at_a_corner_are_two():
    np.testing.assert_array_equal(water_bodies(np.array([[1, 1, 0], [0, 0, 1]], bool)), [[1, 1, 0], [0, 0, 2]])


def test_a_sounding_ashore_belongs_to_the_water_beside_it():
    # columns     0  1  2  3  4  5  6  7  8  9 10 11
    water = np.array([[1, 1, 0, 0, 0, 0, 0, 0, 0, 0, 0, 1]], bool)
    grid = toy_grid(1, 12, cell=10)
    west, middle = grid.bounds[0], grid.y[0]
    # in the first water; 3 cells and a little less from its last cell's middle; out of reach of both; beside the
    # second; off the grid beside the second; far off the grid
    east = west + np.array([12.0, 44.9, 60.0, 95.0, 130.0, 5_000.0])
    places = np.column_stack([east, np.full(6, middle)])
    np.testing.assert_array_equal(body_of(places, water_bodies(water), grid), [1, 1, 0, 2, 2, 0])
    assert body_of(np.array([[west + 45.1, middle]]), water_bodies(water), grid) == [0]


def test_a_cell_of_water_wins_over_a_nearer_middle():
    # the place is in the corner of cell 0, which is water
    grid = toy_grid(2, 2, cell=10)
    bodies = np.array([[1, 0], [0, 2]])
    place = np.array([[grid.bounds[0] + 9.9, grid.bounds[3] - 9.9]])
    assert body_of(place, bodies, grid) == [1]


def test_two_at_one_place_are_weighed_by_their_errors():
    # 0.1 m and 0.3 m: weights 100 and 11.1, so 9 to 1; variance 1 / 111.1
    pair = Soundings(np.array([[0.0, 0.0], [1.0, 0.0]]), np.array([-2.0, -3.0]), np.array([0.01, 0.09]))
    one = merged(pair, 2.0)
    np.testing.assert_allclose(one.elevation, [-2.1])
    np.testing.assert_allclose(one.places, [[0.1, 0.0]])
    np.testing.assert_allclose(one.variance, [0.009])
    assert len(merged(pair, 0.5)) == 2


def test_a_dense_line_does_not_melt_into_one():
    line = Soundings(np.column_stack([np.arange(10.0), np.zeros(10)]), np.arange(10.0), np.full(10, 0.04))
    # 1 and 2 join 0; 3 is too far from 0, so 4 and 5 join 3; and so on
    thinned = merged(line, 2.0)
    np.testing.assert_allclose(thinned.elevation, [1, 4, 7, 9])


def test_what_cannot_be_soundings_is_refused():
    places, bed, error = np.arange(24.0).reshape(12, 2), np.arange(12.0), np.full(12, 0.1)
    with pytest.raises(ValueError, match=r"^soundings: found places of shape \(12, 2\), elevations of shape \(11,\)"):
        checked_soundings(places, bed[:11], error)
    with pytest.raises(ValueError, match=r"^soundings: found 9\. At least 10 are needed to tell how the bed varies"):
        checked_soundings(places[:9], bed[:9], error[:9])
    with pytest.raises(ValueError, match=r"elevation of 1 of 12 soundings is not a number, the first of them number 7"):
        checked_soundings(places, np.where(bed == 7, np.nan, bed), error)
    with pytest.raises(ValueError, match=r"^error of soundings: found 0 m\. It must be above 0 m\. Give the standard"):
        checked_soundings(places, bed, error * (bed > 0))
