"""Solves the steady exchange between water cells by sparse factors, with a last sweep that leaves nothing negative."""

from __future__ import annotations

import numpy as np

from layers.exchange import Exchanges
from layers.threads import kernel

MOST_CELLS = 1_000_000  # factors fill up faster than the water grows
UNDERSHOOT = 1e-6  # of the peak: deeper than this is not the rounding of a solver


class SteadySolver:
    """Concentrations (M + 2, N + 2) for loads (M + 2, N + 2) [g/s], any number of them.

    Raises
    ------
    ValueError
        If there are more than `most_cells` water cells.
    """

    def __init__(self, exchanges: Exchanges, *, most_cells: int = MOST_CELLS):
        self._exchanges = exchanges
        self._cells = np.flatnonzero(exchanges.total.ravel())
        if len(self._cells) > most_cells:
            raise ValueError(
                f"mixing: found {len(self._cells)} water cells. At most {most_cells} can be solved at once. Use larger "
                "cells, or a smaller part of the water with open edges."
            )
        self._factors = _factors(exchanges, self._cells) if len(self._cells) else None

    def solution(self, loads: np.ndarray) -> np.ndarray:
        """Concentration in a rim of zeros, nowhere negative. [g/m3]"""
        field = np.zeros_like(loads)
        if not loads.any():
            return field
        field.ravel()[self._cells] = self._factors.solve(loads.ravel()[self._cells])
        lowest, highest = field.min(), field.max()
        if lowest < -UNDERSHOOT * highest:
            raise RuntimeError(f"mixing: the solver undershoots by {-lowest / highest:.1e} of the peak.")
        # from values that are not negative the sweep gives sums of such values: the rest of the error shows in the
        # balance, which is taken after it
        np.maximum(field, 0.0, out=field)
        sweep_back(field, loads, *self._exchanges.arrays)
        return field


def _factors(exchanges: Exchanges, cells: np.ndarray):
    """Sparse factors of the exchange matrix of `cells` (places in the flat arrays)."""
    from scipy.sparse import coo_matrix
    from scipy.sparse.linalg import splu

    number = np.full(exchanges.total.size, -1)
    number[cells] = np.arange(len(cells))
    width = exchanges.total.shape[1]
    rows, columns, values = [number[cells]], [number[cells]], [exchanges.total.ravel()[cells]]
    steps = ((exchanges.east, 1), (exchanges.west, -1), (exchanges.south, width), (exchanges.north, -width))
    for sent, step in steps:
        to, amount = number[cells + step], sent.ravel()[cells]
        kept = (to >= 0) & (amount > 0)
        rows.append(to[kept])
        columns.append(number[cells][kept])
        values.append(-amount[kept])
    matrix = coo_matrix((np.concatenate(values), (np.concatenate(rows), np.concatenate(columns)))).tocsc()
    # columns of this matrix add up to what is lost, so the diagonal is a safe pivot and no negative can arise
    return splu(matrix, permc_spec="MMD_AT_PLUS_A", diag_pivot_thresh=0.0, options={"SymmetricMode": True})


@kernel
def sweep_back(x, loads, east, west, north, south, total, inverse):
    """Balance each cell in turn, from the last to the first. (M + 2, N + 2) arrays; `x` is changed in place."""
    for i in range(x.shape[0] - 2, 0, -1):
        for j in range(x.shape[1] - 2, 0, -1):
            x[i, j] = inverse[i, j] * (
                loads[i, j]
                + east[i, j - 1] * x[i, j - 1]
                + west[i, j + 1] * x[i, j + 1]
                + south[i - 1, j] * x[i - 1, j]
                + north[i + 1, j] * x[i + 1, j]
            )
