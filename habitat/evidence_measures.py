"""How well scores part the places where animals were seen from the others: one number each, from plain arrays.

Every measure takes weights, so that a sighting whose place is unsure can be shared out over cells, and a cell that was
searched for ten hours counts ten times one that was searched for one.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

WINDOWS_A_RANGE = 10  # a window is a tenth of the range of scores: Hirzel et al. 2006
STEPS_A_WINDOW = 10  # windows move by a tenth of their width, so there are 91: "about 100", no standard
FEWEST_WINDOWS = 3  # a rank correlation of fewer says nothing
_SAME = 1e-9  # relative spread below which ratios are one constant


@dataclass(frozen=True, kw_only=True)
class BoyceIndex:
    """The continuous Boyce index and the curve it was read from."""

    value: float  # -1 to 1; NaN where it is undefined [1]
    undefined: str = ""  # why, where it is
    middles: np.ndarray  # (k,) score in the middle of each window that was searched [1]
    ratios: np.ndarray  # (k,) sightings found there, over those expected from what was available [1]


@dataclass(frozen=True, kw_only=True)
class SkillTable:
    """Sightings and searched places on either side of a break: counts, or sums of weights."""

    hits: float  # seen, at or above the break
    misses: float  # seen, below it
    false_alarms: float  # not seen, at or above it
    correct_rejections: float  # not seen, below it

    @property
    def sensitivity(self) -> float:
        """Share of the sightings at or above the break; NaN without sightings. [1]"""
        return _share(self.hits, self.misses)

    @property
    def specificity(self) -> float:
        """Share of the places without a sighting that lie below the break; NaN without such places. [1]"""
        return _share(self.correct_rejections, self.false_alarms)

    @property
    def true_skill(self) -> float:
        """Sensitivity + specificity - 1: -1 to 1, 0 for a break that tells nothing. Prevalence does not move it. [1]"""
        return self.sensitivity + self.specificity - 1

    @property
    def total(self) -> float:
        """All that was counted."""
        return self.hits + self.misses + self.false_alarms + self.correct_rejections

    @property
    def prevalence(self) -> float:
        """Share of all that holds a sighting. [1]"""
        return _share(self.hits + self.misses, self.false_alarms + self.correct_rejections)

    @property
    def accuracy(self) -> float:
        """Share on the right side of the break. [1]"""
        return _share(self.hits + self.correct_rejections, self.misses + self.false_alarms)

    @property
    def precision(self) -> float:
        """Share of what lies at or above the break that holds a sighting. [1]"""
        return _share(self.hits, self.false_alarms)

    @property
    def kappa(self) -> float:
        """Cohen's kappa, (po - pe) / (1 - pe); NaN where chance alone agrees wholly. It moves with prevalence. [1]"""
        if not self.total > 0:
            return float("nan")
        above, seen = (self.hits + self.false_alarms) / self.total, (self.hits + self.misses) / self.total
        expected = above * seen + (1 - above) * (1 - seen)
        return (self.accuracy - expected) / (1 - expected) if expected < 1 else float("nan")

    def at_prevalence(self, prevalence: float) -> SkillTable:
        """The same sensitivity and specificity where another share of places holds a sighting, of a total of 1.

        Raises
        ------
        ValueError
            If the prevalence is not between 0 and 1.

        Examples
        --------
        >>> rare = SkillTable(hits=16, misses=4, false_alarms=36, correct_rejections=144)
        >>> round(rare.kappa, 3), round(rare.at_prevalence(0.5).kappa, 3)
        (0.351, 0.6)
        """
        if not 0 < prevalence < 1:
            raise ValueError(f"prevalence: found {prevalence:g}. It lies between 0 and 1.")
        return SkillTable(
            hits=prevalence * self.sensitivity,
            misses=prevalence * (1 - self.sensitivity),
            false_alarms=(1 - prevalence) * (1 - self.specificity),
            correct_rejections=(1 - prevalence) * self.specificity,
        )


def area_under_curve(
    seen: np.ndarray,
    others: np.ndarray,
    seen_weights: np.ndarray | None = None,
    other_weights: np.ndarray | None = None,
) -> float:
    """Chance that a sighting has a higher score than another place, a tie counting half.

    Parameters
    ----------
    seen, others : (n,), (m,) float
        Scores where animals were seen, and of the places they are held against. [1]
    seen_weights, other_weights : (n,), (m,) float, optional
        0 or more; 1 each without them.

    Returns
    -------
    float
        0 to 1, 0.5 for scores that tell nothing; NaN where one of the two weighs nothing. [1]

    Raises
    ------
    ValueError
        If a score is not a number or a weight is below 0.

    Notes
    -----
    The area under the receiver operating characteristic: sum of w_i v_j ([s_i > t_j] + [s_i = t_j] / 2) over the
    product of the sums of weights. Beside places that were only available, not searched, it stays below 1 even for a
    perfect map.

    Examples
    --------
    >>> area_under_curve([0.35, 0.8], [0.1, 0.4])
    0.75
    """
    seen, seen_weights = _weighed(seen, seen_weights)
    others, other_weights = _weighed(others, other_weights)
    total = seen_weights.sum() * other_weights.sum()
    if not total > 0:
        return float("nan")
    return float((seen_weights * weight_below(seen, others, other_weights)).sum() / total)


def weight_below(scores: np.ndarray, others: np.ndarray, weights: np.ndarray) -> np.ndarray:
    """Weight of the `others` below each score, those equal to it counting half; shape of `scores`."""
    order = np.argsort(others, kind="stable")
    ranked, reached = others[order], np.concatenate([[0.0], np.cumsum(weights[order])])
    below, up_to = (reached[np.searchsorted(ranked, scores, side)] for side in ("left", "right"))
    return (below + up_to) / 2


