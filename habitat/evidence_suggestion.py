"""Another value for a number of the profile that would agree better with the sightings: a proposal, never applied.

A value chosen for agreeing with some sightings agrees with them by construction. So it is also chosen without a part of
the blocks and judged on that part alone; what it gains there is the gain that may be hoped for.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from typing import TYPE_CHECKING

import numpy as np

from habitat.evidence_blocks import (
    DRAWS,
    FEWEST_BLOCKS,
    FEWEST_SIGHTINGS,
    Estimate,
    block_draws,
    block_folds,
    drawn_estimate,
)
from habitat.evidence_comparison import Comparison, step_boyce, true_skills

if TYPE_CHECKING:
    import pandas as pd

TRUE_SKILL = "true skill"
BOYCE = "Boyce index"
FOLDS = 5  # parts of the blocks, each kept aside once; a convention
CANDIDATES = 61  # values tried over the stated range

Measure = Callable[[np.ndarray], float]


@dataclass(frozen=True, kw_only=True)
class Suggestion:
    """A value beside the expert's, and what it would gain. It changes nothing by itself."""

    name: str  # of the number, in words
    expert: float
    proposed: float | None  # None where there is too little to tell, or nothing agrees better
    measure: str  # TRUE_SKILL or BOYCE
    of_expert: float  # the measure at the expert's value, all blocks [1]
    of_proposed: float  # at the proposed one, on the blocks that chose it: too good [1]
    gain: Estimate  # over the expert's value on blocks kept aside [1]
    folds: pd.DataFrame = field(repr=False)  # a row for each part kept aside: fold, blocks, sightings, chosen
    curve: pd.DataFrame = field(repr=False)  # columns value and agreement, of all candidates
    range: tuple[float, float]  # of the candidates

    @property
    def sentences(self) -> tuple[str, ...]:
        """What may be said of it; the expert decides."""
        kept = f"The value of the profile, {self.expert:g}, stays until somebody changes it"
        if not len(self.folds):
            return (
                f"{self.name}: too few sightings to propose another value (it takes {FEWEST_SIGHTINGS} in "
                f"{FEWEST_BLOCKS} blocks). {kept}.",
            )
        if self.proposed is None:
            low, high = self.range
            return (
                f"{self.name}: no value from {low:g} to {high:g} agrees better with the sightings than "
                f"{self.expert:g}.",
            )
        told = (
            f"{self.name}: {self.proposed:.3g} would agree better with the sightings than {self.expert:g} "
            f"({self.measure} {self.of_proposed:.2f} against {self.of_expert:.2f}). Chosen without a part of the "
            f"blocks and judged on that part, it gains {self.gain.told('+.2f')}"
        )
        if not self.gain.has_interval or self.gain.low <= 0:
            told += ": too little to tell from chance."
        else:
            told += ": more than chance would give."
        apart = self.folds["chosen"].max() - self.folds["chosen"].min()
        spread = (
            f"The parts choose values from {self.folds['chosen'].min():.3g} to {self.folds['chosen'].max():.3g}."
            if apart > 0
            else "Every part chooses the same value."
        )
        return (told, f"{spread} {kept}; sightings are one reason among others.")


def propose_break(
    comparison: Comparison,
    *,
    name: str,
    expert: float,
    least: float,
    most: float,
    seed: int,
    candidates: int = CANDIDATES,
    folds: int = FOLDS,
    draws: int = DRAWS,
) -> Suggestion:
    """A class break of greater true skill than the expert's, between `least` and `most`.

    Parameters
    ----------
    comparison : Comparison
        Of the map the break cuts.
    name : str
        Of the break, in words.
    expert : float
        The break of the profile. [1]
    least, most : float
        Range of breaks that would still mean what the class says. [1]
    seed : int
        Of the parts and of the draws.

    Raises
    ------
    ValueError
        If the range does not rise.
    """
    values = _candidates(expert, least, most, candidates)
    return _suggestion(
        name,
        expert,
        values,
        [comparison.sides(value) for value in values],
        comparison,
        TRUE_SKILL,
        lambda sums: float(true_skills(sums)),
        seed=seed,
        folds=folds,
        draws=draws,
    )


