"""A made-up estuary of creeks that branch and narrow inland, for distances that must follow the water."""

from __future__ import annotations

import numpy as np


def dendritic_estuary(seed: int, side: int) -> np.ndarray:
    """A mask of `side` x `side` cells, true on the water: one connected tree of creeks, its mouth at the south edge.

    The trunk is about a twelfth of the side wide, the last creeks one or two cells. A creek is a chain of steps of one
    cell that wanders about its heading; its branches leave it to both sides.
    """
    rng = np.random.default_rng(seed)
    water = np.zeros((side, side), bool)
    waiting = [(side - 1.0, side / 2, -np.pi / 2, side / 12, 1.1 * side)]  # row, column, heading, width, length
    while waiting:
        row, column, heading, width, length = waiting.pop()
        turned, to_branch = heading, rng.uniform(2, 5) * max(width, 1)
        for step in range(int(length)):
            _flood(water, row, column, width * (1 - 0.5 * step / length))
            turned = heading + 0.9 * (turned - heading) + rng.normal(0, 0.25)
            row, column = row + np.sin(turned), column + np.cos(turned)
            if not (0 <= row < side and 0 <= column < side):
                break
            to_branch -= 1
            if to_branch < 0 and width > 1:
                aside = turned + rng.choice([-1, 1]) * rng.uniform(0.6, 1.3)
                waiting.append((row, column, aside, 0.55 * width, length * rng.uniform(0.3, 0.5)))
                to_branch = rng.uniform(4, 9) * width
    return water


def _flood(water: np.ndarray, row: float, column: float, width: float) -> None:
    """Lay water over the cells within half of `width` of a place, and over the cell it is in with its neighbour.

    The cell to the east makes steps that go aslant join along an edge: creeks do not hang together by corners.
    """
    reach = int(width / 2) + 1
    middle_row, middle_column = int(row), int(column)
    top, left = max(middle_row - reach, 0), max(middle_column - reach, 0)
    part = water[top : middle_row + reach + 1, left : middle_column + reach + 1]
    down, across = np.indices(part.shape)
    part |= np.hypot(down + top + 0.5 - row, across + left + 0.5 - column) <= width / 2
    water[middle_row, middle_column : middle_column + 2] = True
