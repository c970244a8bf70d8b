"""Values at stations as they are given, checked, and the place of each station on the water."""

from __future__ import annotations

import numpy as np

from layers.grid import Grid
from layers.starts import UNIT, Starts, start_at

_POSITIONS = ("columns", "rows", "begins")


def checked_stations(
    places_xy: np.ndarray, values: np.ndarray, noise: np.ndarray | None
) -> tuple[np.ndarray, np.ndarray, np.ndarray | None]:
    places, sets = np.atleast_2d(np.asarray(places_xy, float)), np.atleast_2d(np.asarray(values, float))
    if places.shape != (sets.shape[1], 2):
        raise ValueError(f"stations: found {len(places)} places and {sets.shape[1]} values. Give one value for each.")
    if not np.isfinite(places).all() or np.isinf(sets).any():
        raise ValueError("stations: found a coordinate or a value that is not a number. Leave the station out.")
    if noise is None:
        return places, sets, None
    noises = np.asarray(noise, float)
    if noises.shape not in (sets.shape, sets.shape[1:]):
        raise ValueError(f"noise: found shape {noises.shape}, the values have {np.shape(values)}. Give one for each.")
    noises = np.broadcast_to(noises, sets.shape)
    wrong = np.isfinite(sets) & ~((noises >= 0) & (noises < np.inf))
    if wrong.any():
        number = int(np.nonzero(wrong)[1][0])
        found = noises[wrong][0]
        raise ValueError(f"noise: found {found:g} at station {number}. Give a standard deviation of 0 or more.")
    return places, sets, noises


def station_starts(places: np.ndarray, order: np.ndarray, water: np.ndarray, grid: Grid, snap: float) -> list[Starts]:
    """Where the stations lie on the water, in `order`."""
    starts = [start_at(x, y, water, grid, snap) for x, y in places]
    dry = [str(number) for number, start in enumerate(starts) if start is None]
    if dry:
        raise ValueError(
            f"stations: no water within {snap:g} m of station {', '.join(dry)}. Check the coordinates and their "
            "CRS, or leave the station out."
        )
    return [starts[number] for number in order]


def joined(starts: list[Starts]) -> Starts:
    return Starts(**{name: np.concatenate([getattr(one, name) for one in starts]) for name in _POSITIONS})


def wet_cell(start: Starts, water: np.ndarray) -> tuple[int, int]:
    """The water cell that holds a start, or that it lies on the edge of."""
    rows, columns = start.rows[0], start.columns[0]
    for back_row in (0, 1):
        for back_column in (0, 1):
            row, column = (rows - back_row) // UNIT, (columns - back_column) // UNIT
            if 0 <= row < water.shape[0] and 0 <= column < water.shape[1] and water[row, column]:
                return int(row), int(column)
    raise RuntimeError("matern: a station lies in no water cell.")
