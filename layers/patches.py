"""Water cut in patches: pieces of connected cells, few enough for exact algebra, and what passes between them.

The grid is cut in square blocks; inside each block every piece of water whose cells are joined by their sides is one
patch. So a patch never lies on both sides of a dyke or a sandspit, however thin, and a mouth one cell wide still joins
the patches on its two ends.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

import numpy as np

from layers.threads import kernel

MOST_PATCHES = 12_000  # the factors of so many are made in about a tenth of a second
GROWTH = 1.15  # of the block's side, while there are too many patches


@dataclass(frozen=True, kw_only=True)
class Patches:
    """The patches of one water.

    `numbers` (M, N) int32 is the patch of each cell, -1 where there is none; `block` the side of a block [cells];
    `cell` the side of a cell [m]; `counts`, `rows` and `columns` (P,) the cells of each patch and the mean of their
    rows and columns.
    """

    numbers: np.ndarray
    block: int
    cell: float
    counts: np.ndarray
    rows: np.ndarray
    columns: np.ndarray

    def __len__(self) -> int:
        return len(self.counts)

    @property
    def areas(self) -> np.ndarray:
        """Area of each patch. (P,) [m2]"""
        return self.counts * self.cell**2

    @cached_property
    def exchange(self):
        """What passes between patches for a difference of 1 between them: (P, P) sparse, symmetric, rows sum to 0. [1]

        Notes
        -----
        Two-point fluxes of finite volumes: between two patches, minus the length of the sides of cells that they share
        over the distance between their centres (never less than a cell); on the diagonal, the sum of these. With
        blocks of one cell this is the five-point operator. There is no flux through land or the edge of the grid.
        """
        from scipy.sparse import coo_matrix, diags

        pairs = np.concatenate([self._neighbours(self.numbers), self._neighbours(self.numbers.T)])
        keys, shared = np.unique(pairs[:, 0].astype(np.int64) * len(self) + pairs[:, 1], return_counts=True)
        one, other = keys // len(self), keys % len(self)
        apart = np.hypot(self.rows[one] - self.rows[other], self.columns[one] - self.columns[other])
        passes = shared / np.maximum(apart, 1.0)
        ends = (np.concatenate([one, other]), np.concatenate([other, one]))
        between = coo_matrix((np.concatenate([passes, passes]), ends), shape=(len(self), len(self))).tocsr()
        return (diags(np.asarray(between.sum(axis=1)).ravel()) - between).tocsc()

    @cached_property
    def bodies(self) -> np.ndarray:
        """Number of the body of water that each patch belongs to. (P,) int"""
        from scipy.sparse.csgraph import connected_components

        return connected_components(self.exchange, directed=False)[1]

    def means(self, field: np.ndarray) -> np.ndarray:
        """Mean of `field` (M, N) over the cells of each patch. (P,)"""
        inside = self.numbers >= 0
        return np.bincount(self.numbers[inside], field[inside], minlength=len(self)) / self.counts

    def _neighbours(self, numbers: np.ndarray) -> np.ndarray:
        """Patches on the two sides of every side of a cell that lies on the limit of two blocks. (K, 2)"""
        before, after = numbers[:, self.block - 1 : -1 : self.block], numbers[:, self.block :: self.block]
        joined = (before >= 0) & (after >= 0)
        return np.sort(np.column_stack([before[joined], after[joined]]), axis=1)


def patches_of(water: np.ndarray, cell: float, *, most: int = MOST_PATCHES) -> Patches:
    """The water cut in at most about `most` patches, with the smallest blocks that give so few.

    Parameters
    ----------
    water : (M, N) bool
        True where the water is.
    cell : float
        Side of a cell. [m]
    most : int
        Greatest number of patches; more are kept only if even blocks as large as the grid give more.

    Raises
    ------
    ValueError
        If there is no water.

    Examples
    --------
    A dyke divides a block of two by three cells in two patches:

    >>> patches = patches_of(np.array([[True, False, True], [True, False, True]]), cell=10, most=2)
    >>> patches.numbers
    array([[ 0, -1,  1],
           [ 0, -1,  1]], dtype=int32)
    """
    wet = np.ascontiguousarray(water, dtype=np.bool_)
    count = int(wet.sum())
    if not count:
        raise ValueError("water: found no cell of water. Patches are cut from at least one.")
    block = max(1, int(np.sqrt(count / most)))
    while True:
        numbers, counts, rows, columns = cut(wet, block)
        if len(counts) <= most or block >= max(wet.shape):
            return Patches(
                numbers=numbers, block=block, cell=cell, counts=counts, rows=rows / counts, columns=columns / counts
            )
        block = max(block + 1, int(block * GROWTH))


@kernel
def cut(water, block):
    """Patch of each cell, and of each patch its cells and the sums of their rows and columns."""
    height, width = water.shape
    numbers = np.full((height, width), -1, np.int32)
    counts, rows, columns = [0.0][:0], [0.0][:0], [0.0][:0]
    waiting = np.empty((block * block, 2), np.int64)
    for top in range(0, height, block):
        bottom = min(top + block, height)
        for left in range(0, width, block):
            right = min(left + block, width)
            for i in range(top, bottom):
                for j in range(left, right):
                    if not water[i, j] or numbers[i, j] >= 0:
                        continue
                    number = len(counts)
                    count, sum_of_rows, sum_of_columns = 0.0, 0.0, 0.0
                    numbers[i, j] = number
                    waiting[0] = i, j
                    last = 1
                    while last:
                        last -= 1
                        row, column = waiting[last]
                        count += 1
                        sum_of_rows += row
                        sum_of_columns += column
                        for down, right_by in ((0, 1), (0, -1), (1, 0), (-1, 0)):
                            to_row, to_column = row + down, column + right_by
                            if to_row < top or to_row >= bottom or to_column < left or to_column >= right:
                                continue
                            if water[to_row, to_column] and numbers[to_row, to_column] < 0:
                                numbers[to_row, to_column] = number
                                waiting[last] = to_row, to_column
                                last += 1
                    counts.append(count)
                    rows.append(sum_of_rows)
                    columns.append(sum_of_columns)
    return numbers, np.array(counts), np.array(rows), np.array(columns)
