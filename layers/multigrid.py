"""Solves the steady exchange between water cells: by sparse factors, or by iteration on coarser and coarser cells.

Time and memory of the iteration grow with the number of cells, those of factors faster. All sums run inside serial
kernels in a fixed order, so the result does not depend on threads.
"""

from __future__ import annotations

import numpy as np

from layers.exchange import Exchanges
from layers.network import coarser, network_of
from layers.threads import kernel

FEW_CELLS = 30_000  # a network of so many cells is solved by factors
SLOW = 0.7  # a coarser network with more than this share of the cells is not worth its work
TOLERANCE = 1e-10  # of the load: what the balances of all cells may be off by, added up
ROUNDING = 16 * np.finfo(float).eps  # of all that leaves the cells: no closer can double precision come
MOST_ITERATIONS = 300


class NotSolved(RuntimeError):
    """The iteration does not come to an end."""


class Multigrid:
    """Water cells with the coarser networks that make their solution quick; serves any number of loads.

    Parameters
    ----------
    exchanges : Exchanges
    cells : (n,) int64
        Places of the water cells in the flat arrays of `exchanges`, in rising order.
    few_cells : int
        The coarsest network has at most so many cells and is solved by sparse factors; with as many as n the factors
        alone are the solver.

    Notes
    -----
    Stabilised bi-conjugate gradients, preconditioned by one V-cycle: a forward sweep (Gauss-Seidel), the coarser
    network, which is handed the sums of what is off in its pieces and whose correction comes back as it is, and a
    backward sweep. Coarse networks are discretised anew (`layers.network.coarser`), not products of matrices.
    Still water takes 9 to 40 iterations, smooth currents of any cell Peclet number as many. What it may not solve is
    a current that turns within a cell or two beside water it hardly mixes with.

    References
    ----------
    van der Vorst, H. A. (1992), SIAM Journal on Scientific and Statistical Computing 13, 631-644 (from memory).
    """

    def __init__(self, exchanges: Exchanges, cells: np.ndarray, *, few_cells: int = FEW_CELLS):
        network = network_of(exchanges, cells)
        self.matrices, self.pieces = [network.matrix], []
        while (before := len(network.total)) > few_cells:
            network, piece = coarser(network)
            if len(network.total) == 0:  # no cell has a neighbour
                break
            self.matrices.append(network.matrix)
            self.pieces.append(piece)
            if len(network.total) > SLOW * before:
                break
        self._factors = _factors(*self.matrices[-1]) if len(cells) else None
        self.iterations = 0  # of the last solution

    def solve(self, loads: np.ndarray) -> np.ndarray:
        """Concentration of each cell, (n,), for loads (n,) of any sign. [g/m3]

        Raises
        ------
        NotSolved
            If the balances do not close within `MOST_ITERATIONS`.
        """
        x, left = np.zeros_like(loads), np.empty_like(loads)
        load, self.iterations = absolute_sum(loads), 0
        work = [(np.empty(len(total)), np.empty(len(total))) for *_, total in self.matrices[1:]]
        while True:
            # taken anew, because what the iteration believes to be left drifts away from what is left
            scale = residual(x, loads, *self.matrices[0], left)
            enough = max(TOLERANCE * load, ROUNDING * scale)
            error = absolute_sum(left)
            if error <= enough:
                return x
            if not self.iterations < MOST_ITERATIONS or not np.isfinite(error):
                raise NotSolved(
                    f"mixing: after {self.iterations} iterations the balances are off by {error / load:.1e} of the "
                    "load. Quick eddies a cell or two wide beside still water do this: give a smoother current, more "
                    "dispersion, or fewer cells."
                )
            if self.pieces:
                self._iterate(x, left, 0.5 * enough, work)
            else:
                x += self._factors.solve(left)
                self.iterations += 1

    def _iterate(self, x: np.ndarray, left: np.ndarray, enough: float, work: list) -> None:
        """Add to `x` what closes the balances `left`, until they are off by `enough` or the iteration breaks down."""
        matrix = self.matrices[0]
        shadow, search, passed = left.copy(), np.zeros_like(x), np.zeros_like(x)
        mended, sent = np.empty_like(x), np.empty_like(x)
        old, step, weight = 1.0, 1.0, 1.0
        while self.iterations < MOST_ITERATIONS:
            self.iterations += 1
            new = dot(shadow, left)
            if new == 0.0 or weight == 0.0:
                return
            renew(search, left, passed, (new / old) * (step / weight), weight)
            self._mend(0, search, mended, work)
            multiply(mended, *matrix, passed)
            along = dot(shadow, passed)
            if along == 0.0:
                return
            step, old = new / along, new
            add(x, mended, step)
            add(left, passed, -step)
            if absolute_sum(left) <= enough:
                return
            self._mend(0, left, mended, work)
            multiply(mended, *matrix, sent)
            size = dot(sent, sent)
            if size == 0.0:
                return
            weight = dot(sent, left) / size
            add(x, mended, weight)
            add(left, sent, -weight)
            if not absolute_sum(left) > enough:
                return

    def _mend(self, number: int, loads: np.ndarray, x: np.ndarray, work: list) -> None:
        """Rough solution for `loads` by one cycle from level `number` down, in `x`."""
        if number == len(self.pieces):
            x[:] = self._factors.solve(loads)
            return
        matrix, piece = self.matrices[number], self.pieces[number]
        x[:] = 0.0
        sweep_forward(x, loads, *matrix)
        coarse_loads, coarse = work[number]
        gather(x, loads, *matrix, piece, coarse_loads)
        self._mend(number + 1, coarse_loads, coarse, work)
        scatter(coarse, piece, x)
        sweep_backward(x, loads, *matrix)


