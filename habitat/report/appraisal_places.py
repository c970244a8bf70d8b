"""Where things stand on a plate: how its maps are arranged, and which part of the site each close-up shows."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

import geopandas as gpd
import numpy as np

from habitat.report.appraisal_change import LIMITS
from habitat.report.picture import Size
from layers.grid import Grid

if TYPE_CHECKING:
    import xarray as xr

    from habitat.appraisal_account import Account

GAP, NAME = 40, 26  # between maps, and above each for its name [pixel]
_MARGIN = 0.35  # of a footprint's longer side, on each side of it
_SMALLEST = 40  # cells across a close-up
_LARGEST = 0.5  # of the site's longer side: a close-up that shows more of it is none
_TALL = 1.6  # rows over columns from which on the maps of a site stand side by side


@dataclass(frozen=True, kw_only=True)
class Box:
    """The place of one map. [pixel]"""

    left: int
    top: int
    width: int  # of the room, of which the map may leave some
    size: Size


def arranged(shapes: Sequence[tuple[int, int]], whole: int, *, width: int, height: int) -> list[Box]:
    """Places of maps in a room, the scale of the whole site as large as it can be.

    Parameters
    ----------
    shapes : sequence of (rows, columns)
        Of the maps; those of the whole site first, all of one shape.
    whole : int
        How many are of the whole site.
    width, height : int
        Of the room. [pixel]

    Examples
    --------
    >>> [(box.left, box.top) for box in arranged([(10, 10)] * 4, 3, width=440, height=600)]
    [(0, 26), (240, 26), (0, 292), (240, 292)]
    """
    rows, columns = shapes[0]
    if rows > _TALL * columns and whole > 1:
        return _side_by_side(shapes, whole, width=width, height=height)
    return max(
        (_in_rows(shapes, number, width=width, height=height) for number in range(len(shapes), 0, -1)),
        key=lambda boxes: boxes[0].size.width,
    )


def close_ups(account: Account, kind: str, season: str, surface: xr.DataArray) -> list[tuple[str, tuple[slice, slice]]]:
    """For each proposal its name ("" where there is only one) and the rows and columns of its close-up.

    A close-up holds what is drawn and the cells that it changes by itself, as far as they are not all over the site.
    """
    appraisal, grid = account.appraisal, Grid.of(surface)
    old = _of_season(appraisal.before.assessment[kind], season)
    windows = []
    for outcome in appraisal.alone:
        change = np.abs(_of_season(outcome.assessment[kind], season).to_numpy() - old.to_numpy())
        shapes = [feature.shape for proposal in outcome.proposals for feature in proposal.features]
        bounds = gpd.GeoSeries(shapes, crs=grid.crs).total_bounds
        name = outcome.name if len(appraisal.alone) > 1 else ""
        windows.append((name, close_up_window(grid, tuple(bounds), np.nan_to_num(change) >= LIMITS[0])))
    return windows


def close_up_window(grid: Grid, bounds: tuple[float, float, float, float], changed: np.ndarray) -> tuple[slice, slice]:
    """Rows and columns around what is drawn: as wide as high, where the grid has room.

    Parameters
    ----------
    grid : Grid
    bounds : (west, south, east, north)
        Of what is drawn. [m]
    changed : array (M, N) of bool
        Cells to be shown too, as far as half the site reaches.
    """
    rows, columns = grid.shape
    west, south, east, north = bounds
    (left, top), (right, bottom) = ~grid.transform * (west, north), ~grid.transform * (east, south)
    centre = (top + bottom) / 2, (left + right) / 2
    side = max(bottom - top, right - left) * (1 + 2 * _MARGIN)
    largest = max(side, _LARGEST * max(rows, columns))
    near = np.argwhere(changed)
    near = near[(np.abs(near - centre) <= largest / 2).all(axis=1)]
    if len(near):
        reach = 1.1 * 2 * np.abs(near - centre).max()
        side = max(side, min(reach, largest))
    side = int(np.ceil(max(side, _SMALLEST)))
    window = []
    for middle, most in zip(centre, (rows, columns), strict=True):
        length = min(side, most)
        first = int(np.clip(round(middle - length / 2), 0, most - length))
        window.append(slice(first, first + length))
    return window[0], window[1]


def _of_season(layer: xr.DataArray, season: str) -> xr.DataArray:
    return layer.sel(season=season) if "season" in layer.dims else layer


def _in_rows(shapes: Sequence[tuple[int, int]], columns: int, *, width: int, height: int) -> list[Box]:
    lines = -(-len(shapes) // columns)
    wide = (width - (columns - 1) * GAP) // columns
    tall = height // lines - GAP - NAME
    sizes = [Size.fitting(shape, height=max(1, tall), width=wide) for shape in shapes]
    boxes, top = [], NAME
    for line in range(lines):
        of_line = sizes[line * columns : (line + 1) * columns]
        boxes += [
            Box(left=number * (wide + GAP), top=top, width=wide, size=size) for number, size in enumerate(of_line)
        ]
        top += max(size.height for size in of_line) + GAP + NAME
    return boxes


def _side_by_side(shapes: Sequence[tuple[int, int]], whole: int, *, width: int, height: int) -> list[Box]:
    """A tall site: its maps in a row, and the close-ups below each other beside them."""
    close = len(shapes) - whole
    tall = height - GAP - NAME
    wide = (width - (whole - 1 + bool(close)) * GAP) // (whole + bool(close))
    first = Size.fitting(shapes[0], height=tall, width=wide)
    boxes = [Box(left=number * (first.width + GAP), top=NAME, width=first.width, size=first) for number in range(whole)]
    left = whole * (first.width + GAP)
    for number, shape in enumerate(shapes[whole:]):
        each = (first.height + GAP + NAME) // close - GAP - NAME
        size = Size.fitting(shape, height=max(1, each), width=width - left)
        boxes.append(Box(left=left, top=NAME + number * (each + GAP + NAME), width=width - left, size=size))
    return boxes
