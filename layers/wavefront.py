"""The compiled core of through-water distance: exact shortest paths among land cells taken as squares.

A shortest path through the water is a chain of straight legs that turn only at corners of land. Each start and
each corner reached is a root that looks out over the water in eight fans of directions (octants), strip of cells
by strip of cells. A view, the part of a fan that land has left open, is two exact fractions (slopes), so what
is seen does not depend on rounding. Views are taken up in order of distance. A view is given up where the way
through a cell's centre is shorter by more than that cell can explain; no shortest path is lost by that, so the
distances are the least over all chains whatever the order, and a part of the grid gives what the whole gives.
"""

from __future__ import annotations

import numpy as np

from layers.starts import UNIT
from layers.threads import kernel

HALF = UNIT // 2
MOST_BUCKETS = 100_000  # longer distances share the last bucket: slower, not other
MARGIN = 1e-6  # a view is given up only where it is longer by more than this: far above rounding [cells]

# columns of the table of views; a slope is a fraction LOW / LOW_BASE of sideways to ahead
ROOT, OCTANT, STRIP, LOW, LOW_BASE, HIGH, HIGH_BASE, NEXT = range(8)
ALL_OCTANTS = -1  # the octant of a root that has not looked out yet
LAST_ROW = -2


def turning_corners(water: np.ndarray) -> np.ndarray:
    """Corners of cells where a shortest path can turn: exactly one of the four cells is land.

    Parameters
    ----------
    water : (M, N) bool
        True where a path may go.

    Returns
    -------
    (M + 1, N + 1) uint8
        1 where that land is north-west or south-east of the corner, 2 where it is north-east or south-west,
        0 elsewhere. Where two land cells touch at a corner no path passes or turns. The outside is land.
    """
    land = np.pad(~water, 1, constant_values=True).astype(np.uint8)
    falling = land[:-1, :-1] + land[1:, 1:]
    rising = land[:-1, 1:] + land[1:, :-1]
    return np.where(falling + rising == 1, np.where(falling == 1, 1, 2), 0).astype(np.uint8)


