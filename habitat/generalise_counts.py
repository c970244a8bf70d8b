"""Counts too small to be told: of a cell, of what is left of an area, and of what differs from a former table."""

from __future__ import annotations

from collections import Counter
from typing import TYPE_CHECKING

import numpy as np

from habitat.generalise import rounded_degrees
from layers.fault import Fault, RecordError

if TYPE_CHECKING:
    import pandas as pd

CELL = ["scientificName", "decimalLongitude", "decimalLatitude", "coordinatePrecision"]
_STEPS = (0.001, 0.01, 0.1, 1.0)
# what makes two records of a table different for a reader; numbers of records are dealt anew each time
_TOLD = [*CELL, "eventDate", "individualCount", "recordedBy", "coordinateUncertaintyInMeters", "basisOfRecord"]

Cell = tuple[str, float, float, float]


def enough_told(table: pd.DataFrame, minimum: int) -> pd.DataFrame:
    """The records of cells that hold at least `minimum` of them, and leave at least as many or none of any area.

    An area is a coarser cell, or the whole table, of one species. Where fewer than `minimum` records of it are
    withheld, whoever knows its total could tell them; so its smallest released cell is withheld as well.
    """
    counts = Counter(_cells(table))
    kept = {cell for cell, count in counts.items() if count >= minimum}
    changed = True
    while changed:
        changed = False
        for cells in _areas(counts).values():
            withheld = sum(counts[cell] for cell in cells if cell not in kept)
            told = [cell for cell in cells if cell in kept]
            if 0 < withheld < minimum and told:
                kept.discard(min(told, key=lambda cell: (counts[cell], cell)))
                changed = True
    return table[np.array([cell in kept for cell in _cells(table)], bool)]


def unchanged_or_enough(
    table: pd.DataFrame, former: pd.DataFrame, minimum: int, *, only_drop: bool = False
) -> pd.DataFrame:
    """The table in which each cell is as it was, or has gained and lost at least `minimum` records or none.

    A cell that would change by fewer keeps its former records; with `only_drop` it is withheld whole.

    Raises
    ------
    RecordError
        If the former table has another step for a species: cells of two steps cut each other into pieces.
    """
    import pandas as pd

    former = former.reindex(columns=table.columns).astype(table.dtypes.to_dict())
    text = [name for name in table.columns if not pd.api.types.is_numeric_dtype(table[name])]
    former[text] = former[text].fillna("")
    _require_same_steps(table, former)
    parts = []
    for cell in sorted(set(_cells(table)) | set(_cells(former)), key=str):
        new, old = (one[np.array([own == cell for own in _cells(one)], bool)] for one in (table, former))
        gained, lost = _difference(new, old), _difference(old, new)
        if all(count == 0 or count >= minimum for count in (gained, lost)):
            parts.append(new)
        elif not only_drop:
            parts.append(old)
    parts = [part for part in parts if len(part)]
    return pd.concat(parts, ignore_index=True) if parts else table.iloc[:0]


def _difference(one: pd.DataFrame, other: pd.DataFrame) -> int:
    first, second = (Counter(map(str, part[_TOLD].itertuples(index=False, name=None))) for part in (one, other))
    return (first - second).total()


def _require_same_steps(table: pd.DataFrame, former: pd.DataFrame) -> None:
    steps = {}
    for one in (former, table):
        for name, step in one[["scientificName", "coordinatePrecision"]].drop_duplicates().itertuples(index=False):
            if steps.setdefault(name, step) != step:
                found = f"the former table has steps of {steps[name]:g} degree, this one of {step:g}."
                remedy = "Keep the former step: cells of two steps cut each other into small pieces."
                raise RecordError("publishing.toml", [Fault("categories", found, remedy)])


def _cells(table: pd.DataFrame) -> list[Cell]:
    return list(table[CELL].itertuples(index=False, name=None))


def _areas(counts: Counter[Cell]) -> dict[tuple, list[Cell]]:
    """The cells of each coarser cell and of the whole, for each species."""
    areas: dict[tuple, list[Cell]] = {}
    for cell in counts:
        name, longitude, latitude, step = cell
        areas.setdefault((name, "whole"), []).append(cell)
        for coarser in _STEPS:
            if coarser > step:
                place = rounded_degrees(longitude, coarser), rounded_degrees(latitude, coarser)
                areas.setdefault((name, coarser, *place), []).append(cell)
    return areas
