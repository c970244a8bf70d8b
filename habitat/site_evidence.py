"""What a site's own sightings say of its map, and what they would propose. Nothing here holds or tells a place."""

from __future__ import annotations

import datetime
from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import TYPE_CHECKING

import pandas as pd

from habitat.curve import SuitabilityCurve
from habitat.evidence import SeasonEvidence, evidence
from habitat.evidence_blocks import DRAWS, FEWEST_SIGHTINGS
from habitat.evidence_suggestion import Suggestion, propose_break
from habitat.result import SUITABILITY_CLASSES
from layers.plausibility import counted
from layers.quantity import LAYERS
from layers.sighting_effort import site_effort
from layers.sightings import site_sightings
from layers.step import OnStep, Step, ignore

if TYPE_CHECKING:
    from habitat.profile import Profile
    from habitat.site_map import SiteMap

SIDE = 2000.0  # of the blocks of ground that are drawn again, where nobody says otherwise: expert judgement [m]
NO_SIGHTINGS = (
    "This site has no file of sightings, so nothing can be said of whether the map finds the animals. That is not a "
    "sign that there are none."
)
WITHHELD = (
    f"Too few to tell, and no figure of fewer than {FEWEST_SIGHTINGS} sightings is given: it would be little else than "
    "the scores of single ones, which on a published map can find their cells."
)
NO_EFFORT = "Nobody recorded where people looked, neither as tracks nor as hours."


@dataclass(frozen=True, kw_only=True)
class SiteEvidence:
    """Agreement of a map with the sightings of its site, in figures and sentences without a place."""

    sightings: int  # fit for use
    none_seen: int  # records of looking and seeing none, fit for use
    flags: pd.DataFrame  # columns flag, records, left_out: counts by kind
    effort: Mapping[str, float] | None  # hours searched by season ("" without seasons); None where nobody noted any
    seasons: tuple[SeasonEvidence, ...] = field(repr=False)
    proposed_break: Suggestion  # for the class of good habitat
    side: float  # of the blocks [m]
    seed: int

    @property
    def whole(self) -> SeasonEvidence:
        """The evidence of all seasons together, where there are several; else that of the one."""
        return self.seasons[-1]

    @property
    def sentences(self) -> tuple[str, ...]:
        """What records there are, what was flagged, and where people looked."""
        said = [
            f"{counted(self.sightings, 'sighting')} and {counted(self.none_seen, 'record')} of looking and seeing none "
            "can be used. No record is not absence: it may only mean that nobody looked."
        ]
        said += [
            f"{counted(row.records, 'record')}: {row.flag}{f' ({row.left_out} left out)' if row.left_out else ''}."
            for row in self.flags.itertuples()
        ]
        if self.effort is None:
            return (*said, NO_EFFORT)
        hours = ", ".join(
            f"{value:.3g} hours in the {season} season" if season else f"{value:.3g} hours"
            for season, value in self.effort.items()
        )
        return (*said, f"The water of the site was searched for {hours}.")


@dataclass(frozen=True, kw_only=True)
class MovablePoint:
    """A point of a factor's curve that may be asked about, between halfway to the points beside it."""

    factor: str
    point: int  # in the curve, from 0
    label: str
    expert: float  # in the unit of the layer, as all below
    least: float
    most: float


def site_evidence(
    site_map: SiteMap,
    *,
    as_of: datetime.date,
    side: float = SIDE,
    seed: int = 0,
    draws: int = DRAWS,
    on_step: OnStep = ignore,
) -> SiteEvidence | None:
    """How a site's map agrees with its sightings; None where it has no file of them.

    Parameters
    ----------
    as_of : date
        The day after which a record cannot have been made.
    side : float
        Of the blocks of ground that are drawn again. [m]
    seed : int
        Of their draws.
    draws : int

    Raises
    ------
    LayerError
        If a record is dated after `as_of` or contradicts another, or hours of search name no season.
    ValueError
        If `side` is not above 0.
    """
    on_step(Step(1, 2, "checking the sightings"))
    known = _known(site_map, as_of)
    if known is None:
        return None
    sightings, effort, seasons = known
    fair, good = site_map.profile.suitability_breaks
    on_step(Step(2, 2, f"drawing blocks of {side / 1000:g} km again, {draws:,} times"))
    found = evidence(
        site_map.assessment["suitability"],
        sightings,
        breaks={SUITABILITY_CLASSES[2]: fair, SUITABILITY_CLASSES[3]: good},
        side=side,
        seed=seed,
        effort=effort,
        seasons=seasons,
        draws=draws,
    )
    return SiteEvidence(
        sightings=len(sightings.seen),
        none_seen=len(sightings.none_seen),
        flags=_counts(sightings.flags),
        effort=None if effort is None else {season or "": float(hours.sum()) for season, hours in effort.items()},
        seasons=found,
        proposed_break=propose_break(
            found[-1].comparison,
            name=f"The break of {SUITABILITY_CLASSES[3]}",
            expert=good,
            # a break halfway to the next one, or to the ideal, would still mean what the class says (our choice)
            least=(fair + good) / 2,
            most=(good + 1) / 2,
            seed=seed,
            draws=draws,
        ),
        side=side,
        seed=seed,
    )


