"""The compiled walk of a straight ray over the cells of a grid until it meets land."""

from __future__ import annotations

import numpy as np

from layers.threads import kernel

CORNER = 1e-9  # a ray this close to a corner of cells goes through it [cells]


@kernel
def add_open_water(land, clear, first, last, ahead, aside, swap, slope, reach, share, total):
    """Add `share` times the length of the ray from each cell's centre to the first land.

    Parameters
    ----------
    land : (M, N) bool
    clear : (M, N) int32
        Within fewer rows and columns than this there is no land.
    first, last : int
        Rows to fill.
    ahead, aside : int
        1 or -1: the way the ray goes along its main axis and across it.
    swap : bool
        True where the main axis runs along the rows' numbers (north and south).
    slope : float
        Cells across for each cell ahead, 0 to 1. [1]
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
                across = int(np.floor(at))
                corner = slope > 0.0 and abs(at - np.rint(at)) < CORNER
                if corner:
                    across = int(np.rint(at))
                # the cell the ray enters, and on a corner the two cells beside it
                r = row + (ahead * step if swap else aside * across)
                c = column + (aside * across if swap else ahead * step)
                if r < 0 or r >= height or c < 0 or c >= width:
                    break
                if land[r, c]:
                    length = entered * stretch
                    break
                if corner:
                    back_r, back_c = (r - ahead, c) if swap else (r, c - ahead)
                    side_r, side_c = (r, c - aside) if swap else (r - aside, c)
                    if land[back_r, back_c] and land[side_r, side_c]:
                        length = entered * stretch
                        break
                # the ray may cross into the next cell aside before it leaves this step
                crossing = (across + 0.5) / slope if slope > 0.0 else np.inf
                if crossing < step + 0.5 - CORNER:
                    r2, c2 = (r, c + aside) if swap else (r + aside, c)
                    if r2 < 0 or r2 >= height or c2 < 0 or c2 >= width:
                        break
                    if land[r2, c2]:
                        length = crossing * stretch
                        break
                step += max(clear[r, c] - 1, 1)
            total[row, column] += share * min(length, reach)
