"""What sightings say of a map of suitability: whether it knows where animals are seen, and how sure that is.

Sightings are few, near each other, and made where people look. So they are held against what was searched, in blocks of
ground that are drawn again, season by season; and where they are too few to tell, that is what is said.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from typing import TYPE_CHECKING

import numpy as np

from habitat.evidence_blocks import DRAWS, FEWEST_BLOCKS, FEWEST_SIGHTINGS, Estimate
from habitat.evidence_comparison import AVAILABLE, Comparison
from habitat.evidence_measures import BoyceIndex, SkillTable
from habitat.evidence_places import comparison_of, gathered
from layers.plausibility import counted

if TYPE_CHECKING:
    import pandas as pd
    import xarray as xr

    from layers.sightings import Sightings

ALL_SEASONS = "all seasons"
CHANCE = 0.5  # area under the curve of a map that knows nothing
RARE = 0.2  # share of places with a sighting below which kappa misleads: expert judgement
TOO_FEW = "too few to tell"


@dataclass(frozen=True, kw_only=True)
class BreakEvidence:
    """How a class break parts sightings from other places."""

    name: str  # of the classes at or above the break, such as "good habitat"
    least: float  # the break [1]
    skill: SkillTable
    true_skill: Estimate


@dataclass(frozen=True, kw_only=True)
class SeasonEvidence:
    """What the sightings of one season say of that season's map."""

    season: str  # "" where the map has none
    comparison: Comparison = field(repr=False)
    left_out: Mapping[str, int]  # reason: sightings that could not be used
    area: Estimate  # area under the curve [1]
    boyce: Estimate
    boyce_curve: BoyceIndex = field(repr=False)
    breaks: tuple[BreakEvidence, ...]
    seed: int

    @property
    def verdict(self) -> str:
        """One of "better than chance", "worse than chance", TOO_FEW."""
        if not self.area.has_interval:
            return TOO_FEW
        if self.area.low > CHANCE:
            return "better than chance"
        return "worse than chance" if self.area.high < CHANCE else TOO_FEW

    @property
    def sentences(self) -> tuple[str, ...]:
        """What it means for this site, in plain words that tell no place."""
        return (self._basis, *self._area_told, self._boyce_told, *self._breaks_told)

    @property
    def _basis(self) -> str:
        found = self.comparison
        season = f"{self.season[:1].upper()}{self.season[1:]}: " if self.season else ""
        left = "".join(f"; {count} left out, {reason}" for reason, count in self.left_out.items())
        return (
            f"{season}{counted(found.sightings, 'sighting')} in {counted(found.independent, 'block')} of "
            f"{found.side / 1000:g} km, held against {found.against}{left}."
        )

    @property
    def _area_told(self) -> list[str]:
        found = self.comparison
        if np.isnan(self.area.value):
            return [
                "Nothing was seen, or nothing is there to hold it against, so the map can be neither right nor wrong."
            ]
        of_100 = Estimate(value=100 * self.area.value, low=100 * self.area.low, high=100 * self.area.high)
        told = (
            f"Of 100 pairs of a sighting and a place from {found.against}, the sighting has the higher score in "
            f"{of_100.told('.0f')}; 50 would be chance."
        )
        if not self.area.has_interval:
            told += (
                f" That is {TOO_FEW} from: it takes at least {FEWEST_SIGHTINGS} sightings in {FEWEST_BLOCKS} blocks."
            )
        elif self.verdict == TOO_FEW:
            told += f" Chance alone could give that: the sightings are {TOO_FEW} whether the map is right."
        else:
            told += f" The map is {self.verdict} at saying where animals are seen."
        said = [told]
        if found.against == AVAILABLE:
            said.append(
                "Nobody recorded where people looked. The map may then only be right about where people go; note hours "
                "and tracks of each survey, those without a sighting above all."
            )
        return said

    @property
    def _boyce_told(self) -> str:
        if np.isnan(self.boyce.value):
            return f"The Boyce index is not defined: {self.boyce_curve.undefined}."
        told = f"Boyce index {self.boyce.told()}: "
        if not self.boyce.has_interval:
            return f"{told}{TOO_FEW} from."
        if self.boyce.low > 0:
            return f"{told}sightings become more frequent, for the water there is, as the score rises."
        if self.boyce.high < 0:
            return f"{told}sightings become rarer as the score rises, the wrong way round."
        return f"{told}{TOO_FEW} whether sightings become more frequent as the score rises."

    @property
    def _breaks_told(self) -> list[str]:
        said = []
        for part in self.breaks:
            skill = part.skill
            if np.isnan(skill.true_skill):
                continue
            said.append(
                f"At the break of {part.name} ({part.least:g}): {skill.sensitivity:.0%} of the sightings lie in it or "
                f"above, and {1 - skill.specificity:.0%} of {self.comparison.against}; true skill "
                f"{part.true_skill.told()}, where 0 tells nothing and 1 is perfect."
            )
        rare = [part for part in self.breaks if part.skill.prevalence < RARE and not np.isnan(part.skill.kappa)]
        if rare:
            part, skill = rare[-1], rare[-1].skill
            said.append(
                f"Kappa at the break of {part.name} is {skill.kappa:.2f}, but it would be "
                f"{skill.at_prevalence(0.5).kappa:.2f} with the same right and wrong answers if as many places had a "
                f"sighting as had none; here {skill.prevalence:.2%} have. Do not judge the map by kappa."
            )
        return said


