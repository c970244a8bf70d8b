"""Predictions averaged over what is not known of the field: each range, noise and variance by how likely it is.

To take the likeliest range and variances for true makes errors too small where stations are few. Averaging over all of
them (Bayesian model averaging) counts what is not known of the field as part of the error.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

import numpy as np

from layers.prediction import Prediction

# noise to field variance, where the noise is not known, and where it is but the field's variance is not. They end at
# noise of three times the field: a field that hardly differs at all would be believed of any few values that agree
FITTED_RATIOS = 10.0 ** (np.arange(-60, 6) / 10)
KNOWN_RATIOS = 10.0 ** (np.arange(-80, 6) / 10)
NO_NOISE = np.zeros(1)
FEWEST_FOR_ERROR = 3  # values beyond the means: with fewer the variance of the error does not exist


@dataclass(frozen=True, kw_only=True)
class Average:
    """How much each of r correlations and q ratios of noise to field variance counts, and the field's variance.

    `predictions` r of them, of the same stations; `ratios` (q,); `shares` (r, q), together 1; `variances` (r, q)
    likeliest variance of the field with each; `freedom` values beyond the means; `noise` mean known variance of the
    stations about the field, None where it is not known.
    """

    predictions: list[Prediction]
    ratios: np.ndarray
    shares: np.ndarray
    variances: np.ndarray
    freedom: int
    noise: float | None

    @property
    def likeliest(self) -> tuple[int, int]:
        """Numbers of the correlation that counts most, over all ratios, and of the ratio that counts most with it."""
        # of two that count the same, the first
        number = int(np.argmax(self.shares.sum(axis=1)))
        return number, int(np.argmax(self.shares[number]))

    def at(self, number: int, correlation: np.ndarray, group: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
        """Value and variance of its error at places with one of the correlations; arguments as `Prediction.at`.

        Returns
        -------
        value, variance : (p,) float
            Averaged over the ratios. The variance is NaN with fewer than `FEWEST_FOR_ERROR` values beyond the means.
        """
        shares = self.shares[number] / self.shares[number].sum()
        variances = _expected(self.variances[number], self.freedom, self.noise)
        return self.predictions[number].at(correlation, group, self.ratios, variances, shares)

    def left_out(self) -> tuple[np.ndarray, np.ndarray]:
        """Value less its prediction from the others, and the standard error of that, for each station.

        Returns
        -------
        residual, error : (n,) float
            As if everything had been fitted and averaged without the station. NaN for the only station of its group;
            errors are NaN with fewer than one more than `FEWEST_FOR_ERROR` values beyond the means. The error holds
            the station's own noise.

        Notes
        -----
        Without a station i, with residual e and share h as `Prediction.left_out` gives, ln |H| + ln |X' H^-1 X| is
        less by ln h and r' H^-1 r by e2 / h; so the shares of all correlations and ratios, too, are those of a fit
        without it.
        """
        found = [one.left_out(self.ratios) for one in self.predictions]
        residuals, own = (np.array(parts) for parts in zip(*found, strict=True))
        squares = np.array([one.squares(self.ratios) for one in self.predictions])[..., None] - residuals**2 / own
        determinants = np.array([one.determinants(self.ratios) for one in self.predictions])[..., None] - np.log(own)
        variances = _likeliest(squares, self.ratios[:, None], self.predictions[0], self.freedom - 1, self.noise)
        shares = _shares(determinants, squares, variances, self.freedom - 1, axis=(0, 1))
        residual = (shares * residuals).sum(axis=(0, 1))
        each = _expected(variances, self.freedom - 1, self.noise) * own + (residuals - residual) ** 2
        return residual, np.sqrt((shares * each).sum(axis=(0, 1)))


def average(predictions: list[Prediction], noise: float | None) -> Average:
    """How much each of some correlations of the same stations counts, with every ratio of noise.

    Parameters
    ----------
    predictions : list of r Prediction
        Of the same stations, noises, groups and values. At least one value more than there are groups.
    noise : float or None
        Known variance of a station about the field whose noise in the predictions is 1; None if it is not known.

    Notes
    -----
    Every correlation and every ratio is as likely beforehand as any other: flat over the logarithms, as far as the
    ladders go. What is not on a ladder is integrated: the means with a flat prior, and, where the noise is not known,
    the variance s of the field with one that is flat over its logarithm. With n - g = f values beyond the means the
    likelihood is |H|^-1/2 |X' H^-1 X|^-1/2 (r' H^-1 r)^(-f/2), and the prediction follows Student's t with f degrees
    of freedom: its variance is f / (f - 2) times what kriging gives with s = r' H^-1 r / f. Where the noise is known,
    each ratio has its variance of the field, and the likelihood is that of the contrasts, with s^(-f/2)
    exp(-r' H^-1 r / 2 s) for the last factor.

    References
    ----------
    Handcock, M. & Stein, M. (1993), A Bayesian analysis of kriging, Technometrics 35, 403-410; Hoeting, J. et al.
    (1999), Bayesian model averaging: a tutorial, Statistical Science 14, 382-417 (both from memory).
    """
    ratios = FITTED_RATIOS if noise is None else KNOWN_RATIOS if noise > 0 else NO_NOISE
    freedom = predictions[0].freedom
    squares = np.array([one.squares(ratios) for one in predictions])
    determinants = np.array([one.determinants(ratios) for one in predictions])
    variances = _likeliest(squares, ratios, predictions[0], freedom, noise)
    return Average(
        predictions=predictions,
        ratios=ratios,
        shares=_shares(determinants, squares, variances, freedom, axis=(0, 1)),
        variances=variances,
        freedom=freedom,
        noise=noise,
    )


def merged(parts: Iterable[tuple[float, np.ndarray, np.ndarray]]) -> tuple[np.ndarray, np.ndarray]:
    """Mean and variance of several predictions by their shares: the mean of their variances and that of their values.

    Parameters
    ----------
    parts : iterable of (share, value, variance)
        At least one; shares above 0 in any unit. They are taken one after the other and none is kept.

    Examples
    --------
    >>> value, variance = merged([(1.0, np.array([1.0]), np.array([0.5])), (3.0, np.array([5.0]), np.array([0.1]))])
    >>> value, variance.round(3)
    (array([4.]), array([3.2]))
    """
    together, mean, total = 0.0, 0.0, 0.0
    for share, value, variance in parts:
        together += share
        part, away = share / together, value - mean
        mean = mean + part * away
        total = (1 - part) * (total + part * away**2) + part * variance
    return mean, total


def _likeliest(
    squares: np.ndarray, ratios: np.ndarray, prediction: Prediction, freedom: int, noise: float | None
) -> np.ndarray:
    """Variance of the field with each ratio: the one that a known noise makes it, else the likeliest."""
    if noise:
        return np.broadcast_to(noise / ratios, squares.shape)
    return np.maximum(squares / max(freedom, 1), prediction.least_variance)


def _expected(variances: np.ndarray, freedom: int, noise: float | None) -> np.ndarray:
    """Variance of the field to be expected: more than the likeliest where it is fitted."""
    if freedom < FEWEST_FOR_ERROR:
        return np.full(variances.shape, np.nan)
    return variances if noise else variances * (freedom / (freedom - 2))


def _shares(
    determinants: np.ndarray, squares: np.ndarray, variances: np.ndarray, freedom: int, axis: tuple[int, ...]
) -> np.ndarray:
    """How likely each is beside the others."""
    likelihood = -0.5 * (determinants + freedom * np.log(variances) + squares / variances)
    likely = np.exp(likelihood - likelihood.max(axis=axis, keepdims=True))
    return likely / likely.sum(axis=axis, keepdims=True)
