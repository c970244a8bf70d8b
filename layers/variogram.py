"""How unlike two depths grow with the distance between them: the variogram that kriging rests on.

The estimate and the fit are gstools'. What is added here is what soundings ask for: pairs only within one water
body, the soundings' own errors taken out, and lags that lie closer where the curve decides the map.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
from scipy.spatial import cKDTree
from scipy.spatial.distance import pdist

if TYPE_CHECKING:
    from gstools import CovModel

# rough, straight and smooth at short distance; the very smooth (gaussian) one makes systems that cannot be solved
SHAPES = ("exponential", "spherical", "matern 3/2")
REACHED = 0.95  # share of the rise at which the range is read
LONGEST = 1 / 3  # longest lag, as a share of the diagonal of the soundings: beyond, pairs are few and alike
MOST_LAGS, LEAST_LAGS = 16, 4
PAIRS_WANTED, PAIRS_NEEDED = 40, 5  # in one lag
MOST_SOUNDINGS = 2000  # of one body; more make the same curve, more slowly
PATCHES = 40
OUTLYING = 2.0  # soundings of more than so many times the median error do not shape the curve
LEAST_SILL = 0.1  # of the soundings' error variance: what lies below cannot be told from none


@dataclass(frozen=True, kw_only=True)
class Variogram:
    """A fitted curve: it starts at the nugget and rises to the sill, 95 % of the way at the range."""

    name: str
    nugget: float  # [m2]
    sill: float  # with the nugget in it [m2]
    range: float  # [m]

    def model(self) -> CovModel:
        """The curve as gstools' covariance model of two dimensions, lengths in metres."""
        model = _shape(self.name)
        model.len_scale = self.range / model.percentile_scale(REACHED)
        model.var, model.nugget = self.sill - self.nugget, self.nugget
        return model


def fitted_variogram(bodies: list[tuple[np.ndarray, np.ndarray, np.ndarray]]) -> Variogram:
    """The one of three curves that comes closest to the soundings of all water bodies.

    Parameters
    ----------
    bodies
        For each water body the places (n, 2) [m], the elevation without its trend (n,) [m] and the error variance
        (n,) [m2] of its soundings.

    Returns
    -------
    Variogram
        Of the bed itself: the errors of the soundings are not in its nugget.

    Raises
    ------
    ValueError
        If there are no two soundings in any one body.

    Notes
    -----
    Half the mean squared difference of the pairs in a lag (Matheron's estimator) less half the mean of the sum of
    their two error variances. The curve is fitted by least squares, each lag with weight pairs / lag**2, so that
    short distances decide. Error variances above twice the median one would hide the bed: soundings with more than
    twice the median error take no part.

    Of a body with more than 2000 soundings, 40 patches of 50 take part: a thinned survey would have lost its
    short distances.

    References
    ----------
    Matheron's estimator as gstools documents it in `vario_estimate`; the weights from memory; the choice between
    curves by least misfit is common practice, no source.

    Examples
    --------
    >>> places = np.column_stack([np.arange(60.0), np.zeros(60)])
    >>> curve = fitted_variogram([(places, np.sin(places[:, 0] / 6), np.full(60, 1e-6))])
    >>> curve.nugget < 0.1 < curve.sill
    True
    """
    typical = np.median(np.concatenate([variance for _, _, variance in bodies]))
    shaping = [_shaping(*body, OUTLYING**2 * typical) for body in bodies]
    shaping = [body for body in shaping if len(body[0]) > 1]
    if not shaping:
        raise ValueError("soundings: no two lie in the same water body. Check `water`, or add soundings.")
    longest = LONGEST * max(float(np.hypot(*np.ptp(places, axis=0))) for places, _, _ in shaping)
    least = LEAST_SILL * typical
    lags, halves, pairs = _lagged(shaping, longest)
    if len(lags) < LEAST_LAGS or halves.max() <= least:
        spread = np.mean([np.var(values) - np.mean(variance) for _, values, variance in shaping])
        return Variogram(name=SHAPES[0], nugget=0.0, sill=float(max(spread, least)), range=longest)
    return min((_fit(name, lags, halves, pairs, longest, least) for name in SHAPES), key=lambda fit: fit[0])[1]


def _shaping(places, values, variance, most):
    good = variance <= most
    places, values, variance = places[good], values[good], variance[good]
    if len(places) > MOST_SOUNDINGS:
        seeds = places[:: -(-len(places) // PATCHES)]
        _, near = cKDTree(places).query(seeds, k=MOST_SOUNDINGS // PATCHES)
        taken = np.unique(near)
        places, values, variance = places[taken], values[taken], variance[taken]
    return places, values, variance


def _lagged(bodies, longest: float) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Mean distance in each lag [m], half the mean squared difference without the errors [m2], and number of pairs."""
    from gstools import vario_estimate

    every = sum(len(places) * (len(places) - 1) // 2 for places, _, _ in bodies)
    count = int(np.clip(every // PAIRS_WANTED, LEAST_LAGS, MOST_LAGS))
    edges = longest * (np.arange(count + 1) / count) ** 2
    distances, halves, pairs = np.zeros(count), np.zeros(count), np.zeros(count)
    for places, values, variance in bodies:
        if len(places) < 2:
            continue
        _, half, number = vario_estimate(tuple(places.T), values, edges, return_counts=True)
        apart = pdist(places)
        lag = np.digitize(apart, edges) - 1
        inside = lag < count
        first, second = np.triu_indices(len(places), 1)
        noise = (variance[first] + variance[second])[inside] / 2
        # not the middle of the lag: pairs crowd at its far end, and a curve read too near starts too high
        distances += np.bincount(lag[inside], apart[inside], minlength=count)
        halves += half * number - np.bincount(lag[inside], noise, minlength=count)
        pairs += number
    known = pairs >= PAIRS_NEEDED
    return distances[known] / pairs[known], np.maximum(halves[known] / pairs[known], 0), pairs[known]


def _fit(name, lags, halves, pairs, longest, least) -> tuple[float, Variogram]:
    """Misfit and curve of one shape. Fitted in units of the longest lag and the highest half: all near 1."""
    top = halves.max()
    weights = np.sqrt(pairs) / lags
    weights /= weights.max()
    model = _shape(name)
    model.set_arg_bounds(var=[1e-3, 10.0], len_scale=[1e-3, 3.0], nugget=[0.0, 2.0])
    start = {"var": 1.0, "len_scale": 0.3, "nugget": 0.05}
    model.fit_variogram(lags / longest, halves / top, init_guess=start, weights=weights, loss="linear")
    misfit = float(np.sum((weights * (model.variogram(lags / longest) - halves / top)) ** 2))
    nugget = model.nugget * top
    sill = nugget + max(model.var * top, least)
    reached = float(model.percentile_scale(REACHED)) * longest
    return misfit, Variogram(name=name, nugget=float(nugget), sill=float(sill), range=reached)


def _shape(name: str) -> CovModel:
    import gstools

    class Smooth(gstools.CovModel):
        """Matern's curve of order 3/2 in its closed form: gstools' own, for any order, is ten times slower."""

        def cor(self, h):
            return (1 + h) * np.exp(-h)

    return {"exponential": gstools.Exponential, "spherical": gstools.Spherical, "matern 3/2": Smooth}[name](dim=2)
