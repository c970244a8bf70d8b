"""Edges of geometries as plain numbers, and the compiled measures that run over many of them.

Imported only where it is used, because it brings in the compiler.
"""

from __future__ import annotations

import numpy as np
import shapely

from layers.threads import kernel

TILES = (64, 8)  # a strip is searched by tiles of this many cells, each within the one before
ROUNDING = 1e-3  # [m], far above the rounding of a distance between map coordinates


def edges_of(geometries: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """Straight edges of points (from a point to itself), lines and outlines of polygons.

    Returns
    -------
    (K, 4) float64
        x and y of one end and of the other. [m]
    (K,) int
        Which of `geometries` each edge belongs to.
    """
    shapes = np.asarray(geometries, dtype=object)
    kept = np.flatnonzero(~(shapely.is_missing(shapes) | shapely.is_empty(shapes)))
    parts, owner = shapely.get_parts(shapes[kept], return_index=True)
    while (nested := shapely.get_type_id(parts) > 3).any():  # collections of collections
        inner, index = shapely.get_parts(parts, return_index=True)
        parts, owner = inner, owner[index]
        if len(nested) == len(parts):
            break
    area = shapely.get_type_id(parts) == 3
    rings, index = shapely.get_rings(parts[area], return_index=True)
    parts, owner = np.concatenate([parts[~area], rings]), np.concatenate([owner[~area], owner[area][index]])
    points, line = shapely.get_coordinates(parts, return_index=True)
    joined = np.flatnonzero(line[1:] == line[:-1])
    single = np.flatnonzero(np.bincount(line, minlength=len(parts))[line] == 1)
    ends = np.concatenate([np.hstack([points[joined], points[joined + 1]]), np.hstack([points[single]] * 2)])
    which = np.concatenate([owner[line[joined]], owner[line[single]]])
    order = np.argsort(which, kind="stable")
    return np.ascontiguousarray(ends[order]), kept[which[order]]


@kernel
def least_distance(edges, x, y, reach, result):
    """Write the distance from each point of a lattice to the nearest edge, at most `reach`, into `result`.

    Parameters
    ----------
    edges : (K, 4) float64
        From `edges_of`. [m]
    x, y : (N,), (M,) float64
        Columns and rows of the lattice, evenly spaced. [m]
    reach : float
        [m]
    result : (M, N) float32
        Left at `reach` where no edge is nearer. [m]

    Notes
    -----
    Only edges that can be nearest to some point of a tile are tried in it: those no farther from its middle than
    the nearest one plus the tile's diagonal. The least over the tried edges is the least over all.
    """
    coarse, fine = TILES
    outer = np.empty(len(edges), np.int64)
    inner = np.empty(len(edges), np.int64)
    every = np.arange(len(edges))
    for top in range(0, len(y), coarse):
        bottom = min(top + coarse, len(y))
        for left in range(0, len(x), coarse):
            right = min(left + coarse, len(x))
            some = _candidates(edges, every, x, y, top, bottom, left, right, reach, outer)
            if some == 0:
                continue
            for upper in range(top, bottom, fine):
                lower = min(upper + fine, bottom)
                for start in range(left, right, fine):
                    stop = min(start + fine, right)
                    few = _candidates(edges, outer[:some], x, y, upper, lower, start, stop, reach, inner)
                    for row in range(upper, lower):
                        for column in range(start, stop):
                            least = reach * reach
                            for number in range(few):
                                squared = _squared_distance(edges[inner[number]], x[column], y[row])
                                if squared < least:
                                    least = squared
                            result[row, column] = np.sqrt(least)


@kernel
def _candidates(edges, among, x, y, top, bottom, left, right, reach, chosen):
    """Number of edges that may be nearest somewhere in a tile; their numbers are written to `chosen`."""
    middle_x, middle_y = 0.5 * (x[left] + x[right - 1]), 0.5 * (y[top] + y[bottom - 1])
    radius = np.hypot(x[right - 1] - middle_x, y[top] - middle_y) + ROUNDING
    least = (reach + radius) ** 2
    for number in among:
        squared = _squared_distance(edges[number], middle_x, middle_y)
        if squared < least:
            least = squared
    limit = min(np.sqrt(least) + 2 * radius, reach + radius) ** 2
    count = 0
    for number in among:
        if _squared_distance(edges[number], middle_x, middle_y) <= limit:
            chosen[count] = number
            count += 1
    return count


@kernel
def _squared_distance(edge, x, y):
    along_x, along_y = edge[2] - edge[0], edge[3] - edge[1]
    from_x, from_y = x - edge[0], y - edge[1]
    length = along_x * along_x + along_y * along_y
    if length > 0.0:
        share = min(max((from_x * along_x + from_y * along_y) / length, 0.0), 1.0)
        from_x -= share * along_x
        from_y -= share * along_y
    return from_x * from_x + from_y * from_y
