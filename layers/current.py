"""Discharges that conserve water from a field of depth-averaged currents, which never quite does.

What a current meter, a chart or another model's grid gives does not add up cell by cell. The smallest correction that
makes it add up is found here, and how large it was is told: a large one means that the currents do not fit the depth.
"""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import dataclass

import numpy as np

from layers.faces import SIDES, Faces, Flow, faces_of
from layers.grid import Grid

FASTEST = 5.0  # m/s, common practice, no source: above it a depth-averaged current is most likely in other units


@dataclass(frozen=True, kw_only=True)
class CurrentFlow:
    """Discharges that conserve water, and how far they are from the currents given."""

    flow: Flow
    correction: float  # root mean square of what was added, over that of what was given; infinite if only rivers flow


def flow_of_current(
    eastward: np.ndarray,
    northward: np.ndarray,
    depth: np.ndarray,
    water: np.ndarray,
    grid: Grid,
    open_edges: Collection[str] = SIDES,
    inflow: np.ndarray | None = None,
) -> CurrentFlow:
    """Discharges through the faces of the cells, from the current of each cell and the least change that conserves.

    Parameters
    ----------
    eastward, northward : (M, N) float
        Depth-averaged current along the rows and up the columns of the grid; not read on land. [m/s]
    depth : (M, N) float
        Depth of the water column, positive; not read on land. [m]
    water : (M, N) bool
    grid : Grid
    open_edges : collection of "north", "east", "south", "west"
        Edges of the grid where its water goes on beyond. Through them as much flows as conserves; the rest are closed.
    inflow : (M, N) float, optional
        Water that rivers bring into each cell, 0 or more, 0 on land. [m3/s]

    Returns
    -------
    CurrentFlow
        The flow is 0 at land and closed edges, and each cell conserves to rounding of the water that passes it.

    Raises
    ------
    ValueError
        If an array does not fit the grid, a current is missing on water or faster than 5 m/s, a depth is not above 0,
        or a river enters water that has no way to an open edge.

    Notes
    -----
    The discharge given to a face is the mean of u h of its two cells times its length (at an open edge that of its one
    cell). Added to it is G (pi - pj), with the potential p that closes the balance of every cell and G the harmonic
    mean of the depths (of half a cell, and p = 0, at an open edge): of all corrections c that conserve, the one with
    the least sum of c**2 / G. It has no rotation of its own where the depth is even: eddies are kept.

    Examples
    --------
    A current that slows down by half over an even bed loses water: what conserves is the mean of 8, 7, 5 and 4 m3/s, 6;
    the correction is the root of (4 + 1 + 1 + 4) / (64 + 49 + 25 + 16).

    >>> from layers.grid import Grid
    >>> grid = Grid.from_bounds("EPSG:32745", 500_000, 7_770_000, 500_030, 7_770_010, 10)
    >>> east = np.array([[0.4, 0.3, 0.2]])
    >>> found = flow_of_current(east, 0 * east, 2.0, np.ones((1, 3), bool), grid, ["west", "east"])
    >>> found.flow.eastward.round(6)
    array([[6., 6., 6., 6.]])
    >>> round(found.correction, 3)
    0.255

    References
    ----------
    Sasaki, Y. (1958), Journal of the Meteorological Society of Japan 36, 77-88, for the idea (from memory).
    """
    from layers.exchange import exchanges_of
    from layers.steady import SteadySolver

    water = np.asarray(water, bool)
    faces = faces_of(depth, water, grid, 1.0, 0.0, None, open_edges)
    currents = _currents(eastward, northward, water)
    inflow = _inflow(inflow, water)
    depth = np.where(water, depth, 0.0)
    given_x = _through(currents[0] * depth * grid.cell, faces.conductance_x > 0)
    given_y = _through(-(currents[1] * depth * grid.cell).T, faces.conductance_y.T > 0).T
    excess = given_x[:, :-1] - given_x[:, 1:] + given_y[:-1] - given_y[1:] + inflow
    anchors = _anchors(faces, water, np.abs(given_x), np.abs(given_y), inflow)
    # water without a way out is held at one cell: its excess adds up to 0, so nothing passes there
    faces.removal[anchors] = 1.0
    potential = SteadySolver(exchanges_of(faces)).potential(np.pad(excess, 1))
    flow = Flow(
        eastward=given_x + faces.conductance_x * (potential[1:-1, :-1] - potential[1:-1, 1:]),
        southward=given_y + faces.conductance_y * (potential[:-1, 1:-1] - potential[1:, 1:-1]),
        inflow=inflow,
    )
    _settle(faces, anchors, flow)
    return CurrentFlow(flow=flow, correction=_correction(flow, given_x, given_y))


