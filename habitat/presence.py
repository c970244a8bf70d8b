"""Whether animals are on record near a proposal, told so coarsely that no question can find one.

The map is cut into large cells whose edges stand still: multiples of the cell's side in the projection, whatever the
proposal, the grid or the sightings. Each cell has one class, made once, from a count that must reach a minimum and over
water that must be wide enough. An answer is made of the classes of the cells a shape touches, and of those around
them, and of nothing else. So whoever asks about every shape there is learns the table of classes and no more.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
import shapely

if TYPE_CHECKING:
    import geopandas as gpd
    import xarray as xr

    from habitat.site_map import SiteMap

CELL = (
    10_000.0  # side [m]; near the 0.1 degree of category 2, "high": Chapman 2020, GBIF, 10.15468/doc-5jp4-5g10, table 7
)
LEAST_CELL = 5_000.0  # finer than this a cell begins to say where; expert judgement [m]
MINIMUM = 10  # records below which a cell tells nothing; expert judgement
MANY = 50  # records; expert judgement
LEAST_WATER = 1_000.0  # where less of a cell is water, its water says where; expert judgement [ha]

TOO_FEW = "none on record, or too few to tell"
SOME = "some on record"
MUCH = "many on record"
CLASSES = (TOO_FEW, SOME, MUCH)

NOT_ABSENCE = "No sightings is not absence: it may only mean that nobody looked. Ask whoever keeps the records."

Frame = tuple[int, int]  # column and row of a fixed cell, counted from the origin of the projection


@dataclass(frozen=True, kw_only=True)
class PresenceTable:
    """The class of every fixed cell that may be told; a cell that is not here holds none, or too few to tell."""

    cell: float  # side [m]
    classes: dict[Frame, str]

    def class_of(self, cells: Iterable[Frame]) -> str:
        """The highest class among some cells."""
        return max((self.classes.get(cell, TOO_FEW) for cell in cells), key=CLASSES.index, default=TOO_FEW)


@dataclass(frozen=True, kw_only=True)
class Presence:
    """What is on record about a shape."""

    here: str  # in the fixed cells it touches, one of CLASSES
    around: str  # in the cells next to those
    cell: float  # side of a cell [m]

    def __str__(self) -> str:
        side = f"{self.cell / 1000:g} km"
        return (
            f"Sightings in the fixed squares of {side} that the proposal touches: {self.here}. In the squares next to "
            f"those: {self.around}. The squares do not move with the proposal. {NOT_ABSENCE}"
        )


def presence_table(
    sightings: Iterable[gpd.GeoDataFrame],
    surface: xr.DataArray,
    *,
    cell: float = CELL,
    minimum: int = MINIMUM,
    many: int = MANY,
    least_water: float = LEAST_WATER,
) -> PresenceTable:
    """The classes that may be told of some sightings.

    Parameters
    ----------
    sightings : tables of points
        In the projection of `surface`. Columns `occurrenceStatus`, `individualCount` and
        `coordinateUncertaintyInMeters` (Darwin Core) are heeded where they are there: a record of nobody seen is not
        counted, nor one whose place is less sure than half a cell.
    surface : (y, x) codes of the layer surface
        Where water is.
    cell : float
        Side of the fixed cells, at least `LEAST_CELL`. [m]
    minimum : int
        Records that a cell must hold to be told at all, 2 or more.
    many : int
        Records from which on they are many, more than `minimum`.
    least_water : float
        Water of the site that a cell must hold to be told at all. [ha]

    Raises
    ------
    ValueError
        If the rule is one that would give animals away.

    Notes
    -----
    Records are counted, not animals: one animal seen on ten days counts ten. A table made again after one more record
    may show that a cell has passed a limit; make it from a file that is brought up to date rarely, many records at a
    time. All limits are expert judgement; whoever keeps the records decides.

    References
    ----------
    Chapman 2020, Current best practices for generalizing sensitive species occurrence data, GBIF,
    10.15468/doc-5jp4-5g10, table 7 (category 2: 0.1 degree; randomised places are advised against).
    """
    _require_safe(cell, minimum, many)
    counts: Counter[Frame] = Counter()
    for table in sightings:
        seen = table[_is_counted(table, cell)].geometry
        counts.update(_frames(seen.x.to_numpy(), seen.y.to_numpy(), cell))
    wide = _wide_enough(surface, cell, least_water)
    told = {place: MUCH if count >= many else SOME for place, count in counts.items() if count >= minimum}
    # sorted, so that not even the order of the records shows
    return PresenceTable(cell=cell, classes={place: told[place] for place in sorted(told) if place in wide})


def site_presence(site_map: SiteMap) -> PresenceTable | None:
    """The classes of a site's own sightings, or None where it has no file of them."""
    entries = site_map.inputs.having("sighting")
    if not entries:
        return None
    from layers.sighting_flags import merged_records

    records, _ = merged_records([site_map.inputs.features[entry.name] for entry in entries])
    seen = records[records["seen"]].rename(columns={"uncertainty": "coordinateUncertaintyInMeters"})
    return presence_table([seen], site_map.layers["surface"])


