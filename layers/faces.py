"""Faces between water cells: how easily a substance spreads through each, and how much water passes it.

Also what the cell size adds to the dispersion that was asked for.
"""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import dataclass

import numpy as np

from layers.grid import Grid

SIDES = ("north", "east", "south", "west")
CONSERVED = 1e-6  # of the water that passes a cell
ROUNDING = 1e-12  # of the most that passes any cell: what is left where next to nothing flows


@dataclass(frozen=True, kw_only=True)
class Flow:
    """Discharge of water through the faces of (M, N) cells, the same all the time. [m3/s]"""

    eastward: np.ndarray  # (M, N + 1): face j is the western face of column j
    southward: np.ndarray  # (M + 1, N): face i is the northern face of row i
    inflow: np.ndarray | None = None  # (M, N): water that enters a cell from a river, with concentration 0


@dataclass(frozen=True, kw_only=True)
class Faces:
    """Conductance and discharge of every face of (M, N) cells, and what each cell removes by itself. [m3/s]"""

    conductance_x: np.ndarray  # (M, N + 1), between neighbours in a row and at both ends of it
    conductance_y: np.ndarray  # (M + 1, N)
    discharge_x: np.ndarray  # (M, N + 1), positive to the east
    discharge_y: np.ndarray  # (M + 1, N), positive to the south
    removal: np.ndarray  # (M, N), loss rate times volume

    @property
    def shape(self) -> tuple[int, int]:
        """Rows and columns."""
        return self.removal.shape


def faces_of(
    depth: np.ndarray,
    water: np.ndarray,
    grid: Grid,
    dispersion: float | np.ndarray,
    loss_rate: float | np.ndarray,
    flow: Flow | None,
    open_edges: Collection[str],
) -> Faces:
    """Conductance and discharge of the faces; arguments and refusals as in `layers.mixing.mixing_problem`."""
    water = np.asarray(water, bool)
    if water.shape != grid.shape:
        raise ValueError(f"water: found an array of {water.shape}. The grid has {grid.shape} cells.")
    unknown = sorted(set(open_edges) - set(SIDES))
    if unknown:
        raise ValueError(f"open_edges: found {', '.join(unknown)}. Known edges: {', '.join(SIDES)}.")
    depth = _on_water(
        "depth", depth, water, "m", "Give flats a least depth, or take them off the water.", above_zero=True
    )
    dispersion = _on_water("dispersion", dispersion, water, "m2/s", "It is 0 or more.")
    loss_rate = _on_water("loss_rate", loss_rate, water, "1/s", "It is 0 or more.")
    eastward, southward = _discharges(flow, water, open_edges)
    conductance = depth * dispersion
    return Faces(
        conductance_x=_conductance(conductance, "west" in open_edges, "east" in open_edges),
        conductance_y=_conductance(conductance.T, "north" in open_edges, "south" in open_edges).T.copy(),
        discharge_x=eastward,
        discharge_y=southward,
        removal=loss_rate * depth * grid.cell**2,
    )


def numerical_dispersion(faces: Faces, depth: np.ndarray, water: np.ndarray, cell: float) -> tuple[float, np.ndarray]:
    """Largest cell Peclet number, and the dispersion that the cell size adds.

    Returns
    -------
    peclet : float
        Largest |u| dx / D of all faces between cells; infinite where there is flow without dispersion. [1]
    added : (M, N) float32
        u dx/2 (coth(P/2) - 2/P), the largest of a cell's faces; NaN on land. [m2/s]
    """
    depth = np.where(water, depth, np.nan)
    largest, added = 0.0, np.zeros(faces.shape)
    for conductance, discharge, deep, target in (
        (faces.conductance_x, faces.discharge_x, depth, added),
        (faces.conductance_y.T, faces.discharge_y.T, depth.T, added.T),
    ):
        conductance, discharge = conductance[:, 1:-1], np.abs(discharge[:, 1:-1])
        moving = discharge > 0
        with np.errstate(divide="ignore"):  # flow without dispersion: an infinite number, and all of u dx/2
            peclet = np.where(moving, discharge / np.where(moving, conductance, 1.0), 0.0)
        half = np.where(peclet > 0, peclet / 2, 1.0)
        # coth(x) - 1/x loses all its digits at small x, where it is x/3
        share = np.where(half < 1e-4, half / 3, 1 / np.tanh(half) - 1 / half)
        # discharge = u h dx, so discharge / (2 h) is u dx / 2
        metres2 = np.where(moving, discharge / (deep[:, 1:] + deep[:, :-1]) * share, 0.0)
        np.maximum(target[:, 1:], metres2, out=target[:, 1:])
        np.maximum(target[:, :-1], metres2, out=target[:, :-1])
        largest = max(largest, float(peclet.max(initial=0.0)))
    return largest, np.where(water, added, np.nan).astype(np.float32)


