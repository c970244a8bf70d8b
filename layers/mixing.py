"""Concentration of a substance released in shallow water, once it no longer changes: carried, spread and lost.

Depth-averaged: the water column is mixed from surface to bed. Land is closed; over the open edges of the grid the
substance leaves to (and may come from) water of a given concentration. One problem serves any number of sources.
"""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from layers.faces import SIDES, Flow, faces_of, numerical_dispersion
from layers.grid import Grid
from layers.starts import SNAP_CELLS, UNIT, start_at

if TYPE_CHECKING:
    from layers.exchange import Exchanges
    from layers.steady import SteadySolver

BALANCED = 1e-6  # of the load


@dataclass(frozen=True, kw_only=True)
class MixingProblem:
    """A stretch of water made ready for any number of sources."""

    water: np.ndarray  # (M, N) bool
    exchanges: Exchanges
    removal: np.ndarray  # (M, N), loss rate times volume [m3/s]
    solver: SteadySolver
    peclet: float  # largest cell Peclet number |u| dx / D; second order up to 1 [1]
    added_dispersion: np.ndarray  # (M, N) float32, numerical, largest of a cell's faces; NaN on land [m2/s]


@dataclass(frozen=True, kw_only=True)
class Balance:
    """Where the load goes. [g/s]"""

    load: float  # released, and brought in over open edges
    loss: float  # first-order loss in the water
    outflow: float  # over open edges

    @property
    def error(self) -> float:
        """What is missing, as a share of the load. [1]"""
        return abs(self.load - self.loss - self.outflow) / self.load if self.load > 0 else 0.0


def mixing_problem(
    depth: np.ndarray,
    water: np.ndarray,
    grid: Grid,
    dispersion: float | np.ndarray,
    loss_rate: float | np.ndarray,
    flow: Flow | None = None,
    open_edges: Collection[str] = SIDES,
) -> MixingProblem:
    """Water made ready for `concentration`: its exchanges, with factors or coarser grids that serve every source.

    Parameters
    ----------
    depth : (M, N) float
        Depth of the mixed column, positive; not read on land. [m]
    water : (M, N) bool
        True where the substance can go.
    grid : Grid
    dispersion : float or (M, N) float
        Horizontal dispersion, 0 or more: at rest that of the tide and wind, else what the current leaves out. [m2/s]
    loss_rate : float or (M, N) float
        First-order loss, 0 or more; settling is fall speed over depth. [1/s]
    flow : Flow, optional
        Discharges that conserve water; by default the water is at rest.
    open_edges : collection of "north", "east", "south", "west"
        Edges of the grid where its water goes on beyond; by default all four. The rest are closed.

    Raises
    ------
    ValueError
        If a number is missing or out of range, the flow crosses land or a closed edge or does not conserve water,
        or some water has neither loss nor a way out (what is put in grows for ever).

    Notes
    -----
    div(q C - h D grad C) + k h C = load per area, in finite volumes. The flux from cell i to j is
    G (B(-P) Ci - B(P) Cj), B(x) = x / (exp(x) - 1), with discharge Q, P = Q / G, and G = h D of the face times its
    length over the distance of the centres; h D of a face is the harmonic mean of its cells. At an open edge the
    outside concentration holds on the edge, half a cell from the centre; without dispersion only flow crosses it.

    The flux is the central one with the dispersion D (P/2) coth(P/2), that is u dx/2 (coth(P/2) - 2/P) more than D:
    D P**2 / 12 at small P (second order in dx), u dx/2 at large P (first order). `added_dispersion` reports it.

    Small waters are solved by sparse factors, large ones by multigrid, in memory and time that grow with the number of
    cells (`layers.steady`, `layers.multigrid`): four million cells take about 2 GB and a minute.

    References
    ----------
    Scharfetter, D. L. & Gummel, H. K. (1969), IEEE Transactions on Electron Devices 16, 64-77 (from memory).
    """
    from layers.exchange import exchanges_of
    from layers.steady import SteadySolver

    faces = faces_of(depth, water, grid, dispersion, loss_rate, flow, open_edges)
    exchanges = exchanges_of(faces)
    water = np.asarray(water, bool)
    _refuse_water_without_end(exchanges, faces.removal, water)
    peclet, added = numerical_dispersion(faces, depth, water, grid.cell)
    return MixingProblem(
        water=water,
        exchanges=exchanges,
        removal=faces.removal,
        solver=SteadySolver(exchanges),
        peclet=peclet,
        added_dispersion=added,
    )


def concentration(problem: MixingProblem, sources: np.ndarray, outside: float | np.ndarray = 0.0) -> np.ndarray:
    """Steady concentration that `sources` keep up.

    Parameters
    ----------
    problem : MixingProblem
    sources : (M, N) float
        Load released into each cell, 0 or more, 0 on land (`point_loads` makes it from places). [g/s]
    outside : float or (M, N) float
        Concentration beyond the open edges of each cell, 0 or more. [g/m3]

    Returns
    -------
    (M, N) float32
        0 or more; NaN on land. [g/m3]

    Raises
    ------
    ValueError
        If a load or an outside concentration is missing, below 0, or on land.
    RuntimeError
        If the solver does not come to an end, or does not close the balance to 1e-6 of the load.

    Notes
    -----
    Values far below the peak (1e-9 of it and less) are 0 or more but not exact.
    """
    loads = _right_side(problem, sources, outside)
    field = problem.solver.solution(loads)[1:-1, 1:-1]
    result = np.where(problem.water, field, np.nan).astype(np.float32)
    error = balance(problem, sources, result, outside).error
    if not error <= BALANCED:
        raise RuntimeError(f"mixing: the balance is off by {error:.1e} of the load. Please report the site.")
    return result


