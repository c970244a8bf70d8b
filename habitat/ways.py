"""Ways through the water: from good habitat to fresh water, and from a proposal to the nearest good habitat."""

from __future__ import annotations

from typing import TYPE_CHECKING

import geopandas as gpd
import numpy as np
import pandas as pd
import xarray as xr
from scipy import ndimage

from habitat.result import SUITABILITY_CLASSES
from layers.distance import through_water_distance
from layers.grid import Grid

if TYPE_CHECKING:
    from layers.derivation import Derivation

GOOD = SUITABILITY_CLASSES.index("good habitat")
SAME = 1.0  # m: a way that grows by less is the same


def ways_to_fresh_water(
    before: Derivation, after: Derivation, suitability_class: xr.DataArray, *, least_hectares: float = 5.0
) -> pd.DataFrame:
    """How far each patch of good habitat lies from fresh water, before and after; land bars the way.

    Parameters
    ----------
    before, after : Derivation
        Of one site.
    suitability_class : (y, x)
        Classes before, in one season: patches of good habitat whose cells share a side.
    least_hectares : float
        Smaller patches are left out. [ha]

    Returns
    -------
    DataFrame
        Columns patch (its number, the largest first), hectares, metres_before, metres_after (from the patch's nearest
        cell; NaN where there is no way), state: "as before", "longer", "shorter", "closed", "opened" or "none". Empty
        where the site has no source of fresh water.
    """
    grid = before.grid
    names = ["patch", "hectares", "metres_before", "metres_after", "state"]
    patches, hectares = good_patches(suitability_class, grid, least_hectares)
    if not before.entries("fresh_water") or not len(hectares):
        return pd.DataFrame(columns=names)
    numbers = np.arange(1, len(hectares) + 1)
    nearest = [
        np.atleast_1d(ndimage.minimum(_to_fresh_water(made), patches, numbers)).astype(float)
        for made in (before, after)
    ]
    rows = [
        (int(number), float(area), _metres(old), _metres(new), _state(old, new))
        for number, area, old, new in zip(numbers, hectares, *nearest, strict=True)
    ]
    return pd.DataFrame(rows, columns=names)


def nearest_good_habitat(
    after: Derivation, suitability_class: xr.DataArray, footprint: gpd.GeoSeries, *, least_hectares: float = 5.0
) -> tuple[float, float] | None:
    """Distance through the water from a footprint to the nearest patch of good habitat, and that patch's hectares.

    Patches that the footprint touches count with distance 0. None where no way leads to any.
    """
    grid = after.grid
    patches, hectares = good_patches(suitability_class, grid, least_hectares)
    if not len(hectares):
        return None
    away = through_water_distance(footprint, after.is_swum, grid, _everywhere(grid))
    nearest = np.atleast_1d(ndimage.minimum(np.nan_to_num(away, nan=np.inf), patches, np.arange(1, len(hectares) + 1)))
    best = int(np.argmin(nearest))
    return None if nearest[best] >= _everywhere(grid) else (float(nearest[best]), float(hectares[best]))


def good_patches(suitability_class: xr.DataArray, grid: Grid, least_hectares: float) -> tuple[np.ndarray, np.ndarray]:
    """(M, N) numbers of the patches of good habitat from 1, the largest first, 0 elsewhere; and their hectares."""
    found, count = ndimage.label(suitability_class.to_numpy() == GOOD)
    hectares = np.bincount(found.ravel(), minlength=count + 1)[1:] * grid.cell_hectares
    order = np.argsort(-hectares, kind="stable")
    kept = order[hectares[order] >= least_hectares]
    number = np.zeros(count + 1, np.int32)
    number[kept + 1] = np.arange(1, len(kept) + 1)
    return number[found], hectares[kept]


def _to_fresh_water(made: Derivation) -> np.ndarray:
    reach = _everywhere(made.grid)
    shapes = made.geometries(made.entries("fresh_water"))
    away = through_water_distance(shapes, made.is_swum, made.grid, reach)
    return np.where(np.isnan(away) | (away >= reach), np.inf, away)


def _everywhere(grid: Grid) -> float:
    """Longer than any way that winds through the grid is likely to be: ten times round it. [m]"""
    return 20.0 * sum(grid.shape) * grid.cell


def _metres(distance: float) -> float:
    return float(distance) if np.isfinite(distance) else float("nan")


def _state(old: float, new: float) -> str:
    if not np.isfinite(old) or not np.isfinite(new):
        return {(True, False): "closed", (False, True): "opened"}.get((np.isfinite(old), np.isfinite(new)), "none")
    if abs(new - old) < SAME:
        return "as before"
    return "longer" if new > old else "shorter"
