"""Few outlets instead of one for every cell of the shore: the small ones joined along it, no ground lost."""

from __future__ import annotations

import heapq

import numpy as np
from scipy.spatial import cKDTree


def joined_outlets(cells: np.ndarray, areas: np.ndarray, least_area: float) -> np.ndarray:
    """The outlet that each place on the shore is counted to.

    Parameters
    ----------
    cells : (n, 2) int
        Row and column of the cells on the shore that water leaves the land by, each once.
    areas : (n,)
        Ground that each of them drains. [m2]
    least_area : float
        No outlet is to drain less ground than this. [m2]

    Returns
    -------
    (n,) int
        Index of the outlet; an outlet lies at the place of its greatest share and is counted to itself.

    Notes
    -----
    Cells that touch, corners included, are neighbours on the shore. The smallest outlet joins the nearest of its
    neighbours, again and again, until none is below the least area: so ground is moved along the shore no farther
    than it takes to fill one outlet. What has no neighbour left and is still small (an islet) joins the nearest
    outlet across the water, or the largest of its kind where there is none. Our own rule, no source.

    Examples
    --------
    >>> joined_outlets(np.array([[0, 0], [0, 1], [0, 2], [0, 3]]), np.array([9.0, 1.0, 2.0, 8.0]), 5.0).tolist()
    [0, 0, 3, 3]
    """
    areas = np.asarray(areas, float)
    near, size, parent = _neighbours(cells), areas.tolist(), list(range(len(areas)))
    places = [(int(row), int(column)) for row, column in cells]
    queue = [(area, index) for index, area in enumerate(size) if area < least_area]
    heapq.heapify(queue)
    alone = []
    while queue:
        area, index = heapq.heappop(queue)
        if parent[index] != index or area != size[index]:
            continue  # it was joined, or grew, after it was queued
        if not near[index]:
            alone.append(index)
            continue
        other = min(near[index], key=lambda one: (_apart(places[index], places[one]), -size[one], one))
        # the place of the greatest single share stays the outlet
        kept, gone = sorted((index, other), key=lambda one: (-areas[one], one))
        parent[gone] = kept
        size[kept] += size[gone]
        for one in near[gone]:
            near[one].discard(gone)
            near[one].add(kept)
        near[kept] = (near[kept] | near[gone]) - {kept, gone}
        near[gone] = set()
        if size[kept] < least_area:
            heapq.heappush(queue, (size[kept], kept))
    _join_across_water(alone, parent, size, cells)
    return np.array([_root(parent, index) for index in range(len(parent))], dtype=np.int64)


def _join_across_water(alone: list[int], parent: list[int], size: list[float], cells: np.ndarray) -> None:
    if not alone:
        return
    small = set(alone)
    large = [index for index, above in enumerate(parent) if above == index and index not in small]
    if not large:
        large = [max(alone, key=lambda index: (size[index], -index))]
    _, nearest = cKDTree(cells[large]).query(cells[alone])
    for index, place in zip(alone, np.atleast_1d(nearest), strict=True):
        if index != large[place]:
            parent[index] = large[place]


def _neighbours(cells: np.ndarray) -> list[set[int]]:
    near = [set() for _ in range(len(cells))]
    if len(cells):
        for one, other in cKDTree(cells).query_pairs(1.5):  # 1 along a row or column, 1.41 over a corner
            near[one].add(other)
            near[other].add(one)
    return near


def _apart(one: tuple[int, int], other: tuple[int, int]) -> int:
    return (one[0] - other[0]) ** 2 + (one[1] - other[1]) ** 2


def _root(parent: list[int], index: int) -> int:
    while parent[index] != index:
        parent[index] = parent[parent[index]]
        index = parent[index]
    return index
