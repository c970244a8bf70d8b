"""A raster of any projection looked up at the centres of a grid's cells: the cell under each, or a mean of those near.

Every centre is projected by itself. Raster libraries bend straight lines between a few projected points instead, by
default up to an eighth of a raster cell wrong, and differently from one version to the next.
"""

from __future__ import annotations

import numpy as np
from affine import Affine
from pyproj import CRS, Transformer

from layers.grid import Grid
from layers.threads import kernel, run_in_strips

EDGE = 1e-9  # a centre on the edge of two raster cells belongs to the second, whatever the rounding [raster cells]


def sampled_nearest(values: np.ndarray, transform: Affine, crs: CRS, grid: Grid) -> np.ndarray:
    """Value of the raster cell that holds each cell's centre; NaN outside the raster. (y, x) float32"""
    field = np.full(grid.shape, np.nan, np.float32)

    def of_strip(rows: slice) -> None:
        column, row = (np.floor(at + EDGE).astype(np.int64) for at in _raster_places(transform, crs, grid, rows))
        inside = (column >= 0) & (row >= 0) & (column < values.shape[1]) & (row < values.shape[0])
        field[rows][inside] = values[row[inside], column[inside]]

    run_in_strips(of_strip, grid.shape[0])
    return field


def sampled_bilinear(values: np.ndarray, transform: Affine, crs: CRS, grid: Grid) -> np.ndarray:
    """Mean of the raster cells near each cell's centre, weighed by 1 - |distance| / reach along rows and columns.

    The reach is one raster cell or, where the grid's cells are larger, one grid cell. Raster cells without data take no
    part; NaN where none is within reach.

    Returns
    -------
    (y, x) float32 array on `grid`.
    """
    field = np.full(grid.shape, np.nan, np.float32)
    reach = [max(1.0, span) for span in _spans(transform, crs, grid)]
    values = np.ascontiguousarray(values, np.float32)

    def of_strip(rows: slice) -> None:
        column, row = _raster_places(transform, crs, grid, rows)
        _weigh(values, column - 0.5, row - 0.5, *reach, field[rows])

    run_in_strips(of_strip, grid.shape[0])
    return field


def _raster_places(transform: Affine, crs: CRS, grid: Grid, rows: slice) -> tuple[np.ndarray, np.ndarray]:
    """Column and row of the raster, counted from its corner, under the centres of some rows of the grid."""
    x, y = np.meshgrid(grid.x, grid.y[rows])
    if crs != grid.crs:  # one for each strip, as it may not be shared among threads
        x, y = Transformer.from_crs(grid.crs, crs, always_xy=True).transform(x, y)
    return ~transform * (x, y)


def _spans(transform: Affine, crs: CRS, grid: Grid) -> tuple[float, float]:
    """Raster columns and rows that a grid cell spans in the middle of the grid."""
    west, south, east, north = grid.bounds
    middle, step = ((west + east) / 2, (south + north) / 2), grid.cell
    x, y = (middle[0] + step * np.array([0.0, 1.0, 0.0]), middle[1] + step * np.array([0.0, 0.0, 1.0]))
    if crs != grid.crs:
        x, y = Transformer.from_crs(grid.crs, crs, always_xy=True).transform(x, y)
    return tuple(float(np.hypot(at[1] - at[0], at[2] - at[0])) for at in ~transform * (x, y))


@kernel
def _weigh(values, column, row, column_reach, row_reach, field):
    last_row, last_column = values.shape[0] - 1, values.shape[1] - 1
    for i in range(field.shape[0]):
        for j in range(field.shape[1]):
            x, y = column[i, j], row[i, j]
            if not (-column_reach < x < last_column + column_reach and -row_reach < y < last_row + row_reach):
                continue
            total, weights = 0.0, 0.0
            for r in range(max(0, int(np.ceil(y - row_reach))), min(last_row, int(np.floor(y + row_reach))) + 1):
                row_weight = 1.0 - abs(r - y) / row_reach
                for c in range(
                    max(0, int(np.ceil(x - column_reach))), min(last_column, int(np.floor(x + column_reach))) + 1
                ):
                    value = values[r, c]
                    if not np.isnan(value):
                        weight = row_weight * (1.0 - abs(c - x) / column_reach)
                        total += weight * value
                        weights += weight
            if weights > 0.0:
                field[i, j] = total / weights