@kernel
def spread(water, turning, columns, rows, starts, reach, best):
    """Lower `best` to the distance from the nearest start, through the water.

    Parameters
    ----------
    water : (M, N) uint8
        1 where a path may go; the outermost cells all round must be 0.
    turning : (M + 1, N + 1) uint8
        From `turning_corners`.
    columns, rows : (K,) int64
        Positions of the starts. [1/1024 cell]
    starts : (K,) float64
        Distance each start begins with, 0 or more. [cells]
    reach : float
        Distances are not followed beyond this. [cells]
    best : (M, N) float64
        Distance known so far, infinity where none is; changed in place. [cells]
    """
    width = water.shape[1]
    open_water, corner_code, distance = water.ravel(), turning.ravel(), best.ravel()
    corner_distance = np.full(corner_code.size, np.inf)
    bucket_head = np.full(int(min(reach, MOST_BUCKETS)) + 3, -1, np.int64)
    last_bucket = np.int64(len(bucket_head) - 1)
    views = _empty_table(4096)
    # plain variables: numba would compile _put anew for every written-out number
    zero, one, unseen = np.int64(0), np.int64(1), np.int64(ALL_OCTANTS)
    free, bucket = np.int64(0), np.int64(0)
    # a root is a start (0 to K - 1) or a corner (K + its place in the lattice of corners)
    count = len(columns)
    for start in range(count):
        if starts[start] < reach:
            views, free = _put(
                views, free, bucket_head, min(int(starts[start]), last_bucket), start, unseen, zero, zero, one, one, one
            )

    while bucket < len(bucket_head):
        row = bucket_head[bucket]
        if row < 0:
            bucket += 1
            continue
        bucket_head[bucket] = views[row, NEXT]
        root, octant, strip = views[row, ROOT], views[row, OCTANT], views[row, STRIP]
        low, low_base = views[row, LOW], views[row, LOW_BASE]
        high, high_base = views[row, HIGH], views[row, HIGH_BASE]
        views[row, NEXT] = free
        free = row

        if root < count:
            root_column, root_row, begun, code = columns[root], rows[root], starts[root], 0
        else:
            place = root - count
            root_column, root_row = place % (width + 1) * UNIT, place // (width + 1) * UNIT
            begun, code = corner_distance[place], corner_code[place]

        if octant == ALL_OCTANTS:
            for each in range(8):
                quarter = each // 2  # 0 south-east, 1 south-west, 2 north-east, 3 north-west
                if code > 0 and (quarter == 0 or quarter == 3) == (code == 1):
                    continue  # no shortest path turns that way round this corner
                if each % 2 == 0:
                    strip = (root_row if quarter < 2 else -root_row) // UNIT
                else:
                    strip = (root_column if quarter % 2 == 0 else -root_column) // UNIT
                views, free = _put(views, free, bucket_head, bucket, root, each, strip, zero, one, one, one)
            continue

        # the octant as if it looked ahead, with the slopes 0 to 1 on one side: cell and corner (side, ahead)
        right = 1 if octant // 2 % 2 == 0 else -1
        down = 1 if octant // 2 < 2 else -1
        here = (0 if right > 0 else -1) + (0 if down > 0 else -width)
        if octant % 2 == 0:
            root_side, root_ahead = right * root_column, down * root_row
            side_step, ahead_step = right, down * width
            corner_side_step, corner_ahead_step = right, down * (width + 1)
        else:
            root_side, root_ahead = down * root_row, right * root_column
            side_step, ahead_step = down * width, right
            corner_side_step, corner_ahead_step = down * (width + 1), right
        here += strip * ahead_step
        near = strip * UNIT - root_ahead
        middle = near + HALF
        far = near + UNIT

        if near <= 0:  # the strip the root is in: its own cell and the next one sideways
            first = root_side // UNIT
            last = first + 1
            if open_water[here + first * side_step] == 0:
                continue
        else:
            # corners on the line where the view enters the strip
            first = -((-(low * near + root_side * low_base)) // (low_base * UNIT))
            last = (high * near + root_side * high_base) // (high_base * UNIT)
            for side in range(first, last + 1):
                place = side * corner_side_step + strip * corner_ahead_step
                if corner_code[place] > 0:
                    length = begun + _length(side * UNIT - root_side, near)
                    if length < corner_distance[place] and length < reach:
                        corner_distance[place] = length
                        later = min(max(int(length), bucket), last_bucket)
                        views, free = _put(
                            views, free, bucket_head, later, count + place, unseen, zero, zero, one, one, one
                        )
            # cells the view crosses in the middle of the strip, and land beside them that juts into the view
            first = (low * middle + root_side * low_base) // (low_base * UNIT)
            last = (high * middle + root_side * high_base) // (high_base * UNIT)
            edge = first * UNIT - root_side
            if open_water[here + (first - 1) * side_step] == 0 and edge * low_base > low * near:
                low, low_base = edge, near
            edge = (last + 1) * UNIT - root_side
            if open_water[here + (last + 1) * side_step] == 0 and edge * high_base < high * far:
                high, high_base = edge, far

        running = False  # whether the cell before this one was left open
        for side in range(first, last + 2):
            if low * high_base >= high * low_base:
                break  # nothing is left, at most the line on which two land cells touch
            # where an open run of cells would stop at this cell, and where the next run would begin
            left = side * UNIT - root_side
            stop, stop_base, resume, resume_base = high, high_base, high, high_base
            ended = side > last
            if not ended:
                cell = here + side * side_step
                if open_water[cell] == 0:
                    ended = True
                    stop, stop_base = left, far
                    if near > 0:
                        resume, resume_base = left + UNIT, near
                elif middle > 0 or (middle == 0 and left + HALF == 0):
                    across = left + HALF
                    straight = _length(across, middle)
                    length = begun + straight
                    if length < distance[cell] and across * low_base >= low * middle:
                        if across * high_base <= high * middle:
                            distance[cell] = length
                    # a ray to any point of the cell's middle line is longer than the way by the cell's centre
                    excess = length - distance[cell] - 0.5 - MARGIN
                    dominated = excess > 0.0 and excess * straight * UNIT > 0.5 * across
                    if near > 0 and (dominated or length > reach + 1.0):
                        ended = True
                        stop, stop_base, resume, resume_base = left, middle, left + UNIT, middle
            if not ended:
                running = True
                continue
            if stop * high_base > high * stop_base:
                stop, stop_base = high, high_base
            if running and low * stop_base < stop * low_base:
                slope = low / low_base
                length = begun + far * np.sqrt(1.0 + slope * slope) / UNIT
                if length < reach:
                    later = min(max(int(length), bucket), last_bucket)
                    views, free = _put(
                        views, free, bucket_head, later, root, octant, strip + 1, low, low_base, stop, stop_base
                    )
            running = False
            if resume * low_base > low * resume_base:
                low, low_base = resume, resume_base


@kernel
def _length(across, ahead):
    """Length of a leg [cells] from its two parts [1/1024 cell]: exact up to one rounding."""
    return np.sqrt(float(across) * float(across) + float(ahead) * float(ahead)) / UNIT


@kernel
def _empty_table(length):
    """A table of views whose rows are all free, each naming the next free one."""
    views = np.empty((length, 8), np.int64)
    for row in range(length):
        views[row, NEXT] = row + 1
    views[length - 1, NEXT] = LAST_ROW
    return views


@kernel
def _put(views, free, bucket_head, bucket, root, octant, strip, low, low_base, high, high_base):
    """The table of views and its first free row, after one more view was put into `bucket`."""
    if views[free, NEXT] == LAST_ROW:
        longer = _empty_table(2 * len(views))
        for row in range(len(views)):  # an array assignment would take numba 5 s more to compile
            for column in range(8):
                longer[row, column] = views[row, column]
        longer[free, NEXT] = len(views)
        views = longer
    row = free
    free = views[row, NEXT]
    views[row, ROOT] = root
    views[row, OCTANT] = octant
    views[row, STRIP] = strip
    views[row, LOW] = low
    views[row, LOW_BASE] = low_base
    views[row, HIGH] = high
    views[row, HIGH_BASE] = high_base
    views[row, NEXT] = bucket_head[bucket]
    bucket_head[bucket] = row
    return views, free
