"""What a proposal changes, in numbers: hectares and habitat units, cells that cross a class, and what does it."""

from __future__ import annotations

from typing import TYPE_CHECKING

import geopandas as gpd
import numpy as np
import pandas as pd
import xarray as xr

from habitat.assessment import assess
from habitat.result import SUITABILITY_CLASSES, THREAT_CLASSES
from habitat.zones import hectares_by_class
from layers.grid import Grid

if TYPE_CHECKING:
    from habitat.appraisal import Outcome
    from habitat.site_map import SiteMap

CLASSES = {"suitability": SUITABILITY_CLASSES, "threat": THREAT_CLASSES}
_KEYS = ["zone", "season", "kind", "class"]


def class_changes(before: xr.Dataset, after: xr.Dataset, zones: gpd.GeoDataFrame | None = None) -> pd.DataFrame:
    """Hectares and habitat units of every class before and after.

    Parameters
    ----------
    before, after : Dataset
        Assessments of one site by one profile.
    zones : GeoDataFrame, optional
        As in `habitat.zones.hectares_by_class`.

    Returns
    -------
    DataFrame
        Columns zone, season ("" without seasons), kind, class, hectares_before, hectares_after, hectares_change,
        units_before, units_after, units_change (habitat units; NaN for "no data").
    """
    tables = [hectares_by_class(assessment, zones=zones).set_index(_KEYS) for assessment in _alike(before, after)]
    changes = pd.DataFrame(
        {
            f"{short}_{when}": table[column]
            for short, column in (("hectares", "hectares"), ("units", "habitat_units"))
            for when, table in zip(("before", "after"), tables, strict=True)
        }
    )
    for short in ("hectares", "units"):
        changes.insert(
            2 if short == "hectares" else 5, f"{short}_change", changes[f"{short}_after"] - changes[f"{short}_before"]
        )
    return changes.reset_index()


def unit_changes(before: xr.Dataset, after: xr.Dataset) -> pd.DataFrame:
    """Habitat units of the whole site before and after, with and without what threat takes of them.

    Returns
    -------
    DataFrame
        One row a season ("" without seasons): units_before, units_after, units_change: suitability times hectares;
        spared_before, spared_after, spared_change: what threat leaves of them, suitability x (1 - threat) x hectares.
        Water that becomes land is worth nothing after, land that becomes water was worth nothing before. Of the rest
        only cells count whose scores are known before and after; unknown_hectares is what is left of the water. [ha]
    """
    rows = []
    for season, old, new in _seasons(*_alike(before, after)):
        hectare = Grid.of(before).cell_hectares
        dry = [~_is_water(cells) for cells in (old, new)]
        pairs = {
            key: [
                np.where(no_water & ~other, 0.0, cells[key].to_numpy().astype(np.float64))
                for cells, no_water, other in zip((old, new), dry, reversed(dry), strict=True)
            ]
            for key in CLASSES
        }
        spared = [s * (1 - t) for s, t in zip(*pairs.values(), strict=True)]
        row = {"season": season}
        for name, (first, second) in (("units", pairs["suitability"]), ("spared", spared)):
            known = np.isfinite(first) & np.isfinite(second)
            sums = [float(part[known].sum()) * hectare for part in (first, second)]
            row |= {f"{name}_before": sums[0], f"{name}_after": sums[1], f"{name}_change": sums[1] - sums[0]}
        unknown = ~(dry[0] & dry[1]) & ~(np.isfinite(pairs["suitability"][0]) & np.isfinite(pairs["suitability"][1]))
        rows.append({**row, "unknown_hectares": float(unknown.sum()) * hectare})
    return pd.DataFrame(rows)


def crossings(before: xr.Dataset, after: xr.Dataset, kind: str) -> pd.DataFrame:
    """Hectares that leave one class for another, `kind` being "suitability" or "threat".

    Returns
    -------
    DataFrame
        Columns season, class_before, class_after, hectares; the largest first in each season. Cells that are no data
        before and after are left out.
    """
    names, hectare = CLASSES[kind], Grid.of(before).cell_hectares
    rows = []
    for season, old, new in _seasons(*_alike(before, after)):
        pair = old[f"{kind}_class"].to_numpy().astype(int) * len(names) + new[f"{kind}_class"].to_numpy()
        counts = np.bincount(pair.ravel(), minlength=len(names) ** 2).reshape(len(names), len(names))
        rows += [
            (season, names[first], names[second], counts[first, second] * hectare)
            for first, second in zip(*np.nonzero(counts), strict=True)
            if first != second
        ]
    table = pd.DataFrame(rows, columns=["season", "class_before", "class_after", "hectares"])
    return table.sort_values(["season", "hectares"], ascending=[True, False], kind="stable", ignore_index=True)


def causes(before: SiteMap, after: Outcome) -> pd.DataFrame:
    """Which factor and which pressure does it, ranked: each changed by itself, all else as before.

    Returns
    -------
    DataFrame
        Columns season, part, label, kind ("factor" or "pressure"), layer, spared_change: the change in what threat
        leaves of the habitat units if only this part changed; the greatest loss first; and units_change: the same of
        the habitat units themselves, which order the parts where no threat is known. The parts need not add up to the
        whole, as a place can be lost only once. Parts that look at one layer change together. [ha]
    """
    profile, changed = before.profile, set(after.changed_layers)
    rows = []
    for part in (*profile.factors, *profile.pressures):
        if part.layer not in changed or part.layer not in after.layers:
            continue
        one = assess(before.layers.assign({part.layer: after.layers[part.layer]}), profile)
        table = unit_changes(before.assessment, one)
        kind = "factor" if part in profile.factors else "pressure"
        rows += [
            (row.season, part.name, part.label, kind, part.layer, row.spared_change, row.units_change)
            for row in table.itertuples()
        ]
    changes = ["spared_change", "units_change"]
    found = pd.DataFrame(rows, columns=["season", "part", "label", "kind", "layer", *changes])
    found = found[(found[changes] != 0).any(axis=1)]
    return found.sort_values(["season", *changes], kind="stable", ignore_index=True)


def _alike(before: xr.Dataset, after: xr.Dataset) -> tuple[xr.Dataset, xr.Dataset]:
    """Both with a season dimension if one has it."""
    for first, second in ((before, after), (after, before)):
        if "season" in first["suitability"].dims and "season" not in second["suitability"].dims:
            second = second.expand_dims(season=first["season"])
            return (first, second) if first is before else (second, first)
    return before, after


def _seasons(before: xr.Dataset, after: xr.Dataset):
    if "season" not in before["suitability"].dims:
        yield "", before, after
        return
    for season in before["season"].values:
        yield str(season), before.sel(season=season), after.sel(season=season)


def _is_water(cells: xr.Dataset) -> np.ndarray:
    lacking = cells["missing_factors"].to_numpy() + cells["missing_pressures"].to_numpy()
    return (lacking > 0) | cells["suitability"].notnull().to_numpy()
