"""Covariance that follows the water: the Matern field of a diffusion operator on patches, exact to rounding.

In open water the covariance of two places falls with their distance; in a lagoon it falls with how hard it is to come
from one to the other by water. Unlike a covariance of distances through the water it is always positive definite.
"""

from __future__ import annotations

import numpy as np

from layers.patches import Patches
from layers.threads import kernel

FALL = np.sqrt(8.0)  # kappa times the range: at the range the correlation in open water is 0.14 (Lindgren et al., 2.1)
IMAGINARY = 1e-20  # of kappa squared: so small that its square is nothing


def water_covariance(patches: Patches, places: np.ndarray, correlation_range: float) -> np.ndarray:
    """Covariance of every patch with some patches, of a field driven by white noise of strength 1.

    Parameters
    ----------
    patches : Patches
    places : (n,) int
        Numbers of the patches to take the covariance with.
    correlation_range : float
        Distance in open water at which the correlation has fallen to 0.14. [m]

    Returns
    -------
    (P, n) float64
        0 between bodies of water that are not joined. [m2]

    Notes
    -----
    The stochastic equation (kappa2 - Laplace) u = white noise, with kappa = sqrt(8) / range and no flux through land,
    by finite volumes: A u = noise of variance C, where C holds the areas of the patches and A = kappa2 C + G with the
    exchange G. So the precision is A C^-1 A and the covariance A^-1 C A^-1: two solves for each place. In open water
    far from land this is the Matern covariance with nu = 1: kappa d K1(kappa d) / (4 pi kappa2).

    References
    ----------
    Lindgren, F., Rue, H. & Lindstrom, J. (2011), An explicit link between Gaussian fields and Gaussian Markov random
    fields: the stochastic partial differential equation approach, Journal of the Royal Statistical Society B 73,
    423-498, section 2 (from memory; there with finite elements).
    """
    solver = _factors(_operator(patches, _kappa2(correlation_range)))
    return solver.solve(patches.areas[:, None] * solver.solve(_unit(patches, places)))


def water_correlation(patches: Patches, places: np.ndarray, correlation_range: float) -> np.ndarray:
    """Correlation of every patch with some patches: `water_covariance` scaled to one variance everywhere. (P, n) [1]"""
    deviation = np.sqrt(own_variance(patches, correlation_range))
    return water_covariance(patches, places, correlation_range) / np.outer(deviation, deviation[places])


def correlation_among(patches: Patches, places: np.ndarray, correlation_range: float) -> np.ndarray:
    """Correlation of some patches among themselves, as in `water_correlation` with far less work. (n, n) [1]"""
    solver = _factors(_operator(patches, _kappa2(correlation_range)))
    spread = solver.solve(_unit(patches, places)) * np.sqrt(patches.areas)[:, None]
    covariance = spread.T @ spread
    deviation = np.sqrt(np.diag(covariance))
    return covariance / np.outer(deviation, deviation)


def own_variance(patches: Patches, correlation_range: float) -> np.ndarray:
    """Variance of the field of `water_covariance` in each patch: the diagonal of the covariance. (P,) [m2]

    Notes
    -----
    It is larger near land, which reflects what in open water would spread on, and largest in dead ends. Because
    -d/dkappa2 of A^-1 is A^-1 C A^-1, the diagonal wanted is the derivative of the diagonal of A^-1, which is taken
    exactly with an imaginary step; and the diagonal of the inverse of a sparse matrix comes from its factors without
    the rest of the inverse (Takahashi, Fagan & Chin 1973, from memory).
    """
    kappa2 = _kappa2(correlation_range)
    solver = _factors(_operator(patches, kappa2 * (1 + 1j * IMAGINARY)))
    lower, upper = solver.L, solver.U
    lower.eliminate_zeros()
    lower.sort_indices()
    inverse = inverse_diagonal(lower.indptr, lower.indices, lower.data, upper.diagonal())
    return -inverse.imag[solver.perm_c] / (kappa2 * IMAGINARY)


def _unit(patches: Patches, places: np.ndarray) -> np.ndarray:
    unit = np.zeros((len(patches), len(places)))
    unit[places, np.arange(len(places))] = 1.0
    return unit


def _kappa2(correlation_range: float) -> float:
    return (FALL / correlation_range) ** 2


def _operator(patches: Patches, kappa2: complex):
    from scipy.sparse import diags

    return (diags(kappa2 * patches.areas) + patches.exchange).tocsc()


def _factors(matrix):
    from scipy.sparse.linalg import splu

    # the diagonal outweighs its row, so it is a safe pivot and the factors stay symmetric
    factors = splu(matrix, permc_spec="MMD_AT_PLUS_A", diag_pivot_thresh=0.0, options={"SymmetricMode": True})
    if not np.array_equal(factors.perm_r, factors.perm_c):
        raise RuntimeError("covariance: the solver left the diagonal.")
    return factors


@kernel
def inverse_diagonal(starts, rows, lower, pivots):
    """Diagonal of the inverse of L D L', L with ones on its diagonal, by columns, each with its rows in order.

    Takahashi's recursion: the entries of the inverse on the pattern of L need only each other, from the last column
    to the first.
    """
    size = len(pivots)
    inverse = np.zeros_like(lower)
    place = np.full(size, -1)
    for j in range(size - 1, -1, -1):
        first, stop = starts[j] + 1, starts[j + 1]  # the first entry is the diagonal
        for m in range(first, stop):
            place[rows[m]] = m
        for m in range(first, stop):
            k = rows[m]
            inverse[m] -= inverse[starts[k]] * lower[m]
            for entry in range(starts[k] + 1, starts[k + 1]):
                other = place[rows[entry]]
                if other >= 0:
                    inverse[other] -= inverse[entry] * lower[m]
                    inverse[m] -= inverse[entry] * lower[other]
        own = 1.0 / pivots[j]
        for m in range(first, stop):
            own -= lower[m] * inverse[m]
            place[rows[m]] = -1
        inverse[starts[j]] = own
    return inverse[starts[:-1]]
