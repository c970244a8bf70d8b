"""Blocks of ground, and what drawing them again says of a figure: sightings near each other are not independent.

Animals stay, tracks run through the same bed twice, and neighbouring cells score alike. So what is drawn again, or kept
aside, is never a sighting but a block with all that lies in it.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

LEVEL = 0.95  # of an interval; a convention
DRAWS = 999
FEWEST_SIGHTINGS = 10  # below this no interval is given: expert judgement
FEWEST_BLOCKS = 5  # with sightings; below this no interval is given: expert judgement
LEAST_DEFINED = 0.9  # share of the draws in which a figure must exist for its interval to be told: expert judgement


@dataclass(frozen=True, kw_only=True)
class Estimate:
    """A figure with what chance could have made of it."""

    value: float
    low: float = float("nan")  # of the interval; NaN where there is too little to tell
    high: float = float("nan")

    @property
    def has_interval(self) -> bool:
        """Whether there was enough for an interval."""
        return not math.isnan(self.low)

    def told(self, form: str = ".2f") -> str:
        """The figure and its interval, as text.

        Examples
        --------
        >>> Estimate(value=0.8, low=0.7, high=0.9).told()
        '0.80 (0.70 to 0.90)'
        """
        if math.isnan(self.value):
            return "not defined"
        if not self.has_interval:
            return f"{self.value:{form}} (no interval)"
        return f"{self.value:{form}} ({self.low:{form}} to {self.high:{form}})"


def block_numbers(x: np.ndarray, y: np.ndarray, side: float) -> np.ndarray:
    """A number for the block that holds each place, the same for all places of a block.

    Blocks are squares whose edges are multiples of `side` in the projection, whatever is in them. [m]

    Raises
    ------
    ValueError
        If `side` is not above 0.

    Examples
    --------
    >>> block_numbers(np.array([10.0, 990.0, 1010.0]), np.array([5.0, 5.0, 5.0]), 1000).tolist()
    [0, 0, 1]
    """
    if not 0 < side < math.inf:
        raise ValueError(f"block: found {side:g} m. The side of a block must be above 0 m.")
    columns, rows = (np.floor(np.asarray(along, np.float64) / side).astype(np.int64) for along in (x, y))
    return np.unique(np.stack([columns, rows], axis=-1), axis=0, return_inverse=True)[1].ravel()


def block_draws(blocks: int, *, seed: int, draws: int = DRAWS) -> np.ndarray:
    """How often each of some blocks is drawn, shape (draws, blocks): each draw takes as many as there are."""
    return np.random.default_rng(seed).multinomial(blocks, np.full(blocks, 1 / blocks), size=draws)


def block_folds(sightings: np.ndarray, *, folds: int, seed: int) -> np.ndarray:
    """The fold of each block, from 0, so that the sightings are shared out as evenly as whole blocks allow.

    Parameters
    ----------
    sightings : (blocks,) float
        Sightings in each block. Blocks with the most are dealt first, those without any by lot.
    """
    random = np.random.default_rng(seed)
    shuffled = random.permutation(len(sightings))
    order = shuffled[np.argsort(-np.asarray(sightings)[shuffled], kind="stable")]
    dealt, held = np.zeros(len(sightings), int), np.zeros((folds, 2))
    for block in order:
        # a block with sightings goes where there are fewest, one without where there are fewest blocks
        by = slice(None) if sightings[block] > 0 else slice(1, None)
        fold = min(range(folds), key=lambda number, by=by: tuple(held[number, by]))
        dealt[block] = fold
        held[fold] += (sightings[block], 1)
    return dealt


def drawn_estimate(value: float, drawn: np.ndarray, *, independent: int, level: float = LEVEL) -> Estimate:
    """A figure with its expanded percentile interval.

    Parameters
    ----------
    value : float
        The figure of all blocks.
    drawn : (draws,) float
        The figure of each draw, NaN where it is undefined.
    independent : int
        Blocks with a sighting: what the figure really rests on.

    Returns
    -------
    Estimate
        Without interval where fewer than `FEWEST_BLOCKS` blocks hold a sighting, or too many draws are undefined.

    Notes
    -----
    Plain percentiles are too narrow for small samples. They are taken further out, at the normal probability of
    t sqrt(n / (n - 1)) instead of the level's own, with t of Student's distribution of n - 1 degrees of freedom.

    References
    ----------
    Hesterberg 2015, What teachers should know about the bootstrap, The American Statistician 69:371-386, the expanded
    percentile interval; from memory. Its coverage is tested by simulation.
    """
    from scipy.stats import norm, t

    known = drawn[~np.isnan(drawn)]
    if math.isnan(value) or independent < FEWEST_BLOCKS or len(known) < LEAST_DEFINED * len(drawn):
        return Estimate(value=value)
    reach = t.ppf((1 + level) / 2, independent - 1) * math.sqrt(independent / (independent - 1))
    low, high = np.quantile(known, [norm.cdf(-reach), norm.cdf(reach)])
    return Estimate(value=value, low=float(min(low, value)), high=float(max(high, value)))
