"""How sure the loss to a proposal is: its range, the chance that it passes a limit, and which doubt settles it.

Before and after are scored under the same draws. What is wrong in the same way on both sides mostly cancels, so that a
loss can be much surer than the habitat it is a loss of.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import TYPE_CHECKING

import numpy as np
import pandas as pd

from habitat.doubt import Doubts, doubts_of
from habitat.doubt_ends import Ends, site_ends
from habitat.draws import drawn
from habitat.draws_cells import score_draws, season_names
from habitat.settling import settling
from habitat.uncertainty import INTERVAL, doubt_sentences, undoubted
from layers.grid import Grid
from layers.quantity import INTERTIDAL
from layers.step import OnStep, Step, ignore

if TYPE_CHECKING:
    from habitat.appraisal import Appraisal
    from habitat.site_map import SiteMap

MEASURES = {"units": "habitat units", "spared": "habitat units that threat leaves"}
# differences of layers, as shares of the largest value, below which a cell may be left at its undoubted loss; the
# first is taken at which such cells hold no more than `LEFT` of all undoubted loss (our choices)
FAINT = (1e-3, 1e-4, 1e-5, 1e-6, 0.0)
LEFT = 0.01
WORTH_TELLING = 0.1  # share of the variance from which on a doubt is said to matter (our choice)


@dataclass(frozen=True, kw_only=True, eq=False)
class LossRange:
    """The doubt in what a proposal takes. A loss is positive, a gain negative; in habitat units, which are hectares."""

    name: str  # of the proposal, or of several together
    limit: float | None  # that the planner asked about [ha]
    number: int  # of draws
    seed: int  # that they were drawn with
    # season, measure ("units", "spared": see `MEASURES`), taken (without doubt), low, median, high (nine draws in ten
    # lie between low and high), chance (of a loss greater than the limit; NaN without one). Where no cell has a threat
    # "spared" is NaN throughout, and is not among `settling`
    losses: pd.DataFrame
    # season, measure, key, label, share (of the variance of the loss, the largest first), confidence (half a 95 %
    # interval of it), certainty (of the likelier answer about the limit), certainty_if_known (were this doubt gone)
    settling: pd.DataFrame
    by_draw: pd.DataFrame = field(repr=False)  # season, draw, units, spared: the loss of every draw
    drawn_hectares: float  # water that was drawn; the rest does not differ, or so little that its undoubted loss stands
    doubts: Doubts


def range_of_loss(
    appraisal: Appraisal,
    *,
    draws: int = 500,
    seed: int = 0,
    limit: float | None = None,
    experts: pd.DataFrame | None = None,
    before_ends: Mapping[str, Ends] | None = None,
    after_ends: Mapping[str, Ends] | None = None,
    on_step: OnStep = ignore,
    workers: int | None = None,
) -> LossRange:
    """How much the proposals together take, and how surely.

    Parameters
    ----------
    appraisal : Appraisal
    draws : int
        How many.
    seed : int
        The same seed gives the same result, whatever the number of threads.
    limit : float, optional
        Loss in habitat units that the planner asks about. [ha]
    experts : DataFrame, optional
        As for `habitat.doubt.doubts_of`.
    before_ends, after_ends : mapping, optional
        What `habitat.doubt_ends.site_ends` gives for the site as it is and with the proposals in place; made where they
        are not at hand. That of the site as it is serves every proposal for it.

    Notes
    -----
    The loss is that of `habitat.appraisal_tables.unit_changes` under every draw. Only cells that differ before and
    after in some layer, or in how a doubt moves it, are scored: all others cancel exactly. Cells that differ by next to
    nothing, such as far out in a plume, are left at their undoubted loss, as many as hold at most a hundredth of all.

    The share of a doubt is its first-order index; see `habitat.settling` for what knowing it would do.
    """
    before, after = appraisal.before, appraisal.together.site_map
    profile = before.profile
    on_step(Step(1, 3, "making the layers at both ends of what is in doubt"))
    first, second = before_ends, after_ends
    if first is None:
        first = site_ends(before.layers, before.derivation, profile.layers_needed, workers=workers)
    if second is None:
        second = site_ends(after.layers, after.derivation, profile.layers_needed, workers=workers)
    everything = {**second, **first}
    doubts = doubts_of(profile, everything, experts=experts)
    many = drawn(doubts, draws, seed=seed)
    sides = ((before, first), (after, second))
    names = max((season_names(side.layers, ends, profile) for side, ends in sides), key=len)
    known = _counted(before, after, len(names))
    plain = _undoubted_loss(before, after, known)
    is_drawn = _drawn_cells(_differs(before, first, after, second), plain)
    cells, rest = np.flatnonzero(is_drawn), plain[:, :, ~is_drawn].sum(axis=2)
    counted = known[:, :, cells]
    on_step(Step(2, 3, f"scoring {len(cells):,} cells {draws:,} times before and after"))
    sums = [
        [
            score_draws(
                side.layers, ends, profile, some, cells=cells, counted=counted, seasons=len(names), workers=workers
            )
            for side, ends in sides
        ]
        for some in (many, undoubted(many))
    ]
    on_step(Step(3, 3, "finding which doubt settles it"))
    hectare = Grid.of(before.layers).cell_hectares
    loss, taken = (
        {
            measure: (getattr(old, measure) - getattr(new, measure) + rest[m]) * hectare
            for m, measure in enumerate(MEASURES)
        }
        for old, new in sums
    )
    losses, settled = [], []
    for s, season in enumerate(names):
        for m, measure in enumerate(MEASURES):
            if not known[m].any():
                losses.append((season, measure, *[np.nan] * 5))
                continue
            values = loss[measure][:, s]
            chance = np.nan if limit is None else float((values > limit).mean())
            low, median, high = (float(value) for value in np.quantile(values, (INTERVAL[0], 0.5, INTERVAL[1])))
            losses.append((season, measure, float(taken[measure][0, s]), low, median, high, chance))
            settled.append(
                settling(many.numbers, values, doubts, limit=limit, seed=seed).assign(season=season, measure=measure)
            )
    columns = ["season", "measure", "taken", "low", "median", "high", "chance"]
    order = ["season", "measure", "key", "label", "share", "confidence", "certainty", "certainty_if_known"]
    return LossRange(
        name=appraisal.together.name,
        limit=limit,
        number=draws,
        seed=seed,
        losses=pd.DataFrame(losses, columns=columns),
        settling=pd.concat(settled, ignore_index=True)[order],
        by_draw=pd.concat(
            [
                pd.DataFrame({"season": season, "draw": np.arange(draws), **{key: loss[key][:, s] for key in MEASURES}})
                for s, season in enumerate(names)
            ],
            ignore_index=True,
        ),
        drawn_hectares=len(cells) * hectare,
        doubts=doubts,
    )


def sentences(found: LossRange) -> list[str]:
    """The range of the loss in plain words, the most telling first."""
    said = []
    measure = told_measure(found)
    of = {"units": "the habitat units", "spared": "the habitat units that threat leaves"}[measure]
    for row in found.losses[found.losses["measure"] == measure].itertuples():
        when = f"In the {row.season} season" if row.season else "Over the year"
        if max(abs(row.low), abs(row.high)) < 0.05:
            said.append(f"{when} {found.name} takes nothing in any likely draw.")
            continue
        if row.taken < 0:
            said.append(
                f"{when} {found.name} adds {-row.taken:,.1f} to {of}; nine draws in "
                f"ten lie between {-row.high:,.1f} and {-row.low:,.1f}, half of them below {-row.median:,.1f}."
            )
        else:
            said.append(
                f"{when} {found.name} takes {row.taken:,.1f} of {of}; nine draws in "
                f"ten lie between {row.low:,.1f} and {row.high:,.1f}, half of them below {row.median:,.1f}."
            )
        if found.limit is not None:
            said.append(
                f"The chance that it takes more than {found.limit:,.1f} is {_percent(row.chance, found.number)}."
            )
        said.append(_settled(found, row.season, measure))
    said.append("A chance is a share of draws: what follows if the stated doubts are right and nothing else is wrong.")
    return said + doubt_sentences(found.doubts)


def told_measure(found: LossRange) -> str:
    """The measure that words are about: what threat leaves, or habitat units where no threat is known."""
    spared = found.losses.loc[found.losses["measure"] == "spared", "taken"]
    return "spared" if spared.notna().any() else "units"


def _settled(found: LossRange, season: str, measure: str) -> str:
    """Which doubt settles the loss of a season, in a sentence."""
    table = found.settling[(found.settling["season"] == season) & (found.settling["measure"] == measure)]
    telling = table[table["share"] >= WORTH_TELLING]
    if not len(telling):
        return "No single doubt settles it: it is many small ones together."
    named = [f"{row.label} ({100 * row.share:.0f} %)" for row in telling.head(3).itertuples()]
    said = f"The doubt comes most from {_listed(named)}."
    best = table.sort_values("certainty_if_known", ascending=False, kind="stable").iloc[0]
    if found.limit is None or not best.certainty < 1:
        return f"{said} Knowing {telling.iloc[0].label} better would settle it most."
    if best.certainty_if_known < best.certainty + 0.02:
        return f"{said} Knowing any of them alone would hardly make the answer about the limit surer."
    return (
        f"{said} The likelier answer about the limit is right with a chance of {100 * best.certainty:.0f} %; "
        f"knowing {best.label} exactly would make that {100 * best.certainty_if_known:.0f} %."
    )


def _drawn_cells(differs: np.ndarray, plain: np.ndarray) -> np.ndarray:
    """(N,) cells to draw, from the largest difference of a layer in each and the undoubted loss (2, S, N)."""
    sizes = np.abs(plain).reshape(-1, len(differs))
    for faint in FAINT:
        is_drawn = differs > faint
        if (sizes[:, ~is_drawn].sum(axis=1) <= LEFT * sizes.sum(axis=1)).all():
            return is_drawn
    return differs > 0


def _undoubted_loss(before: SiteMap, after: SiteMap, known: np.ndarray) -> np.ndarray:
    """(2, S, N) loss of suitability, and of what threat leaves of it, as everything was taken. [cells]"""
    sides = []
    for side in (before, after):
        score, threat = (
            side.assessment[name].to_numpy().reshape(-1, known.shape[2]).astype(np.float64)
            for name in ("suitability", "threat")
        )
        both = np.stack([np.broadcast_to(one, known.shape[1:]) for one in (score, score * (1 - threat))])
        sides.append(np.where(known, np.nan_to_num(both), 0.0))
    return sides[0] - sides[1]


def _differs(before: SiteMap, first: Mapping[str, Ends], after: SiteMap, second: Mapping[str, Ends]) -> np.ndarray:
    """(N,) largest difference before and after of any layer that the profile looks at, or of what a doubt adds to it.

    As a share of the layer's largest value; infinite where one side is no data, or water and land change places.
    """
    surfaces = [side.layers["surface"].to_numpy().ravel() for side in (before, after)]
    differs = np.where(surfaces[0] != surfaces[1], np.inf, 0.0)
    for name in before.profile.layers_needed:
        taken = [side.layers.get(name) for side in (before, after)]
        pairs = [taken]
        for key in {**first, **second}:
            for side in ("low", "high"):
                ends = [getattr(group[key], side).get(name) if key in group else None for group in (first, second)]
                if any(end is not None for end in ends):  # an end that is absent is what was taken
                    pairs.append([held if end is None else end for held, end in zip(taken, ends, strict=True)])
        for old, new in pairs:
            differs = np.maximum(differs, _share_that_differs(old, new, len(differs)))
    return differs


def _share_that_differs(old, new, size: int) -> np.ndarray:
    if old is None and new is None:
        return np.zeros(size)
    if old is None or new is None:
        return np.full(size, np.inf)
    first, second = (layer.to_numpy().reshape(-1, size).astype(np.float64) for layer in (old, new))
    largest = max(np.abs(part[np.isfinite(part)]).max(initial=0.0) for part in (first, second))
    share = np.abs(first - second) / (largest or 1.0)
    share = np.where(np.isnan(first) & np.isnan(second), 0.0, np.where(np.isnan(share), np.inf, share))
    return share.max(axis=0)


def _counted(before: SiteMap, after: SiteMap, seasons: int) -> np.ndarray:
    """(2, S, N) where units, and what threat leaves of them, are known before and after; land counts as nothing."""
    water = [side.layers["surface"].to_numpy().ravel() >= INTERTIDAL for side in (before, after)]
    becomes = water[0] != water[1]
    known = []
    for side, wet in zip((before, after), water, strict=True):
        scores = [side.assessment[name].to_numpy().reshape(-1, len(wet)) for name in ("suitability", "threat")]
        finite = np.isfinite(scores[0]), np.isfinite(scores[0]) & np.isfinite(scores[1])
        known.append(np.stack([np.broadcast_to(one | (~wet & becomes), (seasons, len(wet))) for one in finite]))
    return known[0] & known[1]


def _percent(chance: float, number: int) -> str:
    if chance in (0, 1):
        bound = 100 / number
        return f"less than {bound:.2g} %" if chance == 0 else f"more than {100 - bound:.4g} %"
    return f"{100 * chance:.0f} %"


def _listed(words: list[str]) -> str:
    return words[0] if len(words) == 1 else f"{', '.join(words[:-1])} and {words[-1]}"
