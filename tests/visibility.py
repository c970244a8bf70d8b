"""Shortest ways through the water by general libraries, slow and exact: what the project's own are held against."""

from __future__ import annotations

import numpy as np
import shapely
from scipy.sparse.csgraph import dijkstra


def visibility_graph_distance(water: np.ndarray, columns: np.ndarray, rows: np.ndarray) -> np.ndarray:
    """Shortest paths over all straight legs between starts, corners of land and cell centres that land leaves open."""
    land = np.pad(~water, 1, constant_values=True)
    squares = [shapely.box(c - 1, r - 1, c, r) for r, c in zip(*np.nonzero(land), strict=True)]
    four = land[:-1, :-1], land[:-1, 1:], land[1:, :-1], land[1:, 1:]
    count = np.sum(four, axis=0)
    pinched = (count == 2) & (land[:-1, :-1] == land[1:, 1:])
    plugs = [shapely.Point(c, r).buffer(1e-4) for r, c in zip(*np.nonzero(pinched), strict=True)]
    bar = shapely.union_all([shapely.union_all(squares).buffer(-1e-7), *plugs])
    corner_rows, corner_columns = np.nonzero(count == 1)
    turns = np.concatenate([np.column_stack([columns, rows]), np.column_stack([corner_columns, corner_rows])])
    cell_rows, cell_columns = np.nonzero(water)
    ends = np.concatenate([turns, np.column_stack([cell_columns, cell_rows]) + 0.5])
    legs = shapely.linestrings(np.stack(np.broadcast_arrays(turns[:, None], ends[None]), axis=2).reshape(-1, 2, 2))
    shapely.prepare(bar)
    barred = shapely.intersects(bar, legs).reshape(len(turns), len(ends))
    length = np.where(barred, np.inf, shapely.length(legs).reshape(barred.shape))
    # one more node that is 1 from every start, because a sparse graph knows no length of 0
    graph = np.zeros((len(turns) + 1,) * 2)
    graph[:-1, :-1] = np.where(np.isinf(length[:, : len(turns)]), 0, length[:, : len(turns)])
    graph[-1, : len(columns)] = 1
    to_turn = dijkstra(graph, indices=len(turns))[:-1] - 1
    distance = np.full(water.shape, np.nan)
    distance[water] = (to_turn[:, None] + length[:, len(turns) :]).min(axis=0)
    return distance