def _currents(eastward: np.ndarray, northward: np.ndarray, water: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """Both components, 0 on land."""
    parts = []
    for name, values in (("eastward", eastward), ("northward", northward)):
        values = np.asarray(values, float)
        if values.shape != water.shape:
            raise ValueError(f"current: {name} is an array of {values.shape}. The grid has {water.shape} cells.")
        if (missing := water & ~np.isfinite(values)).any():
            row, column = np.argwhere(missing)[0]
            raise ValueError(
                f"current: {name} has no value in {missing.sum()} water cells, the first in row {row}, column "
                f"{column}. Give a current for all water (0 m/s where it is still), or take these cells off the water."
            )
        parts.append(np.where(water, values, 0.0))
    speed = np.hypot(*parts)
    if speed.max(initial=0.0) > FASTEST:
        row, column = np.unravel_index(speed.argmax(), speed.shape)
        raise ValueError(
            f"current: found {speed.max():g} m/s in row {row}, column {column}, and more than {FASTEST:g} m/s in "
            f"{(speed > FASTEST).sum()} water cells. Give m/s: cm/s are divided by 100, knots multiplied by 0.5144."
        )
    return tuple(parts)


def _inflow(inflow: np.ndarray | None, water: np.ndarray) -> np.ndarray:
    """Water of rivers, 0 where none is given."""
    if inflow is None:
        return np.zeros(water.shape)
    inflow = np.asarray(inflow, float)
    if inflow.shape != water.shape:
        raise ValueError(f"inflow: found an array of {inflow.shape}. The grid has {water.shape} cells.")
    if (wrong := ~(np.isfinite(inflow) & (inflow >= 0)) | ((inflow != 0) & ~water)).any():
        row, column = np.argwhere(wrong)[0]
        raise ValueError(
            f"inflow: found {inflow[row, column]:g} m3/s in row {row}, column {column}. A river brings 0 m3/s or more "
            "into a water cell; give 0 elsewhere."
        )
    return inflow


def _through(of_cells: np.ndarray, passable: np.ndarray) -> np.ndarray:
    """Discharge through the faces along rows, (M, N + 1), of the discharge of each cell, (M, N)."""
    before, after = of_cells[:, [0, *range(of_cells.shape[1])]], of_cells[:, [*range(of_cells.shape[1]), -1]]
    return np.where(passable, 0.5 * (before + after), 0.0)


def _anchors(
    faces: Faces, water: np.ndarray, across: np.ndarray, down: np.ndarray, inflow: np.ndarray
) -> tuple[np.ndarray, np.ndarray]:
    """Rows and columns of one cell of each piece of water that has no open edge: that which most water passes."""
    from scipy.ndimage import label, maximum_position

    pieces, number = label(water)
    ways_out = np.zeros(number + 1, bool)
    for line, open_faces in (
        (pieces[:, 0], faces.conductance_x[:, 0]),
        (pieces[:, -1], faces.conductance_x[:, -1]),
        (pieces[0], faces.conductance_y[0]),
        (pieces[-1], faces.conductance_y[-1]),
    ):
        ways_out[line[open_faces > 0]] = True
    ways_out[0] = True  # land
    if (shut := (inflow > 0) & ~ways_out[pieces]).any():
        row, column = np.argwhere(shut)[0]
        raise ValueError(
            f"inflow: the river in row {row}, column {column} enters water that has no way to an open edge, which "
            "would fill for ever. Open an edge it reaches, or join the water."
        )
    closed = np.flatnonzero(~ways_out)
    if len(closed) == 0:
        return np.zeros(0, int), np.zeros(0, int)
    passing = across[:, :-1] + across[:, 1:] + down[:-1] + down[1:]
    places = np.array(maximum_position(passing, pieces, closed), int).reshape(-1, 2)
    return places[:, 0], places[:, 1]


def _settle(faces: Faces, anchors: tuple[np.ndarray, np.ndarray], flow: Flow) -> None:
    """Pass on what the solver leaves of each balance, cell by cell towards the open edges; `flow` is changed.

    A canal with a closed end then has exactly no discharge, where the solver leaves its rounding.
    """
    from layers.exchange import pass_on

    held = np.zeros(faces.shape, np.bool_)
    held[anchors] = True
    pass_on(faces.conductance_x > 0, faces.conductance_y > 0, held, flow.eastward, flow.southward, flow.inflow)


def _correction(flow: Flow, given_x: np.ndarray, given_y: np.ndarray) -> float:
    """Size of the correction against what was given."""
    added = float(((flow.eastward - given_x) ** 2).sum() + ((flow.southward - given_y) ** 2).sum())
    given = float((given_x**2).sum() + (given_y**2).sum())
    if given > 0:
        return (added / given) ** 0.5
    return np.inf if added > 0 else 0.0
