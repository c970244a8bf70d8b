"""Stations on the water: a place on the edge of a cell, and each refusal with its sentence."""

import numpy as np
import pytest

from layers.starts import start_at
from layers.station_starts import checked_stations, joined, station_starts, wet_cell
from tests.grids import toy_grid

GRID = toy_grid(4, 5, cell=10)


def test_a_place_on_the_edge_of_land_belongs_to_the_water_beside_it():
    water = np.zeros(GRID.shape, bool)
    water[1, 2] = True
    west, _, _, north = GRID.bounds
    for x, y in ((20, 15), (30, 15), (25, 10), (25, 20), (30, 20), (25, 15)):
        assert wet_cell(start_at(west + x, north - y, water, GRID, 5.0), water) == (1, 2)
    water[:] = False
    water[3, 4] = True  # the last cell, seen from the grid's own corner
    assert wet_cell(start_at(west + 50, north - 40, water, GRID, 5.0), water) == (3, 4)


def test_starts_come_in_the_order_asked_for_and_join_in_it():
    places = np.array([[GRID.x[0], GRID.y[0]], [GRID.x[3], GRID.y[2]], [GRID.x[1], GRID.y[3]]])
    water = np.ones(GRID.shape, bool)
    starts = station_starts(places, np.array([2, 0, 1]), water, GRID, 30.0)
    assert joined(starts).cells == [(3, 1), (0, 0), (2, 3)]


def test_refusals_say_what_was_found():
    places = [[0, 0], [1, 1]]
    with pytest.raises(ValueError, match=r"^stations: found 2 places and 3 values\. Give one value for each\.$"):
        checked_stations(places, [1, 2, 3], None)
    with pytest.raises(ValueError, match=r"^stations: found a coordinate or a value that is not a number\."):
        checked_stations([[0, np.nan], [1, 1]], [1, 2], None)
    with pytest.raises(ValueError, match=r"^stations: found a coordinate or a value that is not a number\."):
        checked_stations(places, [1, np.inf], None)
    with pytest.raises(ValueError, match=r"^noise: found shape \(3,\), the values have \(2,\)\. Give one for each\.$"):
        checked_stations(places, [1, 2], [1, 2, 3])
    with pytest.raises(ValueError, match=r"^noise: found -1 at station 1\. Give a standard deviation of 0 or more\.$"):
        checked_stations(places, [1, 2], [0, -1])
    with pytest.raises(ValueError, match=r"^noise: found nan at station 0\. Give a standard deviation of 0 or more\.$"):
        checked_stations(places, [1, 2], [np.nan, 1])


def test_noise_may_be_missing_where_the_value_is_and_is_shared_by_the_sets():
    _, sets, noises = checked_stations([[0, 0], [1, 1]], [[1, np.nan], [2, 3]], [[0.1, np.nan], [0.2, 0.3]])
    assert sets.shape == noises.shape == (2, 2)
    assert checked_stations([[0, 0], [1, 1]], [[1, 2], [2, 3]], [0.1, 0.4])[2].tolist() == [[0.1, 0.4]] * 2
