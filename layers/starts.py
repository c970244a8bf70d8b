"""Where distances through the water begin: points, lines and polygons as positions on the site's grid."""

from __future__ import annotations

from dataclasses import dataclass

import geopandas as gpd
import numpy as np
import shapely

from layers.grid import Grid

SNAP_CELLS = 3.0  # a point on land belongs to water this near: banks are never drawn to the cell
UNIT = 1024  # positions are whole numbers of 1/1024 cell
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

    @property
    def cells(self) -> list[tuple[int, int]]:
        """Row and column of the cell that holds each start."""
        return list(zip((self.rows // UNIT).tolist(), (self.columns // UNIT).tolist(), strict=True))


def starts_of(geometries: gpd.GeoSeries, water: np.ndarray, grid: Grid, reach: float) -> Starts:
    """Where distance through the water to `geometries` begins.

    Parameters and the rules for lines, polygons and shapes on land: see `layers.waterway.through_water_distance`.
    """
    shapes = np.asarray(geometries.array, dtype=object)
    shapes = shapes[~(shapely.is_missing(shapes) | shapely.is_empty(shapes))]
    points, owner = shapely.get_coordinates(shapely.segmentize(shapes, SPACING * grid.cell), return_index=True)
    columns, rows = _positions(points, grid)
    wet = _touches_water(columns, rows, water)
    columns, rows, owner = columns[wet], rows[wet], owner[wet]
    begins = np.zeros(len(columns))

    inside = _inside(shapes, grid) & water
    edge_rows, edge_columns = np.nonzero(inside & _beside(water & ~inside))
    dry = np.ones(len(shapes), bool)
    dry[owner] = False
    ashore = [shape for shape in shapes[dry] if not _covers_water(shape, water, grid)]
    shore_columns, shore_rows, shore_begins = _landfalls(ashore, water, grid, reach)

    columns = np.concatenate([columns, edge_columns * UNIT + UNIT // 2, shore_columns])
    rows = np.concatenate([rows, edge_rows * UNIT + UNIT // 2, shore_rows])
    begins = np.concatenate([begins, np.zeros(len(edge_rows)), shore_begins])
    found = np.unique(np.stack([begins, rows, columns]), axis=1)
    return Starts(columns=found[2].astype(np.int64), rows=found[1].astype(np.int64), begins=found[0], inside=inside)


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


def _covers_water(shape: shapely.Geometry, water: np.ndarray, grid: Grid) -> bool:
    """Whether the centre of a water cell lies in a polygon."""
    if shapely.get_dimensions(shape) < 2:
        return False
    west, south, east, north = shape.bounds
    columns, rows = _positions(np.array([[west, north], [east, south]]), grid)
    box = [slice(max(int(low // UNIT), 0), max(int(high // UNIT) + 1, 0)) for low, high in (rows, columns)]
    part = water[box[0], box[1]]
    if not part.size:
        return False
    inside = _inside(
        np.array([shape]), grid.window(*(slice(s.start, s.start + n) for s, n in zip(box, part.shape, strict=True)))
    )
    return bool((inside & part).any())


def _beside(cells: np.ndarray) -> np.ndarray:
    """Cells that touch one of `cells` at an edge or a corner."""
    from scipy.ndimage import maximum_filter

    return maximum_filter(cells, size=3, mode="constant", cval=0)


def _landfalls(
    shapes: list[shapely.Geometry], water: np.ndarray, grid: Grid, reach: float
) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Water cells nearest to shapes that touch no water, and the straight distance to their centres. [cells]"""
    outline = shapely.box(*grid.bounds)
    shapes = [shape for shape in shapes if shape.intersects(outline)]
    if not shapes:
        return np.zeros(0, np.int64), np.zeros(0, np.int64), np.zeros(0)
    rows, columns = np.nonzero(water & _beside(~water))
    tree = shapely.STRtree(shapely.points(grid.x[columns], grid.y[rows]))
    (_, cells), metres = tree.query_nearest(shapes, max_distance=reach, return_distance=True)
    return columns[cells] * UNIT + UNIT // 2, rows[cells] * UNIT + UNIT // 2, metres / grid.cell
