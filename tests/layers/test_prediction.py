"""Kriging algebra: against the textbook system with a Lagrange multiplier, scipy's normal density, and refitting."""

import numpy as np
import pytest
from scipy.linalg import block_diag, null_space
from scipy.spatial.distance import cdist
from scipy.stats import multivariate_normal

from layers.prediction import Prediction

VARIANCE = 2.5
GIVEN = np.ones(1)  # the ratio with which the noises are shares of the variance of the field


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
    }
    return Prediction(**parts), parts, towards


def by_lagrange(parts: dict, towards: np.ndarray, ratio: float = 1.0) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Value, variance and weights at places with the mean of group 0, by the system with a multiplier for each mean."""
    covariance = VARIANCE * (parts["correlation"] + ratio * np.diag(parts["noise"]))
    means = np.eye(2)[parts["groups"]]
    system = np.block([[covariance, means], [means.T, np.zeros((2, 2))]])
    right = np.vstack([VARIANCE * towards.T, np.repeat([[1.0], [0.0]], len(towards), axis=1)])
    solved = np.linalg.solve(system, right)
    return parts["values"] @ solved[:-2], VARIANCE - (solved * right).sum(axis=0), solved[:-2]


@pytest.mark.parametrize("seed", range(4))
def test_value_and_variance_are_those_of_the_system_with_lagrange_multipliers(seed):
    prediction, parts, towards = made(seed)
    value, variance = prediction.at(towards, np.zeros(len(towards), int), GIVEN, np.array([VARIANCE]))
    expected, of_error, weights = by_lagrange(parts, towards)
    np.testing.assert_allclose(value, expected, atol=1e-6)
    np.testing.assert_allclose(variance, of_error, atol=1e-6)
    assert np.abs(weights[9:]).max() < 1e-12  # the other group has no say


def test_over_several_ratios_the_variance_is_their_mean_and_how_far_the_values_differ():
    prediction, parts, towards = made(7)
    ratios, shares = np.array([0.01, 1.0, 30.0]), np.array([0.2, 0.5, 0.3])
    group = np.zeros(len(towards), int)
    value, variance = prediction.at(towards, group, ratios, VARIANCE * np.array([1.0, 2.0, 4.0]), shares)
    values, variances, _ = zip(*(by_lagrange(parts, towards, ratio) for ratio in ratios), strict=True)
    mean = shares @ np.array(values)
    of_each = np.array([1.0, 2.0, 4.0])[:, None] * variances  # weights do not depend on the variance, errors grow by it
    np.testing.assert_allclose(value, mean, atol=1e-6)
    np.testing.assert_allclose(variance, shares @ (of_each + (values - mean) ** 2), atol=1e-6)
    assert (shares @ (values - mean) ** 2).max() > 0.01


@pytest.mark.parametrize("seed", range(3))
def test_the_restricted_likelihood_is_the_density_of_what_the_means_leave(seed):
    _, parts, _ = made(seed)
    contrasts = null_space(np.eye(2)[parts["groups"]].T)

    def both(power: float, ratio: float, variance: float) -> tuple[float, float]:
        changed = parts | {"correlation": parts["correlation"] ** power}
        whole = variance * (changed["correlation"] + ratio * np.diag(parts["noise"]))
        density = multivariate_normal(cov=contrasts.T @ whole @ contrasts).logpdf(contrasts.T @ parts["values"])
        prediction, ratios = Prediction(**changed), np.array([ratio])
        spread = prediction.freedom * np.log(variance) + prediction.squares(ratios)[0] / variance
        return -0.5 * (prediction.determinants(ratios)[0] + spread), density

    ours, theirs = np.transpose([both(1, 1, 1), both(0.5, 1, 1), both(2, 7, 1), both(1, 0.2, 6), both(1, 1e-3, 1)])
    np.testing.assert_allclose(np.diff(ours), np.diff(theirs), atol=1e-6)


def test_leaving_one_out_is_refitting_without_it():
    prediction, parts, _ = made(3)
    ratios = np.array([0.3, 1.0])
    residuals, shares = prediction.left_out(ratios)
    for number in range(13):
        rest = np.delete(np.arange(13), number)
        without = {name: parts[name][rest] for name in ("noise", "groups", "values")}
        other = Prediction(correlation=parts["correlation"][np.ix_(rest, rest)], **without)
        towards, group = parts["correlation"][[number]][:, rest], parts["groups"][[number]]
        for ratio, residual, share in zip(ratios, residuals[:, number], shares[:, number], strict=True):
            value, variance = other.at(towards, group, np.array([ratio]), np.ones(1))
            assert residual == pytest.approx(parts["values"][number] - value[0], abs=1e-6)
            assert share == pytest.approx(variance[0] + ratio * parts["noise"][number], abs=1e-6)


def test_the_only_station_of_a_group_cannot_be_left_out():
    lone = {"correlation": np.eye(3) + 0.5 * block_diag(1 - np.eye(2), 0), "noise": np.full(3, 0.1)}
    residual, share = Prediction(**lone, groups=np.array([0, 0, 1]), values=np.arange(3.0)).left_out(GIVEN)
    np.testing.assert_array_equal(np.isnan(residual), [[False, False, True]])
    np.testing.assert_array_equal(np.isnan(share), [[False, False, True]])


def test_values_without_noise_are_met():
    prediction, parts, _ = made(1)
    value, variance = prediction.at(parts["correlation"], parts["groups"], np.zeros(1), np.array([VARIANCE]))
    np.testing.assert_allclose(value, parts["values"], atol=1e-5)
    assert variance.max() < 1e-6


def test_a_variance_that_is_not_known_gives_values_and_no_errors():
    prediction, parts, towards = made(1)
    value, variance = prediction.at(towards, np.zeros(5, int), GIVEN, np.array([np.nan]))
    np.testing.assert_allclose(value, by_lagrange(parts, towards)[0], atol=1e-6)
    assert np.isnan(variance).all()