def skill_table(
    seen: np.ndarray,
    others: np.ndarray,
    least: float,
    seen_weights: np.ndarray | None = None,
    other_weights: np.ndarray | None = None,
) -> SkillTable:
    """Sightings and other places at or above `least`, and below it; arguments as of `area_under_curve`."""
    seen, seen_weights = _weighed(seen, seen_weights)
    others, other_weights = _weighed(others, other_weights)
    return SkillTable(
        hits=float(seen_weights[seen >= least].sum()),
        misses=float(seen_weights[seen < least].sum()),
        false_alarms=float(other_weights[others >= least].sum()),
        correct_rejections=float(other_weights[others < least].sum()),
    )


def boyce_index(
    seen: np.ndarray,
    available: np.ndarray,
    seen_weights: np.ndarray | None = None,
    available_weights: np.ndarray | None = None,
) -> BoyceIndex:
    """Whether sightings become more frequent, for what is available, as the score rises.

    Parameters
    ----------
    seen, available : (n,), (m,) float
        Scores where animals were seen, and of all places that could have held one. [1]
    seen_weights, available_weights : (n,), (m,) float, optional
        0 or more; 1 each without them.

    Returns
    -------
    BoyceIndex
        1: ever more frequent; about 0: no better than chance; below 0: the wrong way round. Undefined (NaN, with the
        reason) where there is nothing to rank: it is then not 0.

    Raises
    ------
    ValueError
        If a score is not a number or a weight is below 0.

    Notes
    -----
    A window a tenth as wide as the range of the available scores moves from its lowest to its highest by a tenth of
    itself. In each, F is the share of sightings over the share of what was available. The index is Spearman's rank
    correlation of F with the middle of the window. Windows with nothing available are left out; equal neighbours are
    kept. The number of windows is not standardised, so values of different programs differ in the second digit.

    References
    ----------
    Hirzel, Le Lay, Helfer, Randin and Guisan 2006, Ecological Modelling 199:142-152: abstract read; the width of the
    window and the use of ranks from memory.
    """
    seen, seen_weights = _weighed(seen, seen_weights)
    available, available_weights = _weighed(available, available_weights)
    if not (seen_weights.sum() > 0 and available_weights.sum() > 0):
        nothing = "nothing was seen" if available_weights.sum() > 0 else "no place was searched"
        return BoyceIndex(value=float("nan"), undefined=nothing, middles=np.empty(0), ratios=np.empty(0))
    low, high = available.min(), available.max()
    if not high > low:
        flat = "all places have the same score"
        return BoyceIndex(value=float("nan"), undefined=flat, middles=np.empty(0), ratios=np.empty(0))
    found = np.bincount(score_steps(seen, low, high), seen_weights, WINDOWS_A_RANGE * STEPS_A_WINDOW)
    there = np.bincount(score_steps(available, low, high), available_weights, WINDOWS_A_RANGE * STEPS_A_WINDOW)
    return boyce_of_steps(found, there, low, high)


def score_steps(scores: np.ndarray, low: float, high: float) -> np.ndarray:
    """Number of the step, of a hundredth of the range from `low` to `high`, that holds each score."""
    steps = WINDOWS_A_RANGE * STEPS_A_WINDOW
    place = np.floor((np.asarray(scores, np.float64) - low) / (high - low) * steps).astype(int)
    return np.clip(place, 0, steps - 1)


def boyce_of_steps(found: np.ndarray, available: np.ndarray, low: float, high: float) -> BoyceIndex:
    """The index from weights of sightings and of available places in each step of `score_steps`, (100,) each."""
    from scipy.stats import rankdata

    width = np.ones(STEPS_A_WINDOW)
    found, available = (np.convolve(part / part.sum(), width, "valid") for part in (found, available))
    middles = low + (high - low) * (np.arange(len(found)) + STEPS_A_WINDOW / 2) / (WINDOWS_A_RANGE * STEPS_A_WINDOW)
    there = available > _SAME
    middles, ratios = middles[there], found[there] / available[there]
    undefined = ""
    if len(ratios) < FEWEST_WINDOWS:
        undefined = f"only {len(ratios)} windows of scores hold a place"
    elif np.ptp(ratios) <= _SAME * ratios.max():
        undefined = "sightings are equally frequent at every score, so there is nothing to rank"
    if undefined:
        return BoyceIndex(value=float("nan"), undefined=undefined, middles=middles, ratios=ratios)
    ranks = rankdata(np.round(ratios / ratios.max(), 9))  # rounding must not order what is equal
    value = float(np.corrcoef(ranks, np.arange(len(ranks)))[0, 1])
    return BoyceIndex(value=value, middles=middles, ratios=ratios)


def _weighed(scores: np.ndarray, weights: np.ndarray | None) -> tuple[np.ndarray, np.ndarray]:
    scores = np.atleast_1d(np.asarray(scores, np.float64))
    weights = np.ones(scores.shape) if weights is None else np.asarray(weights, np.float64)
    if np.isnan(scores).any():
        raise ValueError("scores: one is not a number. Leave places without a score out, and say how many they are.")
    if weights.shape != scores.shape or not (weights >= 0).all():
        raise ValueError("weights: there must be one for each score, 0 or more.")
    return scores, weights


def _share(part: float, rest: float) -> float:
    return part / (part + rest) if part + rest > 0 else float("nan")
