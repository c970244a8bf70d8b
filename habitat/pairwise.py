"""Weights from comparing things two by two: which of the two matters more, and how many times.

People find it hard to say what weight each of six factors has, and easy to say which of two matters more. The answers
are more than are needed, so they also show how far people contradict themselves.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from types import MappingProxyType

import numpy as np

SAATY = "Saaty 1980"
ALONSO_LAMATA = "Alonso and Lamata 2006"
# mean consistency index of random matrices of n things. Tables differ, and the ratio with them. Saaty's of n = 3 to 8
# are as quoted in a journal table, those of 9 and 10 and the second table from memory
RANDOM_INDEX: MappingProxyType[str, MappingProxyType[int, float]] = MappingProxyType(
    {
        SAATY: MappingProxyType({3: 0.58, 4: 0.90, 5: 1.12, 6: 1.24, 7: 1.32, 8: 1.41, 9: 1.45, 10: 1.49}),
        ALONSO_LAMATA: MappingProxyType({3: 0.5245, 4: 0.8815, 5: 1.1086, 6: 1.2479, 7: 1.3417}),
    }
)
MOST_RATIO = 0.1  # above this judgements are too inconsistent to use: Saaty 1980, from memory
_SAME = 1e-9


@dataclass(frozen=True, kw_only=True)
class Consistency:
    """How far a matrix of comparisons contradicts itself."""

    lambda_max: float  # largest eigenvalue: n where nothing contradicts [1]
    index: float  # (lambda_max - n) / (n - 1) [1]
    random_index: float  # mean of the index over random matrices of n things; 0 for two, which cannot contradict [1]
    table: str  # whose random index

    @property
    def ratio(self) -> float:
        """Index over random index: 0 for no contradiction, about 1 for answers drawn by lot. [1]"""
        return self.index / self.random_index if self.random_index else 0.0

    @property
    def is_acceptable(self) -> bool:
        """Whether the ratio is at most `MOST_RATIO`."""
        return self.ratio <= MOST_RATIO

    def __str__(self) -> str:
        return f"consistency ratio {self.ratio:.3f} (random index {self.random_index:g}, {self.table})"


@dataclass(frozen=True, kw_only=True)
class OddJudgement:
    """The judgement that contradicts the others most, and the value that they imply."""

    first: str
    second: str
    given: float  # times as important as the second [1]
    fitting: float  # what the other judgements imply, as their geometric mean [1]
    ratio_then: float  # consistency ratio with the fitting value [1]
    is_alone: bool  # False where another judgement contradicts as much: of three, any may be the odd one

    def __str__(self) -> str:
        other = "" if self.is_alone else " Another judgement is as odd: any of them may be the slip."
        return (
            f'"{self.first}" is said to be {times(self.given)} as important as "{self.second}"; the other judgements '
            f"imply {times(self.fitting)}, and the consistency ratio would then be {self.ratio_then:.3f}.{other}"
        )


def comparison_matrix(judgements: Mapping[tuple[str, str], float], names: Sequence[str]) -> np.ndarray:
    """The reciprocal matrix of judgements: row so many times as important as column.

    Parameters
    ----------
    judgements : of float, by (first, second)
        Each pair once, in either order.
    names : sequence of str
        Of rows and columns.

    Raises
    ------
    ValueError
        If a pair is missing, given twice, unknown or not above 0.

    Examples
    --------
    >>> comparison_matrix({("depth", "food"): 0.5}, ("depth", "food")).tolist()
    [[1.0, 0.5], [2.0, 1.0]]
    """
    place = {name: number for number, name in enumerate(names)}
    matrix = np.full((len(names), len(names)), np.nan)
    np.fill_diagonal(matrix, 1.0)
    for (first, second), value in judgements.items():
        if first not in place or second not in place or first == second:
            raise ValueError(f"{first}, {second}: this is no pair of {', '.join(names)}.")
        if not 0 < value < np.inf:
            raise ValueError(f"{first}, {second}: found {value:g}. It must be above 0.")
        row, column = place[first], place[second]
        if not np.isnan(matrix[row, column]):
            raise ValueError(f"{first}, {second}: the pair is given twice.")
        matrix[row, column], matrix[column, row] = value, 1 / value
    if np.isnan(matrix).any():
        row, column = np.argwhere(np.isnan(matrix))[0]
        raise ValueError(f"{names[row]}, {names[column]}: the pair is missing. Every two must be compared.")
    return matrix


def eigenvector_weights(matrix: np.ndarray) -> tuple[np.ndarray, float]:
    """Weights of the things compared, and the largest eigenvalue.

    Parameters
    ----------
    matrix : (n, n) float
        Above 0, with matrix[j, i] = 1 / matrix[i, j].

    Returns
    -------
    (n,) float, float
        The principal eigenvector, adding up to 1, and its eigenvalue, n or more. [1]

    Raises
    ------
    ValueError
        If the matrix is not square, positive and reciprocal.

    References
    ----------
    Saaty 2008, Decision making with the analytic hierarchy process, International Journal of Services Sciences
    1:83-98, from memory.

    Examples
    --------
    >>> weights, largest = eigenvector_weights([[1, 2, 4], [0.5, 1, 2], [0.25, 0.5, 1]])
    >>> weights.round(4).tolist(), round(largest, 6)
    ([0.5714, 0.2857, 0.1429], 3.0)
    """
    matrix = _reciprocal(matrix)
    values, vectors = np.linalg.eig(matrix)
    largest = int(np.argmax(values.real))  # Perron: real, simple, with a positive vector
    vector = np.abs(vectors[:, largest].real)
    return vector / vector.sum(), float(values[largest].real)


def consistency(matrix: np.ndarray, *, table: str = SAATY) -> Consistency:
    """How far a matrix of comparisons contradicts itself, against a named table of the random index.

    Raises
    ------
    ValueError
        If the table is not known or has no index for so many things.

    Examples
    --------
    >>> str(consistency([[1, 3, 5], [1 / 3, 1, 3], [1 / 5, 1 / 3, 1]]))
    'consistency ratio 0.033 (random index 0.58, Saaty 1980)'
    """
    if table not in RANDOM_INDEX:
        raise ValueError(f'random index: "{table}" is not known. Use one of: {", ".join(RANDOM_INDEX)}.')
    count = len(matrix)
    known = RANDOM_INDEX[table]
    if count > max(known):
        raise ValueError(f"comparison: {count} things, and {table} ends at {max(known)}. Compare fewer, in groups.")
    largest = eigenvector_weights(matrix)[1]
    index = max((largest - count) / (count - 1), 0.0) if count > 1 else 0.0
    return Consistency(lambda_max=largest, index=index, random_index=known.get(count, 0.0), table=table)


def odd_judgement(matrix: np.ndarray, names: Sequence[str], *, table: str = SAATY) -> OddJudgement | None:
    """The judgement that contradicts the others most; None where nothing does.

    Notes
    -----
    Two things can be compared through any third: i is a_ik a_kj times j. The fitting value is the geometric mean of
    these; the oddest judgement is the one that is the most times larger or smaller than it.
    """
    matrix = _reciprocal(matrix)
    count = len(matrix)
    if count < 3:
        return None
    logs = np.log(matrix)
    through = (logs.sum(axis=1)[:, None] + logs.sum(axis=0)[None, :] - 2 * logs) / (count - 2)
    upper = np.triu(np.abs(logs - through), 1)
    if upper.max() <= _SAME:
        return None
    row, column = np.unravel_index(np.argmax(upper), upper.shape)
    mended = matrix.copy()
    fitting = float(np.exp(through[row, column]))
    mended[row, column], mended[column, row] = fitting, 1 / fitting
    return OddJudgement(
        first=names[row],
        second=names[column],
        given=float(matrix[row, column]),
        fitting=fitting,
        ratio_then=consistency(mended, table=table).ratio,
        is_alone=int((upper >= upper.max() - _SAME).sum()) == 1,
    )


def joint_matrix(matrices: Sequence[np.ndarray]) -> np.ndarray:
    """The comparisons of a group: the geometric mean of its members', the only mean that stays reciprocal.

    References
    ----------
    Aczel and Saaty 1983, Procedures for synthesizing ratio judgements, Journal of Mathematical Psychology 27:93-102,
    from memory.

    Examples
    --------
    >>> joint_matrix([[[1, 4], [1 / 4, 1]], [[1, 1], [1, 1]]]).tolist()
    [[1.0, 2.0], [0.5, 1.0]]
    """
    return np.exp(np.mean([np.log(_reciprocal(matrix)) for matrix in matrices], axis=0))


def times(value: float) -> str:
    """How many times, as people write it: whole numbers, and fractions of one.

    Examples
    --------
    >>> times(3.0), times(0.2), times(1.75), times(0.4)
    ('3 times', '1/5 times', '1.8 times', '1/2.5 times')
    """
    return f"{value:.2g} times" if value >= 1 - _SAME else f"1/{1 / value:.2g} times"


def _reciprocal(matrix: np.ndarray) -> np.ndarray:
    matrix = np.asarray(matrix, np.float64)
    if matrix.ndim != 2 or matrix.shape[0] != matrix.shape[1] or not (matrix > 0).all():
        raise ValueError("comparison: the matrix must be square, with every number above 0.")
    if not np.allclose(matrix * matrix.T, 1, rtol=1e-6):
        raise ValueError("comparison: the matrix must be reciprocal, with 1 / 3 opposite 3.")
    return matrix
