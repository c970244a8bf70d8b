"""Covariance over the water: the closed form of the Matern field, a dense inverse, and what land does to it."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.special import k1

from layers.covariance import correlation_among, own_variance, water_correlation, water_covariance
from layers.patches import patches_of

ALL = 10**9


def closed_form(distance: np.ndarray, length: float) -> np.ndarray:
    """Matern covariance with nu = 1 of (kappa2 - Laplace) u = white noise in the plane, from memory (Whittle 1954)."""
    kappa = np.sqrt(8) / length
    scaled = kappa * np.asarray(distance, float)
    with np.errstate(invalid="ignore"):
        return np.where(scaled > 0, scaled * k1(scaled), 1.0) / (4 * np.pi * kappa**2)


def misfit(cells_in_range: int) -> tuple[float, float]:
    """Greatest misfit of covariance from a quarter to one and a half ranges, and of the variance; over the variance."""
    cell, across = 1000 / cells_in_range, 8 * cells_in_range + 1
    patches = patches_of(np.ones((across, across), bool), cell, most=ALL)
    middle = across // 2
    centre = patches.numbers[middle, middle]
    found = water_covariance(patches, np.array([centre]), 1000.0)[:, 0]
    rows, columns = np.divmod(np.arange(len(patches)), across)
    distance = np.hypot(rows - middle, columns - middle) * cell
    near = (distance >= 250) & (distance <= 1500)
    variance = closed_form(0, 1000)
    return np.abs(found - closed_form(distance, 1000))[near].max() / variance, abs(found[centre] / variance - 1)


def test_in_open_water_the_covariance_is_materns_the_closer_the_smaller_the_cells():
    coarse, fine = misfit(8), misfit(16)
    # of second order, but for a logarithm at the place itself
    assert fine[0] < 0.3 * coarse[0]
    assert fine[1] < 0.4 * coarse[1]
    assert fine[0] < 0.003
    assert fine[1] < 0.02


def test_at_the_range_the_correlation_is_about_014():
    assert closed_form(1000, 1000) / closed_form(0, 1000) == pytest.approx(0.14, abs=0.005)


@given(seed=st.integers(0, 10**6), share=st.floats(0.5, 1), length=st.floats(20, 2000), most=st.sampled_from([40, ALL]))
@settings(max_examples=25, deadline=None)
def test_variances_and_covariances_are_those_of_a_dense_inverse(seed, share, length, most):
    water = np.random.default_rng(seed).random((13, 15)) < share
    water.flat[0] = True
    patches = patches_of(water, 10.0, most=most)
    inverse = np.linalg.inv(8 / length**2 * np.diag(patches.areas) + patches.exchange.toarray())
    dense = inverse @ np.diag(patches.areas) @ inverse
    np.testing.assert_allclose(own_variance(patches, length), np.diag(dense), rtol=1e-8)
    places = np.arange(0, len(patches), 7)
    least = 1e-8 * dense.max()
    np.testing.assert_allclose(water_covariance(patches, places, length), dense[:, places], atol=least)
    deviation = np.sqrt(np.diag(dense))
    scaled = dense / np.outer(deviation, deviation)
    np.testing.assert_allclose(water_correlation(patches, places, length), scaled[:, places], atol=1e-7)
    among = correlation_among(patches, places, length)
    np.testing.assert_allclose(among, scaled[np.ix_(places, places)], atol=1e-7)


def test_patches_of_many_cells_tell_the_covariance_of_the_cells():
    water = np.ones((90, 90), bool)
    fine, coarse = patches_of(water, 10.0, most=ALL), patches_of(water, 10.0, most=900)
    assert coarse.block == 3
    place = (43, 40)  # the middle of a block
    cells = water_covariance(fine, np.array([fine.numbers[place]]), 300.0)[:, 0]
    pieces = water_covariance(coarse, np.array([coarse.numbers[place]]), 300.0)[:, 0]
    by_cells = coarse.means(cells.reshape(water.shape))
    misfit_of_each = np.abs(pieces - by_cells) / cells.max()
    own = coarse.numbers[place]
    assert misfit_of_each[own] < 0.06  # ten blocks in the range: as cells of that size would give
    assert np.delete(misfit_of_each, own).max() < 0.025


def test_water_behind_a_dyke_has_no_covariance_and_behind_a_spit_only_little():
    water = np.ones((21, 21), bool)
    water[:, 10] = False
    closed = patches_of(water, 10.0, most=ALL)
    assert water_covariance(closed, closed.numbers[[4], [9]], 100.0)[closed.numbers[4, 11], 0] == 0
    water[20, 10] = True
    mouth = patches_of(water, 10.0, most=ALL)
    west, east = mouth.numbers[4, 9], mouth.numbers[4, 11]
    own = own_variance(mouth, 100.0)
    correlation = water_covariance(mouth, np.array([west]), 100.0)[east, 0] / np.sqrt(own[west] * own[east])
    assert 0 < correlation < 0.01
    straight = closed_form(20, 100.0) / closed_form(0, 100.0)
    assert straight > 0.75
