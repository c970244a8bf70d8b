"""A field from stations, by inverse distance through the water, and how far off it is at the stations."""

from __future__ import annotations

import numpy as np

from layers.grid import Grid
from layers.starts import SNAP_CELLS, Starts, start_at
from layers.threads import results_in_order
from layers.waterway import through_water_field

NEAREST = 1e-3  # a station's weight no longer grows nearer than this share of a cell


def through_water_mean(
    stations_xy: np.ndarray,
    values: np.ndarray,
    water: np.ndarray,
    grid: Grid,
    reach: float,
    power: float = 2.0,
    *,
    snap: float | None = None,
    workers: int | None = None,
) -> tuple[np.ndarray, float | np.ndarray]:
    """Mean of the stations within reach, weighted by inverse distance through the water, and its error.

    Parameters
    ----------
    stations_xy : (n, 2) float
        Eastings and northings in the grid's CRS. [m]
    values : (n,) float or (k, n) float
        What was measured, one value for each station; or k sets of values of the same stations, for which the
        ways through the water are found once. A station whose value is NaN takes no part in that set.
    water : (M, N) bool
        True where a path may go.
    grid : Grid
    reach : float
        Distance through the water at which a station's weight becomes 0. [m]
    power : float
        Power of the inverse distance. [1]
    snap : float, optional
        A station on land is taken to the nearest water cell whose centre is within this distance; by default
        three cells. [m]
    workers : int, optional
        Number of threads; by default one for each core. The result does not depend on it.

    Returns
    -------
    field : (M, N) or (k, M, N) float32
        Within the range of `values`; NaN on land and where no station is within reach.
    error : float or (k,) float
        Root mean square of estimate minus value, where each station is estimated from the others in turn. NaN
        if no station is within reach of another one.

    Raises
    ------
    ValueError
        If a station is farther than `snap` from all water (its index is named).

    Notes
    -----
    The weight of a station at distance d is (1/d - 1/reach)**power: it falls to 0 at the reach, so that the field
    has no step there (Franke and Nielson's form of inverse distance weights, from memory).

    This is not kriging: covariances of distances through the water need not be positive definite, so no standard
    error can be had from them. The error given is measured by leaving out.

    References
    ----------
    Shepard, D. (1968). A two-dimensional interpolation function for irregularly-spaced data. Proceedings of the
    23rd ACM National Conference, 517-524.
    """
    places, sets = np.atleast_2d(np.asarray(stations_xy, float)), np.atleast_2d(np.asarray(values, float))
    if len(places) != sets.shape[1]:
        raise ValueError(f"stations: found {len(places)} places and {sets.shape[1]} values. Give one value for each.")
    starts = _station_starts(places, water, grid, SNAP_CELLS * grid.cell if snap is None else snap)
    cells = [cell for start in starts for cell in start.cells]
    weighted, weights = np.zeros((len(sets), *grid.shape)), np.zeros((len(sets), *grid.shape))
    between = np.zeros((len(places), len(places)))

    def weight_of(start: Starts) -> np.ndarray:
        field = through_water_field(start, water, grid.cell, reach, workers=1)
        return _weight(field, reach, power, grid.cell)

    # added in the order of the stations, whatever the order in which their fields are ready
    for number, weight in enumerate(results_in_order(weight_of, starts, workers=workers)):
        between[number] = [weight[cell] for cell in cells]
        for measured, sum_of_values, sum_of_weights in zip(sets[:, number], weighted, weights, strict=True):
            if np.isfinite(measured):
                sum_of_values += measured * weight
                sum_of_weights += weight
    fields = np.full(weighted.shape, np.nan, np.float32)
    known = weights > 0
    fields[known] = weighted[known] / weights[known]
    errors = np.array([_left_out_error(one[np.isfinite(one)], _among(between, np.isfinite(one))) for one in sets])
    return (fields, errors) if np.ndim(values) == 2 else (fields[0], float(errors[0]))


def _among(between: np.ndarray, taken: np.ndarray) -> np.ndarray:
    return between[np.ix_(taken, taken)]


def _station_starts(places: np.ndarray, water: np.ndarray, grid: Grid, snap: float) -> list[Starts]:
    starts = [start_at(x, y, water, grid, snap) for x, y in places]
    dry = [str(number) for number, start in enumerate(starts) if start is None]
    if dry:
        raise ValueError(
            f"stations: no water within {snap:g} m of station {', '.join(dry)}. Check the coordinates and their "
            "CRS, or leave the station out."
        )
    return starts


def _weight(distance: np.ndarray, reach: float, power: float, cell: float) -> np.ndarray:
    """Weight of a station by distance; 0 on land and beyond the reach."""
    weight = np.zeros(distance.shape)
    near = distance < reach  # False on land, where the distance is NaN
    weight[near] = (1 / np.maximum(distance[near].astype(float), NEAREST * cell) - 1 / reach) ** power
    return weight


def _left_out_error(values: np.ndarray, between: np.ndarray) -> float:
    """Root mean square error of estimating each station from the others."""
    weights = between - np.diag(np.diag(between))
    total = weights.sum(axis=0)
    known = total > 0
    if not known.any():
        return float("nan")
    estimate = (values @ weights)[known] / total[known]
    return float(np.sqrt(np.mean((estimate - values[known]) ** 2)))
