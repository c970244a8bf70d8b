"""Averaging over what is not known: against numerical integration, Student's t, and fitting again without a station."""

import numpy as np
import pytest
from scipy.integrate import quad
from scipy.linalg import null_space
from scipy.spatial.distance import cdist
from scipy.stats import multivariate_normal, t

import layers.averaging
from layers.averaging import average, merged
from layers.prediction import Prediction

RATIOS = np.array([0.05, 0.4, 2.0])
LENGTHS = (0.5, 2.0)


def made(seed: int, count: int = 8):
    """Stations in two groups, their correlations for two ranges, and a place in the first group for each range."""
    rng = np.random.default_rng(seed)
    at, place = rng.uniform(0, 3, (count, 2)), rng.uniform(0, 3, (1, 2))
    groups = np.repeat([0, 1], [count - 3, 3])
    together = groups[:, None] == groups
    correlations = [np.exp(-cdist(at, at) / length) * together for length in LENGTHS]
    towards = [np.exp(-cdist(place, at) / length) * (groups == 0) for length in LENGTHS]
    return groups, rng.normal(20, 4, count) + 5 * groups, correlations, towards


def all_of(correlations, groups, values, noise=None) -> list[Prediction]:
    noise = np.ones(len(values)) if noise is None else noise
    return [Prediction(correlation=one, noise=noise, groups=groups, values=values) for one in correlations]


def kriged(correlation, towards, ratio, groups, values):
    """Value and variance over that of the field, by the system with a Lagrange multiplier for each mean."""
    means = np.eye(2)[groups]
    covariance = correlation + ratio * np.eye(len(values))
    system = np.block([[covariance, means], [means.T, np.zeros((2, 2))]])
    right = np.concatenate([towards[0], [1, 0]])
    solved = np.linalg.solve(system, right)
    return values @ solved[:-2], 1 - solved @ right


@pytest.mark.parametrize("seed", [0, 1])
def test_shares_value_and_variance_are_those_of_integrating_over_the_variance(monkeypatch, seed):
    monkeypatch.setattr(layers.averaging, "FITTED_RATIOS", RATIOS)
    groups, values, correlations, towards = made(seed)
    contrasts = null_space(np.eye(2)[groups].T)
    left = contrasts.T @ values
    evidence, value, variance = (np.zeros((2, 3)) for _ in range(3))
    for number, correlation in enumerate(correlations):
        for place, ratio in enumerate(RATIOS):
            whole = contrasts.T @ (correlation + ratio * np.eye(8)) @ contrasts
            value[number, place], share = kriged(correlation, towards[number], ratio, groups, values)

            def density(log_variance: float, whole=whole) -> float:
                return multivariate_normal(cov=np.exp(log_variance) * whole).pdf(left) * 1e9

            def weighted(log_variance: float, density=density) -> float:
                return np.exp(log_variance) * density(log_variance)

            evidence[number, place] = quad(density, -2, 18, epsrel=1e-8)[0]
            expected = quad(weighted, -2, 18, epsrel=1e-8)[0]
            variance[number, place] = share * expected / evidence[number, place]
    shares = evidence / evidence.sum()
    found = average(all_of(correlations, groups, values), None)
    np.testing.assert_allclose(found.shares, shares, rtol=1e-6)
    mean, of_error = merged(
        (found.shares[number].sum(), *found.at(number, towards[number], np.zeros(1, int))) for number in (0, 1)
    )
    expected_mean = (shares * value).sum()
    assert mean[0] == pytest.approx(expected_mean, rel=1e-6)
    # the integral ends at the variance e18, beyond which Student's t with 6 degrees still has some 1e-9 of its own
    assert of_error[0] == pytest.approx((shares * (variance + (value - expected_mean) ** 2)).sum(), rel=1e-5)


def test_where_the_noise_is_known_shares_are_the_densities_of_what_the_means_leave(monkeypatch):
    monkeypatch.setattr(layers.averaging, "KNOWN_RATIOS", RATIOS)
    groups, values, correlations, _ = made(5)
    noise = np.linspace(0.5, 1.5, 8)
    found = average(all_of(correlations, groups, values, noise), 2.25)
    contrasts = null_space(np.eye(2)[groups].T)
    densities = np.array(
        [
            [
                multivariate_normal(
                    cov=contrasts.T @ (2.25 / ratio * correlation + 2.25 * np.diag(noise)) @ contrasts
                ).pdf(contrasts.T @ values)
                for ratio in RATIOS
            ]
            for correlation in correlations
        ]
    )
    np.testing.assert_allclose(found.shares, densities / densities.sum(), rtol=1e-6)
    np.testing.assert_allclose(found.variances, np.broadcast_to(2.25 / RATIOS, (2, 3)))
    number, ratio = found.likeliest
    assert found.shares[number].sum() == found.shares.sum(axis=1).max()
    assert found.shares[number, ratio] == found.shares[number].max()


