import numpy as np
import pytest
from pytest import approx
from scipy.optimize import minimize
from scipy.special import gammaln
from scipy.stats import norm

from layers.rating_curve import fit_rating_curve, lognormal, minimum_variance, smearing
from layers.river_samples import RiverSamples, samples_below_detection

SLOPE, SCATTER = 0.4, 0.6


def _drawn(seed: int, n: int = 60, *, limit: float = 0.0):
    """Samples of a river with ln c = 0.1 + SLOPE ln q + normal scatter, below `limit` as intervals."""
    draw = np.random.default_rng(seed)
    flow = np.exp(draw.normal(1.0, 0.9, n))
    c = np.exp(0.1 + SLOPE * np.log(flow) + draw.normal(0, SCATTER, n))
    return samples_below_detection(flow, np.maximum(c, limit), c < limit), c


def test_measured_samples_give_the_line_of_least_squares_of_numpy():
    samples, c = _drawn(1)
    found = fit_rating_curve(samples)
    slope, at_1 = np.polyfit(np.log(samples.flow), np.log(c), 1)
    assert found.coefficients[1] == approx(slope)
    assert found.coefficients[0] - found.coefficients[1] * found.centre_log_flow == approx(at_1)
    residuals = np.log(c) - at_1 - slope * np.log(samples.flow)
    assert found.scale == approx(np.sqrt(np.sum(residuals**2) / (len(c) - 2)))
    assert found.smear == approx(np.exp(residuals).mean())


def test_samples_below_detection_give_the_most_likely_line_found_by_a_general_search():
    samples, _ = _drawn(2, limit=1.0)
    assert 10 < samples.is_censored.sum() < 40
    found = fit_rating_curve(samples)
    x = np.log(samples.flow) - np.log(samples.flow).mean()
    y, below = np.log(samples.highest), samples.is_censored

    def surprise(at):  # written anew: scipy.stats for the likelihood, Nelder and Mead for the search
        at_flow, s = at[0] + at[1] * x, np.exp(at[2])
        return -np.sum(np.where(below, norm.logcdf(y, at_flow, s), norm.logpdf(y, at_flow, s)))

    best = minimize(surprise, [0.5, 0.5, 0.0], method="Nelder-Mead", options={"xatol": 1e-9, "fatol": 1e-11})
    np.testing.assert_allclose(found.coefficients, best.x[:2], atol=1e-5)
    assert found.scale / np.sqrt(60 / 58) == approx(np.exp(best.x[2]), rel=1e-5)


def test_the_stated_covariance_is_the_curvature_of_the_likelihood():
    samples, _ = _drawn(3, limit=1.0)
    found = fit_rating_curve(samples)
    x = np.log(samples.flow) - np.log(samples.flow).mean()
    y, below = np.log(samples.highest), samples.is_censored
    top = np.append(found.coefficients, found.scale / np.sqrt(60 / 58))

    def likely(at):
        at_flow = at[0] + at[1] * x
        return np.sum(np.where(below, norm.logcdf(y, at_flow, at[2]), norm.logpdf(y, at_flow, at[2])))

    step = 1e-4
    bend = np.empty((3, 3))
    for i, j in np.ndindex(3, 3):
        di, dj = np.eye(3)[i] * step, np.eye(3)[j] * step
        bend[i, j] = (likely(top + di + dj) - likely(top + di - dj) - likely(top - di + dj) + likely(top - di - dj)) / (
            4 * step**2
        )
    np.testing.assert_allclose(found.covariance / (60 / 58), np.linalg.inv(-bend), rtol=2e-3, atol=2e-6)


def test_ever_narrower_intervals_lead_to_the_measured_line():
    samples, c = _drawn(4)
    narrow = RiverSamples(flow=samples.flow, lowest=c * 0.999, highest=c * 1.001)
    measured, close = fit_rating_curve(samples), fit_rating_curve(narrow)
    np.testing.assert_allclose(close.coefficients, measured.coefficients, atol=1e-5)
    assert close.scale == approx(measured.scale, rel=1e-4)
    assert close.smear == approx(measured.smear, rel=1e-4)
    np.testing.assert_allclose(close.covariance, measured.covariance, rtol=0.05, atol=1e-6)


