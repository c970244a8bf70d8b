"""Edges cut at grid lines: nothing is lost, and each piece lies in one cell."""

import numpy as np
from hypothesis import given, settings
from hypothesis import strategies as st

from layers.pieces import add_cover, pieces, settled


def test_an_edge_is_cut_at_every_line_it_crosses():
    middle, vector, edge = pieces(np.array([[0.5, 0.5]]), np.array([[2.5, 0.5]]), (1, 4))
    np.testing.assert_allclose(middle, [[0.75, 0.5], [1.5, 0.5], [2.25, 0.5]])
    np.testing.assert_allclose(vector, [[0.5, 0], [1, 0], [0.5, 0]])
    assert list(edge) == [0, 0, 0]


def test_an_edge_through_a_corner_is_not_cut_twice():
    middle, _, _ = pieces(np.array([[0.0, 0.0]]), np.array([[2.0, 2.0]]), (2, 2))
    np.testing.assert_allclose(middle, [[0.5, 0.5], [1.5, 1.5]])


@settings(max_examples=100, deadline=None)
@given(st.lists(st.tuples(*[st.floats(-8, 12)] * 4), min_size=1, max_size=6))
def test_pieces_add_up_to_their_edges_and_stay_in_their_cells(ends):
    ends = np.array(ends)
    start, end = ends[:, :2], ends[:, 2:]
    middle, vector, edge = pieces(start, end, (5, 4))
    total = np.zeros_like(start)
    np.add.at(total, edge, vector)
    np.testing.assert_allclose(total, end - start, atol=1e-12)
    cell = np.floor(middle)
    inside = ((cell >= 0) & (cell < (4, 5))).all(axis=1)
    for tip in (middle - vector / 2, middle + vector / 2):
        assert (tip[inside] >= cell[inside] - 1e-9).all()
        assert (tip[inside] <= cell[inside] + 1 + 1e-9).all()


def test_a_ring_leaves_its_inside_and_nothing_else():
    corners = np.array([[1.0, 1.0], [1.0, 2.0], [3.0, 2.0], [3.0, 1.0], [1.0, 1.0]])  # down its western side
    cover = np.zeros((3, 5))
    add_cover(cover, corners[:-1], corners[1:], np.ones(4))
    np.testing.assert_allclose(settled(cover), [[0, 0, 0, 0], [0, 1, 1, 0], [0, 0, 0, 0]], atol=1e-15)
    add_cover(cover, corners[1:], corners[:-1], np.ones(4))
    np.testing.assert_allclose(settled(cover), 0, atol=1e-15)
