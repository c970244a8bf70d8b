"""The part of a grid that a map shows, thinned until the browser can draw it.

A picture never carries more cells than a screen can show. Numbers are never taken from a thinned picture:
tables, sentences and explanations come from every cell.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from layers.grid import Grid

MOST_CELLS = 500  # a side: one map is at most about 600 px wide on the page

Range = tuple[float, float] | None


@dataclass(frozen=True, kw_only=True)
class Window:
    """Rows and columns in view, and how many cells a side one drawn block stands for."""

    rows: slice
    columns: slice
    step: int
    bounds: tuple[float, float, float, float]  # west, south, east, north of the drawn blocks [m]

    @property
    def is_thinned(self) -> bool:
        """Whether one drawn block stands for more than one cell."""
        return self.step > 1


def window(grid: Grid, x_range: Range = None, y_range: Range = None, *, most: int = MOST_CELLS) -> Window | None:
    """The window of `grid` that the ranges of a map show.

    Parameters
    ----------
    grid : Grid
        The site's grid.
    x_range, y_range : pair of float, or None
        Eastings and northings in view; None shows everything. [m]
    most : int
        Greatest number of blocks a side.

    Returns
    -------
    Window or None
        None where the map shows no cell of the grid. Blocks begin at multiples of the step, so that the
        picture does not shimmer while it is dragged.
    """
    west, _, _, north = grid.bounds
    columns = _span(x_range, west, grid.cell, grid.shape[1])
    rows = _span(None if y_range is None else (-y_range[1], -y_range[0]), -north, grid.cell, grid.shape[0])
    if columns is None or rows is None:
        return None
    step = max(1, -(-max(columns[1] - columns[0], rows[1] - rows[0]) // most))
    left, top = (start // step * step for start in (columns[0], rows[0]))
    across, down = -(-(columns[1] - left) // step), -(-(rows[1] - top) // step)
    side = step * grid.cell
    x, y = west + left * grid.cell, north - top * grid.cell
    return Window(
        rows=slice(top, rows[1]),
        columns=slice(left, columns[1]),
        step=step,
        bounds=(x, y - down * side, x + across * side, y),
    )


def nearest(values: np.ndarray, view: Window) -> np.ndarray:
    """The middle cell of every block. A class stays a class.

    Examples
    --------
    >>> view = Window(rows=slice(0, 2), columns=slice(0, 4), step=2, bounds=(0, 0, 4, 2))
    >>> nearest(np.array([[1, 2, 3, 4], [5, 6, 7, 8]]), view).tolist()
    [[6, 8]]
    """
    rows, columns = (_middles(part, view.step) for part in (view.rows, view.columns))
    return values[np.ix_(rows, columns)] if view.is_thinned else values[view.rows, view.columns]


def greatest(values: np.ndarray, view: Window) -> np.ndarray:
    """The greatest value of every block, so that a thin pressure does not vanish from an overview.

    NaN where no cell of the block has data.

    Examples
    --------
    >>> view = Window(rows=slice(0, 2), columns=slice(0, 4), step=2, bounds=(0, 0, 4, 2))
    >>> greatest(np.array([[0.1, np.nan, np.nan, np.nan], [0.9, 0.2, np.nan, np.nan]]), view).tolist()
    [[0.9, nan]]
    """
    part = values[view.rows, view.columns]
    if not view.is_thinned:
        return part
    down, across = (-(-size // view.step) for size in part.shape)
    padded = np.full((down * view.step, across * view.step), np.nan, part.dtype)
    padded[: part.shape[0], : part.shape[1]] = part
    blocks = padded.reshape(down, view.step, across, view.step)
    return np.fmax.reduce(np.fmax.reduce(blocks, axis=3), axis=1)


def _span(limits: Range, origin: float, cell: float, cells: int) -> tuple[int, int] | None:
    if limits is None or not np.all(np.isfinite(limits)):
        return (0, cells)
    first = max(0, int(np.floor((min(limits) - origin) / cell)))
    last = min(cells, int(np.ceil((max(limits) - origin) / cell)))
    return (first, last) if first < last else None


def _middles(part: slice, step: int) -> np.ndarray:
    starts = np.arange(part.start, part.stop, step)
    return np.minimum(starts + step // 2, part.stop - 1)
