"""Solves the steady exchange between water cells, with a last sweep that leaves nothing negative."""

from __future__ import annotations

import numpy as np

from layers.exchange import Exchanges
from layers.multigrid import FEW_CELLS, Multigrid, NotSolved, sweep_backward

# Cells. Here factors take five times as long to make as multigrid (about a second) and solve each source six times as
# quickly; with more cells the first ratio and their memory grow (bench_mixing.py)
MOST_FACTORS = 100_000
LAST_RESORT = 1_000_000  # cells of which factors are still made where multigrid fails
UNDERSHOOT = 1e-6  # of the peak: deeper than this is not the rounding of a solver


class SteadySolver:
    """Concentrations (M + 2, N + 2) for loads (M + 2, N + 2) [g/s], any number of them.

    Up to `most_factors` water cells are solved by sparse factors, more by multigrid; either is made once. Where
    multigrid does not come to an end, factors take over if there are at most `last_resort` cells.
    """

    def __init__(self, exchanges: Exchanges, *, most_factors: int | None = None, last_resort: int | None = None):
        most_factors = MOST_FACTORS if most_factors is None else most_factors
        self._exchanges, self._last_resort = exchanges, LAST_RESORT if last_resort is None else last_resort
        self._cells = np.flatnonzero(exchanges.total.ravel())
        few = most_factors if len(self._cells) <= most_factors else min(FEW_CELLS, most_factors)
        self._grids = Multigrid(exchanges, self._cells, few_cells=few)

    @property
    def method(self) -> str:
        """How the cells are solved, and how many there are, for a line of a report."""
        return f"{'multigrid' if self._grids.pieces else 'factors'}, {len(self._cells)} cells"

    @property
    def iterations(self) -> int:
        """Iterations of the last solution."""
        return self._grids.iterations

    def solution(self, loads: np.ndarray) -> np.ndarray:
        """Concentration in a rim of zeros for loads of 0 or more, nowhere negative. [g/m3]

        Raises
        ------
        RuntimeError
            If the balances cannot be closed.
        """
        field = np.zeros_like(loads)
        if not loads.any():
            return field
        released = loads.ravel()[self._cells]
        values = self._solve(released)
        lowest, highest = values.min(), values.max()
        if lowest < -UNDERSHOOT * highest:
            raise RuntimeError(f"mixing: the solver undershoots by {-lowest / highest:.1e} of the peak.")
        # from values that are not negative the sweep gives sums of such values: the rest of the error shows in the
        # balance, which is taken after it
        np.maximum(values, 0.0, out=values)
        sweep_backward(values, released, *self._grids.matrices[0])
        field.ravel()[self._cells] = values
        return field

    def potential(self, sources: np.ndarray) -> np.ndarray:
        """The same for sources (M + 2, N + 2) of either sign, as they are solved."""
        field = np.zeros_like(sources)
        if sources.any():
            field.ravel()[self._cells] = self._solve(sources.ravel()[self._cells])
        return field

    def _solve(self, loads: np.ndarray) -> np.ndarray:
        """Values of the water cells."""
        try:
            return self._grids.solve(loads)
        except NotSolved:
            if not self._grids.pieces or len(self._cells) > self._last_resort:
                raise
            # and factors serve the sources to come
            self._grids = Multigrid(self._exchanges, self._cells, few_cells=len(self._cells))
            return self._grids.solve(loads)
