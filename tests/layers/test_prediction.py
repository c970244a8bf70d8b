"""Kriging algebra: against the textbook system with a Lagrange multiplier, scipy's normal density, and refitting."""

import numpy as np
import pytest
from scipy.linalg import block_diag, null_space
from scipy.spatial.distance import cdist
from scipy.stats import multivariate_normal

from layers.prediction import Prediction, fitted


def made(seed: int, count: int = 9, others: int = 5):
    """Two groups of stations and places with a correlation of their own, none between the groups."""
    rng = np.random.default_rng(seed)
    places = [rng.uniform(0, 3, (count, 2)), rng.uniform(0, 3, (4, 2))]
    elsewhere = rng.uniform(0, 3, (others, 2))
    correlation = block_diag(*(np.exp(-cdist(at, at)) for at in places))
    towards = np.hstack([np.exp(-cdist(elsewhere, places[0])), np.zeros((others, 4))])
    groups = np.repeat([0, 1], [count, 4])
    parts = {
        "correlation": correlation,
        "noise": rng.uniform(0.01, 0.3, count + 4),
        "groups": groups,
        "values": rng.normal(5, 2, count + 4) + 3 * groups,
        "variance": 2.5,
    }
    return Prediction(**parts), parts, towards


@pytest.mark.parametrize("seed", range(4))
def test_value_and_error_are_those_of_the_system_with_lagrange_multipliers(seed):
    prediction, parts, towards = made(seed)
    value, error = prediction.at(towards, np.zeros(len(towards), int))
    covariance = parts["variance"] * (parts["correlation"] + np.diag(parts["noise"]))
    means = np.eye(2)[parts["groups"]]
    system = np.block([[covariance, means], [means.T, np.zeros((2, 2))]])
    for one, expected_value, expected_error in zip(towards, value, error, strict=True):
        right = np.concatenate([parts["variance"] * one, [1, 0]])
        solved = np.linalg.solve(system, right)
        assert solved[:-2] @ parts["values"] == pytest.approx(expected_value, abs=1e-6)
        assert np.sqrt(parts["variance"] - solved @ right) == pytest.approx(expected_error, abs=1e-6)
        assert np.abs(solved[9:-2]).max() < 1e-12  # the other group has no say


@pytest.mark.parametrize("seed", range(3))
def test_the_restricted_likelihood_is_the_density_of_what_the_means_leave(seed):
    _, parts, _ = made(seed)
    contrasts = null_space(np.eye(2)[parts["groups"]].T)

    def both(length: float, noise: float, variance: float) -> tuple[float, float]:
        changed = parts | {"correlation": parts["correlation"] ** length, "noise": np.full(13, noise)}
        whole = variance * (changed["correlation"] + noise * np.eye(13))
        density = multivariate_normal(cov=contrasts.T @ whole @ contrasts).logpdf(contrasts.T @ parts["values"])
        return Prediction(**changed).likelihood(variance), density

    ours, theirs = np.transpose([both(1, 0.1, 1), both(0.5, 0.1, 1), both(2, 0.7, 1), both(1, 0.1, 6)])
    np.testing.assert_allclose(np.diff(ours), np.diff(theirs), atol=1e-6)


def test_leaving_one_out_is_refitting_without_it():
    prediction, parts, _ = made(3)
    residual, expected = prediction.left_out()
    for number in range(13):
        rest = np.delete(np.arange(13), number)
        without = {name: parts[name][rest] for name in ("noise", "groups", "values")}
        other = Prediction(correlation=parts["correlation"][np.ix_(rest, rest)], variance=parts["variance"], **without)
        value, error = other.at(parts["correlation"][[number]][:, rest], parts["groups"][[number]])
        assert residual[number] == pytest.approx(parts["values"][number] - value[0], abs=1e-6)
        own = parts["variance"] * parts["noise"][number]
        assert expected[number] == pytest.approx(np.sqrt(error[0] ** 2 + own), abs=1e-6)


def test_the_only_station_of_a_group_cannot_be_left_out():
    lone = {"correlation": np.eye(3) + 0.5 * block_diag(1 - np.eye(2), 0), "noise": np.full(3, 0.1)}
    residual, error = Prediction(**lone, groups=np.array([0, 0, 1]), values=np.arange(3.0), variance=1.0).left_out()
    np.testing.assert_array_equal(np.isnan(residual), [False, False, True])
    np.testing.assert_array_equal(np.isnan(error), [False, False, True])


def test_known_noise_stays_known_and_the_variance_is_fitted_to_it():
    rng = np.random.default_rng(5)
    places = rng.uniform(0, 20, (120, 2))
    correlation = np.exp(-cdist(places, places))
    noise = rng.uniform(0.2, 0.6, 120)
    values = np.linalg.cholesky(correlation) @ rng.normal(0, 2, 120) + noise * rng.normal(0, 1, 120)
    ratios = 10 ** np.arange(-4, 2, 0.05)
    _, prediction = fitted(correlation, np.zeros(120, int), values, noise, ratios)
    np.testing.assert_allclose(np.sqrt(prediction.variance * prediction.noise), noise)
    assert np.sqrt(prediction.variance) == pytest.approx(2, rel=0.2)
    _, unknown = fitted(correlation, np.zeros(120, int), values, None, ratios)
    assert np.sqrt(unknown.variance) == pytest.approx(2, rel=0.25)


def test_values_without_noise_are_met():
    _, parts, _ = made(1)
    _, prediction = fitted(parts["correlation"], parts["groups"], parts["values"], np.zeros(13), np.array([0.1, 1]))
    value, error = prediction.at(parts["correlation"], parts["groups"])
    np.testing.assert_allclose(value, parts["values"], atol=1e-5)
    assert error.max() < 1e-3
