"""Forms that are coarser than a place and still finer than may be told: rounded metres, and marked cells of a raster.

Rounded metres: whole numbers that are a sighting cut or rounded to 10, 100 or 1000 m. All three are finer than a tenth
of a degree, which is 11 km. The edges and middles of the map's own cells are such numbers too: so pairs on its grid
count only where three or more of them in a piece are sightings to 10 or 100 m, and at least half of all that are on
the grid. A list of the map's cells holds many without one and is passed; a list of sightings holds few.

Marked cells: a raster whose every value but the commonest is rare. It counts where at least three cells that hold
sightings are marked, half of all marked ones or more, and the marked are no more than a twentieth of the raster.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from functools import lru_cache

import numpy as np

from habitat.leak_forms import Part, Places, Raster

STEPS = (10, 100, 1000)  # [m]
_NEAR = 3  # numbers of a text between the two coordinates
_WHOLE = re.compile(r"(?<![\d.,])[-+]?\d{2,8}0(?:\.0+)?(?![\d.])")
_LEAST, _HALF, _MOST_SHARE = 3, 0.5, 0.05


def rounded_metres(part: Part, places: Places) -> Iterator[int]:
    """Whole metres of a sighting cut or rounded to 10, 100 or 1000, as text."""
    if places.is_degrees or not len(places.xy):
        return
    values = _whole_numbers(part.text)
    if len(values) < 2:
        return
    on_grid: set[tuple[float, float]] = set()
    there: dict[tuple[float, float], set[int]] = {}
    low, high = places.xy.min(axis=0) - max(STEPS), places.xy.max(axis=0) + max(STEPS)
    for apart in range(1, _NEAR + 1):
        first, second = values[:-apart], values[apart:]
        for x, y in ((first, second), (second, first)):
            inside = (x >= low[0]) & (x <= high[0]) & (y >= low[1]) & (y <= high[1])
            for pair in np.unique(np.column_stack([x[inside], y[inside]]), axis=0):
                if places.is_on_grid(*pair) and apart == 1:
                    on_grid.add(tuple(pair))
                hits = _rounded_to(pair, places, STEPS[:2] if places.is_on_grid(*pair) else STEPS)
                if len(hits):
                    there.setdefault(tuple(pair), set()).update(hits)
    own = on_grid & set(there)
    is_list_of_sightings = len(own) >= max(_LEAST, _HALF * len(on_grid))
    for pair, hits in there.items():
        if not places.is_on_grid(*pair) or (is_list_of_sightings and pair in own):
            yield from hits


def marked_cells(part: Part, places: Places) -> Iterator[int]:
    """Cells of a raster that are marked where the sightings are."""
    for raster in part.rasters:
        yield from _marked(raster, places)


MARKS = {"rounded metres": rounded_metres, "marked cells": marked_cells}


@lru_cache(maxsize=1)
def _whole_numbers(text: str) -> np.ndarray:
    return np.array([float(m[0]) for m in _WHOLE.finditer(text)])


def _rounded_to(pair: np.ndarray, places: Places, steps: tuple[int, ...]) -> list[int]:
    hits = []
    for step in steps:
        if step < places.allowed and not (pair % step).any():
            off = pair - places.xy
            near = (np.abs(off) <= step / 2).all(axis=1) | ((off <= 0) & (off > -step)).all(axis=1)
            hits += np.flatnonzero(near).tolist()
    return hits


def _marked(raster: Raster, places: Places) -> Iterator[int]:
    inverse = ~raster.transform
    columns, rows = inverse * (places.xy[:, 0], places.xy[:, 1])
    wide = max(abs(raster.transform.a), abs(raster.transform.e))
    shape = raster.values.shape
    inside = (rows >= 0) & (rows < shape[0]) & (columns >= 0) & (columns < shape[1])
    if wide >= places.allowed * 0.999 or inside.sum() < _LEAST:
        return
    marked = _rare(raster.values)
    where = np.flatnonzero(inside)
    cells = rows[where].astype(int), columns[where].astype(int)
    hit = marked[cells]
    held = len({*zip(cells[0][hit].tolist(), cells[1][hit].tolist(), strict=True)})
    count = int(marked.sum())
    if held >= _LEAST and held >= _HALF * count and count <= _MOST_SHARE * marked.size:
        yield from where[hit].tolist()


def _rare(values: np.ndarray) -> np.ndarray:
    """Every cell that has not the commonest value, NaN being one."""
    flat = np.asarray(values)
    if flat.dtype.kind == "f":
        flat = np.where(np.isnan(flat), np.finfo(flat.dtype).min, flat)
    kinds, counts = np.unique(flat, return_counts=True)
    return flat != kinds[counts.argmax()]
