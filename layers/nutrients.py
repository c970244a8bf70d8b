"""Nutrient load on the water from outlets on the shore, as a first form: spread by distance through the water.

No current, mixing or uptake is in it: it says where the load of an outlet can be felt first, not what the
concentration will be.
"""

from __future__ import annotations

import numpy as np

from layers.grid import Grid
from layers.starts import SNAP_CELLS, Starts, start_at
from layers.threads import results_in_order
from layers.waterway import through_water_field


def spread_load(
    outlets_xy: np.ndarray,
    loads: np.ndarray,
    water: np.ndarray,
    grid: Grid,
    reach: float,
    *,
    snap: float | None = None,
    workers: int | None = None,
) -> np.ndarray:
    """Load of each outlet spread over the water within reach of it.

    Parameters
    ----------
    outlets_xy : (n, 2) float
        Eastings and northings in the grid's CRS. [m]
    loads : (n,) float
        Yearly load of each outlet. [kg/year]
    water : (M, N) bool
        True where the load can go.
    grid : Grid
    reach : float
        Distance through the water at which an outlet's load becomes 0. [m]
    snap : float, optional
        An outlet on land is taken to the nearest water cell whose centre is within this distance; by default
        three cells. [m]
    workers : int, optional
        Number of threads; by default one for each core. The result does not depend on it.

    Returns
    -------
    (M, N) float32
        0 where no outlet reaches, NaN on land. [kg/ha/year]

    Raises
    ------
    ValueError
        If a load is missing or below 0, or an outlet is farther than `snap` from all water (its index is named).

    Notes
    -----
    An outlet's load is shared out in proportion to 1 - d/reach, d being the distance through the water from the
    outlet to the cell's centre, so that cells times their area add up to the load put in.
    """
    places, loads = np.asarray(outlets_xy, float).reshape(-1, 2), np.asarray(loads, float)
    if len(places) != len(loads):
        raise ValueError(f"outlets: found {len(places)} places and {len(loads)} loads. Give one load for each.")
    starts = _outlet_starts(places, loads, water, grid, SNAP_CELLS * grid.cell if snap is None else snap)

    def share_of(start: Starts) -> np.ndarray:
        distance = through_water_field(start, water, grid.cell, reach, workers=1)
        weight = np.where(water, 1 - distance.astype(float) / reach, 0.0)
        if not weight.any():  # the reach ends before the first cell's centre
            weight[start.cells[0]] = 1.0
        return weight / weight.sum()

    total = np.where(water, 0.0, np.nan)
    for load, share in zip(loads, results_in_order(share_of, starts, workers=workers), strict=True):
        total += load / grid.cell_hectares * share
    return total.astype(np.float32)


def _outlet_starts(places: np.ndarray, loads: np.ndarray, water: np.ndarray, grid: Grid, snap: float) -> list[Starts]:
    wrong = np.flatnonzero(~(loads >= 0) | ~np.isfinite(loads))
    if len(wrong):
        raise ValueError(f"outlets: the load of outlet {wrong[0]} is {loads[wrong[0]]:g}. A load is 0 or more.")
    starts = [start_at(x, y, water, grid, snap) for x, y in places]
    dry = [str(number) for number, start in enumerate(starts) if start is None]
    if dry:
        raise ValueError(
            f"outlets: no water within {snap:g} m of outlet {', '.join(dry)}. Check the coordinates and their CRS, "
            "or move the outlet to the shore."
        )
    return starts