def test_values_with_nothing_in_common_give_the_textbook_interval_for_a_new_value():
    values = np.array([4.0, 7.5, 6.1, 9.0, 5.2, 6.6])
    found = average(all_of([np.eye(6)], np.zeros(6, int), values, np.ones(6)), 0.0)
    value, variance = found.at(0, np.zeros((1, 6)), np.zeros(1, int))
    # Student's t with n - 1 degrees and scale s sqrt(1 + 1/n): any textbook of statistics, from memory
    foretold = t(df=5, loc=values.mean(), scale=values.std(ddof=1) * np.sqrt(1 + 1 / 6))
    assert value[0] == pytest.approx(foretold.mean())
    assert variance[0] == pytest.approx(foretold.var(), rel=1e-6)


@pytest.mark.parametrize("noise", [None, 1.44, 0.0])
def test_leaving_one_out_is_fitting_and_averaging_again_without_it(noise):
    groups, values, correlations, _ = made(2, count=9)
    shape = np.ones(9) if noise is None else np.linspace(0.6, 1.4, 9)
    residual, error = average(all_of(correlations, groups, values, shape), noise).left_out()
    for number in range(9):
        rest = np.delete(np.arange(9), number)
        among = [one[np.ix_(rest, rest)] for one in correlations]
        other = average(all_of(among, groups[rest], values[rest], shape[rest]), noise)
        parts = []
        for one, whole in enumerate(correlations):
            shares = other.shares[one]
            towards, group = whole[[number]][:, rest], groups[[number]]
            value, variance = other.at(one, towards, group)
            # what is left out is a value with its noise, not the field
            factor = 1.0 if noise else other.freedom / (other.freedom - 2)
            own = shares @ (factor * other.variances[one] * other.ratios * shape[number]) / shares.sum()
            parts.append((shares.sum(), value, variance + own))
        mean, of_error = merged(parts)
        assert residual[number] == pytest.approx(values[number] - mean[0], rel=1e-5)
        assert error[number] == pytest.approx(np.sqrt(of_error[0]), rel=1e-5)


def test_the_only_station_of_a_group_cannot_be_left_out_and_spoils_no_other():
    groups, values, correlations, _ = made(4)
    lone = np.append(groups, 2)
    wider = [np.pad(one, (0, 1)) + np.diag(np.arange(9) == 8) for one in correlations]
    residual, error = average(all_of(wider, lone, np.append(values, 3.0)), None).left_out()
    alone = average(all_of(correlations, groups, values), None).left_out()
    np.testing.assert_array_equal(np.isnan(residual), lone == 2)
    np.testing.assert_allclose(residual[:8], alone[0], rtol=1e-6)
    np.testing.assert_allclose(error[:8], alone[1], rtol=1e-6)


@pytest.mark.parametrize("noise", [None, 0.5])
def test_an_error_needs_three_values_beyond_the_means_and_one_left_out_four(noise):
    groups, values, correlations, towards = made(6)
    for freedom in (2, 3, 4):
        kept = np.r_[0 : freedom - 1, 5:8]
        few = [one[np.ix_(kept, kept)] for one in correlations]
        found = average(all_of(few, groups[kept], values[kept]), noise)
        assert found.freedom == freedom
        value, variance = found.at(0, towards[0][:, kept], np.zeros(1, int))
        assert np.isfinite(value).all()
        assert np.isfinite(variance).all() == (freedom >= 3)
        residual, error = found.left_out()
        left = np.bincount(groups[kept])[groups[kept]] > 1
        assert np.isfinite(residual[left]).all()
        assert np.isfinite(error[left]).all() == (freedom >= 4)


def test_the_variance_of_the_field_comes_back_whether_the_noise_is_known_or_not():
    rng = np.random.default_rng(5)
    at = rng.uniform(0, 20, (120, 2))
    correlation, groups = np.exp(-cdist(at, at)), np.zeros(120, int)
    noise = rng.uniform(0.2, 0.6, 120)
    values = np.linalg.cholesky(correlation) @ rng.normal(0, 2, 120) + noise * rng.normal(0, 1, 120)
    mean = (noise**2).mean()
    for found in (
        average(all_of([correlation], groups, values, noise**2 / mean), mean),
        average(all_of([correlation], groups, values), None),
    ):
        assert np.sqrt((found.shares * found.variances).sum()) == pytest.approx(2, rel=0.25)


def test_parts_merge_to_the_mean_and_variance_of_their_mixture():
    rng = np.random.default_rng(1)
    shares, values, variances = rng.uniform(0.1, 2, 5), rng.normal(10, 3, (5, 4)), rng.uniform(0, 2, (5, 4))
    value, variance = merged(zip(shares, values, variances, strict=True))
    np.testing.assert_allclose(value, np.average(values, axis=0, weights=shares))
    spread = np.average((values - value) ** 2, axis=0, weights=shares)
    np.testing.assert_allclose(variance, np.average(variances, axis=0, weights=shares) + spread)
