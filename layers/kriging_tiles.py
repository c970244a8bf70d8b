"""Kriging with the soundings near by: tile by tile, small where soundings are many, blended so that no edge shows.

The systems are set up and solved by gstools. A system holds 150 soundings at most, because its cost grows with the
square of that number in every cell.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np
from scipy.spatial import cKDTree
from threadpoolctl import threadpool_limits

from layers.soundings import Soundings
from layers.threads import results_in_order
from layers.variogram import Variogram

MOST, LEAST = 150, 32  # soundings of one tile
OVERLAP = 0.2  # width of the blended band outside a tile, as a share of its side
MARGIN = 0.5  # soundings are taken from so far outside a tile, as a share of its side
FEWEST_POINTS = 16  # a tile with no more points is not divided again
LEAST_VARIANCE = 1e-9  # of the sill: keeps a system solvable where two soundings nearly touch


# a matrix inverted by several threads has other last bits than by one; and the library's teams of threads, one under
# each of ours, wait for each other
one_library_thread = threadpool_limits.wrap(limits=1, user_api="blas")


@dataclass(frozen=True)
class _Tile:
    """A square: its middle, half its side, and which points and soundings have to do with it."""

    middle: np.ndarray
    half: float
    points: np.ndarray
    soundings: np.ndarray


@one_library_thread
def kriged(
    points: np.ndarray, soundings: Soundings, variogram: Variogram, *, workers: int | None = None
) -> tuple[np.ndarray, np.ndarray]:
    """Ordinary kriging at points from the soundings near by, and its standard error.

    Parameters
    ----------
    points : (p, 2) float
        Eastings and northings. [m]
    soundings : Soundings
        At least one, without their trend. No two at the same place.
    variogram : Variogram
        Of the bed without the soundings' errors.
    workers : int, optional
        Number of threads; by default one for each core. The result does not depend on it.

    Returns
    -------
    estimate : (p,) float64
        [m]
    error : (p,) float64
        Standard error of the bed at the point, the nugget in it. [m]

    Notes
    -----
    A square round the points is quartered until no tile has more than 150 soundings within half a side of it. Each
    tile is kriged out to a fifth of its side beyond its edge; there its weight falls in a straight line to 0, and a
    point's estimate is the weighted mean of its tiles'. The standard error is blended alike: the weighted mean of
    the tiles' errors is the most that the error of the blend can be.
    """
    model = variogram.model()
    least = LEAST_VARIANCE * variogram.sill
    estimates, errors, weights = (np.zeros(len(points)) for _ in range(3))

    def of_tile(tile: _Tile):
        from gstools.krige import Ordinary

        near = soundings.only(tile.soundings)
        noise = np.maximum(near.variance + variogram.nugget, least)
        system = Ordinary(model, near.places.T - tile.middle[:, None], near.elevation, cond_err=noise, pseudo_inv=False)
        estimate, variance = system((points[tile.points] - tile.middle).T, store=False)
        return tile, estimate, np.sqrt(variance)

    # summed in the order of the tiles, whatever the order in which they are ready
    for tile, estimate, error in results_in_order(of_tile, _tiles(points, soundings.places), workers=workers):
        weight = _weight(points[tile.points], tile)
        estimates[tile.points] += weight * estimate
        errors[tile.points] += weight * error
        weights[tile.points] += weight
    return estimates / weights, errors / weights


def _tiles(points: np.ndarray, places: np.ndarray) -> Iterator[_Tile]:
    tree = cKDTree(places)
    low, high = points.min(axis=0), points.max(axis=0)
    half = max(float((high - low).max()) / 2, 1e-3)
    waiting = [_Tile((low + high) / 2, half, np.arange(len(points)), np.arange(len(places)))]
    while waiting:
        tile = waiting.pop()
        tile = _Tile(
            tile.middle,
            tile.half,
            tile.points[_within(points[tile.points], tile, OVERLAP)],
            tile.soundings[_within(places[tile.soundings], tile, MARGIN)],
        )
        if not len(tile.points):
            continue
        if len(tile.soundings) > MOST and len(tile.points) > FEWEST_POINTS:
            quarter = tile.half / 2
            for step in ((1, 1), (1, -1), (-1, 1), (-1, -1)):
                waiting.append(_Tile(tile.middle + quarter * np.array(step), quarter, tile.points, tile.soundings))
            continue
        if not LEAST <= len(tile.soundings) <= MOST:
            wanted = min(LEAST if len(tile.soundings) < LEAST else MOST, len(places))
            _, nearest = tree.query(tile.middle, k=np.arange(1, wanted + 1))
            kept = np.union1d(tile.soundings, nearest) if len(tile.soundings) < LEAST else np.sort(nearest)
            tile = _Tile(tile.middle, tile.half, tile.points, kept)
        yield tile


def _within(places: np.ndarray, tile: _Tile, beyond: float) -> np.ndarray:
    return np.abs(places - tile.middle).max(axis=1) < tile.half * (1 + 2 * beyond)


def _weight(points: np.ndarray, tile: _Tile) -> np.ndarray:
    """1 in the heart of a tile, 1/2 on its edge, 0 where it ends: two tiles side by side add up to 1."""
    band = 2 * OVERLAP * tile.half
    inward = tile.half + band - np.abs(points - tile.middle)
    return np.clip(inward / (2 * band), 0, 1).prod(axis=1)
