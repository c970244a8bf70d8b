"""Straight edges cut where they cross the lines of a grid: the measure under exact areas and lengths.

Places here are (column, row) of a grid, counted in cells from its north-west corner.
"""

from __future__ import annotations

import numpy as np
import shapely

from layers.grid import Grid


def edges_of(lines: np.ndarray, grid: Grid) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Starts and ends of the straight edges of lines or rings, and the line each belongs to.

    Parameters
    ----------
    lines : (n,) array of LineString or LinearRing in the CRS of `grid`

    Returns
    -------
    start, end : (edges, 2) arrays of (column, row)
    line : (edges,) array of indices into `lines`
    """
    coordinates, line = shapely.get_coordinates(lines, return_index=True)
    places = np.stack(~grid.transform * (coordinates[:, 0], coordinates[:, 1]), axis=-1)
    same = line[1:] == line[:-1]
    return places[:-1][same], places[1:][same], line[1:][same]


def pieces(start: np.ndarray, end: np.ndarray, shape: tuple[int, int]) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Edges cut at every line of a grid of `shape`, so that each piece lies in one cell.

    Returns
    -------
    middle : (pieces, 2) array
        Middle of each piece; its floor is the cell's (column, row), which may lie outside the grid.
    vector : (pieces, 2) array
        From each piece's start to its end.
    edge : (pieces,) array
        The edge each piece was cut from.
    """
    run = end - start
    number = np.arange(len(start))
    times, edges = [np.zeros(len(start)), np.ones(len(start))], [number, number]
    for axis, size in ((0, shape[1]), (1, shape[0])):
        low = np.clip(np.ceil(np.minimum(start[:, axis], end[:, axis])), 0, size + 1).astype(int)
        high = np.clip(np.floor(np.maximum(start[:, axis], end[:, axis])), -1, size).astype(int)
        crossed = np.where(run[:, axis] == 0, 0, np.maximum(high - low + 1, 0))
        edge = np.repeat(number, crossed)
        line = low[edge] + np.arange(len(edge)) - np.repeat(np.cumsum(crossed) - crossed, crossed)
        times.append((line - start[edge, axis]) / run[edge, axis])
        edges.append(edge)
    time, edge = np.clip(np.concatenate(times), 0, 1), np.concatenate(edges)
    order = np.lexsort((time, edge))
    time, edge = time[order], edge[order]
    real = (edge[1:] == edge[:-1]) & (time[1:] > time[:-1])
    begin, finish, edge = time[:-1][real], time[1:][real], edge[1:][real]
    middle = start[edge] + ((begin + finish) / 2)[:, None] * run[edge]
    return middle, (finish - begin)[:, None] * run[edge], edge


def add_cover(cover: np.ndarray, start: np.ndarray, end: np.ndarray, weights: np.ndarray) -> None:
    """Add the ground east of each edge to `cover`, times its weight, to be `settled` later.

    Parameters
    ----------
    cover : (rows, columns + 1) array, changed in place
    start, end : (edges, 2) arrays of (column, row)
        An edge that runs south adds the ground east of it, one that runs north takes it away: what is left of
        a closed ring is its inside.
    weights : (edges,) array
    """
    rows, columns = cover.shape[0], cover.shape[1] - 1
    used = (weights != 0) & (start[:, 1] != end[:, 1])
    middle, vector, edge = pieces(start[used], end[used], (rows, columns))
    column, row = np.floor(middle).astype(int).T
    inside = (row >= 0) & (row < rows) & (column < columns)
    # ground that begins west of the grid fills its row from the first column
    west = column < 0
    within = np.where(west, 0, middle[:, 0] - column)[inside]
    column = np.where(west, 0, column)[inside]
    amount = (vector[:, 1] * weights[used][edge])[inside]
    cell = row[inside] * (columns + 1) + column
    flat = np.bincount(cell, amount * (1 - within), cover.size)
    flat += np.bincount(cell + 1, amount * within, cover.size)
    cover += flat.reshape(cover.shape)


def settled(cover: np.ndarray) -> np.ndarray:
    """What `add_cover` gathered, as weighted shares of cells: (rows, columns)."""
    return np.cumsum(cover, axis=1)[:, :-1]
