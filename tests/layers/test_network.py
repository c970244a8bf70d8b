"""Coarse networks written out by hand: what adds up, what is halved, and what is never joined."""

import numpy as np

from layers.exchange import exchanges_of
from layers.faces import Faces
from layers.network import ALONE, coarser, network_of


def faces(water: np.ndarray, conductance: float, eastward: float = 0.0) -> Faces:
    """Faces with one conductance and discharge along all rows, 3 m3/s down the columns, none to the outside."""
    across = np.zeros((water.shape[0], water.shape[1] + 1))
    across[:, 1:-1] = water[:, 1:] & water[:, :-1]
    down = np.zeros((water.shape[0] + 1, water.shape[1]))
    down[1:-1] = water[1:] & water[:-1]
    return Faces(
        conductance_x=conductance * across,
        conductance_y=3.0 * down,
        discharge_x=eastward * across,
        discharge_y=np.zeros(down.shape),
        removal=0.5 * water,
    )


def coarse(water: np.ndarray, *given: float):
    """Coarse network and piece of each water cell."""
    passed = exchanges_of(faces(water, *given))
    return coarser(network_of(passed, np.flatnonzero(passed.total.ravel())))


def test_two_blocks_by_hand():
    network, piece = coarse(np.ones((2, 4), bool), 3.0)
    np.testing.assert_array_equal(piece, [0, 0, 1, 1, 0, 0, 1, 1])
    # two faces of 3 m3/s add up to 6 and are halved; four cells that remove 0.5 m3/s each
    np.testing.assert_array_equal(network.starts, [0, 1, 2])
    np.testing.assert_array_equal(network.neighbour, [1, 0])
    np.testing.assert_allclose(network.sent, [3, 3], rtol=1e-15)
    np.testing.assert_allclose(network.received, [3, 3], rtol=1e-15)
    np.testing.assert_allclose(network.lost, [2, 2], rtol=1e-14)
    np.testing.assert_allclose(network.total, [5, 5], rtol=1e-14)


def test_discharge_adds_up_and_nothing_comes_back_without_dispersion():
    network, _ = coarse(np.ones((2, 4), bool), 0.0, 2.0)
    # two faces of 2 m3/s. Half of their spreading of 1 would be 1, but a discharge of 4 needs 2: 2 + 2 sent, 2 - 2 back
    np.testing.assert_allclose(network.sent, [4, 0], atol=1e-15)
    np.testing.assert_allclose(network.received, [0, 4], atol=1e-15)


def test_opposite_discharges_cancel_but_still_spread():
    given = faces(np.ones((2, 4), bool), 0.0, 2.0)
    given.discharge_x[1] *= -1
    passed = exchanges_of(given)
    network, _ = coarser(network_of(passed, np.flatnonzero(passed.total.ravel())))
    # 2 sent over one face, 2 received over the other: no net discharge, and half of the spreading of 2 * 1 is left
    np.testing.assert_allclose(network.sent, [1, 1], rtol=1e-15)
    np.testing.assert_allclose(network.received, [1, 1], rtol=1e-15)


def test_what_land_parts_is_not_joined():
    # a dyke in the third column: its block holds water of the east only
    dyke = np.array([[1, 1, 0, 1, 1], [1, 1, 0, 1, 1]], bool)
    _, piece = coarse(dyke, 1.0)
    np.testing.assert_array_equal(piece, [0, 0, 1, 2, 0, 0, 1, 2])
    # two cells that touch at a corner, each with a neighbour outside the block
    corner = np.array([[0, 0, 1, 0], [0, 1, 1, 0], [1, 0, 0, 0], [1, 0, 0, 0]], bool)
    _, piece = coarse(corner, 1.0)
    np.testing.assert_array_equal(piece, [0, 1, 0, 2, 2])


def test_a_cell_alone_is_left_out():
    network, piece = coarse(np.array([[1, 0, 1, 1]], bool), 1.0)
    np.testing.assert_array_equal(piece, [ALONE, 0, 0])
    np.testing.assert_allclose(network.total, [1.0])


def test_two_basins_within_one_large_block_stay_apart():
    water = np.ones((8, 9), bool)
    water[:, 5] = False
    passed = exchanges_of(faces(water, 1.0))
    network = network_of(passed, np.flatnonzero(passed.total.ravel()))
    for _ in range(3):
        network, _ = coarser(network)
    # columns 0 to 4 and 6 to 7 fall into one block of eight, column 8 into another: two pieces in the first, and faces
    # only between the two east of the dyke
    np.testing.assert_array_equal(network.column, [0, 0, 1])
    np.testing.assert_array_equal(network.starts, [0, 0, 1, 2])
    np.testing.assert_array_equal(network.neighbour, [2, 1])
    np.testing.assert_allclose(network.lost, [20, 8, 4], rtol=1e-13)
