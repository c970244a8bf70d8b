"""The compiled walk of straight rays over the cells of a grid until they meet land.

A ray is told by its octant (the way it goes along its main axis, the way it goes across, and whether the main
axis is north-south) and its slope: cells across for each cell ahead, 0 to 1.
"""

from __future__ import annotations

import numpy as np

from layers.threads import kernel

CORNER = 1e-9  # a ray this close to a corner of cells goes through it [cells]
FAR = 32_000  # stands for no land ahead [cells]


@kernel
def open_water_ahead(land, ahead, aside, swap, clear):
    """Write how many cells ahead of each cell no ray of an octant can meet land.

    Parameters
    ----------
    land : (M, N) bool
    ahead, aside : int
        1 or -1.
    swap : bool
        True where the main axis runs along the rows (north-south).
    clear : (M, N) int16
        0 where the cell itself or the one aside of it is land, which the ray may cross into. [cells]
    """
    height, width = land.shape
    length, breadth = (height, width) if swap else (width, height)
    for step in range(length):
        main = length - 1 - step if ahead > 0 else step
        for cross in range(breadth):
            other = cross + aside
            row, column = (main, cross) if swap else (cross, main)
            row_aside, column_aside = (main, other) if swap else (other, main)
            beside = 0 <= other < breadth
            if land[row, column] or (beside and land[row_aside, column_aside]):
                clear[row, column] = 0
                continue
            least = FAR
            if step > 0:
                next_row, next_column = (row + ahead, column) if swap else (row, column + ahead)
                least = min(least, clear[next_row, next_column])
                if beside:
                    next_row, next_column = (
                        (row_aside + ahead, column_aside) if swap else (row_aside, column_aside + ahead)
                    )
                    least = min(least, clear[next_row, next_column])
            clear[row, column] = min(least + 1, FAR)


@kernel
def add_open_water(land, clear, first, last, ahead, aside, swap, slope, reach, share, total):
    """Add `share` times the length of the ray from each cell's centre to the first land.

    Parameters
    ----------
    land, clear, ahead, aside, swap
        As in `open_water_ahead`.
    first, last : int
        Rows to fill.
    slope : float
        [1]
    reach : float
        [cells]
    share : float
        [1]
    total : (M, N) float64
        Changed in place. [cells]

    Notes
    -----
    Where the ray enters the n-th cell ahead follows from n alone, not from the steps before, so leaping over
    open water changes nothing. Beyond the grid's edge there is no land.
    """
    height, width = land.shape
    stretch = np.sqrt(1.0 + slope * slope)  # length of the ray for each cell ahead
    for row in range(first, last):
        for column in range(width):
            if land[row, column]:
                continue
            length = reach
            step = max(clear[row, column], 1)
            while True:
                entered = step - 0.5
                if entered * stretch >= reach:
                    break
                at = entered * slope + 0.5
                nearest = np.rint(at)
                corner = slope > 0.0 and abs(at - nearest) < CORNER
                across = int(nearest) if corner else int(np.floor(at))
                # the cell the ray enters
                r = row + (ahead * step if swap else aside * across)
                c = column + (aside * across if swap else ahead * step)
                if r < 0 or r >= height or c < 0 or c >= width:
                    break
                if corner:  # the two cells that touch there beside the ray
                    back_r, back_c = (r - ahead, c) if swap else (r, c - ahead)
                    side_r, side_c = (r, c - aside) if swap else (r - aside, c)
                    if land[back_r, back_c] and land[side_r, side_c]:
                        length = entered * stretch
                        break
                leap = clear[r, c]
                if leap > 0:
                    step += leap
                    continue
                if land[r, c]:
                    length = entered * stretch
                    break
                # land is aside: the ray may cross into it before it leaves this step
                if slope > 0.0:
                    crossing = (across + 0.5) / slope
                    if crossing < step + 0.5 - CORNER:
                        length = crossing * stretch
                        break
                step += 1
            total[row, column] += share * min(length, reach)