def _on_water(
    name: str, values: float | np.ndarray, water: np.ndarray, units: str, remedy: str, *, above_zero: bool = False
) -> np.ndarray:
    """`values` on the water, 0 on land."""
    values = np.asarray(values, float)
    if values.shape not in ((), water.shape):
        raise ValueError(f"{name}: found an array of {values.shape}. The grid has {water.shape} cells.")
    values = np.broadcast_to(values, water.shape)
    right = np.isfinite(values) & (values > 0 if above_zero else values >= 0)
    if (wrong := water & ~right).any():
        row, column = (int(k) for k in np.argwhere(wrong)[0])
        raise ValueError(
            f"{name}: found {values[row, column]:g} {units} in row {row}, column {column}, and in {wrong.sum()} water "
            f"cells a number that cannot be. {remedy}"
        )
    return np.where(water, values, 0.0)


def _conductance(of_cells: np.ndarray, first_open: bool, last_open: bool) -> np.ndarray:
    """Conductance of the faces along rows: harmonic mean of two cells, half a cell to an open edge."""
    faces = np.zeros((of_cells.shape[0], of_cells.shape[1] + 1))
    one, other = of_cells[:, :-1], of_cells[:, 1:]
    both = one + other
    faces[:, 1:-1] = 2 * one * other / np.where(both > 0, both, 1.0)
    if first_open:
        faces[:, 0] = 2 * of_cells[:, 0]
    if last_open:
        faces[:, -1] = 2 * of_cells[:, -1]
    return faces


def _discharges(flow: Flow | None, water: np.ndarray, open_edges: Collection[str]) -> tuple[np.ndarray, np.ndarray]:
    """Discharge to the east and to the south, refused where water would vanish or come from nowhere."""
    rows, columns = water.shape
    if flow is None:
        return np.zeros((rows, columns + 1)), np.zeros((rows + 1, columns))
    eastward, southward = np.array(flow.eastward, float), np.array(flow.southward, float)
    inflow = np.zeros(water.shape) if flow.inflow is None else np.asarray(flow.inflow, float)
    wanted = {"eastward": (eastward, (rows, columns + 1)), "southward": (southward, (rows + 1, columns))}
    for name, (found, shape) in {**wanted, "inflow": (inflow, water.shape)}.items():
        if found.shape != shape:
            raise ValueError(f"flow: {name} is an array of {found.shape}. It needs {shape}: one number for each face.")
        if not np.isfinite(found).all():
            raise ValueError(f"flow: {name} has missing values. Give 0 m3/s on land.")
    if ((inflow < 0) | ((inflow > 0) & ~water)).any():
        raise ValueError("flow: inflow is below 0 m3/s or on land. A river brings water into a water cell.")
    closed = np.pad(water, 1)
    for side, line in (
        ("north", np.s_[0, 1:-1]),
        ("east", np.s_[1:-1, -1]),
        ("south", np.s_[-1, 1:-1]),
        ("west", np.s_[1:-1, 0]),
    ):
        closed[line] = side in open_edges
    across = ((eastward != 0) & ~(closed[1:-1, :-1] & closed[1:-1, 1:])).sum()
    across += ((southward != 0) & ~(closed[:-1, 1:-1] & closed[1:, 1:-1])).sum()
    if across:
        raise ValueError(f"flow: water crosses {across} faces of land or of a closed edge. Set them to 0 m3/s.")
    missing = eastward[:, :-1] - eastward[:, 1:] + southward[:-1] - southward[1:] + inflow
    passing = (
        np.abs(eastward[:, :-1]) + np.abs(eastward[:, 1:]) + np.abs(southward[:-1]) + np.abs(southward[1:]) + inflow
    )
    if (wrong := np.abs(missing) > CONSERVED * passing + ROUNDING * passing.max(initial=0.0)).any():
        row, column = (int(k) for k in np.unravel_index(np.abs(missing).argmax(), missing.shape))
        raise ValueError(
            f"flow: {wrong.sum()} cells do not conserve water; row {row}, column {column} gains "
            f"{missing[row, column]:g} m3/s. Give discharges that add up to 0 for each cell, rivers as inflow."
        )
    return eastward, southward
