import numpy as np
from hypothesis import given
from hypothesis import strategies as st

from layers.shore_outlets import joined_outlets


def shore(*columns):
    """Cells along one row."""
    return np.array([[0, column] for column in columns])


def test_small_outlets_join_the_nearest_along_the_shore_by_hand():
    areas = np.array([20.0, 2.0, 3.0, 1.0, 30.0])
    found = joined_outlets(shore(0, 1, 2, 3, 4), areas, 10.0)
    # the 1 joins the larger of two neighbours as near, the 30; the 2 the 20; the 3 is then as far from both: the 30
    assert found.tolist() == [0, 0, 4, 4, 4]


def test_a_shore_without_a_stream_gets_an_outlet_every_so_far():
    found = joined_outlets(shore(*range(100)), np.ones(100), 10.0)
    sizes = np.bincount(found)
    assert sizes[sizes > 0].min() >= 10
    assert len(sizes[sizes > 0]) >= 5  # not all of the shore in one place
    assert np.abs(np.arange(100) - found).max() <= 20


def test_an_islet_joins_the_nearest_shore_across_the_water():
    cells = np.array([[0, 0], [0, 1], [5, 1], [20, 20], [20, 21]])
    found = joined_outlets(cells, np.array([50.0, 60.0, 1.0, 70.0, 80.0]), 10.0)
    assert found.tolist() == [0, 1, 1, 3, 4]


def test_islets_only_have_one_outlet_at_the_largest():
    found = joined_outlets(np.array([[0, 0], [5, 5], [9, 0]]), np.array([1.0, 3.0, 2.0]), 10.0)
    assert found.tolist() == [1, 1, 1]


def test_nothing_is_joined_when_all_are_large_enough_and_none_is_needed():
    assert joined_outlets(shore(0, 1, 2), np.array([1.0, 2.0, 3.0]), 0.0).tolist() == [0, 1, 2]
    assert joined_outlets(np.empty((0, 2), int), np.empty(0), 5.0).tolist() == []


@given(st.lists(st.tuples(st.integers(0, 12), st.integers(0, 12)), min_size=1, max_size=60, unique=True), st.data())
def test_each_outlet_is_its_own_at_its_greatest_share_and_none_is_too_small(places, data):
    areas = np.array(data.draw(st.lists(st.floats(0.5, 20), min_size=len(places), max_size=len(places))))
    found = joined_outlets(np.array(places), areas, 15.0)
    np.testing.assert_array_equal(found[found], found)
    outlets = np.unique(found)
    sums = np.bincount(found, areas, len(areas))[outlets]
    assert len(outlets) == 1 or sums.min() >= 15.0 - 1e-9
    np.testing.assert_array_equal(found, joined_outlets(np.array(places), areas, 15.0))
