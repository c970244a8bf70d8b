"""From what is in doubt to the doubt in each cell and in each conclusion.

A chance here is a share of draws: what follows if the stated doubts are right and nothing else is wrong. What has no
stated doubt is taken as exact, and listed.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from typing import TYPE_CHECKING

import numpy as np
import pandas as pd

from habitat.doubt import Doubts, doubts_of
from habitat.draws import Draws, drawn
from habitat.draws_cells import DrawSums, score_draws, season_names
from habitat.result import CONCERN_CLASSES, NO_DATA, SUITABILITY, SUITABILITY_CLASS, SUITABILITY_CLASSES, THREAT_CLASSES
from layers.grid import Grid
from layers.quantity import Quantity
from layers.step import OnStep, Step, ignore

if TYPE_CHECKING:
    import xarray as xr

    from habitat.doubt_ends import Ends
    from habitat.profile import Profile

QUANTILES = (0.05, 0.5, 0.95)
INTERVAL = (0.05, 0.95)  # of draws, between which a conclusion is said to lie
UNITS, SPARED = "habitat units", "habitat units that threat leaves"


@dataclass(frozen=True, kw_only=True, eq=False)
class Uncertainty:
    """The doubt in each cell and in each conclusion."""

    # (y, x), or (season, y, x): suitability_mean, suitability_deviation, suitability_quantile_<percent>; chance_poor,
    # chance_fair, chance_good, chance_fair_or_better; likeliest_class (uint8, 0 is no data), confidence. NaN: no score
    cells: xr.Dataset
    conclusions: pd.DataFrame  # as `conclusions` gives them
    doubts: Doubts
    draws: Draws = field(repr=False)


def uncertainty(
    layers: xr.Dataset,
    profile: Profile,
    ends: Mapping[str, Ends] | None = None,
    *,
    number: int = 1000,
    seed: int = 0,
    quantiles: tuple[float, ...] = QUANTILES,
    experts: pd.DataFrame | None = None,
    on_step: OnStep = ignore,
    workers: int | None = None,
) -> Uncertainty:
    """How sure the suitability of each cell is, and what may be concluded of the whole site.

    Parameters
    ----------
    layers : Dataset
        As for `habitat.assessment.assess`.
    profile : Profile
    ends : mapping of key to Ends, optional
        Of the layers that are in doubt: `habitat.doubt_ends.site_ends` for all that a site's files say. By default
        those of layers that come with a standard error.
    number : int
        Of draws.
    seed : int
        The same seed gives the same bytes, whatever the number of threads.
    quantiles : tuple of float
        Of each cell's suitability; right to 1/256 of its draws' own, as they are read from a histogram.
    experts : DataFrame, optional
        As for `habitat.doubt.doubts_of`.

    Raises
    ------
    ValueError
        If layers are not what the profile can be scored on, or a quantile is not between 0 and 1.
    """
    from habitat.assessment import refuse_unfit
    from habitat.doubt_ends import error_ends

    refuse_unfit(layers, profile)
    if not quantiles or not all(0 < quantile < 1 for quantile in quantiles):
        raise ValueError(f"quantiles: found {list(quantiles)}. Give one or more between 0 and 1.")
    ends = error_ends(layers, profile.layers_needed) if ends is None else ends
    doubts = doubts_of(profile, ends, experts=experts)
    draws = drawn(doubts, number, seed=seed)
    on_step(Step(1, 2, f"scoring {layers['surface'].size:,} cells {number:,} times"))
    sums = score_draws(layers, ends, profile, draws, quantiles=quantiles, workers=workers)
    on_step(Step(2, 2, "reading off what may be concluded"))
    taken = score_draws(layers, ends, profile, undoubted(draws), workers=workers)
    return Uncertainty(
        cells=_labelled(layers, ends, profile, sums, quantiles),
        conclusions=conclusions(layers, ends, profile, sums, taken),
        doubts=doubts,
        draws=draws,
    )


def undoubted(draws: Draws) -> Draws:
    """One draw in which everything is as it was taken."""
    return Draws(doubts=replace(draws.doubts, items=(), experts=None), seed=draws.seed, numbers=np.zeros((1, 0)))


def conclusions(
    layers: xr.Dataset, ends: Mapping[str, Ends], profile: Profile, sums: DrawSums, taken: DrawSums
) -> pd.DataFrame:
    """What may be concluded of the whole site, each with its interval.

    Parameters
    ----------
    sums, taken : DrawSums
        Of all water under the draws, and as it was taken.

    Returns
    -------
    DataFrame
        Columns season ("" without seasons), kind ("suitability", "threat", "concern": hectares of each class, as in
        `habitat.zones`; "units": habitat units with and without what threat takes), class, taken (without doubt),
        low, median, high (quantiles 0.05, 0.5 and 0.95 of the draws). [ha]
    """
    hectare, water = Grid.of(layers).cell_hectares, len(sums.cells)
    rows = []
    for s, season in enumerate(season_names(layers, ends, profile)):
        first = 0
        for kind, names in (
            ("suitability", SUITABILITY_CLASSES),
            ("threat", THREAT_CLASSES),
            ("concern", CONCERN_CLASSES),
        ):
            last = first + len(names) - 1
            many, one = sums.counts[:, s, first:last], taken.counts[:, s, first:last]
            for c, name in enumerate(names[1:]):
                rows.append((season, kind, name, *_interval(many[:, c] * hectare, one[0, c] * hectare)))
            unknown = [(water - part.sum(axis=1)) * hectare for part in (many, one)]
            rows.append((season, kind, NO_DATA, *_interval(unknown[0], unknown[1][0])))
            first = last
        for name, many, one in ((UNITS, sums.units, taken.units), (SPARED, sums.spared, taken.spared)):
            rows.append((season, "units", name, *_interval(many[:, s] * hectare, one[0, s] * hectare)))
    return pd.DataFrame(rows, columns=["season", "kind", "class", "taken", "low", "median", "high"])


def sentences(found: Uncertainty) -> list[str]:
    """What may be concluded, and how surely, in plain words."""
    said = []
    table = found.conclusions.set_index(["season", "kind", "class"])
    for season in table.index.unique("season"):
        when = f"In the {season} season" if season else "Over the year"
        good, left = table.loc[(season, "suitability", SUITABILITY_CLASSES[-1])], table.loc[(season, "units", SPARED)]
        said.append(
            f"{when} {good.taken:,.0f} ha are good habitat; nine draws in ten lie between {good.low:,.0f} and "
            f"{good.high:,.0f} ha. Threat leaves {left.taken:,.0f} habitat units, {left.low:,.0f} to {left.high:,.0f}."
        )
    said += doubt_sentences(found.doubts)
    return said


def doubt_sentences(doubts: Doubts) -> list[str]:
    """What was held to be in doubt, how errors of layers go together, and what was taken as exact."""
    parts = []
    for kind, words in (("threshold", "where the curves stand of"), ("weight", "the weights of")):
        names = [one.name.replace("_", " ") for one in doubts.items if one.kind == kind]
        parts += [f"{words} {', '.join(names)}"] if names else []
    parts += [one.label for one in doubts.items if one.kind not in ("threshold", "weight")]
    said = [f"Held to be in doubt: {'; '.join(parts) or 'nothing'}."]
    if any(one.kind == "layer" for one in doubts.items):
        said.append(
            "Errors of a layer are taken to be the same everywhere at once, which gives the widest interval of totals; "
            "if they differ from place to place they even out, and totals are surer than said here."
        )
    return [*said, f"No doubt is stated of, and so taken as exact: {'; '.join(doubts.exact)}."]


def _interval(many: np.ndarray, taken: float) -> tuple[float, float, float, float]:
    low, median, high = np.quantile(many, (INTERVAL[0], 0.5, INTERVAL[1]))
    return float(taken), float(low), float(median), float(high)


def _labelled(layers, ends, profile: Profile, sums: DrawSums, quantiles: tuple[float, ...]) -> xr.Dataset:
    import xarray as xr

    from layers.quantity import describe

    seasons, surface = season_names(layers, ends, profile), layers["surface"]
    poor, fair, good = sums.chances
    parts = {
        "suitability_mean": (sums.mean, "mean of the draws of habitat suitability"),
        "suitability_deviation": (sums.deviation, "standard deviation of the draws of habitat suitability"),
        "chance_poor": (poor, f"chance of {SUITABILITY_CLASSES[1]}"),
        "chance_fair": (fair, f"chance of {SUITABILITY_CLASSES[2]}"),
        "chance_good": (good, f"chance of {SUITABILITY_CLASSES[3]}"),
        "chance_fair_or_better": (fair + good, f"chance of {SUITABILITY_CLASSES[2]} or better"),
        "confidence": (sums.chances.max(axis=0), "chance of the likeliest class of habitat suitability"),
        **{
            f"suitability_quantile_{100 * share:g}": (
                values,
                f"{SUITABILITY.label} that {100 * share:g} % of the draws stay below",
            )
            for share, values in zip(quantiles, sums.quantiles, strict=True)
        },
    }
    # of classes as likely, the poorer: it is never made to look better than it is
    likeliest = np.where(np.isfinite(sums.mean), np.argmax(np.nan_to_num(sums.chances), axis=0) + 1, 0)

    def grid_of(values: np.ndarray, blank: float) -> tuple[tuple[str, ...], np.ndarray]:
        whole = np.full((len(seasons), surface.size), blank, values.dtype)
        whole[:, sums.cells] = values
        if seasons == [""]:
            return ("y", "x"), whole.reshape(surface.shape)
        return ("season", "y", "x"), whole.reshape(len(seasons), *surface.shape)

    kept = [key for key in ("y", "x", "spatial_ref") if key in layers.coords]
    cells = xr.Dataset(coords=layers.coords.to_dataset()[kept].coords)
    if seasons != [""]:
        cells = cells.assign_coords(season=seasons)
    for name, (values, label) in parts.items():
        quantity = Quantity(name=name, label=label, units="1", plausible=(0, 1))
        cells[name] = describe(_array(grid_of(values.astype(np.float32), np.nan), cells), quantity)
    cells["likeliest_class"] = describe(
        _array(grid_of(likeliest.astype(np.uint8), 0), cells), replace(SUITABILITY_CLASS, name="likeliest_class")
    )
    return cells


def _array(pair: tuple[tuple[str, ...], np.ndarray], cells: xr.Dataset) -> xr.DataArray:
    import xarray as xr

    dimensions, values = pair
    return xr.DataArray(
        values, dims=dimensions, coords={key: cells[key] for key in (*dimensions, "spatial_ref") if key in cells.coords}
    )
