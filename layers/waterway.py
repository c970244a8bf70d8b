"""Distance through the water: the shortest way round land, exact among land cells taken as squares.

A path may touch land but not cross it, and does not slip between two land cells that touch at a corner. The
outside of the grid is land. Every distance has a finite reach; a part of the grid with a rim as wide as the
reach gives the same bits as the whole.
"""

from __future__ import annotations

from dataclasses import dataclass

import geopandas as gpd
import numpy as np
import shapely

from layers.grid import Grid
from layers.threads import results_in_order, workers_or_default

UNIT = 1024  # starts are rounded to 1/1024 cell
SPACING = 0.5  # starts along a line or an outline lie at most this far apart [cells]


@dataclass(frozen=True, kw_only=True)
class Starts:
    """Where distance through the water begins, on one grid.

    `columns`, `rows` are positions from the grid's north-west corner [1/1024 cell], `begins` the distance each
    begins with [cells], `inside` the cells where the distance is 0 all over.
    """

    columns: np.ndarray
    rows: np.ndarray
    begins: np.ndarray
    inside: np.ndarray | None = None


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

    A geometry that touches no water begins at the water cell nearest to it, with the straight distance from it
    to that cell's centre. What lies outside the grid is not reached.
    """
    starts = starts_of(geometries, water, grid, reach)
    return through_water_field(starts, water, grid.cell, reach, workers=workers)


def through_water_field(
    starts: Starts, water: np.ndarray, cell: float, reach: float, *, workers: int | None = None
) -> np.ndarray:
    """Distance through the water from each cell's centre to the nearest of `starts`.

    Parameters and result as in `through_water_distance`; `cell` is the side of a cell. [m]
    """
    if not reach > 0:
        raise ValueError(f"reach: found {reach:g} m. It must be greater than 0.")
    field = np.where(water, np.float32(reach), np.float32(np.nan)).astype(np.float32)
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


def starts_of(geometries: gpd.GeoSeries, water: np.ndarray, grid: Grid, reach: float) -> Starts:
    """Where distance through the water to `geometries` begins; see `through_water_distance`."""
    shapes = np.asarray(geometries.array if hasattr(geometries, "array") else geometries, dtype=object)
    shapes = shapes[~(shapely.is_missing(shapes) | shapely.is_empty(shapes))]
    points, owner = shapely.get_coordinates(shapely.segmentize(shapes, SPACING * grid.cell), return_index=True)
    columns, rows = _positions(points, grid)
    wet = _touches_water(columns, rows, water)
    columns, rows, owner = columns[wet], rows[wet], owner[wet]
    begins = np.zeros(len(columns))

    inside = _inside(shapes, grid) & water
    edge_rows, edge_columns = np.nonzero(inside & _beside(water & ~inside))
    dry = np.setdiff1d(np.arange(len(shapes)), owner)
    dry = np.array([number for number in dry if not (_inside(shapes[[number]], grid) & water).any()], dtype=int)
    shore_columns, shore_rows, shore_begins = _landfalls(shapes[dry], water, grid, reach)

    columns = np.concatenate([columns, edge_columns * UNIT + UNIT // 2, shore_columns])
    rows = np.concatenate([rows, edge_rows * UNIT + UNIT // 2, shore_rows])
    begins = np.concatenate([begins, np.zeros(len(edge_rows)), shore_begins])
    found = np.unique(np.stack([begins, rows, columns]), axis=1)
    return Starts(
        columns=found[2].astype(np.int64), rows=found[1].astype(np.int64), begins=found[0], inside=inside
    )


def start_at(x: float, y: float, water: np.ndarray, grid: Grid, within: float) -> Starts | None:
    """Where distance through the water to one point begins.

    Returns
    -------
    Starts or None
        The point itself on the water, else the centre of the nearest water cell, with distance 0 there. None if
        no centre of a water cell lies `within` [m] of the point.
    """
    columns, rows = _positions(np.array([[x, y]]), grid)
    if not _touches_water(columns, rows, water)[0]:
        far = int(np.ceil(within / grid.cell)) + 1
        row, column = int(rows[0] // UNIT), int(columns[0] // UNIT)
        top, left = max(row - far, 0), max(column - far, 0)
        near = water[top : max(row + far + 1, 0), left : max(column + far + 1, 0)]
        near_rows, near_columns = np.nonzero(near)
        squared = (grid.x[left + near_columns] - x) ** 2 + (grid.y[top + near_rows] - y) ** 2
        if not len(squared) or squared.min() > within**2:
            return None
        nearest = int(squared.argmin())
        columns = np.array([(left + near_columns[nearest]) * UNIT + UNIT // 2])
        rows = np.array([(top + near_rows[nearest]) * UNIT + UNIT // 2])
    return Starts(columns=columns, rows=rows, begins=np.zeros(1))


def _positions(points: np.ndarray, grid: Grid) -> tuple[np.ndarray, np.ndarray]:
    west, _, _, north = grid.bounds
    columns = np.rint((points[:, 0] - west) / grid.cell * UNIT).astype(np.int64)
    rows = np.rint((north - points[:, 1]) / grid.cell * UNIT).astype(np.int64)
    return columns, rows


def _touches_water(columns: np.ndarray, rows: np.ndarray, water: np.ndarray) -> np.ndarray:
    """Whether each position lies in a water cell or on the edge of one."""
    padded = np.pad(water, 1)
    wet = np.zeros(len(columns), bool)
    for back_row in (0, 1):
        for back_column in (0, 1):
            # one unit back crosses into the cell before only from an edge between cells
            row = np.clip((rows - back_row) // UNIT + 1, 0, padded.shape[0] - 1)
            column = np.clip((columns - back_column) // UNIT + 1, 0, padded.shape[1] - 1)
            wet |= padded[row, column]
    return wet


def _inside(shapes: np.ndarray, grid: Grid) -> np.ndarray:
    """Cells whose centre lies in a polygon."""
    from rasterio.features import rasterize

    polygons = [shape for shape in shapes if shapely.get_dimensions(shape) == 2]
    if not polygons:
        return np.zeros(grid.shape, bool)
    return rasterize(polygons, grid.shape, transform=grid.transform, dtype="uint8").astype(bool)


def _beside(cells: np.ndarray) -> np.ndarray:
    """Cells that touch one of `cells` at an edge or a corner."""
    from scipy.ndimage import maximum_filter

    return maximum_filter(cells, size=3, mode="constant", cval=0)


def _landfalls(
    shapes: np.ndarray, water: np.ndarray, grid: Grid, reach: float
) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Water cells nearest to shapes that touch no water, and the straight distance to their centres. [cells]"""
    shapes = shapes[shapely.intersects(shapes, shapely.box(*grid.bounds))]
    if not len(shapes):
        return np.zeros(0, np.int64), np.zeros(0, np.int64), np.zeros(0)
    rows, columns = np.nonzero(water & _beside(~water))
    tree = shapely.STRtree(shapely.points(grid.x[columns], grid.y[rows]))
    (_, cells), metres = tree.query_nearest(shapes, max_distance=reach, return_distance=True)
    return columns[cells] * UNIT + UNIT // 2, rows[cells] * UNIT + UNIT // 2, metres / grid.cell


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
