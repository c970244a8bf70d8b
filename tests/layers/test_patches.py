"""Patches: by hand, against scipy's labelling of connected cells, and the laws of an exchange."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.ndimage import label, mean

from layers.patches import patches_of


def water_of(seed: int, shape=(17, 22), share=0.7) -> np.ndarray:
    water = np.random.default_rng(seed).random(shape) < share
    water.flat[0] = True
    return water


def test_a_dyke_and_a_mouth_by_hand():
    water = np.array(
        [
            [1, 1, 0, 1, 1, 1],
            [1, 1, 0, 1, 1, 1],
            [1, 1, 1, 1, 0, 1],
        ],
        bool,
    )
    patches = patches_of(water, cell=10, most=3)
    assert patches.block == 3
    # the dyke in column 2 leaves one piece in the western block, because the mouth below it lies in the same block
    np.testing.assert_array_equal(patches.numbers, np.where(water, [[0, 0, 0, 1, 1, 1]] * 3, -1))
    np.testing.assert_array_equal(patches.areas, [700, 800])
    # one shared side, in row 2; centres at mean rows and columns
    down, across = 8 / 7 - 7 / 8, (3 * 3 + 2 * 4 + 3 * 5) / 8 - (3 * 0 + 3 * 1 + 2) / 7
    passes = 1 / np.hypot(down, across)
    np.testing.assert_allclose(patches.exchange.toarray(), [[passes, -passes], [-passes, passes]])


def test_blocks_of_one_cell_give_the_five_point_operator():
    exchange = patches_of(np.ones((3, 3), bool), cell=50).exchange.toarray()
    np.testing.assert_array_equal(np.diag(exchange), [2, 3, 2, 3, 4, 3, 2, 3, 2])
    np.testing.assert_array_equal(exchange[4], [0, -1, 0, -1, 4, -1, 0, -1, 0])


@given(seed=st.integers(0, 10**6), most=st.integers(5, 300))
@settings(max_examples=30, deadline=None)
def test_patches_are_the_pieces_that_scipy_labels_in_each_block(seed, most):
    water = water_of(seed)
    patches = patches_of(water, cell=20, most=most)
    found = 0
    for top in range(0, water.shape[0], patches.block):
        for left in range(0, water.shape[1], patches.block):
            window = (slice(top, top + patches.block), slice(left, left + patches.block))
            pieces, count = label(water[window])
            found += count
            pairs = np.unique(np.stack([pieces[water[window]], patches.numbers[window][water[window]]]), axis=1)
            assert pairs.shape[1] == count == len(np.unique(pairs[1]))
    assert found == len(patches) == patches.numbers.max() + 1
    rows = np.broadcast_to(np.arange(water.shape[0])[:, None], water.shape)
    np.testing.assert_allclose(patches.rows, mean(rows, patches.numbers, np.arange(found)))
    np.testing.assert_allclose(patches.means(rows.astype(float)), patches.rows)


@given(seed=st.integers(0, 10**6), most=st.integers(5, 400))
@settings(max_examples=30, deadline=None)
def test_bodies_of_water_are_those_of_the_cells_whatever_the_blocks(seed, most):
    water = water_of(seed, share=0.55)
    patches = patches_of(water, cell=20, most=most)
    pieces, count = label(water)
    assert patches.bodies.max() + 1 == count
    pairs = np.unique(np.stack([pieces[water], patches.bodies[patches.numbers[water]]]), axis=1)
    assert pairs.shape[1] == count
    whole = patches.exchange
    assert abs(whole - whole.T).max() == 0
    np.testing.assert_allclose(whole.sum(axis=1), 0, atol=1e-12)


def test_there_are_no_more_patches_than_asked_for_and_no_fewer_than_needed():
    patches = patches_of(np.ones((200, 200), bool), cell=5, most=1000)
    assert patches.block == 7  # blocks of 6 would be 34 x 34
    assert len(patches) == 29**2


def test_no_water_is_refused():
    with pytest.raises(ValueError, match=r"^water: found no cell of water\."):
        patches_of(np.zeros((3, 3), bool), cell=5)