def test_likelihood_recovers_the_line_where_the_limit_in_its_place_does_not():
    slopes, substituted = [], []
    for seed in range(60):
        samples, _ = _drawn(seed, limit=1.2)
        slopes.append(fit_rating_curve(samples).coefficients[1])
        substituted.append(np.polyfit(np.log(samples.flow), np.log(samples.highest), 1)[0])
    spread = np.std(slopes, ddof=1) / np.sqrt(60)
    assert np.mean(slopes) == approx(SLOPE, abs=3 * spread)
    assert abs(np.mean(substituted) - SLOPE) > 3 * np.std(substituted, ddof=1) / np.sqrt(60)


def test_minimum_variance_is_the_series_of_bradu_and_mundlak():
    samples, _ = _drawn(5, n=12)
    found = fit_rating_curve(samples)
    terms = found.terms(np.array([0.5, 2.0, 9.0]))
    m = found.degrees_of_freedom
    for row, factor in zip(terms, minimum_variance(found, terms), strict=True):
        h = row @ found.leverage_of @ row
        t = (m + 1) / (2 * m) * (1 - h) * found.scale**2
        # g(t) = sum m^p (m + 2p) / (m (m + 2) ... (m + 2p)) (m / (m + 1))^p t^p / p!, from memory
        series, product = 0.0, 1.0
        for p in range(40):
            product *= m + 2 * p
            series += m**p * (m + 2 * p) / product * (m / (m + 1)) ** p * t**p / np.exp(gammaln(p + 1))
        assert factor == approx(series, rel=1e-9)


def test_the_corrections_agree_where_scatter_is_normal_and_samples_are_many():
    samples, _ = _drawn(6, n=4000)
    found = fit_rating_curve(samples)
    terms = found.terms(np.array([1.0, 5.0]))
    expected = np.exp(SCATTER**2 / 2)
    for correction in (smearing, lognormal, minimum_variance):
        np.testing.assert_allclose(correction(found, terms), expected, rtol=0.03)


def test_season_and_trend_are_found_again():
    draw = np.random.default_rng(7)
    year = np.sort(draw.uniform(2000, 2010, 400))
    flow = np.exp(draw.normal(0, 1, 400))
    line = 0.2 + 0.3 * np.log(flow) + 0.05 * (year - 2005) + 0.4 * np.sin(2 * np.pi * year)
    c = np.exp(line + draw.normal(0, 0.1, 400))
    found = fit_rating_curve(RiverSamples(flow=flow, lowest=c, highest=c, year=year))
    np.testing.assert_allclose(found.coefficients[1:], [0.3, 0.05, 0.4, 0.0], atol=0.02)


@pytest.mark.parametrize(
    ("samples", "words"),
    [
        (RiverSamples(flow=[0, 1, 2], lowest=[1, 1, 1], highest=[1, 1, 1]), "a flow is 0, which has no logarithm"),
        (RiverSamples(flow=[1, 2, 3, 4], lowest=[0, 0, 1, 1], highest=[1, 1, 1, 1]), "2 of 4 are above detection"),
        (RiverSamples(flow=[2, 2, 2, 2], lowest=[1, 2, 3, 4], highest=[1, 2, 3, 4]), "hardly differs between them"),
    ],
)
def test_samples_without_a_curve_are_refused(samples, words):
    with pytest.raises(ValueError, match=words):
        fit_rating_curve(samples)


def test_minimum_variance_is_refused_below_detection():
    samples, _ = _drawn(8, limit=1.0)
    found = fit_rating_curve(samples)
    with pytest.raises(ValueError, match=r"are below detection. Take `smearing` or `lognormal`."):
        minimum_variance(found, found.terms(np.array([1.0])))
