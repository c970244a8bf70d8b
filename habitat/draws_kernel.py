"""Compiled scoring of many draws: every draw of a short block of cells, without building a layer.

A block is drawn, scored by the kernels of `habitat.kernel` and counted, draw after draw, while it stays in the
nearest cache. Sums over cells are whole numbers (units of 2**-32), so that they do not depend on the order of blocks
or threads; sums over draws belong to one cell and one thread.

A trap: numba keeps compiled code by the file it stands in, and what is called here from `habitat.kernel` is kept with
this one. Whoever changes that file has to remove the kept code of this one (`__pycache__/draws_kernel*.nb*`).
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from habitat.kernel import class_cells, fade_cells, index_cells, suitability_cells, threat_cells
from layers.threads import kernel

UNIT = 4294967296.0  # of the whole numbers that habitat units are summed in: 2**32 to a cell of ideal habitat
COUNTS = 15  # classes that are counted: 3 of suitability, 3 of threat, 9 of both


class Ground(NamedTuple):
    """The cells: what their layers hold, and how doubts move them."""

    values: np.ndarray  # (V, N) float32, a row for each layer and season
    changes: np.ndarray  # (C, N) float64, what the ends of doubts add
    first_change: np.ndarray  # (V + 1,) which changes belong to a row of `values`: from this one to the next
    column: np.ndarray  # (C,) of `Drawn.shares`
    lowest: np.ndarray  # (V,) bounds of a row once it is moved
    highest: np.ndarray
    surface: np.ndarray  # (N,) uint8
    counted: np.ndarray  # (2, S, N) bool, cells whose habitat units, and what threat leaves of them, are summed


class Parts(NamedTuple):
    """Rows of indices (or exposures): which part of the profile and which row of values each looks at."""

    value: np.ndarray  # (R,) row of `Ground.values`, -1 where the layer is absent
    part: np.ndarray  # (R,)
    moves: np.ndarray  # (R,) bool, whether draws differ
    of_season: np.ndarray  # (S, P) row of each part in each season
    is_fade: np.ndarray  # (P,)
    shape: np.ndarray  # (P,) of a fade
    fade: np.ndarray  # (K, P, 3) full, reach and end
    floor: np.ndarray  # (P,)
    segments: np.ndarray  # (P,) how many
    lines: np.ndarray  # (K, P, 4, M) starts, anchors, heights and slopes


class Drawn(NamedTuple):
    """What draws differ in, and how a score is made."""

    shares: np.ndarray  # (K, columns) of each change
    weights: np.ndarray  # (K, F)
    pressure_weights: np.ndarray  # (K, P)
    vetoes: np.ndarray
    essential: np.ndarray
    rule: np.int64
    may_lack: np.int64
    threat_may_lack: np.int64
    breaks: np.ndarray
    threat_breaks: np.ndarray


class CellSums(NamedTuple):
    """What is kept of each cell, (S, N): nothing of it grows with the number of draws."""

    first: np.ndarray  # float32, score of the first draw
    offset: np.ndarray  # float64, sum of differences from the first
    square: np.ndarray  # float64, sum of their squares
    classes: np.ndarray  # (3, S, N) uint32
    least: np.ndarray  # float32
    most: np.ndarray
    quantiles: np.ndarray  # (Q, S, N) float32


@kernel
def draw_cells(ground, factors, pressures, drawn, start, stop, block, wanted, bins, sums, counts, units):
    """Score and count cells `start` to `stop` under every draw.

    Parameters
    ----------
    wanted : (Q,) float64
        Quantiles; without any nothing is kept of single cells.
    bins : int
        Of the histogram that quantiles are read from.
    counts : (K, S, COUNTS) int64
        Cells of each class; added to.
    units : (K, S, 2) int64
        Habitat units and what threat leaves of them; added to. [2**-32 cells]
    """
    draws, seasons = len(drawn.shares), len(factors.of_season)
    keeps = len(wanted) > 0
    indices = np.empty((max(len(factors.value), 1), block), np.float32)
    exposures = np.empty((max(len(pressures.value), 1), block), np.float32)
    score, threat = np.empty(block, np.float32), np.empty(block, np.float32)
    codes = np.empty((5, block), np.uint8)
    moved = np.empty(block, np.float32)
    histogram = np.zeros((seasons, block, bins if keeps else 0), np.uint32)
    for begin in range(start, stop, block):
        end = min(begin + block, stop)
        count = end - begin
        surface = ground.surface[begin:end]
        histogram[:] = 0
        for k in range(draws):
            _fill(ground, factors, drawn.shares[k], k, begin, end, moved, indices)
            _fill(ground, pressures, drawn.shares[k], k, begin, end, moved, exposures)
            for s in range(seasons):
                suitability_cells(
                    indices, factors.of_season[s], drawn.weights[k], drawn.vetoes, drawn.essential, drawn.rule,
                    drawn.may_lack, surface, 0, count, score, codes[0], codes[1],
                )  # fmt: skip
                threat_cells(
                    exposures, pressures.of_season[s], drawn.pressure_weights[k], drawn.threat_may_lack,
                    surface, 0, count, threat, codes[1],
                )  # fmt: skip
                class_cells(
                    score, drawn.breaks, threat, drawn.threat_breaks, 0, count, codes[2], codes[3], codes[4]
                )  # fmt: skip
                _count(codes, count, counts[k, s])
                _sum(score, threat, ground.counted[:, s, begin:end], units[k, s])
                if keeps:
                    _keep(score, codes[2], k == 0, s, begin, end, sums, histogram[s])
        if keeps:
            for s in range(seasons):
                _quantiles(histogram[s], wanted, draws, s, begin, end, sums)


@kernel
def _fill(ground, parts, shares, k, begin, end, moved, rows):
    """The rows of a block that differ between draws; in the first draw all of them."""
    surface = ground.surface[begin:end]
    for r in range(len(parts.value)):
        if k > 0 and not parts.moves[r]:
            continue
        p, v = parts.part[r], parts.value[r]
        result = rows[r]
        if v < 0:
            for i in range(end - begin):
                result[i] = np.float32(np.nan)
            continue
        values = ground.values[v, begin:end]
        if ground.first_change[v + 1] > ground.first_change[v]:
            _move(ground, shares, v, begin, end, moved)
            values = moved[: end - begin]
        if parts.is_fade[p]:
            full, reach, edge = parts.fade[k, p]
            fade_cells(values, surface, 0, end - begin, full, reach, edge, parts.shape[p], result)
        else:
            many = parts.segments[p]
            line = parts.lines[k, p]
            index_cells(
                values, surface, 0, end - begin, parts.floor[p],
                line[0, :many], line[1, :many], line[2, :many], line[3, :many], result,
            )  # fmt: skip


@kernel
def _move(ground, shares, v, begin, end, moved):
    """The values of one row in a draw: what was taken and the changes towards the ends."""
    taken = ground.values[v, begin:end]
    total = np.zeros(end - begin, np.float64)
    changed = False
    for c in range(ground.first_change[v], ground.first_change[v + 1]):
        share = shares[ground.column[c]]
        if share == 0:
            continue
        changed = True
        change = ground.changes[c, begin:end]
        for i in range(len(total)):
            total[i] += share * change[i]
    lowest, highest = ground.lowest[v], ground.highest[v]
    for i in range(len(total)):
        here = np.float64(taken[i]) + total[i]
        bounded = max(min(here, highest), lowest) if changed else here
        moved[i] = np.float32(bounded) if here == here else np.float32(np.nan)


@kernel
def _count(codes, count, counts):
    """Add up the classes of a block, from one table of both; four tables in turn, as one is waited for."""
    tables = np.zeros((4, 16), np.int64)
    for i in range(count):
        tables[i & 3, 4 * np.int64(codes[2, i]) + np.int64(codes[3, i])] += 1
    for a in range(4):
        for b in range(4):
            cells = tables[0, 4 * a + b] + tables[1, 4 * a + b] + tables[2, 4 * a + b] + tables[3, 4 * a + b]
            if a > 0:
                counts[a - 1] += cells
            if b > 0:
                counts[b + 2] += cells
            if a > 0 and b > 0:  # as `habitat.kernel.class_cells` numbers them
                counts[3 * a + b + 2] += cells


@kernel
def _sum(score, threat, counted, units):
    whole, spared = np.int64(0), np.int64(0)
    for i in range(counted.shape[1]):
        here, pressed = np.float64(score[i]), np.float64(threat[i])
        worth = here * UNIT if counted[0, i] and here == here else 0.0
        left = here * (1 - pressed) * UNIT if counted[1, i] and here == here and pressed == pressed else 0.0
        whole += np.int64(worth)
        spared += np.int64(left)
    units[0] += whole
    units[1] += spared


@kernel
def _keep(score, classes, is_first, s, begin, end, sums, histogram):
    first, offset, square = sums.first[s, begin:end], sums.offset[s, begin:end], sums.square[s, begin:end]
    least, most = sums.least[s, begin:end], sums.most[s, begin:end]
    bins = histogram.shape[1]
    if is_first:
        for i in range(len(first)):
            first[i], least[i], most[i] = score[i], score[i], score[i]
    for i in range(len(first)):
        off = np.float64(score[i]) - np.float64(first[i])
        offset[i] += off
        square[i] += off * off
        least[i] = min(least[i], score[i])
        most[i] = max(most[i], score[i])
    for i in range(len(first)):
        code = classes[i]
        if code > 0:
            sums.classes[code - 1, s, begin + i] += np.uint32(1)
            histogram[i, min(np.int64(score[i] * np.float32(bins)), bins - 1)] += np.uint32(1)


@kernel
def _quantiles(histogram, wanted, draws, s, begin, end, sums):
    """Quantiles by straight lines within a bin, never outside of the draws themselves."""
    bins = histogram.shape[1]
    for i in range(end - begin):
        cell = begin + i
        if sums.first[s, cell] != sums.first[s, cell]:
            for q in range(len(wanted)):
                sums.quantiles[q, s, cell] = np.float32(np.nan)
            continue
        for q in range(len(wanted)):
            place, below, bin = wanted[q] * draws, np.int64(0), 0
            while bin < bins - 1 and below + histogram[i, bin] < place:
                below += histogram[i, bin]
                bin += 1
            held = histogram[i, bin]
            within = (place - below) / held if held > 0 else 0.0
            value = np.float32((bin + within) / bins)
            sums.quantiles[q, s, cell] = max(min(value, sums.most[s, cell]), sums.least[s, cell])
