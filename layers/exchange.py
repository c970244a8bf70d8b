"""How much water and substance pass between neighbouring cells: conductance and discharge of faces to exchanges.

The exchange of a face is what one unit of concentration on one side sends to the other: the exponential fitting of
Scharfetter and Gummel, exact along a line with steady flow. Exchanges are never negative, so neither is what the
solver makes of them.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from layers.faces import Faces
from layers.threads import kernel

STILL = 1e-5  # below this cell Peclet number the first terms of the series are exact to rounding
ONE_WAY = 700.0  # above this number nothing comes back against the flow, and exp overflows


@dataclass(frozen=True, kw_only=True)
class Exchanges:
    """What one unit of concentration in a cell sends over each of its faces. [m3/s]

    All arrays are (M + 2, N + 2): the rim is the outside, and holds what the outside sends in.
    """

    east: np.ndarray
    west: np.ndarray
    north: np.ndarray
    south: np.ndarray
    total: np.ndarray  # all that leaves a cell, its own removal included: the diagonal of the matrix
    inverse: np.ndarray  # 1 / total, 0 on land and outside

    @property
    def arrays(self) -> tuple[np.ndarray, ...]:
        """In the order in which the kernels take them."""
        return self.east, self.west, self.north, self.south, self.total, self.inverse


@kernel
def one_way(conductance, discharge):
    """What one unit of concentration sends with the discharge and the dispersion of a face. [m3/s]

    G P / (1 - exp(-P)) with the Peclet number P = Q / G; G at rest, and max(Q, 0) without dispersion.
    """
    if discharge == 0.0:
        return conductance
    if abs(discharge) >= ONE_WAY * conductance:
        return max(discharge, 0.0)
    peclet = discharge / conductance
    if abs(peclet) < STILL:
        return conductance + 0.5 * discharge + discharge * peclet / 12.0
    return -discharge / np.expm1(-peclet)


def exchanges_of(faces: Faces) -> Exchanges:
    """Exchanges of every cell of `faces` with its four neighbours."""
    rows, columns = faces.shape
    arrays = [np.zeros((rows + 2, columns + 2)) for _ in range(6)]
    _fill(
        faces.conductance_x, faces.conductance_y, faces.discharge_x, faces.discharge_y, faces.removal, *arrays
    )  # fmt: skip
    return Exchanges(**dict(zip(("east", "west", "north", "south", "total", "inverse"), arrays, strict=True)))


@kernel
def _fill(conductance_x, conductance_y, discharge_x, discharge_y, removal, east, west, north, south, total, inverse):
    rows, columns = removal.shape
    for i in range(rows):
        for j in range(columns + 1):
            east[i + 1, j] = one_way(conductance_x[i, j], discharge_x[i, j])
            west[i + 1, j + 1] = one_way(conductance_x[i, j], -discharge_x[i, j])
    for i in range(rows + 1):
        for j in range(columns):
            south[i, j + 1] = one_way(conductance_y[i, j], discharge_y[i, j])
            north[i + 1, j + 1] = one_way(conductance_y[i, j], -discharge_y[i, j])
    for i in range(1, rows + 1):
        for j in range(1, columns + 1):
            out = east[i, j] + west[i, j] + north[i, j] + south[i, j] + removal[i - 1, j - 1]
            total[i, j] = out
            if out > 0.0:
                inverse[i, j] = 1.0 / out


@kernel
def cells_that_drain(east, west, north, south, total, drained):
    """Mark the cells from which substance can leave for good: by loss, over an open edge, or by way of others.

    Parameters
    ----------
    east, west, north, south, total : (M + 2, N + 2) float64
        As in `Exchanges`.
    drained : (M + 2, N + 2) uint8
        1 where a cell removes substance by itself; the rest is filled in. The rim counts as drained where it is 1.
    """
    rows, columns = total.shape
    waiting = np.empty(rows * columns, np.int64)
    count = 0
    for i in range(rows):
        for j in range(columns):
            if drained[i, j]:
                waiting[count] = i * columns + j
                count += 1
    while count > 0:
        count -= 1
        i, j = waiting[count] // columns, waiting[count] % columns
        if i > 0 and not drained[i - 1, j] and south[i - 1, j] > 0.0:
            drained[i - 1, j] = 1
            waiting[count] = (i - 1) * columns + j
            count += 1
        if i < rows - 1 and not drained[i + 1, j] and north[i + 1, j] > 0.0:
            drained[i + 1, j] = 1
            waiting[count] = (i + 1) * columns + j
            count += 1
        if j > 0 and not drained[i, j - 1] and east[i, j - 1] > 0.0:
            drained[i, j - 1] = 1
            waiting[count] = i * columns + j - 1
            count += 1
        if j < columns - 1 and not drained[i, j + 1] and west[i, j + 1] > 0.0:
            drained[i, j + 1] = 1
            waiting[count] = i * columns + j + 1
            count += 1


@kernel
def pass_on(passable_x, passable_y, held, eastward, southward, inflow):
    """Send what each cell gains to its neighbour on the way out, from the farthest cells to the nearest.

    Parameters
    ----------
    passable_x, passable_y : (M, N + 1) and (M + 1, N) bool
        Faces that water can cross; those of the rim lead out.
    held : (M, N) bool
        Where the way ends in water that has no way out.
    eastward, southward : (M, N + 1) and (M + 1, N) float64
        Discharges, changed in place so that every cell that is not held conserves. [m3/s]
    inflow : (M, N) float64
        [m3/s]
    """
    rows, columns = held.shape
    way = np.full((rows, columns), -1, np.int8)  # to the west, east, north, south, or 4: here it ends
    order = np.empty(rows * columns, np.int64)
    count = 0
    for i in range(rows):
        for j in range(columns):
            if held[i, j]:
                way[i, j] = 4
            elif j == 0 and passable_x[i, 0]:
                way[i, j] = 0
            elif j == columns - 1 and passable_x[i, columns]:
                way[i, j] = 1
            elif i == 0 and passable_y[0, j]:
                way[i, j] = 2
            elif i == rows - 1 and passable_y[rows, j]:
                way[i, j] = 3
            else:
                continue
            order[count] = i * columns + j
            count += 1
    first = 0
    while first < count:
        i, j = order[first] // columns, order[first] % columns
        first += 1
        # the neighbour to the east goes west, and so on
        for direction, row, column, passable in (
            (0, i, j + 1, passable_x[i, j + 1]),
            (1, i, j - 1, passable_x[i, j]),
            (2, i + 1, j, passable_y[i + 1, j]),
            (3, i - 1, j, passable_y[i, j]),
        ):
            if passable and 0 <= row < rows and 0 <= column < columns and way[row, column] < 0:
                way[row, column] = direction
                order[count] = row * columns + column
                count += 1
    for place in range(count - 1, -1, -1):
        i, j = order[place] // columns, order[place] % columns
        gain = eastward[i, j] - eastward[i, j + 1] + southward[i, j] - southward[i + 1, j] + inflow[i, j]
        if way[i, j] == 0:
            eastward[i, j] -= gain
        elif way[i, j] == 1:
            eastward[i, j + 1] += gain
        elif way[i, j] == 2:
            southward[i, j] -= gain
        elif way[i, j] == 3:
            southward[i + 1, j] += gain
