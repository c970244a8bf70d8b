"""How sure what is said of one site is: its draws, what they say of one place, and what other weights would change."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import TYPE_CHECKING

import numpy as np
import pandas as pd

from habitat.doubt_ends import site_ends
from habitat.draws_cells import score_draws, season_names
from habitat.result import SUITABILITY_CLASSES
from habitat.sensitivity import first_order
from habitat.uncertainty import INTERVAL, Uncertainty, uncertainty
from layers.grid import Grid
from layers.step import OnStep, Step, ignore

if TYPE_CHECKING:
    from habitat.doubt_ends import Ends
    from habitat.doubt_ranking import DoubtRanking
    from habitat.site_map import SiteMap

FEWEST_POINTS, MOST_POINTS = 64, 512  # that are varied for a ranking (our choice)


@dataclass(frozen=True, kw_only=True, eq=False)
class SiteDoubt:
    """The doubt in a site, with all that is needed to ask further."""

    site_map: SiteMap = field(repr=False)
    ends: Mapping[str, Ends] = field(repr=False)
    found: Uncertainty
    number: int  # of draws
    seed: int


@dataclass(frozen=True, kw_only=True, eq=False)
class PlaceDoubt:
    """What the draws say of one cell in one season."""

    place: tuple[float, float]  # centre of the cell [m]
    season: str  # "" without seasons
    chances: Mapping[str, float]  # of each class of suitability, poor first; empty where the cell has no score [1]
    low: float  # quantile 0.05 of its suitability, NaN without a score [1]
    median: float
    high: float
    moves: pd.DataFrame  # name (label of the doubt), first_order, confidence; the largest first

    @property
    def likeliest(self) -> str:
        """Name of the class with the greatest chance, of equals the poorer; "" without a score."""
        return max(self.chances, key=self.chances.get) if self.chances else ""


def site_doubt(
    site_map: SiteMap,
    *,
    number: int = 1000,
    seed: int = 0,
    experts: pd.DataFrame | None = None,
    ends: Mapping[str, Ends] | None = None,
    on_step: OnStep = ignore,
    workers: int | None = None,
) -> SiteDoubt:
    """How sure what is said of a site is, from all the doubts that its files and its profile state.

    Parameters
    ----------
    site_map : SiteMap
    number, seed, experts, on_step, workers
        As for `habitat.uncertainty.uncertainty`.
    ends : mapping, optional
        What `habitat.doubt_ends.site_ends` gives for the site; made where it is not at hand.
    """
    if ends is None:
        on_step(Step(1, 1, "making the layers at both ends of what is in doubt"))
        ends = site_ends(site_map.layers, site_map.derivation, site_map.profile.layers_needed, workers=workers)
    found = uncertainty(
        site_map.layers,
        site_map.profile,
        ends,
        number=number,
        seed=seed,
        experts=experts,
        on_step=on_step,
        workers=workers,
    )
    return SiteDoubt(site_map=site_map, ends=ends, found=found, number=number, seed=seed)


def site_ranking(doubt: SiteDoubt, *, points: int | None = None, on_step: OnStep = ignore) -> DoubtRanking:
    """Which doubts the hectares of a site hang on.

    Parameters
    ----------
    doubt : SiteDoubt
        Its seed is used, and the weights of experts if it was made with any.
    points : int, optional
        That are varied, a power of 2; by default as `points_for` gives.
    """
    from habitat.doubt_ranking import doubt_ranking

    return doubt_ranking(
        doubt.site_map.layers,
        doubt.site_map.profile,
        doubt.ends,
        base=points or points_for(doubt.number),
        seed=doubt.seed,
        experts=doubt.found.doubts.experts,
        on_step=on_step,
    )


def points_for(number: int) -> int:
    """A power of 2 that fits so many draws, between `FEWEST_POINTS` and `MOST_POINTS`.

    Examples
    --------
    >>> points_for(200), points_for(500), points_for(1000), points_for(10_000)
    (64, 128, 256, 512)
    """
    return int(np.clip(2 ** round(np.log2(max(number, 1) / 4)), FEWEST_POINTS, MOST_POINTS))


def place_doubt(doubt: SiteDoubt, x: float, y: float, season: str | None = None) -> PlaceDoubt | None:
    """What the same draws say of the cell at a place; None outside of the site.

    Parameters
    ----------
    x, y : float
        Easting and northing. [m]
    season : str, optional
        One of the site's; by default its first.
    """
    layers, profile = doubt.site_map.layers, doubt.site_map.profile
    grid = Grid.of(layers)
    cell = grid.cell_at(x, y)
    if cell is None:
        return None
    names = season_names(layers, doubt.ends, profile)
    number = names.index(season) if season in names else 0
    flat = np.array([cell[0] * grid.shape[1] + cell[1]])
    draws = doubt.found.draws
    sums = score_draws(layers, doubt.ends, profile, draws, cells=flat, seasons=len(names))
    counts = sums.counts[:, number, : len(SUITABILITY_CLASSES) - 1]
    values, is_scored = sums.units[:, number], bool(counts.sum())
    labels = [one.label for one in doubt.found.doubts.items]
    moves = first_order(draws.numbers, values, labels, seed=doubt.seed)
    low, median, high = np.quantile(values, (INTERVAL[0], 0.5, INTERVAL[1])) if is_scored else [np.nan] * 3
    return PlaceDoubt(
        place=(float(grid.x[cell[1]]), float(grid.y[cell[0]])),
        season=names[number],
        chances=dict(zip(SUITABILITY_CLASSES[1:], map(float, counts.mean(axis=0)), strict=True)) if is_scored else {},
        low=float(low),
        median=float(median),
        high=float(high),
        moves=moves.sort_values("first_order", ascending=False, kind="stable", ignore_index=True),
    )


def conclusion(doubt: SiteDoubt, kind: str, name: str, season: str | None) -> object:
    """One row of `Uncertainty.conclusions`: taken, low, median, high. [ha]

    Raises
    ------
    KeyError
        If there is no such conclusion.
    """
    table = doubt.found.conclusions.set_index(["season", "kind", "class"])
    return table.loc[(season or "", kind, name)]