def presence_near(shape: shapely.Geometry, table: PresenceTable) -> Presence:
    """What is on record about a shape: the same for every shape that touches the same fixed cells.

    Raises
    ------
    ValueError
        If the shape is empty.
    """
    if shape is None or shape.is_empty:
        raise ValueError("shape: it is empty. Draw it, or leave it out.")
    touched = touched_cells(shape, table.cell)
    beside = {(column + over, row + up) for column, row in touched for over in (-1, 0, 1) for up in (-1, 0, 1)}
    return Presence(here=table.class_of(touched), around=table.class_of(beside - touched), cell=table.cell)


def touched_cells(shape: shapely.Geometry, cell: float) -> set[Frame]:
    """Columns and rows of the fixed cells that a shape touches."""
    west, south, east, north = (int(np.floor(edge / cell)) for edge in shape.bounds)
    columns, rows = np.meshgrid(np.arange(west, east + 1), np.arange(south, north + 1))
    columns, rows = columns.ravel(), rows.ravel()
    boxes = shapely.box(columns * cell, rows * cell, (columns + 1) * cell, (rows + 1) * cell)
    touched = shapely.intersects(boxes, shape)
    return set(zip(columns[touched].tolist(), rows[touched].tolist(), strict=True))


def _frames(x: np.ndarray, y: np.ndarray, cell: float) -> list[Frame]:
    columns, rows = (np.floor(np.asarray(along, np.float64) / cell).astype(int).tolist() for along in (x, y))
    return list(zip(columns, rows, strict=True))


def _is_counted(table: gpd.GeoDataFrame, cell: float) -> np.ndarray:
    from layers.sighting_columns import is_seen, uncertainties

    placed = ~(table.geometry.isna() | table.geometry.is_empty).to_numpy()
    return placed & is_seen(table) & ~(uncertainties(table) > cell / 2)


def _wide_enough(surface: xr.DataArray, cell: float, least_water: float) -> set[Frame]:
    from layers.grid import Grid
    from layers.quantity import INTERTIDAL, WATER

    grid = Grid.of(surface)
    rows, columns = np.nonzero(np.isin(surface.to_numpy(), (INTERTIDAL, WATER)))
    cells = Counter(_frames(grid.x[columns], grid.y[rows], cell))
    return {place for place, count in cells.items() if count * grid.cell_hectares >= least_water}


def _require_safe(cell: float, minimum: int, many: int) -> None:
    if not LEAST_CELL <= cell < np.inf:
        raise ValueError(f"cell: found {cell:g} m. Below {LEAST_CELL:g} m a cell begins to say where an animal is.")
    if not minimum >= 2:
        raise ValueError(f"minimum: found {minimum}. A single record must never show; give 2 or more.")
    if not many > minimum:
        raise ValueError(f"many: found {many}. It must be more than the minimum, {minimum}.")
