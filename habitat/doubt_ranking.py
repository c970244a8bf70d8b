"""Which doubts the conclusions about a site hang on: a cheap screening of all, then indices of those that matter."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import TYPE_CHECKING

import numpy as np
import pandas as pd

from habitat.doubt import Doubts, doubts_of
from habitat.draws import Draws
from habitat.draws_cells import score_draws, season_names
from habitat.sensitivity import screening, variance_shares
from habitat.uncertainty import undoubted
from layers.grid import Grid
from layers.quantity import INTERTIDAL
from layers.step import OnStep, Step, ignore

if TYPE_CHECKING:
    import xarray as xr

    from habitat.doubt_ends import Ends
    from habitat.profile import Profile

CONCLUSIONS = {
    "good": "hectares of good habitat",
    "concern": "hectares of fair or good habitat under high threat",
}
# columns of `DrawSums.counts`: the third class of suitability; of the nine of concern, fair and good under high threat
_COLUMNS = {"good": [2], "concern": [6 + 5, 6 + 8]}
MOST_CELLS = 20_000  # of water that are looked at (our choice)
WORTH_LOOKING = 0.05  # of the largest effect, below which a doubt is screened out (our choice)
FEW = 0.02  # share of the variance below which a doubt is not spoken of (our choice)


@dataclass(frozen=True, kw_only=True, eq=False)
class DoubtRanking:
    """The doubts ranked for each conclusion and season."""

    # season, conclusion (a key of `CONCLUSIONS`), key, label, first_order, total (the largest first), confidence (half
    # a 95 % interval of the total); doubts that were screened out are absent
    table: pd.DataFrame
    screened: pd.DataFrame = field(repr=False)  # season, conclusion, key, label, size of its effect, spread [ha]
    # season, conclusion, whole (undoubted hectares of the site), sample (the same by the cells looked at)
    sample: pd.DataFrame
    cells: int  # looked at
    water_cells: int  # that there are
    doubts: Doubts


def doubt_ranking(
    layers: xr.Dataset,
    profile: Profile,
    ends: Mapping[str, Ends] | None = None,
    *,
    base: int = 512,
    trajectories: int = 10,
    seed: int = 0,
    most_cells: int = MOST_CELLS,
    experts: pd.DataFrame | None = None,
    on_step: OnStep = ignore,
    workers: int | None = None,
) -> DoubtRanking:
    """What the hectares of good habitat and of concern depend on most.

    Parameters
    ----------
    layers, profile, ends, experts
        As for `habitat.uncertainty.uncertainty`.
    base : int
        Points that are varied for the indices, a power of 2; the site is scored base x (doubts + 2) times.
    trajectories : int
        Of the screening.
    seed : int
        The same seed gives the same ranking.
    most_cells : int
        A larger water is looked at in a sample: every m-th cell along its classes of concern, from a seeded start, so
        that each class has its share.

    Notes
    -----
    Shares of variance are those of the hectares of the sample. `DoubtRanking.sample` shows how far the sample is from
    the whole.
    """
    from habitat.assessment import assess, refuse_unfit
    from habitat.doubt_ends import error_ends

    refuse_unfit(layers, profile)
    ends = error_ends(layers, profile.layers_needed) if ends is None else ends
    doubts = doubts_of(profile, ends, experts=experts)
    names = season_names(layers, ends, profile)
    water = np.flatnonzero(layers["surface"].to_numpy().ravel() >= INTERTIDAL)
    cells = _sample(assess(layers, profile, workers=workers), water, most_cells, seed)
    hectares = Grid.of(layers).cell_hectares * len(water) / max(len(cells), 1)
    conclusions = [(season, key) for season in names for key in CONCLUSIONS]
    keys, labels = list(doubts.keys), {one.key: one.label for one in doubts.items}

    def scored(draws: Draws, some: np.ndarray, each: float) -> np.ndarray:
        """(K, C) hectares of each conclusion."""
        counts = score_draws(layers, ends, profile, draws, cells=some, seasons=len(names), workers=workers).counts
        columns = [counts[:, s][:, _COLUMNS[key]].sum(axis=1) for s in range(len(names)) for key in CONCLUSIONS]
        return np.stack(columns, axis=1) * each

    def of_numbers(numbers: np.ndarray) -> np.ndarray:
        return scored(Draws(doubts=doubts, seed=seed, numbers=numbers), cells, hectares)

    nothing = Draws(doubts=doubts, seed=seed, numbers=np.zeros((1, len(keys))))
    plain = [
        scored(undoubted(nothing), some, each)[0]
        for some, each in ((water, Grid.of(layers).cell_hectares), (cells, hectares))
    ]
    sample = pd.DataFrame(
        [(*pair, *values) for pair, *values in zip(conclusions, *plain, strict=True)],
        columns=["season", "conclusion", "whole", "sample"],
    )
    screened = pd.DataFrame(columns=["season", "conclusion", "key", "label", "size", "spread"])
    table = pd.DataFrame(columns=["season", "conclusion", "key", "label", "first_order", "total", "confidence"])
    if keys:
        on_step(Step(1, 2, f"screening {len(keys)} doubts on {len(cells):,} cells"))
        screened = _named(screening(of_numbers, keys, trajectories=trajectories, seed=seed), conclusions, labels)
        kept = _worth_looking(screened, keys)
        on_step(Step(2, 2, f"finding the shares of {len(kept)} doubts"))
        places = [keys.index(key) for key in kept]

        def of_kept(numbers: np.ndarray) -> np.ndarray:
            every = np.full((len(numbers), len(keys)), 0.5)  # a doubt that is screened out stays in the middle
            every[:, places] = numbers
            return of_numbers(every)

        if kept:
            shares = variance_shares(of_kept, kept, base=base, seed=seed)
            shares = shares.sort_values(["conclusion", "total"], ascending=[True, False], kind="stable")
            table = _named(shares.reset_index(drop=True), conclusions, labels)
    return DoubtRanking(
        table=table[["season", "conclusion", "key", "label", "first_order", "total", "confidence"]],
        screened=screened[["season", "conclusion", "key", "label", "size", "spread"]],
        sample=sample,
        cells=len(cells),
        water_cells=len(water),
        doubts=doubts,
    )


def sentences(found: DoubtRanking) -> list[str]:
    """The ranking in plain words: a sentence for each doubt that matters, and how far the sample can be trusted."""
    said = []
    for (season, conclusion), part in found.table.groupby(["season", "conclusion"], sort=False):
        when = f" in the {season} season" if season else ""
        telling = part[part["total"] >= FEW]
        if not len(telling):
            said.append(f"The {CONCLUSIONS[conclusion]}{when} hardly depend on any stated doubt.")
        for place, row in enumerate(telling.itertuples(), start=1):
            if row.confidence >= row.total:
                said.append(
                    f"{place}. What {row.label} does to the {CONCLUSIONS[conclusion]}{when} cannot be told from so few "
                    "draws: ask for more."
                )
                continue
            alone, together = (round(100 * min(max(share, 0), 1)) for share in (row.first_order, row.total))
            said.append(
                f"{place}. Of the doubt in the {CONCLUSIONS[conclusion]}{when}, {row.label} explains {alone} % alone "
                f"and {together} % with what it acts together with (give or take {100 * row.confidence:.0f})."
            )
    if found.cells < found.water_cells:
        off = (found.sample["sample"] - found.sample["whole"]).abs().max()
        said.append(
            f"Looked at were {found.cells:,} of {found.water_cells:,} cells of water, by classes; their hectares are "
            f"at most {off:,.1f} ha off those of the whole."
        )
    return said


def _sample(assessment: xr.Dataset, water: np.ndarray, most: int, seed: int) -> np.ndarray:
    """Every m-th cell of water along its classes of concern in all seasons, from a seeded start."""
    if len(water) <= most:
        return water
    codes = assessment["concern"].to_numpy().reshape(-1, assessment.sizes["y"] * assessment.sizes["x"])
    order = water[np.lexsort(codes[:, water][::-1])]
    step = len(water) / most
    start = np.random.default_rng(seed).uniform(0, step)
    return np.sort(order[np.floor(start + step * np.arange(most)).astype(int)])


def _named(table: pd.DataFrame, conclusions: list[tuple[str, str]], labels: Mapping[str, str]) -> pd.DataFrame:
    return table.rename(columns={"name": "key"}).assign(
        season=[conclusions[number][0] for number in table["conclusion"]],
        conclusion=[conclusions[number][1] for number in table["conclusion"]],
        label=[labels[name] for name in table["name"]],
    )


def _worth_looking(screened: pd.DataFrame, keys: list[str]) -> list[str]:
    """Doubts whose effect is not small beside the largest, for any conclusion."""
    most = screened.groupby(["season", "conclusion"])["size"].transform("max")
    kept = set(screened.loc[(screened["size"] >= WORTH_LOOKING * most) & (screened["size"] > 0), "key"])
    return [key for key in keys if key in kept]
