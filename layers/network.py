"""Water cells and the faces between them as lists, and how a list becomes one of a quarter of the cells.

A coarse cell is a piece of water that hangs together within a block of two by two cells (four by four, ...), never
what lies on both sides of a dyke: water that is not joined on the grid is not joined on any coarser one.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from layers.exchange import Exchanges
from layers.threads import kernel

ALONE = -1  # the coarse cell of a cell that has no neighbour


@dataclass(frozen=True, kw_only=True)
class Network:
    """n cells with m entries, two for each face: the exchanges of the cells as the rows of a matrix. [m3/s]

    The faces of cell i are the entries `starts[i]` to `starts[i + 1]`. All amounts are for one unit of concentration.
    """

    starts: np.ndarray  # (n + 1,) int64
    neighbour: np.ndarray  # (m,) int32
    received: np.ndarray  # (m,), what the neighbour sends to the cell
    total: np.ndarray  # (n,), all that leaves the cell: to its neighbours, to the outside, and its own removal
    sent: np.ndarray  # (m,), what the cell sends to the neighbour
    lost: np.ndarray  # (n,), what leaves to the outside, and its own removal
    row: np.ndarray  # (n,) int32, of the block the cell lies in
    column: np.ndarray  # (n,) int32

    @property
    def matrix(self) -> tuple[np.ndarray, ...]:
        """In the order in which the kernels take it."""
        return self.starts, self.neighbour, self.received, self.total


def network_of(exchanges: Exchanges, cells: np.ndarray) -> Network:
    """The network of the cells at the places `cells` of the flat arrays of `exchanges`, in that order."""
    number = np.full(exchanges.total.size, -1, np.int32)
    number[cells] = np.arange(len(cells), dtype=np.int32)
    width = exchanges.total.shape[1]
    flat = [array.ravel() for array in exchanges.arrays[:5]]
    starts, neighbour, received, sent, total, lost = _list_faces(number, cells, width, *flat)
    return Network(
        starts=starts,
        neighbour=neighbour,
        received=received,
        total=total,
        sent=sent,
        lost=lost,
        row=((cells // width) - 1).astype(np.int32),
        column=((cells % width) - 1).astype(np.int32),
    )


def coarser(network: Network) -> tuple[Network, np.ndarray]:
    """The network of blocks twice as large, and the coarse cell of each cell, (n,) int32.

    Notes
    -----
    What is lost adds up, and so does the discharge Q of a face, the difference of what is sent and received. Their
    mean S, the spreading, is halved because the centres are twice as far apart, but stays at |Q| / 2 or more, so that
    S + Q / 2 and S - Q / 2 are not negative. A cell without neighbours is left out (`ALONE`).
    """
    piece = np.full(len(network.total), ALONE, np.int32)
    number = _pieces(network.starts, network.neighbour, network.row, network.column, piece)
    found = _assemble(
        network.starts, network.neighbour, network.received, network.sent, network.lost, network.row, network.column,
        piece, number,
    )  # fmt: skip
    names = ("starts", "neighbour", "received", "sent", "total", "lost", "row", "column")
    return Network(**dict(zip(names, found, strict=True))), piece


@kernel
def _list_faces(number, cells, width, east, west, north, south, total):
    starts = np.zeros(len(cells) + 1, np.int64)
    neighbour = np.empty(4 * len(cells), np.int32)
    received, sent = np.empty(4 * len(cells)), np.empty(4 * len(cells))
    totals, lost = np.empty(len(cells)), np.empty(len(cells))
    count = 0
    for i in range(len(cells)):
        here = cells[i]
        totals[i], kept = total[here], total[here]
        for there, out, back in (
            (here - width, north[here], south[here - width]),
            (here - 1, west[here], east[here - 1]),
            (here + 1, east[here], west[here + 1]),
            (here + width, south[here], north[here + width]),
        ):
            if number[there] >= 0 and out + back > 0.0:
                neighbour[count], received[count], sent[count] = number[there], back, out
                kept -= out
                count += 1
        lost[i] = max(kept, 0.0)
        starts[i + 1] = count
    return starts, neighbour[:count], received[:count], sent[:count], totals, lost


@kernel
def _pieces(starts, neighbour, row, column, piece):
    """Number the pieces of water within blocks of two by two, in the order of their first cells."""
    waiting = np.empty(len(piece), np.int32)
    number = 0
    for first in range(len(piece)):
        if piece[first] >= 0 or starts[first] == starts[first + 1]:
            continue
        piece[first] = number
        waiting[0], count = first, 1
        while count > 0:
            count -= 1
            here = waiting[count]
            for k in range(starts[here], starts[here + 1]):
                there = neighbour[k]
                if piece[there] < 0 and row[there] >> 1 == row[here] >> 1 and column[there] >> 1 == column[here] >> 1:
                    piece[there] = number
                    waiting[count] = there
                    count += 1
        number += 1
    return number


@kernel
def _assemble(starts, neighbour, received, sent, lost, row, column, piece, number):
    # the cells of each piece, one piece after the other
    ends = np.zeros(number + 1, np.int64)
    between = 0
    for i in range(len(piece)):
        if piece[i] >= 0:
            ends[piece[i] + 1] += 1
        for k in range(starts[i], starts[i + 1]):
            between += piece[neighbour[k]] != piece[i]
    for p in range(number):
        ends[p + 1] += ends[p]
    members, place = np.empty(ends[number], np.int32), ends.copy()
    for i in range(len(piece)):
        if piece[i] >= 0:
            members[place[piece[i]]] = i
            place[piece[i]] += 1
    new_starts = np.zeros(number + 1, np.int64)
    new_neighbour = np.empty(between, np.int32)
    new_received, new_sent = np.zeros(between), np.zeros(between)
    new_total, new_lost = np.empty(number), np.zeros(number)
    new_row, new_column = np.empty(number, np.int32), np.empty(number, np.int32)
    entry_of = np.full(number, -1, np.int64)  # where the entry of a neighbouring piece is, if it is after `first`
    count = 0
    for p in range(number):
        first = count
        for member in members[ends[p] : ends[p + 1]]:
            new_row[p], new_column[p] = row[member] >> 1, column[member] >> 1
            new_lost[p] += lost[member]
            for k in range(starts[member], starts[member + 1]):
                other = piece[neighbour[k]]
                if other == p:
                    continue
                if entry_of[other] < first:
                    entry_of[other] = count
                    new_neighbour[count] = other
                    count += 1
                new_received[entry_of[other]] += received[k]
                new_sent[entry_of[other]] += sent[k]
        new_total[p] = new_lost[p]
        for k in range(first, count):
            half = 0.5 * (new_sent[k] - new_received[k])
            spreading = max(0.25 * (new_sent[k] + new_received[k]), abs(half))
            new_sent[k], new_received[k] = spreading + half, spreading - half
            new_total[p] += new_sent[k]
        new_starts[p + 1] = count
    return (
        new_starts, new_neighbour[:count], new_received[:count], new_sent[:count], new_total, new_lost, new_row,
        new_column,
    )  # fmt: skip