def propose_point(
    comparison_at: Callable[[float], Comparison],
    *,
    name: str,
    expert: float,
    least: float,
    most: float,
    seed: int,
    break_at: float | None = None,
    candidates: int = 13,
    folds: int = FOLDS,
    draws: int = DRAWS,
) -> Suggestion:
    """A place of a curve's point that agrees better with the sightings than the expert's, between `least` and `most`.

    Parameters
    ----------
    comparison_at : function of a value
        The comparison of the map that is scored with the point at that value; it is called once for each candidate.
        Sightings and places must be the same each time.
    break_at : float, optional
        The class break whose true skill is to grow. Without it, the Boyce index is.

    Raises
    ------
    ValueError
        If the range does not rise, or a map has scores at other places than the expert's.
    """
    values = _candidates(expert, least, most, candidates)
    found = [comparison_at(float(value)) for value in values]
    mine = found[int(np.flatnonzero(values == expert)[0])]
    shape = (mine.seen.shape, mine.others.shape, mine.blocks)
    if any((other.seen.shape, other.others.shape, other.blocks) != shape for other in found):
        raise ValueError("comparisons: a map has scores at other places than the expert's. Keep the same cells.")
    if break_at is not None:
        sums = [part.sides(break_at) for part in found]
        measure, of = TRUE_SKILL, lambda total: float(true_skills(total))
    else:
        low, high = float(mine.others.min()), float(mine.others.max())
        sums = [np.concatenate(part.steps(low, high), axis=1) for part in found]
        half = sums[0].shape[1] // 2
        measure, of = BOYCE, lambda total: step_boyce(total[:half], total[half:], low, high)
    return _suggestion(name, expert, values, sums, mine, measure, of, seed=seed, folds=folds, draws=draws)


def _candidates(expert: float, least: float, most: float, count: int) -> np.ndarray:
    if not least < most:
        raise ValueError(f"range: found {least:g} to {most:g}. The least must be below the most.")
    return np.unique([*np.linspace(least, most, count).round(6), expert])


def _suggestion(
    name: str,
    expert: float,
    values: np.ndarray,
    sums: Sequence[np.ndarray],  # of each candidate: (blocks, k), which add up over blocks
    comparison: Comparison,
    measure: str,
    of: Measure,
    *,
    seed: int,
    folds: int,
    draws: int,
) -> Suggestion:
    import pandas as pd

    sums = np.stack(sums)
    own = int(np.flatnonzero(values == expert)[0])
    agreement = np.array([of(part.sum(axis=0)) for part in sums])
    tried = {"name": name, "expert": expert, "measure": measure, "range": (float(values[0]), float(values[-1]))}
    tried |= {"of_expert": agreement[own], "curve": pd.DataFrame({"value": values, "agreement": agreement})}
    columns = ["fold", "blocks", "sightings", "chosen"]
    if comparison.sightings < FEWEST_SIGHTINGS or comparison.independent < FEWEST_BLOCKS or np.isnan(agreement[own]):
        nothing = {"proposed": None, "of_proposed": float("nan"), "gain": Estimate(value=float("nan"))}
        return Suggestion(**tried, **nothing, folds=pd.DataFrame(columns=columns))
    dealt = block_folds(comparison.sightings_by_block, folds=min(folds, comparison.independent), seed=seed)
    kept_aside, rows = np.empty_like(sums[own]), []
    for fold in range(dealt.max() + 1):
        aside = dealt == fold
        chosen = _best([of(part[~aside].sum(axis=0)) for part in sums], values, own)
        kept_aside[aside] = sums[chosen][aside]
        rows.append((fold + 1, int(aside.sum()), comparison.sightings_by_block[aside].sum(), float(values[chosen])))
    best = _best(agreement, values, own)
    times = block_draws(comparison.blocks, seed=seed, draws=draws)
    drawn = np.array([of(one) - of(other) for one, other in zip(times @ kept_aside, times @ sums[own], strict=True)])
    gain = of(kept_aside.sum(axis=0)) - agreement[own]
    return Suggestion(
        **tried,
        proposed=None if best == own else float(values[best]),
        of_proposed=float(agreement[best]),
        gain=drawn_estimate(float(gain), drawn, independent=comparison.independent),
        folds=pd.DataFrame(rows, columns=columns).round({"sightings": 1}),
    )


def _best(agreement: Sequence[float], values: np.ndarray, own: int) -> int:
    """The candidate that agrees best; of equals the one nearest to the expert's."""
    known = np.nan_to_num(np.asarray(agreement, np.float64), nan=-np.inf)
    ties = np.flatnonzero(known >= known.max() - 1e-9)
    return int(min(ties, key=lambda number: (abs(values[number] - values[own]), values[number])))
