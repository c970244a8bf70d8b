"""Shelter: how far the wind can blow over open water before it reaches a place (fetch)."""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np

from layers.grid import Grid
from layers.threads import run_in_strips

DIRECTIONS = tuple(22.5 * number for number in range(16))  # the sixteen points of the compass


def fetch(
    land: np.ndarray,
    grid: Grid,
    reach: float,
    shares: Mapping[float, float] | None = None,
    *,
    known: np.ndarray | None = None,
    workers: int | None = None,
) -> np.ndarray:
    """Mean length of open water upwind of each cell.

    Parameters
    ----------
    land : (M, N) bool
        True where the wind meets land.
    grid : Grid
    reach : float
        Lengths are counted up to this. [m]
    shares : mapping of direction to share, optional
        Direction the wind comes from, in degrees clockwise from the grid's north, and the share of the time it
        does; shares are scaled to add up to 1. By default sixteen directions with equal shares.
    known : (M, N) bool, optional
        False where it is not known whether there is land or water. By default everything is known.
    workers : int, optional
        Number of threads; by default one for each core. The result does not depend on it.

    Returns
    -------
    (M, N) float32
        Up to `reach`; NaN on land and where not known. [m]

    Raises
    ------
    ValueError
        If `reach` is not greater than 0 or not finite, a share is below 0 or all are 0.

    Notes
    -----
    Each length runs along the straight ray from the cell's centre to the first land cell, taken as a square,
    that the ray enters; a ray does not pass between two land cells that touch at a corner. Outside the grid and
    where nothing is known counts as open water: near the edge the fetch is an upper bound.

    Examples
    --------
    >>> grid = Grid.from_bounds("EPSG:32745", 0, 0, 500, 100, cell=100)
    >>> land = np.array([[True, False, False, False, False]])
    >>> fetch(land, grid, 1000, {270: 1})
    array([[ nan,  50., 150., 250., 350.]], dtype=float32)
    """
    from layers.rays import add_open_water, open_water_ahead

    if not 0 < reach < np.inf:
        raise ValueError(f"reach: found {reach:g} m. It must be greater than 0 and finite.")
    shares = dict.fromkeys(DIRECTIONS, 1.0) if shares is None else shares
    whole = sum(shares.values())
    if not whole > 0 or any(not share >= 0 for share in shares.values()):
        raise ValueError("shares: each must be 0 or more, and not all 0.")
    land = np.ascontiguousarray(land, dtype=bool)
    clear = np.empty(land.shape, np.int16)
    total = np.zeros(land.shape)
    octant = None
    for direction in sorted(shares):
        *way, slope = _ray(direction)
        if way != octant:
            octant = way
            open_water_ahead(land, *octant, clear)

        def fill(rows: slice, octant=octant, slope=slope, share=shares[direction] / whole) -> None:
            add_open_water(land, clear, rows.start, rows.stop, *octant, slope, reach / grid.cell, share, total)

        run_in_strips(fill, land.shape[0], workers=workers, height=64)
    length = np.minimum(total * grid.cell, reach).astype(np.float32)
    length[land] = np.nan
    if known is not None:
        length[~known] = np.nan
    return length


def _ray(direction: float) -> tuple[int, int, bool, float]:
    """Way along and across the main axis, whether that is north-south, and the slope, of a compass direction."""
    east, north = np.sin(np.radians(direction)), np.cos(np.radians(direction))
    right, down = (1 if east >= 0 else -1), (1 if north <= 0 else -1)
    east, north = abs(east), abs(north)
    swap = north > east
    # rounded so that the same slope comes out in every quarter, and 1 on the diagonal
    slope = round(float(min(east, north) / max(east, north)), 12)
    return (down, right, True, slope) if swap else (right, down, False, slope)