def evidence_text(found: SiteEvidence) -> str:
    """The sentences, the figures and the proposed break, for a terminal."""
    from habitat.evidence import evidence_table

    parts = [*found.sentences, ""]
    for part in found.seasons:
        parts += [*season_sentences(part), ""]
    parts += found.proposed_break.sentences
    told = [part for part in found.seasons if part.comparison.can_tell]
    if told:
        figures = evidence_table(told).drop(columns="against")
        parts += ["", figures.to_string(index=False, na_rep="", float_format="{:.2f}".format)]
    return "\n".join(parts)


def season_sentences(part: SeasonEvidence) -> tuple[str, ...]:
    """What the sightings of one season say; where they are few, only how few they are."""
    return part.sentences if part.comparison.can_tell else (part.sentences[0], WITHHELD)


def proposed_point(
    site_map: SiteMap,
    asked: MovablePoint,
    *,
    as_of: datetime.date,
    side: float = SIDE,
    seed: int = 0,
    on_step: OnStep = ignore,
    **options: int,
) -> Suggestion | None:
    """Where the sightings would put a point of a curve, judged by the break of good habitat; None without sightings.

    Parameters
    ----------
    asked : MovablePoint
        One of `movable_points`.
    as_of, side, seed
        As for `site_evidence`.
    options
        As for `habitat.evidence_suggestion.propose_point`.
    """
    from habitat.evidence_point import propose_curve_point

    known = _known(site_map, as_of)
    if known is None:
        return None
    sightings, effort, seasons = known
    on_step(Step(1, 1, f"scoring the site with {asked.label} at many places"))
    return propose_curve_point(
        site_map.layers,
        site_map.profile,
        sightings,
        factor=asked.factor,
        point=asked.point,
        least=asked.least,
        most=asked.most,
        side=side,
        seed=seed,
        break_at=site_map.profile.suitability_breaks[-1],
        effort=effort,
        seasons=seasons,
        **options,
    )


def movable_points(profile: Profile) -> tuple[MovablePoint, ...]:
    """Every point of a factor's curve that has one on either side."""
    found = []
    for factor in profile.factors:
        if not isinstance(factor.curve, SuitabilityCurve):
            continue
        values, sign = factor.curve.values, LAYERS[factor.layer].units.replace("degree_Celsius", "°C")
        sign = "" if sign == "1" else sign
        for point in range(1, len(values) - 1):
            at = f"{values[point]:g} {sign}".rstrip()
            found.append(
                MovablePoint(
                    factor=factor.name,
                    point=point,
                    label=f"{factor.label} at {at} (index {factor.curve.indices[point]:g})",
                    expert=values[point],
                    least=(values[point - 1] + values[point]) / 2,
                    most=(values[point] + values[point + 1]) / 2,
                )
            )
    return tuple(found)


def _known(site_map: SiteMap, as_of: datetime.date):
    """Sightings, hours of search by season and months of seasons; None without a file of sightings."""
    surface, inputs = site_map.layers["surface"], site_map.inputs
    sightings = site_sightings(inputs, surface, as_of=as_of)
    if sightings is None:
        return None
    scores = site_map.assessment["suitability"]
    seasonal = "season" in scores.dims
    names = [str(name) for name in scores["season"].values] if seasonal else [None]
    return sightings, site_effort(inputs, inputs.site.grid, names), inputs.site.seasons if seasonal else None


def _counts(flags: pd.DataFrame) -> pd.DataFrame:
    rows = [(flag, len(part), int((~part["used"]).sum())) for flag, part in flags.groupby("flag", sort=False)]
    return pd.DataFrame(rows, columns=["flag", "records", "left_out"])
