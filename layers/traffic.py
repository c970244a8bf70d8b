"""The compiled sum of what each stretch of route leaves within a radius of each cell."""

from __future__ import annotations

import numpy as np

from layers.threads import kernel


@kernel
def length_in_circles(edges, trips, x, y, radius, total):
    """Add to each cell the length of edges within `radius` of its centre, times the trips along each.

    Parameters
    ----------
    edges : (K, 4) float64
        Ends of each stretch: x, y, x, y. [m]
    trips : (K,) float64
        [1/day]
    x, y : (N,), (M,) float64
        Columns west to east, rows north to south, evenly spaced. [m]
    radius : float
        [m]
    total : (M, N) float64
        Changed in place. [m/day]
    """
    cell = x[1] - x[0] if len(x) > 1 else y[0] - y[1] if len(y) > 1 else 1.0
    for number in range(len(edges)):
        from_x, from_y, to_x, to_y = edges[number]
        length = np.hypot(to_x - from_x, to_y - from_y)
        if length == 0.0:
            continue
        unit_x, unit_y = (to_x - from_x) / length, (to_y - from_y) / length
        top = max(int(np.ceil((y[0] - max(from_y, to_y) - radius) / cell)) - 1, 0)
        bottom = min(int(np.floor((y[0] - min(from_y, to_y) + radius) / cell)) + 2, len(y))
        for row in range(top, bottom):
            # the part of the stretch whose northing is within the radius of this row bounds the columns
            low, high = 0.0, length
            if unit_y != 0.0:
                one, other = (y[row] - radius - from_y) / unit_y, (y[row] + radius - from_y) / unit_y
                low, high = max(low, min(one, other)), min(high, max(one, other))
            if low > high:
                continue
            one, other = from_x + low * unit_x, from_x + high * unit_x
            left = max(int(np.ceil((min(one, other) - radius - x[0]) / cell)) - 1, 0)
            right = min(int(np.floor((max(one, other) + radius - x[0]) / cell)) + 2, len(x))
            for column in range(left, right):
                along = (x[column] - from_x) * unit_x + (y[row] - from_y) * unit_y
                aside = (x[column] - from_x) * unit_y - (y[row] - from_y) * unit_x
                squared = radius * radius - aside * aside
                if squared > 0.0:
                    half = np.sqrt(squared)
                    inside = min(along + half, length) - max(along - half, 0.0)
                    if inside > 0.0:
                        total[row, column] += trips[number] * inside
