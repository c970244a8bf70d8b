"""Best linear prediction with a covariance: fit, value, standard error and leaving one out, by one factorisation.

Plain algebra of n stations; it knows nothing of water. The mean is unknown, one for each group of stations.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy.linalg import cholesky, qr, solve_triangular

ROUNDING = 1e-9  # variance added to every station, in shares of the field's: two stations may lie in one place
LEAST_SPREAD = 1e-9  # standard deviation of stations that all agree, in shares of their greatest value


@dataclass(frozen=True, kw_only=True)
class Prediction:
    """Kriging of n stations in g groups that each have their own unknown mean.

    `correlation` (n, n) of the field among the stations; `noise` (n,) variance of each station about the field, in
    shares of the field's variance; `groups` (n,) int, 0 to g - 1, none of them empty; `values` (n,). `variance` is
    that of the field; NaN if it is not known, and then there are values and no errors.
    """

    correlation: np.ndarray
    noise: np.ndarray
    groups: np.ndarray
    values: np.ndarray
    variance: float = np.nan

    def __post_init__(self):
        root = cholesky(self.correlation + np.diag(self.noise + ROUNDING), lower=True)
        means = solve_triangular(root, np.eye(self.groups.max() + 1)[self.groups], lower=True)
        basis, triangle = qr(means, mode="economic")
        white = solve_triangular(root, self.values, lower=True)
        rest = white - basis @ (basis.T @ white)
        known = {"root": root, "basis": basis, "triangle": triangle, "white": white, "rest": rest}
        self.__dict__.update({f"_{name}": array for name, array in known.items()})

    @property
    def ratio(self) -> float:
        """Mean noise variance over the variance of the field."""
        return float(self.noise.mean())

    @property
    def freedom(self) -> int:
        """Stations less means: how many values there are to fit the variance to."""
        return len(self.values) - self._basis.shape[1]

    @property
    def fitted_variance(self) -> float:
        """Variance of the field that makes the values most likely, given the noise in shares of it."""
        least = (LEAST_SPREAD * np.abs(self.values).max()) ** 2 or LEAST_SPREAD**2
        return max(float(self._rest @ self._rest) / self.freedom, least)

    def likelihood(self, variance: float) -> float:
        """Logarithm of the restricted likelihood of a field's variance, but for a constant.

        Notes
        -----
        -1/2 [(n - g) ln s + ln |H| + ln |X' H^-1 X| + r' H^-1 r / s] with H the correlation and noise, X the groups
        and r what is left of the values by generalised least squares (Patterson & Thompson 1971, from memory).
        """
        determinants = np.log(np.diag(self._root)).sum() + np.log(np.abs(np.diag(self._triangle))).sum()
        return float(-determinants - 0.5 * (self.freedom * np.log(variance) + self._rest @ self._rest / variance))

    def at(self, correlation: np.ndarray, group: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
        """Value and standard error of the field at p places.

        Parameters
        ----------
        correlation : (p, n) float
            Of each place with each station.
        group : (p,) int
            Group whose mean the place has.

        Returns
        -------
        value, error : (p,) float
            The error is that of the field itself, without the noise of a measurement; it holds the uncertainty of
            the mean, and takes range and variances as known.
        """
        weights = solve_triangular(self._root, correlation.T, lower=True)
        means = np.eye(self._basis.shape[1])[:, group] - self._triangle.T @ (self._basis.T @ weights)
        lacking = solve_triangular(self._triangle.T, means, lower=True)
        value = weights.T @ self._white + lacking.T @ (self._basis.T @ self._white)
        share = 1.0 - (weights**2).sum(axis=0) + (lacking**2).sum(axis=0)
        return value, np.sqrt(np.maximum(share, 0.0) * self.variance)

    def left_out(self) -> tuple[np.ndarray, np.ndarray]:
        """Value less its prediction from the others, and the standard error of that, for each station.

        Returns
        -------
        residual, error : (n,) float
            NaN for the only station of its group. The error holds the station's own noise.

        Notes
        -----
        With P = H^-1 - H^-1 X (X' H^-1 X)^-1 X' H^-1: residual P v / diag(P), variance s / diag(P). It is what
        refitting without the station gives, with range and variances kept.

        References
        ----------
        Dubrule, O. (1983), Cross validation of kriging in a unique neighborhood, Mathematical Geology 15, 687-699
        (from memory).
        """
        back = solve_triangular(self._root, np.eye(len(self.values)), lower=True)
        free = back - self._basis @ (self._basis.T @ back)
        own = (free**2).sum(axis=0)
        own[np.bincount(self.groups)[self.groups] == 1] = np.nan
        return (back.T @ self._rest) / own, np.sqrt(self.variance / own)


def fitted(
    correlation: np.ndarray, groups: np.ndarray, values: np.ndarray, noise: np.ndarray | None, ratios: np.ndarray
) -> tuple[float, Prediction]:
    """The most likely variances of field and noise for one correlation, and how likely they are.

    Parameters
    ----------
    correlation, groups, values
        As of `Prediction`; at least one value more than there are groups.
    noise : (n,) float, optional
        Known standard deviation of each value about the field. Without it, one unknown noise of all stations.
    ratios : (r,) float
        Ratios of (mean) noise variance to field variance to choose from; not used if every known noise is 0.

    Returns
    -------
    likelihood : float
        Logarithm of the restricted likelihood.
    prediction : Prediction
        With the first of the ratios that no other is likelier than.
    """
    known = None if noise is None or not noise.any() else noise**2
    if noise is not None and known is None:
        ratios = np.zeros(1)
    shape = np.ones(len(values)) if known is None else known / known.mean()
    best = (-np.inf, None)
    for ratio in ratios:
        parts = {"correlation": correlation, "noise": ratio * shape, "groups": groups, "values": values}
        trial = Prediction(**parts)
        variance = trial.fitted_variance if known is None else float(known.mean() / ratio)
        likelihood = trial.likelihood(variance)
        if likelihood > best[0]:
            best = (likelihood, Prediction(**parts, variance=variance))
    return best
