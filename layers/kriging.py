"""The bed between soundings, by kriging, with a standard error for each cell and a check that it is honest."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np
from scipy.ndimage import find_objects, map_coordinates
from scipy.spatial import cKDTree

from layers.grid import Grid
from layers.kriging_tiles import kriged, one_library_thread
from layers.soundings import (
    FEWEST,
    SAME_PLACE,
    Soundings,
    body_of,
    checked_soundings,
    merged,
    refuse_few,
    water_bodies,
)
from layers.step import OnStep, Step, ignore
from layers.threads import strips
from layers.variogram import Variogram, fitted_variogram

FINE = 0.25  # of the typical distance between neighbouring soundings: no closer are the points that are kriged
OUT_OF_SIGHT = 0.5  # of the variogram's range: the three curves have risen 58 to 78 % of the way by then
FOLDS = 10
BLOCK = 2.0  # side of a block that is left out, in typical distances to the fourth neighbour
FEWEST_LEFT = 3  # soundings of a body from which those left out are still estimated


@dataclass(frozen=True, kw_only=True)
class BedFit:
    """A bed from soundings and how far it can be trusted."""

    elevation: np.ndarray  # (M, N) float32, positive up [m]
    error: np.ndarray  # (M, N) float32, standard error [m]
    variogram: Variogram
    reach: float  # farther from every sounding there is no data [m]
    leave_out_error: float  # root mean square of left-out soundings less their estimate [m]
    standardised: float  # the same, each first divided by its standard error: 1 if the errors are honest [1]
    count: int  # soundings used
    ignored: int  # soundings on land or off the grid with no water beside them


@dataclass(frozen=True)
class _Plane:
    middle: np.ndarray
    scale: float
    coefficients: np.ndarray

    def at(self, places: np.ndarray) -> np.ndarray:
        away = (places - self.middle) / self.scale
        return self.coefficients[0] + away @ self.coefficients[1:]


@dataclass(frozen=True)
class _Body:
    """One water body: its number, its soundings without the trend, and the trend."""

    number: int
    soundings: Soundings
    trend: _Plane


@one_library_thread
def bed_from_soundings(
    places_xy: np.ndarray,
    elevation: np.ndarray,
    error: np.ndarray,
    water: np.ndarray,
    grid: Grid,
    *,
    reach: float | None = None,
    workers: int | None = None,
    on_step: OnStep = ignore,
) -> BedFit:
    """Elevation of the bed in each water cell, and its standard error.

    Parameters
    ----------
    places_xy : (n, 2) float
        Eastings and northings in the grid's CRS. [m]
    elevation : (n,) float
        Of the bed, positive up, all from one datum. [m]
    error : (n,) float
        Standard error of each sounding; for surveys of different age from `sounding_error`. [m]
    water : (M, N) bool
        True where there is a bed to map. Cells that touch at a corner only are different water bodies.
    grid : Grid
    reach : float, optional
        Farther than this from every sounding of its water body a cell has no data; by default half the variogram's
        range, where a sounding tells next to nothing: the error is 90 % of the spread of all depths or more. [m]
    workers : int, optional
        Number of threads; by default one for each core. The result does not depend on it.
    on_step : callable, optional
        Told of each step.

    Returns
    -------
    BedFit
        NaN on land, in water bodies without soundings, and beyond the reach.

    Raises
    ------
    ValueError
        If fewer than 10 soundings are left, lengths do not match, a value is not finite, or an error or the reach is
        not above 0.

    Notes
    -----
    Ordinary kriging of what is left when each water body's plane is taken away, with the error of each sounding
    on the diagonal of the system: a sounding is believed as far as its error allows, and one of an old survey gives
    way to one of a new survey beside it. Errors are taken to be independent. A survey that is wrong everywhere in
    the same way still pulls the bed where it is alone.

    Soundings of another water body have no say. Within a body distances are straight, also across a spit: covariances
    of distances through the water need not be positive definite.

    Where a survey turned back because the water was too shallow, the bed is higher than the soundings beside it
    tell, and the standard error does not know: give levels along the shore or over the flats as soundings, too.

    The standard error is that of the bed at a place, not of a cell's mean: the nugget is in it. That of the plane's
    slope is not.

    Points are kriged no closer than a quarter of the median distance from a sounding to its nearest neighbour, or
    a cell; between them elevation and error are interpolated in two directions (bilinear), per water body.

    The check leaves out whole blocks of soundings, a tenth at a time, because a sounding's neighbours on the same
    line know more of it than of the cells between two lines. Variogram and plane are not fitted anew. A left-out
    sounding's standard error is that of the bed and its own.

    References
    ----------
    Ordinary kriging as gstools documents it (`krige.Ordinary` with `cond_err`); regression kriging and leaving out
    blocks are common practice, no source.
    """
    if water.shape != grid.shape:
        raise ValueError(f"water: found shape {water.shape}, the grid has {grid.shape}. Give one value for each cell.")
    if reach is not None and not (np.isfinite(reach) and reach > 0):
        raise ValueError(f"reach: found {reach:g} m. It must be above 0 m.")
    every = checked_soundings(places_xy, elevation, error)
    on_step(Step(1, 4, "sorting the soundings by water body"))
    bodies = water_bodies(water)
    owner = body_of(every.places, bodies, grid)
    used = int(np.count_nonzero(owner))
    refuse_few(used, f" in or beside the water, and {len(every) - used} on land or off the grid")
    sounded = [
        _without_trend(int(number), merged(every.only(owner == number), SAME_PLACE * grid.cell))
        for number in np.unique(owner[owner > 0])
    ]
    refuse_few(sum(len(body.soundings) for body in sounded), " once those at one place are merged")
    on_step(Step(2, 4, "fitting the variogram"))
    variogram = fitted_variogram(
        [(body.soundings.places, body.soundings.elevation, body.soundings.variance) for body in sounded]
    )
    reach = OUT_OF_SIGHT * variogram.range if reach is None else float(reach)
    on_step(Step(3, 4, "leaving out soundings"))
    left_out = np.concatenate([_left_out(body.soundings, variogram, reach, workers) for body in sounded])
    on_step(Step(4, 4, "kriging the bed"))
    bed, spread = (np.full(grid.shape, np.nan, np.float32) for _ in range(2))
    windows = find_objects(bodies)
    step = _lattice_step([body.soundings.places for body in sounded], grid.cell)
    for body in sounded:
        window = windows[body.number - 1]
        mine = bodies[window] == body.number
        part = grid.window(*window)
        for rows, filled in _filled(body, mine, part, step, variogram, reach, workers):
            known = np.isfinite(filled[0])
            bed[window][rows][known], spread[window][rows][known] = filled[0][known], filled[1][known]
    return BedFit(
        elevation=bed,
        error=spread,
        variogram=variogram,
        reach=reach,
        leave_out_error=_root_mean_square(left_out[:, 0]),
        standardised=_root_mean_square(left_out[:, 0] / left_out[:, 1]),
        count=used,
        ignored=len(every) - used,
    )


def _without_trend(number: int, soundings: Soundings) -> _Body:
    """A body and its plane, by least squares; with fewer than 10 soundings the plane is level."""
    middle = soundings.places.mean(axis=0)
    scale = max(float(np.ptp(soundings.places, axis=0).max()), 1e-3)
    slopes = (soundings.places - middle) / scale if len(soundings) >= FEWEST else np.zeros((len(soundings), 2))
    columns = np.column_stack([np.ones(len(soundings)), slopes])
    # a sounding counts less only where its error is large beside the relief: few exact ones must not tilt the plane
    relief = np.median(np.abs(soundings.elevation - np.median(soundings.elevation))) ** 2
    weight = 1 / np.sqrt(soundings.variance + relief + np.median(soundings.variance))
    # soundings on one line leave the slope across it open: the least one, 0, is taken
    coefficients, *_ = np.linalg.lstsq(columns * weight[:, None], soundings.elevation * weight, rcond=1e-6)
    trend = _Plane(middle, scale, coefficients)
    rest = soundings.elevation - trend.at(soundings.places)
    return _Body(number, Soundings(soundings.places, rest, soundings.variance), trend)


def _left_out(soundings: Soundings, variogram: Variogram, reach: float, workers) -> np.ndarray:
    """Sounding less estimate, and the standard error of that, for those that the others reach: (k, 2). [m]"""
    found = [np.empty((0, 2))]
    if len(soundings) > FEWEST_LEFT:
        neighbour = min(4, len(soundings) - 1)
        away, _ = cKDTree(soundings.places).query(soundings.places, k=[neighbour + 1])
        blocks = np.floor((soundings.places - soundings.places.min(axis=0)) / (BLOCK * np.median(away)))
        fold = (blocks @ [1, 3]).astype(int) % FOLDS
        for number in np.unique(fold):
            out, kept = soundings.only(fold == number), soundings.only(fold != number)
            if len(kept) < FEWEST_LEFT:
                continue
            distance, _ = cKDTree(kept.places).query(out.places)
            out = out.only(distance <= reach)
            if len(out):
                estimate, error = kriged(out.places, kept, variogram, workers=workers)
                found.append(np.column_stack([out.elevation - estimate, np.sqrt(error**2 + out.variance)]))
    return np.concatenate(found)


def _lattice_step(places: list[np.ndarray], cell: float) -> int:
    """Cells between the points that are kriged."""
    nearest = [cKDTree(some).query(some, k=[2])[0] for some in places if len(some) > 1]
    return max(1, int(FINE * float(np.median(np.concatenate(nearest))) / cell))


def _filled(
    body: _Body, mine: np.ndarray, grid: Grid, step: int, variogram: Variogram, reach: float, workers
) -> Iterator[tuple[slice, np.ndarray]]:
    """Rows of a body's window, and elevation and error there: (2, rows, columns), NaN beyond reach and off `mine`."""
    tree = cKDTree(body.soundings.places)
    needed = _corners(mine, step)
    row, column = np.nonzero(needed)
    points = np.column_stack([grid.x[0] + step * grid.cell * column, grid.y[0] - step * grid.cell * row])
    # a cell within reach may have corners that are just beyond
    near = np.isfinite(tree.query(points, distance_upper_bound=reach + 1.5 * step * grid.cell)[0])
    nodes = np.zeros((2, *needed.shape))
    if near.any():
        points, row, column = points[near], row[near], column[near]
        estimate, error = kriged(points, body.soundings, variogram, workers=workers)
        nodes[:, row, column] = estimate + body.trend.at(points), error
    for rows in strips(grid.shape[0]):
        row, column = np.nonzero(mine[rows])
        row += rows.start
        away, _ = tree.query(
            np.column_stack([grid.x[column], grid.y[row]]), distance_upper_bound=np.nextafter(reach, np.inf)
        )
        row, column = row[np.isfinite(away)], column[np.isfinite(away)]
        filled = np.full((2, rows.stop - rows.start, grid.shape[1]), np.nan)
        for layer, values in zip(filled, nodes, strict=True):
            layer[row - rows.start, column] = map_coordinates(values, (row / step, column / step), order=1)
        yield rows, filled


def _corners(mine: np.ndarray, step: int) -> np.ndarray:
    """Lattice points round the cells of `mine`. The lattice starts at the first cell and reaches past the last."""
    if step == 1:
        return mine
    height, width = (-(-size // step) for size in mine.shape)
    padded = np.zeros((height * step, width * step), bool)
    padded[: mine.shape[0], : mine.shape[1]] = mine
    blocks = padded.reshape(height, step, width, step).any(axis=(1, 3))
    needed = np.zeros((height + 1, width + 1), bool)
    for down in (0, 1):
        for along in (0, 1):
            needed[down : height + down, along : width + along] |= blocks
    return needed


def _root_mean_square(values: np.ndarray) -> float:
    return float(np.sqrt(np.mean(values**2))) if len(values) else float("nan")
