"""Soundings before they are gridded: what an old one is worth, which water each lies in, and which are the same.

Soundings are put in an order of their own first, so that the bed does not depend on the order in a file.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy.ndimage import label
from scipy.spatial import cKDTree

from layers.cellwise import Numeric, cellwise, refuse_outside
from layers.grid import Grid
from layers.starts import SNAP_CELLS

FEWEST = 10  # soundings; fewer give no variogram
SAME_PLACE = 0.25  # of a cell: soundings no farther apart are merged


@dataclass(frozen=True)
class Soundings:
    """Soundings of one water body: places (n, 2) [m], elevation (n,) [m], error variance (n,) [m2]."""

    places: np.ndarray
    elevation: np.ndarray
    variance: np.ndarray

    def __len__(self) -> int:
        return len(self.elevation)

    def only(self, chosen: np.ndarray) -> Soundings:
        """Those that `chosen` picks."""
        return Soundings(self.places[chosen], self.elevation[chosen], self.variance[chosen])


def sounding_error(error_of_one: Numeric, yearly_change: Numeric, years_before: Numeric) -> Numeric:
    """Standard error of soundings as a statement about today's bed: the older, the larger. [m]

    Parameters
    ----------
    error_of_one : float or array
        Standard error of a sounding on the day it was made. [m]
    yearly_change : float or array
        How far the bed typically moves up or down in one year. [m]
    years_before : (n,) float or float
        Years between the sounding and the day the bed is wanted for. [yr]

    Returns
    -------
    same kind as the arguments
        NaN where one of them is NaN.

    Raises
    ------
    ValueError
        If an argument is negative, or `error_of_one` is 0.

    Notes
    -----
    sqrt(error**2 + change**2 years): the bed is taken to move at random, each year independent of the last, so that
    its distance from where it was grows with the root of time. A channel that deepens steadily moves farther than
    that, and soundings of one survey are then wrong all the same way: raise `yearly_change`, or leave them out.

    References
    ----------
    Variance of a random walk; common practice, no source.

    Examples
    --------
    >>> round(sounding_error(0.3, 0.1, 16), 3)
    0.5
    """
    refuse_outside(error_of_one, "error_of_one", "m", above=0)
    refuse_outside(yearly_change, "yearly_change", "m", least=0)
    refuse_outside(years_before, "years_before", "yr", least=0, advice="A sounding is older than the bed it is for.")

    def formula(error, change, years):
        return np.sqrt(error**2 + change**2 * years)

    return cellwise(formula, error_of_one, yearly_change, years_before)


def checked_soundings(places: np.ndarray, elevation: np.ndarray, error: np.ndarray) -> Soundings:
    """All soundings, in an order that does not depend on the one they are given in.

    Raises
    ------
    ValueError
        If the lengths do not match, there are fewer than 10, a value is not finite, or an error is not above 0.
    """
    places, elevation, error = (np.asarray(values, np.float64) for values in (places, elevation, error))
    if places.ndim != 2 or places.shape[1:] != (2,) or not elevation.shape == error.shape == places.shape[:1]:
        raise ValueError(
            f"soundings: found places of shape {places.shape}, elevations of shape {elevation.shape} and errors of "
            f"shape {error.shape}. Give n places as (n, 2), and one elevation and one error for each."
        )
    refuse_few(len(elevation), "")
    for name, values in (("places", places), ("elevation", elevation), ("error", error)):
        bad = ~np.isfinite(values.reshape(len(values), -1)).all(axis=1)
        if bad.any():
            raise ValueError(
                f"soundings: {name} of {np.count_nonzero(bad)} of {len(bad)} soundings is not a number, the first of "
                f"them number {np.flatnonzero(bad)[0]}. Leave these out."
            )
    refuse_outside(error, "error of soundings", "m", above=0, advice="Give the standard error of each sounding.")
    order = np.lexsort((error, elevation, places[:, 1], places[:, 0]))
    return Soundings(places[order], elevation[order], error[order] ** 2)


def refuse_few(count: int, where: str) -> None:
    """Nothing, or an error that says how many soundings are needed."""
    if count < FEWEST:
        raise ValueError(
            f"soundings: found {count}{where}. At least {FEWEST} are needed to tell how the bed varies with distance."
        )


def water_bodies(water: np.ndarray) -> np.ndarray:
    """Number of the water body of each cell, from 1 on; 0 on land. Cells that touch at a corner only are apart."""
    bodies, _ = label(water)
    return bodies


def body_of(places: np.ndarray, bodies: np.ndarray, grid: Grid) -> np.ndarray:
    """Number of the water body that each place is in, or is beside; 0 if there is none.

    Parameters
    ----------
    places : (n, 2) float
        Eastings and northings. [m]
    bodies : (M, N) int
        As from `water_bodies`.
    grid : Grid

    Returns
    -------
    (n,) int
        A place on land or off the grid belongs to the body of the nearest water cell, if the middle of that is no
        farther than three cells; of two as near, the first in reading order.
    """
    column, row = ~grid.transform * places.T
    found = _at(bodies, np.floor(row).astype(int), np.floor(column).astype(int))
    dry = np.flatnonzero(found == 0)
    span = int(np.ceil(SNAP_CELLS))
    near = np.arange(-span, span + 1)
    rows = np.floor(row[dry]).astype(int)[:, None, None] + near[:, None]
    columns = np.floor(column[dry]).astype(int)[:, None, None] + near
    there = _at(bodies, *np.broadcast_arrays(rows, columns)).reshape(len(dry), near.size**2)
    away = np.hypot(rows + 0.5 - row[dry, None, None], columns + 0.5 - column[dry, None, None]).reshape(there.shape)
    away[(there == 0) | (away > SNAP_CELLS)] = np.inf
    nearest = away.argmin(axis=1)[:, None]
    beside = np.where(np.isfinite(away), there, 0)
    found[dry] = np.take_along_axis(beside, nearest, axis=1)[:, 0]
    return found


def merged(soundings: Soundings, distance: float) -> Soundings:
    """Soundings of which none is within `distance` [m] of the first of a group: groups become their weighted mean.

    Notes
    -----
    The weights are 1 / error variance, and the error variance of the mean is 1 / their sum. Taken in order, a
    sounding joins the nearest of the firsts within `distance`, or is the first of a new group: a dense line of
    soundings becomes many groups, never one.
    """
    neighbours = cKDTree(soundings.places).query_ball_point(soundings.places, distance, return_sorted=True)
    group = np.full(len(soundings), -1)
    first = []
    for number, near in enumerate(neighbours):
        firsts = [other for other in near if other < number and first[group[other]] == other]
        if firsts:
            away = np.hypot(*(soundings.places[firsts] - soundings.places[number]).T)
            group[number] = group[firsts[int(away.argmin())]]
        else:
            group[number] = len(first)
            first.append(number)
    weight = 1 / soundings.variance
    total = np.bincount(group, weight)
    mean = [np.bincount(group, weight * values) / total for values in (*soundings.places.T, soundings.elevation)]
    return Soundings(np.column_stack(mean[:2]), mean[2], 1 / total)


def _at(bodies: np.ndarray, rows: np.ndarray, columns: np.ndarray) -> np.ndarray:
    height, width = bodies.shape
    inside = (rows >= 0) & (rows < height) & (columns >= 0) & (columns < width)
    return bodies[rows.clip(0, height - 1), columns.clip(0, width - 1)] * inside
