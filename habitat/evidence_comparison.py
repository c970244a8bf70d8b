"""Sightings held against other places, block by block: what every figure of agreement and its interval is made of."""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from functools import cached_property

import numpy as np

from habitat.evidence_blocks import (
    DRAWS,
    FEWEST_SIGHTINGS,
    LEVEL,
    Estimate,
    block_draws,
    drawn_estimate,
)
from habitat.evidence_measures import (
    STEPS_A_WINDOW,
    WINDOWS_A_RANGE,
    BoyceIndex,
    SkillTable,
    area_under_curve,
    boyce_index,
    boyce_of_steps,
    score_steps,
    skill_table,
    weight_below,
)

SEARCHED = "searched water, hour for hour"
NOT_SEEN = "records of looking and seeing none"
AVAILABLE = "all water with a score"


@dataclass(frozen=True, kw_only=True)
class Comparison:
    """Scores of sightings and of other places, with weights and blocks. Nothing here says where a place is.

    A sighting whose place is unsure is several pieces, whose weights add up to 1 and whose block is that of its middle.
    """

    seen: np.ndarray = field(repr=False)  # (n,) score of each piece of a sighting [1]
    seen_weights: np.ndarray = field(repr=False)  # (n,) share of the sighting [1]
    seen_blocks: np.ndarray = field(repr=False)  # (n,) number of its block, from 0
    others: np.ndarray = field(repr=False)  # (m,) score of each other place [1]
    other_weights: np.ndarray = field(repr=False)  # (m,) what it counts for, hours or 1
    other_blocks: np.ndarray = field(repr=False)  # (m,)
    blocks: int  # numbers in use
    side: float  # of a block [m]
    against: str  # SEARCHED, NOT_SEEN or AVAILABLE

    @cached_property
    def sightings(self) -> int:
        """Whole sightings."""
        return round(float(self.seen_weights.sum()))

    @cached_property
    def sightings_by_block(self) -> np.ndarray:
        """(blocks,) sightings in each block."""
        return np.bincount(self.seen_blocks, self.seen_weights, self.blocks)

    @property
    def independent(self) -> int:
        """Blocks with a sighting."""
        return int((self.sightings_by_block > 0).sum())

    @property
    def can_tell(self) -> bool:
        """Whether there are enough sightings for an interval; there may still be too few blocks."""
        return self.sightings >= FEWEST_SIGHTINGS

    def area(self, *, seed: int, draws: int = DRAWS) -> Estimate:
        """Area under the curve: chance that a sighting scores higher than another place. [1]"""
        value = area_under_curve(self.seen, self.others, self.seen_weights, self.other_weights)
        times = block_draws(self.blocks, seed=seed, draws=draws).astype(np.float64)
        seen = times @ self.sightings_by_block
        others = times @ np.bincount(self.other_blocks, self.other_weights, self.blocks)
        won = ((times @ self._won) * times).sum(axis=1)
        drawn = np.divide(won, seen * others, out=np.full(draws, np.nan), where=seen * others > 0)
        return self._estimate(value, drawn)

    def boyce(self, *, seed: int, draws: int = DRAWS) -> tuple[Estimate, BoyceIndex]:
        """Continuous Boyce index with its interval, and the curve it was read from."""
        found = boyce_index(self.seen, self.others, self.seen_weights, self.other_weights)
        if np.isnan(found.value):
            return Estimate(value=found.value), found
        low, high = self.others.min(), self.others.max()
        seen, others = self.steps(low, high)
        times = block_draws(self.blocks, seed=seed, draws=draws)
        drawn = np.array(
            [step_boyce(one, other, low, high) for one, other in zip(times @ seen, times @ others, strict=True)]
        )
        return self._estimate(found.value, drawn), found

    def skill(self, least: float) -> SkillTable:
        """Sightings and places at or above a break, places counted as so many as they are."""
        scale = len(self.others) / self.other_weights.sum() if len(self.others) else 1.0
        return skill_table(self.seen, self.others, least, self.seen_weights, self.other_weights * scale)

    def true_skill(self, least: float, *, seed: int, draws: int = DRAWS) -> Estimate:
        """Sensitivity + specificity - 1 at a break. [1]

        Where less than one sighting lies on one side of the break, every draw says that none ever will. Then the
        interval also reaches to what so many blocks on one side allow: a share of ((1 - level) / 2) ^ (1 / blocks), the
        exact binomial limit.
        """
        skill = self.skill(least)
        drawn = true_skills(block_draws(self.blocks, seed=seed, draws=draws) @ self.sides(least))
        found = self._estimate(skill.true_skill, drawn)
        if not found.has_interval:
            return found
        share = ((1 - LEVEL) / 2) ** (1 / self.independent)
        if skill.misses < 1:
            found = replace(found, low=min(found.low, share + skill.specificity - 1))
        if skill.hits < 1:
            found = replace(found, high=max(found.high, skill.specificity - share))
        return found

    def sides(self, least: float) -> np.ndarray:
        """(blocks, 4) weight of hits, misses, false alarms and correct rejections in each block."""
        parts = (
            (self.seen_blocks, self.seen_weights, self.seen >= least),
            (self.seen_blocks, self.seen_weights, self.seen < least),
            (self.other_blocks, self.other_weights, self.others >= least),
            (self.other_blocks, self.other_weights, self.others < least),
        )
        return np.stack([np.bincount(block, weight * on, self.blocks) for block, weight, on in parts], axis=1)

    def steps(self, low: float, high: float) -> tuple[np.ndarray, np.ndarray]:
        """(blocks, 100) weight of sightings and of other places in each step of score, block by block."""
        return tuple(
            _by_block(score_steps(scores, low, high), weights, blocks, self.blocks)
            for scores, weights, blocks in (
                (self.seen, self.seen_weights, self.seen_blocks),
                (self.others, self.other_weights, self.other_blocks),
            )
        )

    @cached_property
    def _won(self) -> np.ndarray:
        """(blocks, blocks) weight of the pairs, a sighting of one and a place of the other, that the sighting wins."""
        won = np.zeros((self.blocks, self.blocks))
        for block in np.unique(self.other_blocks):
            here = self.other_blocks == block
            below = weight_below(self.seen, self.others[here], self.other_weights[here])
            won[:, int(block)] = np.bincount(self.seen_blocks, self.seen_weights * below, self.blocks)
        return won

    def _estimate(self, value: float, drawn: np.ndarray) -> Estimate:
        return drawn_estimate(value, drawn, independent=self.independent) if self.can_tell else Estimate(value=value)


def true_skills(sides: np.ndarray) -> np.ndarray:
    """True skill of each row of hits, misses, false alarms, correct rejections, (..., 4); NaN if undefined. [1]"""
    hits, misses, alarms, rejections = np.moveaxis(np.asarray(sides, np.float64), -1, 0)
    with np.errstate(invalid="ignore", divide="ignore"):
        return hits / (hits + misses) + rejections / (rejections + alarms) - 1


def step_boyce(seen: np.ndarray, others: np.ndarray, low: float, high: float) -> float:
    """Boyce index of weights in steps of score; NaN where it is undefined. [1]"""
    return boyce_of_steps(seen, others, low, high).value if seen.sum() > 0 and others.sum() > 0 else float("nan")


def _by_block(steps: np.ndarray, weights: np.ndarray, blocks: np.ndarray, count: int) -> np.ndarray:
    size = WINDOWS_A_RANGE * STEPS_A_WINDOW
    return np.bincount(blocks * size + steps, weights, count * size).reshape(count, size)
