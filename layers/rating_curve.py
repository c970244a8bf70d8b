"""Concentration of a river by its flow: a straight line in logarithms, with the bias of turning back corrected.

The line goes through the middle of the logarithms, so that its antilogarithm is a median and its sum too small a load.
Three corrections are here; `smearing` assumes nothing of the scatter and is the default of `layers.river_load`.
Samples below detection enter by their probability (maximum likelihood, Tobit), never as a number put in their place.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy.optimize import minimize
from scipy.special import hyp0f1, log_ndtr

from layers.river_samples import RiverSamples

_LOG_ROOT_TWO_PI = 0.5 * np.log(2 * np.pi)


@dataclass(frozen=True, kw_only=True)
class RatingCurve:
    """ln c = b0 + b1 (ln q - centre), and with time + b2 (t - centre) + b3 sin 2 pi t + b4 cos 2 pi t.

    `scale` is the standard deviation of ln c about the line, `covariance` that of the coefficients and the scale,
    `leverage_of` the inverse of X'X, `smear` the mean of exp(residual).
    """

    coefficients: np.ndarray
    scale: float
    covariance: np.ndarray
    leverage_of: np.ndarray
    smear: float
    degrees_of_freedom: int
    censored: int
    centre_log_flow: float
    centre_year: float | None

    def terms(self, flow: np.ndarray, year: np.ndarray | None = None) -> np.ndarray:
        """The terms of the line, (n, p), at flows above 0 [m3/s] and, if it was fitted with time, decimal years."""
        return _terms(flow, year, self.centre_log_flow, self.centre_year)


def fit_rating_curve(samples: RiverSamples) -> RatingCurve:
    """The line through samples: least squares where all were measured, maximum likelihood where some are intervals.

    Parameters
    ----------
    samples : RiverSamples
        With `year`, a trend and a season of one wave a year are fitted as well.

    Raises
    ------
    ValueError
        If a flow is 0, there are too few samples above detection for the terms, or they do not tell the terms apart.

    Notes
    -----
    The likelihood of an interval is Phi((ln high - Xb)/s) - Phi((ln low - Xb)/s). It is concave in b/s and 1/s
    (Olsen 1978), so there is one maximum. The scale is then multiplied by sqrt(n / (n - p)), as least squares does;
    for intervals that is common practice, no source. A residual known as an interval smears by the mean of exp(e)
    over that interval of the fitted normal.

    References
    ----------
    Tobin (1958), Econometrica 26:24-36; Olsen (1978), Econometrica 46:1211-1215 (both from memory).

    Examples
    --------
    >>> line = fit_rating_curve(RiverSamples(flow=[1, 2, 4, 8], lowest=[1, 2, 4, 8], highest=[1, 2, 4, 8]))
    >>> round(float(line.coefficients[1]), 6)
    1.0
    """
    if (samples.flow == 0).any():
        raise ValueError("samples: a flow is 0, which has no logarithm. Leave that sample out: it carries no load.")
    centre = float(np.log(samples.flow).mean())
    centre_year = None if samples.year is None else float(samples.year.mean())
    X = _terms(samples.flow, samples.year, centre, centre_year)
    n, p = X.shape
    found = int(np.sum(samples.lowest > 0))
    if found <= p:
        raise ValueError(
            f"samples: {found} of {n} are above detection; a curve of {p} terms needs at least {p + 1}. Take "
            "the bounds of the ratio estimator, or leave out the season and trend."
        )
    if np.linalg.matrix_rank(X) < p:
        raise ValueError("samples: flow (or time) hardly differs between them. A curve needs low and high flows.")
    leverage_of = np.linalg.inv(X.T @ X)
    low, high = _logarithm(samples.lowest), np.log(samples.highest)
    degrees = n - p
    if samples.is_censored.any():
        b, s, covariance = _most_likely(X, low, high)
        widened = np.sqrt(n / degrees)
        s, covariance = s * widened, covariance * widened**2
        smear = float(np.mean(_mean_of_exponential(low - X @ b, high - X @ b, s)))
    else:
        b = leverage_of @ (X.T @ high)
        residuals = high - X @ b
        s = float(np.sqrt(residuals @ residuals / degrees))
        covariance = np.zeros((p + 1, p + 1))
        covariance[:p, :p] = s**2 * leverage_of
        covariance[p, p] = s**2 / (2 * degrees)
        smear = float(np.exp(residuals).mean())
    return RatingCurve(
        coefficients=b,
        scale=s,
        covariance=covariance,
        leverage_of=leverage_of,
        smear=smear,
        degrees_of_freedom=degrees,
        censored=int(samples.is_censored.sum()),
        centre_log_flow=centre,
        centre_year=centre_year,
    )


def smearing(curve: RatingCurve, terms: np.ndarray) -> np.ndarray:
    """Factor from median to mean, the mean of exp(residual): whatever the law of the scatter.

    References
    ----------
    Duan (1983), J. Am. Stat. Assoc. 78:605-610 (from memory; the equation as in Cohn (1995), Rev. Geophys. 33 Suppl.).
    """
    return np.full(len(terms), curve.smear)


def lognormal(curve: RatingCurve, terms: np.ndarray) -> np.ndarray:
    """Factor exp(s**2 / 2), of normal scatter; too great where samples are few.

    References
    ----------
    Ferguson (1986), Water Resour. Res. 22:74-76 (from memory).
    """
    return np.full(len(terms), np.exp(curve.scale**2 / 2))


def minimum_variance(curve: RatingCurve, terms: np.ndarray) -> np.ndarray:
    """Factor without bias for normal scatter and of the least variance, for samples all above detection.

    Raises
    ------
    ValueError
        If a sample is below detection.

    Notes
    -----
    The series g of Bradu and Mundlak at (m + 1) (1 - h) s**2 / (2 m), which sums to 0F1(m/2; m (1 - h) s**2 / 4):
    m the degrees of freedom, h the leverage x (X'X)**-1 x.

    References
    ----------
    Bradu and Mundlak (1970), J. Am. Stat. Assoc. 65:198-211; Cohn et al. (1989), Water Resour. Res. 25:937-942 (both
    from memory; the closed form was worked out here).
    """
    if curve.censored:
        raise ValueError(
            f"correction: minimum variance holds for measured samples, and {curve.censored} are below detection. "
            "Take `smearing` or `lognormal`."
        )
    m = curve.degrees_of_freedom
    h = np.einsum("ij,jk,ik->i", terms, curve.leverage_of, terms)
    return hyp0f1(m / 2, m * (1 - h) * curve.scale**2 / 4)


def _terms(flow, year, centre, centre_year) -> np.ndarray:
    columns = [np.ones(len(flow)), np.log(flow) - centre]
    if centre_year is not None:
        turn = 2 * np.pi * year
        columns += [year - centre_year, np.sin(turn), np.cos(turn)]
    return np.column_stack(columns)


def _most_likely(X: np.ndarray, low: np.ndarray, high: np.ndarray) -> tuple[np.ndarray, float, np.ndarray]:
    """Coefficients, scale and their covariance, by Newton's method in b/s and 1/s."""
    measured = low == high
    from_below = np.isinf(low)
    upper = np.column_stack([-X, high])
    lower = np.column_stack([-X, np.where(from_below, 0.0, low)])

    def surprise(at):
        if at[-1] <= 0:  # a scale is above 0
            return np.inf, None, None
        b = upper @ at
        a = np.where(from_below, -np.inf, lower @ at)
        exact = upper[measured]
        value = measured.sum() * np.log(at[-1]) - 0.5 * np.sum(b[measured] ** 2)
        slope = -exact.T @ b[measured]
        slope[-1] += measured.sum() / at[-1]
        bend = -exact.T @ exact
        bend[-1, -1] -= measured.sum() / at[-1] ** 2

        a, b, U, L = a[~measured], b[~measured], upper[~measured], lower[~measured]
        log_share = _log_share(a, b)
        at_b = np.exp(-0.5 * b**2 - _LOG_ROOT_TWO_PI - log_share)
        at_a = np.exp(-0.5 * a**2 - _LOG_ROOT_TWO_PI - log_share)
        pull = at_b[:, None] * U - at_a[:, None] * L
        a_at_a = np.where(np.isinf(a), 0.0, a) * at_a
        bend += -(U.T * (b * at_b)) @ U + (L.T * a_at_a) @ L - pull.T @ pull
        return -(value + log_share.sum()), -(slope + pull.sum(axis=0)), -bend

    middle = np.where(from_below, high - np.log(2), (np.where(from_below, high, low) + high) / 2)  # only to start from
    b = np.linalg.lstsq(X, middle, rcond=None)[0]
    s = max(float(np.std(middle - X @ b)), 1e-3)
    start = np.append(b / s, 1 / s)
    found = minimize(
        lambda at: surprise(at)[0],
        start,
        jac=lambda at: surprise(at)[1],
        hess=lambda at: surprise(at)[2],
        method="trust-exact",
        options={"gtol": 1e-6 * len(X), "maxiter": 500},
    )
    at = found.x
    if not found.success or not np.isfinite(at).all():
        raise ValueError(
            "samples: no curve is most likely among them. Too many are below detection, or all lie on a line."
        )
    p = X.shape[1]
    b, s = at[:p] / at[p], 1 / at[p]
    turn = np.zeros((p + 1, p + 1))  # of b/s and 1/s to b and s
    turn[:p, :p] = np.eye(p) * s
    turn[:p, p] = -b * s
    turn[p, p] = -(s**2)
    return b, float(s), turn @ np.linalg.inv(surprise(at)[2]) @ turn.T


def _mean_of_exponential(a: np.ndarray, b: np.ndarray, s: float) -> np.ndarray:
    """Mean of exp(e), e normal of scale s and known to lie from a to b."""
    measured = a == b
    result = np.exp(b)
    a, b = a[~measured] / s, b[~measured] / s
    result[~measured] = np.exp(s**2 / 2 + _log_share(a - s, b - s) - _log_share(a, b))
    return result


def _log_share(a: np.ndarray, b: np.ndarray) -> np.ndarray:
    """ln(Phi(b) - Phi(a)), in whichever tail it is precise."""
    a, b = np.where(a > 0, -b, a), np.where(a > 0, -a, b)
    return log_ndtr(b) + np.log1p(-np.exp(log_ndtr(a) - log_ndtr(b)))


def _logarithm(values: np.ndarray) -> np.ndarray:
    return np.log(values, out=np.full(len(values), -np.inf), where=values > 0)
