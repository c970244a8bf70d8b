"""Distance through the water: the shortest way round land, exact among land cells taken as squares.

A path may touch land but not cross it, and does not slip between two land cells that touch at a corner. The
outside of the grid is land. Every distance has a finite reach; a part of the grid with a rim as wide as the
reach gives the same bits as the whole.
"""

from __future__ import annotations

import geopandas as gpd
import numpy as np

from layers.grid import Grid
from layers.starts import UNIT, Starts, starts_of
from layers.threads import results_in_order, workers_or_default


def through_water_distance(
    geometries: gpd.GeoSeries, water: np.ndarray, grid: Grid, reach: float, *, workers: int | None = None
) -> np.ndarray:
    """Distance through the water from each cell's centre to the nearest geometry.

    Parameters
    ----------
    geometries : GeoSeries of points, lines or polygons
        In the grid's CRS.
    water : (M, N) bool
        True where a path may go (water and intertidal cells).
    grid : Grid
        Gives M, N and the cell size.
    reach : float
        Greatest distance of interest. [m]
    workers : int, optional
        Number of threads; by default one for each core. The result does not depend on it.

    Returns
    -------
    (M, N) float32
        0 inside polygons, NaN on land; `reach` where the way is that long or longer, or where there is none. [m]

    Notes
    -----
    From points on the water the distance is that of the shortest path, but for the rounding of the point to
    1/1024 cell. Lines and outlines of polygons are taken as points at most half a cell apart, which makes the
    distance too long by at most a quarter of a cell, and by at most 0.5 % from 2.5 cells on.

    A geometry that touches no water of the grid given begins at the water cell nearest to it (within `reach`),
    with the straight distance from it to that cell's centre. What lies outside the grid is not reached.
    Parts of a grid agree to the bit with the whole if their starts are found on the whole (`starts_of`).
    """
    starts = starts_of(geometries, water, grid, reach)
    return through_water_field(starts, water, grid.cell, reach, workers=workers)


def through_water_field(
    starts: Starts, water: np.ndarray, cell: float, reach: float, *, workers: int | None = None
) -> np.ndarray:
    """Distance through the water from each cell's centre to the nearest of `starts`.

    Parameters and result as in `through_water_distance`; `cell` is the side of a cell. [m]
    """
    if not 0 < reach < np.inf:
        raise ValueError(f"reach: found {reach:g} m. It must be greater than 0 and finite.")
    field = np.where(water, np.float32(reach), np.float32(np.nan)).astype(np.float32)
    if starts.inside is not None:
        field[starts.inside & water] = 0
    halo = int(np.ceil(reach / cell)) + 2
    touched = _touched_window(starts, water.shape, halo)
    if touched is None:
        return field
    rows, columns = touched
    height = rows.stop - rows.start
    # a strip repeats a halo on each side, so few thick strips
    count = max(1, min(workers_or_default(workers), height // (2 * halo)))
    limits = np.linspace(rows.start, rows.stop, count + 1).astype(int)

    def fill(number: int) -> None:
        strip = slice(limits[number], limits[number + 1])
        rim = slice(max(strip.start - halo, rows.start), min(strip.stop + halo, rows.stop))
        metres = _window_distance(starts, water, rim, columns, reach / cell) * cell
        kept = metres[strip.start - rim.start : strip.stop - rim.start]
        part = field[strip, columns]
        np.copyto(part, np.minimum(kept, reach).astype(np.float32), where=water[strip, columns])

    for _ in results_in_order(fill, range(count), workers=count):
        pass
    return field


def _touched_window(starts: Starts, shape: tuple[int, int], halo: int) -> tuple[slice, slice] | None:
    """Rows and columns that the starts can reach."""
    windows = []
    for positions, length in ((starts.rows, shape[0]), (starts.columns, shape[1])):
        if not len(positions):
            return None
        low, high = int(positions.min()) // UNIT - halo, int(positions.max()) // UNIT + halo + 1
        windows.append(slice(max(low, 0), min(high, length)))
    return windows[0], windows[1]


def _window_distance(starts: Starts, water: np.ndarray, rows: slice, columns: slice, reach: float) -> np.ndarray:
    """Distance within one window of the grid, as if the rest were land. [cells]"""
    from layers import wavefront

    part = water[rows, columns]
    inside = None if starts.inside is None else starts.inside[rows, columns]
    top, left = rows.start * UNIT, columns.start * UNIT
    near = (starts.rows >= top) & (starts.rows <= rows.stop * UNIT)
    near &= (starts.columns >= left) & (starts.columns <= columns.stop * UNIT)
    best = np.full((part.shape[0] + 2, part.shape[1] + 2), np.inf)
    if inside is not None:
        best[1:-1, 1:-1][inside] = 0.0
    wavefront.spread(
        np.pad(part, 1).astype(np.uint8),
        wavefront.turning_corners(np.pad(part, 1)),
        starts.columns[near] - left + UNIT,
        starts.rows[near] - top + UNIT,
        starts.begins[near],
        reach + wavefront.MARGIN,
        best,
    )
    return best[1:-1, 1:-1]
