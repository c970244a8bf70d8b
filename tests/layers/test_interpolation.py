"""Station fields: by hand, against scipy's distances, and the laws of a weighted mean."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.spatial.distance import cdist

from layers.interpolation import through_water_mean
from tests.grids import toy_grid


def places(grid, *cells):
    """Centres of cells given as (row, column)."""
    return np.array([[grid.x[column], grid.y[row]] for row, column in cells])


def test_three_stations_in_a_channel_by_hand():
    grid = toy_grid(1, 9, cell=10)
    water = np.ones(grid.shape, bool)
    field, error = through_water_mean(places(grid, (0, 0), (0, 4), (0, 8)), [0, 10, 30], water, grid, reach=50)
    # cell 2 is 20 m from the first two and 60 m from the third; cell 1 is 10 m and 30 m from them
    one, three = (1 / 10 - 1 / 50) ** 2, (1 / 30 - 1 / 50) ** 2
    assert field[0, 2] == pytest.approx(5)
    assert field[0, 1] == pytest.approx(10 * three / (one + three))
    assert field[0, [0, 4, 8]] == pytest.approx([0, 10, 30], abs=1e-4)
    # left out, the ends are estimated by the middle (10), and the middle by both ends alike (15)
    assert error == pytest.approx(np.sqrt((10**2 + 5**2 + 20**2) / 3))


def test_in_open_water_the_field_is_that_of_straight_distances():
    grid = toy_grid(30, 40, cell=25)
    rng = np.random.default_rng(2)
    stations = np.column_stack([rng.uniform(500_000, 501_000, 7), rng.uniform(7_770_000, 7_770_750, 7)])
    values = rng.uniform(5, 35, 7)
    field, error = through_water_mean(stations, values, np.ones(grid.shape, bool), grid, reach=600)
    centres = np.stack(np.meshgrid(grid.x, grid.y), axis=-1).reshape(-1, 2)
    with np.errstate(divide="ignore"):
        weights = np.maximum(1 / cdist(stations, centres) - 1 / 600, 0) ** 2
    expected = (values @ weights / weights.sum(axis=0)).reshape(grid.shape)
    np.testing.assert_allclose(field, expected, atol=0.02)  # positions are rounded to 1/1024 cell
    assert 0 < error < 30


def test_a_station_behind_a_wall_counts_by_the_way_round_it():
    grid = toy_grid(20, 21, cell=10)
    water = np.ones(grid.shape, bool)
    water[:18, 10] = False
    stations = places(grid, (0, 8), (0, 12))
    field, _ = through_water_mean(stations, [0, 1], water, grid, reach=1000)
    assert field[0, 9] < 0.01  # 30 m in a straight line from the second station, some 360 m through the water
    assert field[0, 11] > 0.99
    assert np.isnan(field[0, 10])


def test_no_station_within_reach_is_no_data():
    grid = toy_grid(1, 20, cell=10)
    water = np.ones(grid.shape, bool)
    field, error = through_water_mean(places(grid, (0, 2)), [7], water, grid, reach=35)
    np.testing.assert_array_equal(np.isfinite(field[0]), [column <= 5 for column in range(20)])
    assert (field[0, :6] == 7).all()
    assert np.isnan(error)


@given(seed=st.integers(0, 10**6), count=st.integers(1, 6), power=st.sampled_from([1.0, 2.0, 3.5]))
@settings(max_examples=25, deadline=None)
def test_the_field_stays_within_the_values_whatever_the_threads(seed, count, power):
    grid = toy_grid(15, 15, cell=20)
    rng = np.random.default_rng(seed)
    water = rng.random(grid.shape) < 0.8
    water.flat[:2] = True
    rows, columns = np.nonzero(water)
    chosen = rng.integers(len(rows), size=count)
    stations = places(grid, *zip(rows[chosen], columns[chosen], strict=True))
    values = rng.uniform(0, 40, count)
    field, error = through_water_mean(stations, values, water, grid, 130, power, workers=1)
    known = np.isfinite(field)
    assert not known[~water].any()
    assert (field[known] >= np.float32(values.min()) - 1e-5).all()
    assert (field[known] <= np.float32(values.max()) + 1e-5).all()
    again, same_error = through_water_mean(stations, values, water, grid, 130, power, workers=3)
    np.testing.assert_array_equal(again, field)
    np.testing.assert_array_equal(same_error, error)


def test_one_value_everywhere_stays_that_value_without_error():
    grid = toy_grid(10, 10, cell=20)
    stations = places(grid, (1, 1), (5, 5), (9, 2))
    field, error = through_water_mean(stations, [21.5] * 3, np.ones(grid.shape, bool), grid, 500)
    np.testing.assert_allclose(field, 21.5)
    assert error == pytest.approx(0, abs=1e-9)


def test_a_station_ashore_is_taken_to_the_water_beside_it():
    grid = toy_grid(1, 9, cell=10)
    water = np.array([[False] * 3 + [True] * 6])
    field, _ = through_water_mean(places(grid, (0, 1)), [4], water, grid, reach=100)
    assert (field[0, 3:] == 4).all()


def test_refusals_name_the_station():
    grid = toy_grid(1, 9, cell=10)
    water = np.array([[False] * 6 + [True] * 3])
    with pytest.raises(ValueError, match=r"^stations: no water within 30 m of station 1\. Check the coordinates"):
        through_water_mean(places(grid, (0, 7), (0, 0)), [1, 2], water, grid, 100)
    with pytest.raises(ValueError, match=r"^stations: found 2 places and 1 values\. Give one value for each\.$"):
        through_water_mean(places(grid, (0, 7), (0, 8)), [1], water, grid, 100)


def test_sets_of_values_give_what_each_gives_alone_and_a_gap_is_left_out():
    grid = toy_grid(3, 12, cell=10)
    water = np.ones(grid.shape, bool)
    stations = places(grid, (0, 1), (1, 6), (2, 10))
    sets = np.array([[1.0, 2.0, 4.0], [3.0, np.nan, 5.0]])
    fields, errors = through_water_mean(stations, sets, water, grid, reach=90)
    for values, field, error in zip(sets, fields, errors, strict=True):
        taken = np.isfinite(values)
        alone, missed = through_water_mean(stations[taken], values[taken], water, grid, reach=90)
        np.testing.assert_array_equal(field, alone)
        assert error == missed or (np.isnan(error) and np.isnan(missed))
