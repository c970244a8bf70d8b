"""Blending: laws of an average, and a ramp in open water that must come out even."""

import numpy as np
from hypothesis import given, settings
from hypothesis import strategies as st

from layers.blending import blended
from layers.patches import patches_of


@given(seed=st.integers(0, 10**6), most=st.sampled_from([20, 60, 10**6]), share=st.floats(0.5, 1))
@settings(max_examples=30, deadline=None)
def test_the_field_stays_within_the_values_whatever_the_threads(seed, most, share):
    rng = np.random.default_rng(seed)
    water = rng.random((31, 40)) < share
    water.flat[0] = True
    patches = patches_of(water, 10.0, most=most)
    values = rng.uniform(-3, 8, len(patches))
    field = blended(values, patches, workers=1)
    assert (field[~water] == 0).all()
    assert field[water].min() >= values.min()
    assert field[water].max() <= values.max()
    np.testing.assert_array_equal(blended(values, patches, workers=3), field)
    np.testing.assert_allclose(blended(np.full(len(patches), 4.2), patches)[water], 4.2)


def test_a_ramp_over_open_water_comes_out_even():
    patches = patches_of(np.ones((100, 100), bool), 10.0, most=100)
    assert patches.block == 10
    field = blended(patches.columns, patches)
    inner = (slice(None), slice(30, 70))  # away from the ends, where the ramp levels off
    ramp = np.broadcast_to(np.arange(100.0), (100, 100))
    # the step from block to block is 10
    assert np.abs(field - ramp)[inner].max() < 0.06
    slope = np.diff(field, axis=1)[inner]
    assert slope.min() > 0.97
    assert slope.max() < 1.04


def test_a_smooth_hill_keeps_its_height_and_the_means_of_its_patches():
    rows, columns = np.mgrid[:120, :120]
    hill = np.exp(-((rows - 57.0) ** 2 + (columns - 63.0) ** 2) / (2 * 25**2))
    patches = patches_of(np.ones(hill.shape, bool), 10.0, most=400)
    assert patches.block == 6
    field = blended(patches.means(hill), patches)
    assert np.abs(field - hill).max() < 0.015  # in the corners, where diffusion ends level
    assert np.abs(field - hill)[20:-20, 20:-20].max() < 0.006
    assert np.abs(patches.means(field) - patches.means(hill)).max() < 0.004


def test_nothing_is_carried_over_a_dyke():
    water = np.ones((40, 41), bool)
    water[:, 17] = False
    patches = patches_of(water, 10.0, most=50)
    assert patches.block > 1
    columns = np.broadcast_to(np.arange(41), water.shape)
    west = patches.means((columns < 17).astype(float))
    np.testing.assert_allclose(blended(west, patches)[water], (columns < 17)[water])


def test_cells_as_patches_keep_their_values_to_the_bit():
    water = np.array([[True, False, True], [True, True, True]])
    values = np.arange(5) + 0.1
    np.testing.assert_array_equal(blended(values, patches_of(water, 10.0))[water], values)
