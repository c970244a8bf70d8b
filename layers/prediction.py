"""Best linear prediction with a covariance: likelihood, value, variance and leaving one out, for any ratio of noise.

Plain algebra of n stations; it knows nothing of water. The mean is unknown, one for each group of stations. One
decomposition serves every ratio of noise to field variance, so that a whole ladder of them costs little more than one.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy.linalg import eigh, qr

ROUNDING = 1e-9  # variance added to every station, in shares of the field's: two stations may lie in one place
LEAST_NOISE = 1e-4  # variance of a station's noise in shares of their mean: one of less is taken to have so much
LEAST_SPREAD = 1e-9  # standard deviation of stations that all agree, in shares of their greatest value


@dataclass(frozen=True, kw_only=True)
class Prediction:
    """Kriging of n stations in g groups that each have their own unknown mean.

    `correlation` (n, n) of the field among the stations; `noise` (n,) variance of each station about the field in
    shares of any one variance, whose ratio to the variance of the field is given later; `groups` (n,) int, 0 to
    g - 1, none of them empty; `values` (n,).

    Notes
    -----
    Values and correlations are divided by the root of the noise and turned: one axis for the mean of each group, the
    others (contrasts, which no mean touches) along the eigenvectors of what the correlation is on them, with
    eigenvalues m. There the covariance of the values is diagonal, m + q for a ratio q of noise to field variance
    (Patterson & Thompson 1971 for the contrasts, from memory; Kang et al. 2008, Genetics 178, 1709-1723, for turning
    them once for all ratios, from memory).
    """

    correlation: np.ndarray
    noise: np.ndarray
    groups: np.ndarray
    values: np.ndarray

    def __post_init__(self):
        scale = 1 / np.sqrt(np.maximum(self.noise, LEAST_NOISE * self.noise.mean()))
        means = np.eye(self.groups.max() + 1)[self.groups] * scale[:, None]
        lengths = np.sqrt((means**2).sum(axis=0))
        means /= lengths
        scaled = (self.correlation + ROUNDING * np.eye(len(scale))) * np.outer(scale, scale)
        contrasts = qr(means)[0][:, len(lengths) :]
        eigenvalues, turned = eigh(contrasts.T @ scaled @ contrasts) if contrasts.size else (np.empty(0), np.empty(0))
        axes = contrasts @ turned if contrasts.size else contrasts
        known = {
            "eigenvalues": eigenvalues,
            "axes": axes * scale[:, None],
            "means": means * (scale[:, None] / lengths),
            "along": axes.T @ (scale * self.values),
        }
        known["group_values"] = known["means"].T @ self.values
        known["group_axes"] = known["means"].T @ self.correlation @ known["axes"]
        known["group_share"] = (known["means"] * (self.correlation @ known["means"])).sum(axis=0)
        known["group_noise"] = 1 / lengths**2
        self.__dict__.update({f"_{name}": array for name, array in known.items()})

    @property
    def freedom(self) -> int:
        """Stations less means: how many values there are to fit the variance to."""
        return len(self._eigenvalues)

    @property
    def least_variance(self) -> float:
        """Variance of the field that is as good as none."""
        return float((LEAST_SPREAD * np.abs(self.values).max()) ** 2 or LEAST_SPREAD**2)

    def squares(self, ratios: np.ndarray) -> np.ndarray:
        """r' H^-1 r for each ratio: H the correlation and noise, r what is left of the values by least squares. (q,)"""
        return (self._along**2 / self._spread(ratios)).sum(axis=1)

    def determinants(self, ratios: np.ndarray) -> np.ndarray:
        """ln |H| + ln |X' H^-1 X| for each ratio, but for a constant of the groups and noises X. (q,)"""
        return np.log(self._spread(ratios)).sum(axis=1)

    def at(
        self,
        correlation: np.ndarray,
        group: np.ndarray,
        ratios: np.ndarray,
        variances: np.ndarray,
        shares: np.ndarray | None = None,
    ) -> tuple[np.ndarray, np.ndarray]:
        """Value of the field at p places and the variance of its error, averaged over ratios of noise.

        Parameters
        ----------
        correlation : (p, n) float
            Of each place with each station.
        group : (p,) int
            Group whose mean the place has.
        ratios : (q,) float
            Noise to field variance.
        variances : (q,) float
            Variance of the field that goes with each of them; NaN if it is not known.
        shares : (q,) float, optional
            How much each ratio counts, together 1. Without them all count the same.

        Returns
        -------
        value, variance : (p,) float
            The variance is that of the field itself, without the noise of a measurement; it holds the uncertainty of
            the mean, and how far the values of the ratios differ. NaN where `variances` are.

        Notes
        -----
        With one ratio q this is the best linear unbiased prediction. Let v and c be the mean value of the group and
        the mean correlation of its stations with the contrasts (means by weights 1 / noise), a the same mean of the
        correlations among them, and u what the place's correlations are above c, along the eigenvectors: value
        v + sum u z / (m + q), variance over that of the field 1 - 2 (correlation with the mean) + a + q (noise of the
        mean) - sum u2 / (m + q). Over several ratios by the law of total variance: mean of the variances and variance
        of the values.
        """
        shares = np.full(len(ratios), 1 / len(ratios)) if shares is None else shares
        with_mean = (correlation @ self._means)[np.arange(len(group)), group]
        above = correlation @ self._axes - self._group_axes[group]
        spread = self._spread(ratios)
        of_ratios = self._along / spread
        of_all = shares @ of_ratios
        value = self._group_values[group] + above @ of_all
        weights = shares * variances
        start = (
            weights.sum() * (1 - 2 * with_mean + self._group_share[group]) + weights @ ratios * self._group_noise[group]
        )
        differing = (of_ratios - of_all) * np.sqrt(shares)[:, None]
        less = np.diag(weights @ (1 / spread)) - differing.T @ differing
        return value, np.maximum(start - (above @ less * above).sum(axis=1), 0.0)

    def left_out(self, ratios: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
        """Value less its prediction from the others, and the variance of that in shares of the field's.

        Returns
        -------
        residual, share : (q, n) float
            For each ratio and station; NaN for the only station of its group. The share holds the station's own noise.

        Notes
        -----
        With P = H^-1 - H^-1 X (X' H^-1 X)^-1 X' H^-1: residual P v / diag(P), share 1 / diag(P). It is what refitting
        without the station gives, with range and variances kept.

        References
        ----------
        Dubrule, O. (1983), Cross validation of kriging in a unique neighborhood, Mathematical Geology 15, 687-699
        (from memory).
        """
        spread = self._spread(ratios)
        own = (1 / spread) @ (self._axes**2).T
        own[:, np.bincount(self.groups)[self.groups] == 1] = np.nan
        return (self._along / spread) @ self._axes.T / own, 1 / own

    def _spread(self, ratios: np.ndarray) -> np.ndarray:
        return self._eigenvalues + np.asarray(ratios, float)[:, None]