def evidence(
    suitability: xr.DataArray,
    sightings: Sightings,
    *,
    breaks: Mapping[str, float],
    side: float,
    seed: int,
    effort: Mapping[str | None, xr.DataArray] | None = None,
    seasons: Mapping[str, Sequence[int]] | None = None,
    draws: int = DRAWS,
) -> tuple[SeasonEvidence, ...]:
    """How a map of suitability agrees with sightings, for each of its seasons and for all of them together.

    Parameters
    ----------
    suitability : (y, x) or (season, y, x) float
        Scores, NaN where there is none. [1]
    sightings : Sightings
        From `layers.sightings.checked_sightings`, on the same grid.
    breaks : of float
        Least score of a class, by the name of the class. [1]
    side : float
        Of the square blocks of ground that are drawn again: at least as wide as the reach over which habitat and
        sightings resemble each other. [m]
    seed : int
        Of the draws.
    effort : of (y, x) float, optional
        Hours that each cell was searched, by season; under None for a map without seasons. [hour]
    seasons : of sequences of months, optional
        Needed where the map has seasons. Sightings whose month is not known are then left out.
    draws : int
        Of the blocks.

    Returns
    -------
    tuple of SeasonEvidence
        In the order of the map's seasons; last, where there are several, ALL_SEASONS: each sighting by its own season.

    Raises
    ------
    ValueError
        If the map has a season of which `seasons` or `effort` knows nothing, or grids differ.

    References
    ----------
    Roberts et al. 2017, Cross-validation strategies for data with temporal, spatial, hierarchical, or phylogenetic
    structure, Ecography 40:913-929: blocks rather than single records; from memory.
    """
    if "season" not in suitability.dims:
        part = gathered(suitability, sightings, side=side, effort=None if effort is None else effort[None])
        return (_told("", [part], breaks, side, seed, draws),)
    names = [str(name) for name in suitability["season"].values]
    for known, what in ((seasons, "seasons"), (effort, "effort")):
        if known is None and what == "effort":
            continue
        missing = [name for name in names if name not in (known or {})]
        if missing:
            raise ValueError(f"{what}: nothing is said of the season {missing[0]}, which the map has.")
    parts = {
        name: gathered(
            suitability.sel(season=name),
            sightings.in_months(seasons[name]),
            side=side,
            effort=None if effort is None else effort[name],
        )
        for name in names
    }
    found = [_told(name, [part], breaks, side, seed, draws) for name, part in parts.items()]
    if len(names) > 1 and len({part.against for part in parts.values()}) == 1:
        found.append(_told(ALL_SEASONS, list(parts.values()), breaks, side, seed, draws))
    return tuple(found)


def evidence_table(found: Sequence[SeasonEvidence]) -> pd.DataFrame:
    """Every figure in one table, a row each: season, figure, class, value, low, high, sightings, blocks. No place."""
    import pandas as pd

    rows = []
    for part in found:
        figures = [("area under the curve", "", part.area), ("Boyce index", "", part.boyce)]
        for cut in part.breaks:
            figures += [
                ("true skill", cut.name, cut.true_skill),
                ("sensitivity", cut.name, Estimate(value=cut.skill.sensitivity)),
                ("specificity", cut.name, Estimate(value=cut.skill.specificity)),
                ("kappa", cut.name, Estimate(value=cut.skill.kappa)),
            ]
        rows += [
            (part.season, figure, name, told.value, told.low, told.high, part.comparison.sightings,
             part.comparison.independent, part.comparison.against)
            for figure, name, told in figures
        ]  # fmt: skip
    names = ["season", "figure", "class", "value", "low", "high", "sightings", "blocks", "against"]
    return pd.DataFrame(rows, columns=names)


def _told(season: str, parts: list, breaks: Mapping[str, float], side: float, seed: int, draws: int) -> SeasonEvidence:
    comparison = comparison_of(*parts, side=side)
    boyce, curve = comparison.boyce(seed=seed, draws=draws)
    left_out: dict[str, int] = {}
    for part in parts:
        for reason, count in part.left_out.items():
            left_out[reason] = left_out.get(reason, 0) + count
    return SeasonEvidence(
        season=season,
        comparison=comparison,
        left_out=left_out,
        area=comparison.area(seed=seed, draws=draws),
        boyce=boyce,
        boyce_curve=curve,
        breaks=tuple(
            BreakEvidence(
                name=name,
                least=least,
                skill=comparison.skill(least),
                true_skill=comparison.true_skill(least, seed=seed, draws=draws),
            )
            for name, least in breaks.items()
        ),
        seed=seed,
    )
