"""From the indices of single factors to one score: means, the limiting factor, vetoes and missing data.

Each rule takes the indices and the weights of the same factors in the same order, leaves out factors whose
index is NaN and renormalises the weights of the others. The sum runs in the order given: a profile gives its
factors in one canonical order, so that a score never depends on the order of tables in a file.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence

import numpy as np

from layers.cellwise import Numeric, cellwise


def weighted_geometric_mean(indices: Sequence[Numeric], weights: Sequence[float]) -> Numeric:
    """Geometric mean: one very poor factor pulls the score down, and an index of 0 makes it 0.

    Parameters
    ----------
    indices : sequence of numbers, arrays or grids
        One for each factor, 0 to 1; NaN is missing. [1]
    weights : sequence of float
        One for each factor, 0 or more. A factor of weight 0 takes no part.

    Returns
    -------
    same kind as `indices`
        0 to 1; NaN where no factor of positive weight is present. [1]

    Notes
    -----
    ``prod(index ** weight) ** (1 / sum(weight))`` over the factors present.

    Examples
    --------
    >>> round(weighted_geometric_mean([0.8, 0.6, 0.3], [0.5, 0.3, 0.2]), 6)
    0.603135
    """

    def formula(*arrays):
        logarithm = np.zeros(np.broadcast_shapes(*(np.shape(array) for array in arrays)))
        is_zero = np.zeros(logarithm.shape, bool)
        for index, weight in _taking_part(arrays, weights):
            positive = np.where(index > 0, index, 1)  # 0 and NaN are dealt with apart
            logarithm = logarithm + weight * np.log(positive)
            is_zero = is_zero | (index == 0)
        mean = np.exp(_share(logarithm, _weight_present(arrays, weights)))
        return np.where(is_zero, 0, np.minimum(mean, 1))

    return cellwise(formula, *indices)


def weighted_arithmetic_mean(indices: Sequence[Numeric], weights: Sequence[float]) -> Numeric:
    """Arithmetic mean: a poor factor is made up for by good ones. Arguments and result as for the geometric mean.

    Examples
    --------
    >>> round(weighted_arithmetic_mean([0.8, 0.6, 0.3], [0.5, 0.3, 0.2]), 6)
    0.64
    """

    def formula(*arrays):
        total = np.zeros(np.broadcast_shapes(*(np.shape(array) for array in arrays)))
        for index, weight in _taking_part(arrays, weights):
            total = total + weight * np.where(np.isnan(index), 0, index)
        return np.minimum(_share(total, _weight_present(arrays, weights)), 1)

    return cellwise(formula, *indices)


def lowest_index(indices: Sequence[Numeric], weights: Sequence[float]) -> Numeric:
    """The index of the limiting factor: nothing makes up for the poorest. Weights matter only when they are 0.

    Examples
    --------
    >>> lowest_index([0.8, 0.6, 0.3], [0.5, 0.3, 0.2])
    0.3
    """

    def formula(*arrays):
        lowest = np.full(np.broadcast_shapes(*(np.shape(array) for array in arrays)), np.nan)
        for index, _ in _taking_part(arrays, weights):
            lowest = np.fmin(lowest, index)
        return lowest

    return cellwise(formula, *indices)


RULES: dict[str, Callable[[Sequence[Numeric], Sequence[float]], Numeric]] = {
    "weighted geometric mean": weighted_geometric_mean,
    "weighted arithmetic mean": weighted_arithmetic_mean,
    "limiting factor": lowest_index,
}


def vetoed(score: Numeric, vetoes: Sequence[Numeric]) -> Numeric:
    """`score`, but 0 where any of the indices `vetoes` is exactly 0; NaN stays NaN.

    Examples
    --------
    >>> vetoed(0.7, [0.0, 0.4]), vetoed(0.7, [0.1, 0.4])
    (0.0, 0.7)
    """

    def formula(first, *others):
        is_vetoed = np.zeros(np.shape(first), bool)
        for index in others:
            is_vetoed = is_vetoed | (index == 0)
        return np.where(is_vetoed & ~np.isnan(first), 0, first)

    return cellwise(formula, score, *vetoes)


def missing_count(indices: Sequence[Numeric]) -> Numeric:
    """How many of `indices` are NaN.

    Examples
    --------
    >>> missing_count([0.5, float("nan"), float("nan")])
    2.0
    """
    return cellwise(lambda *arrays: sum(np.isnan(array).astype(float) for array in arrays), *indices)


def known(score: Numeric, indices: Sequence[Numeric], essential: Sequence[Numeric], may_lack: int) -> Numeric:
    """`score` where enough is known for one, NaN elsewhere.

    Enough is known where none of the indices `essential` is NaN and at most `may_lack` of `indices` are.

    Examples
    --------
    >>> known(0.6, [0.6, float("nan")], [0.6], 1), known(0.6, [0.6, float("nan")], [0.6], 0)
    (0.6, nan)
    """

    def formula(first, count, *needed):
        is_known = count <= may_lack
        for index in needed:
            is_known = is_known & ~np.isnan(index)
        return np.where(is_known, first, np.nan)

    return cellwise(formula, score, missing_count(indices), *essential)


def _taking_part(arrays, weights):
    return [(array, weight) for array, weight in zip(arrays, weights, strict=True) if weight > 0]


def _weight_present(arrays, weights):
    return sum((weight * ~np.isnan(array) for array, weight in _taking_part(arrays, weights)), 0.0)


def _share(total: np.ndarray, weight: np.ndarray) -> np.ndarray:
    return np.divide(total, weight, out=np.full(np.shape(total), np.nan), where=np.asarray(weight) > 0)