def _factors(starts: np.ndarray, neighbour: np.ndarray, received: np.ndarray, total: np.ndarray):
    """Sparse factors of the matrix of a network."""
    from scipy.sparse import csr_matrix, diags_array
    from scipy.sparse.linalg import splu

    matrix = diags_array(total) - csr_matrix((received, neighbour, starts), shape=(len(total), len(total)))
    # columns of this matrix add up to what is lost, so the diagonal is a safe pivot and no negative can arise
    return splu(matrix.tocsc(), permc_spec="MMD_AT_PLUS_A", diag_pivot_thresh=0.0, options={"SymmetricMode": True})


@kernel
def sweep_forward(x, loads, starts, neighbour, received, total):
    """Balance each cell in turn, from the first to the last; `x` is changed in place."""
    for i in range(len(x)):
        into = loads[i]
        for k in range(starts[i], starts[i + 1]):
            into += received[k] * x[neighbour[k]]
        x[i] = into / total[i]


@kernel
def sweep_backward(x, loads, starts, neighbour, received, total):
    """Balance each cell in turn, from the last to the first; `x` is changed in place."""
    for i in range(len(x) - 1, -1, -1):
        into = loads[i]
        for k in range(starts[i], starts[i + 1]):
            into += received[k] * x[neighbour[k]]
        x[i] = into / total[i]


@kernel
def multiply(x, starts, neighbour, received, total, left):
    """What leaves each cell less what it receives, in `left`."""
    for i in range(len(x)):
        out = total[i] * x[i]
        for k in range(starts[i], starts[i + 1]):
            out -= received[k] * x[neighbour[k]]
        left[i] = out


@kernel
def residual(x, loads, starts, neighbour, received, total, left):
    """What the balance of each cell is off by, in `left`; returns the sum of all that leaves the cells."""
    scale = 0.0
    for i in range(len(x)):
        into = loads[i] - total[i] * x[i]
        scale += abs(total[i] * x[i])
        for k in range(starts[i], starts[i + 1]):
            into += received[k] * x[neighbour[k]]
        left[i] = into
    return scale


@kernel
def gather(x, loads, starts, neighbour, received, total, piece, coarse):
    """Add up what the balances of the cells of each piece are off by."""
    coarse[:] = 0.0
    for i in range(len(x)):
        if piece[i] >= 0:
            into = loads[i] - total[i] * x[i]
            for k in range(starts[i], starts[i + 1]):
                into += received[k] * x[neighbour[k]]
            coarse[piece[i]] += into


@kernel
def scatter(coarse, piece, x):
    """Add to each cell the value of its piece."""
    for i in range(len(x)):
        if piece[i] >= 0:
            x[i] += coarse[piece[i]]


@kernel
def dot(one, other):
    total = 0.0
    for i in range(len(one)):
        total += one[i] * other[i]
    return total


@kernel
def absolute_sum(values):
    total = 0.0
    for i in range(len(values)):
        total += abs(values[i])
    return total


@kernel
def add(values, other, factor):
    for i in range(len(values)):
        values[i] += factor * other[i]


@kernel
def renew(search, left, passed, keep, weight):
    """Next direction of search: what is left, and part of the last direction."""
    for i in range(len(search)):
        search[i] = left[i] + keep * (search[i] - weight * passed[i])
