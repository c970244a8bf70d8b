"""Loads spread over the water: by hand, and the law that nothing is lost."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from layers.nutrients import spread_load
from tests.grids import toy_grid


def test_a_load_at_the_end_of_a_channel_by_hand():
    grid = toy_grid(1, 6, cell=100)
    water = np.array([[True] * 5 + [False]])
    mouth = [[grid.x[0], grid.y[0]]]
    found = spread_load(mouth, [100], water, grid, reach=400)
    # weights 1, 3/4, 2/4, 1/4, 0 of 2.5 in all; a cell has 1 ha
    np.testing.assert_allclose(found, [[40, 30, 20, 10, 0, np.nan]], rtol=1e-6)


@given(
    seed=st.integers(0, 10**6),
    count=st.integers(1, 5),
    reach=st.sampled_from([3.0, 90.0, 500.0]),
    cell=st.sampled_from([10, 40]),
)
@settings(max_examples=40, deadline=None)
def test_what_goes_in_is_in_the_water(seed, count, reach, cell):
    grid = toy_grid(20, 25, cell=cell)
    rng = np.random.default_rng(seed)
    water = rng.random(grid.shape) < 0.7
    water.flat[0] = True
    rows, columns = np.nonzero(water)
    chosen = rng.integers(len(rows), size=count)
    centres = np.column_stack([grid.x[columns[chosen]], grid.y[rows[chosen]]])
    outlets = centres + rng.uniform(-0.4, 0.4, (count, 2)) * cell
    loads = rng.uniform(0, 5000, count)
    found = spread_load(outlets, loads, water, grid, reach)
    assert np.isnan(found[~water]).all()
    assert (found[water] >= 0).all()
    assert found[water].astype(float).sum() * grid.cell_hectares == pytest.approx(loads.sum(), rel=1e-6)
    np.testing.assert_array_equal(spread_load(outlets, loads, water, grid, reach, workers=3), found)


def test_nothing_gets_over_land():
    grid = toy_grid(10, 10, cell=50)
    water = np.ones(grid.shape, bool)
    water[:, 4] = False
    found = spread_load([[grid.x[1], grid.y[5]]], [10], water, grid, reach=2000)
    assert (found[:, 5:] == 0).all()
    assert (found[:, :4] > 0).all()


def test_without_outlets_the_water_gets_nothing():
    grid = toy_grid(2, 2)
    assert spread_load(np.zeros((0, 2)), [], np.array([[True, False]] * 2), grid, 500)[:, 0].tolist() == [0, 0]


def test_refusals_name_the_outlet():
    grid = toy_grid(1, 9, cell=10)
    water = np.array([[False] * 6 + [True] * 3])
    inland = [[grid.x[7], grid.y[0]], [grid.x[0], grid.y[0]]]
    with pytest.raises(ValueError, match=r"^outlets: no water within 30 m of outlet 1\. Check the coordinates"):
        spread_load(inland, [1, 2], water, grid, 100)
    with pytest.raises(ValueError, match=r"^outlets: the load of outlet 1 is -2\. A load is 0 or more\.$"):
        spread_load(inland, [1, -2], water, grid, 100)
    with pytest.raises(ValueError, match=r"^outlets: found 2 places and 1 loads\. Give one load for each\.$"):
        spread_load(inland, [1], water, grid, 100)
