"""Values of patches carried to the cells inside them: even, with the patches' own means, and never across land."""

from __future__ import annotations

import numpy as np

from layers.patches import Patches
from layers.threads import kernel, run_in_strips

WIDTH = 0.7  # standard deviation of the blending, in sides of a block: steps between blocks fade to 1 % of themselves
TURNS = 3  # along rows and along columns: three turns of two-sided exponentials are nearly a normal curve
ROUNDS = 2  # the second gives each patch back what the first took from its mean


def blended(values: np.ndarray, patches: Patches, *, workers: int | None = None) -> np.ndarray:
    """A field in the cells whose mean in each patch is close to the value of the patch.

    Parameters
    ----------
    values : (P,) float
        One value for each patch.
    patches : Patches
    workers : int, optional
        Number of threads; by default one for each core. The result does not depend on it.

    Returns
    -------
    (M, N) float64
        Within the range of `values`; 0 outside the patches.

    Notes
    -----
    Each patch's value is laid in its cells and spread by short implicit steps of diffusion, one direction at a time
    (locally one-dimensional steps: no step, however long, makes a new extreme). What spreading took from the mean of
    a patch is added to its value and spread again. Diffusion goes from a cell to the next by their sides and ends at
    land, so nothing is carried over a dyke.
    """
    inside = patches.numbers >= 0
    laid = np.array(values, np.float64)
    field = _laid(laid, patches, inside)
    if patches.block == 1:
        return field
    _spread(field, inside, patches.block, workers)
    for _ in range(ROUNDS - 1):
        laid += values - patches.means(field)
        field = _laid(laid, patches, inside)
        _spread(field, inside, patches.block, workers)
    field[inside] = np.clip(field[inside], np.min(values), np.max(values))
    return field


def _laid(values: np.ndarray, patches: Patches, inside: np.ndarray) -> np.ndarray:
    field = np.zeros(inside.shape)
    field[inside] = values[patches.numbers[inside]]
    return field


def _spread(field: np.ndarray, inside: np.ndarray, block: int, workers: int | None) -> None:
    """Diffusion of the width of a block, in place."""
    # each turn adds a variance of twice this in each direction [cells2]
    step = (WIDTH * block) ** 2 / (2 * TURNS)
    for _ in range(TURNS):
        run_in_strips(lambda rows: along_rows(field, inside, step, rows.start, rows.stop), len(field), workers=workers)
        run_in_strips(
            lambda columns: along_columns(field, inside, step, columns.start, columns.stop),
            field.shape[1],
            workers=workers,
        )


@kernel
def along_rows(field, inside, step, first, stop):
    """One implicit step of diffusion along each row from `first` to `stop`, in place (Thomas elimination)."""
    width = field.shape[1]
    passed = np.empty(width)
    for i in range(first, stop):
        for j in range(width):
            passed[j] = 0.0
            if not inside[i, j]:
                continue
            weight, total = 1.0, field[i, j]
            if j > 0 and inside[i, j - 1]:
                weight += step - step * passed[j - 1]
                total += step * field[i, j - 1]
            if j + 1 < width and inside[i, j + 1]:
                weight += step
                passed[j] = step / weight
            field[i, j] = total / weight
        for j in range(width - 2, -1, -1):
            if passed[j] > 0.0:
                field[i, j] += passed[j] * field[i, j + 1]


@kernel
def along_columns(field, inside, step, first, stop):
    """One implicit step of diffusion along each column from `first` to `stop`, in place, row by row for speed."""
    height = field.shape[0]
    passed = np.zeros((height, stop - first))
    for i in range(height):
        for j in range(first, stop):
            if not inside[i, j]:
                continue
            weight, total = 1.0, field[i, j]
            if i > 0 and inside[i - 1, j]:
                weight += step - step * passed[i - 1, j - first]
                total += step * field[i - 1, j]
            if i + 1 < height and inside[i + 1, j]:
                weight += step
                passed[i, j - first] = step / weight
            field[i, j] = total / weight
    for i in range(height - 2, -1, -1):
        for j in range(first, stop):
            if passed[i, j - first] > 0.0:
                field[i, j] += passed[i, j - first] * field[i + 1, j]