def balance(
    problem: MixingProblem, sources: np.ndarray, field: np.ndarray, outside: float | np.ndarray = 0.0
) -> Balance:
    """Load, loss and outflow of a field as `concentration` gave it, added up over the cells."""
    values = np.where(problem.water, field, 0.0).astype(float)
    return Balance(
        load=float(_right_side(problem, sources, outside).sum()),
        loss=float((problem.removal * values).sum()),
        outflow=float(sum((out * values[inner]).sum() for out, _, inner in _open_faces(problem.exchanges))),
    )


def point_loads(
    places_xy: np.ndarray, loads: np.ndarray, water: np.ndarray, grid: Grid, *, snap: float | None = None
) -> np.ndarray:
    """Loads at places, added up in the water cell of each.

    Parameters
    ----------
    places_xy : (n, 2) float
        Eastings and northings in the grid's CRS. [m]
    loads : (n,) float
        Load of each place, 0 or more. [g/s]
    water : (M, N) bool
    grid : Grid
    snap : float, optional
        A place on land is taken to the nearest water cell whose centre is within this; by default three cells. [m]

    Returns
    -------
    (M, N) float64
        0 where nothing is released. [g/s]

    Raises
    ------
    ValueError
        If a load is missing or below 0, or a place is farther than `snap` from all water (its index is named).
    """
    places, loads = np.asarray(places_xy, float).reshape(-1, 2), np.asarray(loads, float)
    if len(places) != len(loads):
        raise ValueError(f"sources: found {len(places)} places and {len(loads)} loads. Give one load for each.")
    snap = SNAP_CELLS * grid.cell if snap is None else snap
    total = np.zeros(grid.shape)
    for number, ((x, y), load) in enumerate(zip(places, loads, strict=True)):
        if not 0 <= load < np.inf:
            raise ValueError(f"sources: the load of source {number} is {load:g}. A load is 0 or more.")
        start = start_at(x, y, water, grid, snap)
        if start is None:
            raise ValueError(
                f"sources: no water within {snap:g} m of source {number}. Check its coordinates and their CRS, "
                "or move it to the shore."
            )
        total[_wet_cell(int(start.rows[0]), int(start.columns[0]), water)] += load
    return total


def _wet_cell(row: int, column: int, water: np.ndarray) -> tuple[int, int]:
    """Cell of a position [1/1024 cell] that lies in a water cell or on the edge of one."""
    choices = [
        ((row - up) // UNIT, (column - left) // UNIT) for up in (0, 1) for left in (0, 1)
    ]  # one unit back crosses into the cell before only from an edge between cells
    return next((i, j) for i, j in choices if 0 <= i < water.shape[0] and 0 <= j < water.shape[1] and water[i, j])


def _right_side(problem: MixingProblem, sources: np.ndarray, outside: float | np.ndarray) -> np.ndarray:
    """Loads, with what comes in over the open edges, in a rim of zeros. [g/s]"""
    shape = problem.water.shape
    sources = np.asarray(sources, float)
    if sources.shape != shape:
        raise ValueError(f"sources: found an array of {sources.shape}. The water has {shape} cells.")
    wrong = ~((sources >= 0) & np.isfinite(sources))
    _refuse("sources", sources, wrong, "A load is 0 or more; give 0 g/s where nothing is released.")
    _refuse("sources", sources, (sources > 0) & ~problem.water, "That cell is land. Move the load to the water.")
    beyond = np.broadcast_to(np.asarray(outside, float), shape)
    wrong = problem.water & ~((beyond >= 0) & np.isfinite(beyond))
    _refuse("outside", beyond, wrong, "A concentration is 0 g/m3 or more.")
    loads = np.pad(sources, 1)
    inner_loads = loads[1:-1, 1:-1]
    for _, into, inner in _open_faces(problem.exchanges):
        inner_loads[inner] += into * np.where(problem.water[inner], beyond[inner], 0.0)
    return loads


def _refuse(name: str, values: np.ndarray, wrong: np.ndarray, remedy: str) -> None:
    if wrong.any():
        row, column = (int(k) for k in np.argwhere(wrong)[0])
        raise ValueError(f"{name}: found {values[row, column]:g} in row {row}, column {column}. {remedy}")


def _open_faces(exchanges: Exchanges) -> list[tuple[np.ndarray, np.ndarray, tuple]]:
    """What leaves and what comes in over each edge of the grid, and the cells along it."""
    rim = slice(1, -1)
    return [
        (exchanges.north[1, rim], exchanges.south[0, rim], np.s_[0, :]),
        (exchanges.east[rim, -2], exchanges.west[rim, -1], np.s_[:, -1]),
        (exchanges.south[-2, rim], exchanges.north[-1, rim], np.s_[-1, :]),
        (exchanges.west[rim, 1], exchanges.east[rim, 0], np.s_[:, 0]),
    ]


def _refuse_water_without_end(exchanges: Exchanges, removal: np.ndarray, water: np.ndarray) -> None:
    """Refuse water from which a substance can never leave."""
    from layers.exchange import cells_that_drain

    drained = np.pad((removal > 0).astype(np.uint8), 1, constant_values=1)
    cells_that_drain(*exchanges.arrays[:5], drained)
    kept = water & (drained[1:-1, 1:-1] == 0)
    if kept.any():
        row, column = (int(k) for k in np.argwhere(kept)[0])
        raise ValueError(
            f"mixing: {kept.sum()} water cells (the first in row {row}, column {column}) have no loss and no way to an "
            "open edge, so a load there grows for ever and there is no steady state. Give a loss rate above 0, open an "
            "edge they reach, or take them off the water."
        )
