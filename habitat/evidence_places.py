"""From sightings and a map of scores to a comparison: which cells each sighting may have been in, and against what.

What comes out holds scores, weights and numbers of blocks, no place. Scores of single sightings are not for others all
the same: on a published map a score of many digits finds its cell.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import TYPE_CHECKING

import numpy as np
import shapely

from habitat.evidence_blocks import block_numbers
from habitat.evidence_comparison import AVAILABLE, NOT_SEEN, SEARCHED, Comparison
from layers.grid import Grid

if TYPE_CHECKING:
    import geopandas as gpd
    import xarray as xr

    from layers.sightings import Sightings

UNSURE = "less sure of their place than half a block"
NO_SCORE = "where the map has no score"
NOT_SEARCHED = "where nobody searched by plan"
_ROUND = 32  # segments of a quarter of a circle: its area is right to 0.05 %
_MOSTLY = 0.5  # share of a sighting's circle that must have been searched


@dataclass(frozen=True, kw_only=True)
class Gathered:
    """Pieces of sightings and other places of one map, with the places that their blocks follow from."""

    seen: np.ndarray = field(repr=False)  # (n, 4) score, weight, x and y of the middle of the sighting
    others: np.ndarray = field(repr=False)  # (m, 4)
    against: str
    left_out: Mapping[str, int]  # reason: sightings


def gathered(
    scores: xr.DataArray, sightings: Sightings, *, side: float, effort: xr.DataArray | None = None
) -> Gathered:
    """What a map scores where animals were seen, and where they were not.

    Parameters
    ----------
    scores : (y, x) float
        Of one season, NaN where there is none (land, no data). [1]
    sightings : Sightings
        Of that season, on the same grid.
    side : float
        Of the blocks that will be drawn; a sighting less sure than half of it is left out. [m]
    effort : (y, x) float, optional
        Hours that each cell was searched. With it, sightings are held against searched water, hour for hour, and those
        made elsewhere are left out: where nobody looked is not absence. Without it they are held against records of
        looking and seeing none or, if there are none, against all water with a score.

    Raises
    ------
    ValueError
        If sightings or effort are not on the grid of the scores.
    """
    grid = Grid.of(scores)
    values = scores.to_numpy().astype(np.float64)
    if effort is not None and Grid.of(effort) != grid:
        raise ValueError("effort: its grid is not that of the map. Make both of one grid.")
    for table in (sightings.seen, sightings.none_seen):
        if table.crs is not None and not table.crs.equals(grid.crs):
            raise ValueError("sightings: they are not in the projection of the map.")
    hours = None if effort is None else effort.to_numpy().astype(np.float64)
    seen, left_out = _pieces(sightings.seen, values, grid, side, hours)
    if hours is not None:
        row, column = np.nonzero(~np.isnan(values) & (hours > 0))
        others, against = _cells(values, row, column, hours[row, column], grid), SEARCHED
    else:
        others, _ = _pieces(sightings.none_seen, values, grid, side, None)
        against = NOT_SEEN
        if not len(others):
            row, column = np.nonzero(~np.isnan(values))
            others, against = _cells(values, row, column, np.ones(len(row)), grid), AVAILABLE
    return Gathered(seen=seen, others=others, against=against, left_out=left_out)


def comparison_of(*parts: Gathered, side: float) -> Comparison:
    """Sightings of one or several maps (one each season) as one comparison, in blocks of `side` metres.

    Raises
    ------
    ValueError
        If there is no part, or they are held against different things.
    """
    if len({part.against for part in parts}) != 1:
        raise ValueError("seasons: they are held against different things, so they cannot be read together.")
    seen, others = (np.concatenate([getattr(part, name) for part in parts]) for name in ("seen", "others"))
    places = np.concatenate([seen[:, 2:], others[:, 2:]])
    blocks = block_numbers(*places.T, side) if len(places) else np.empty(0, int)
    return Comparison(
        seen=seen[:, 0],
        seen_weights=seen[:, 1],
        seen_blocks=blocks[: len(seen)],
        others=others[:, 0],
        other_weights=others[:, 1],
        other_blocks=blocks[len(seen) :],
        blocks=int(blocks.max()) + 1 if len(blocks) else 1,
        side=side,
        against=parts[0].against,
    )


def circle_shares(x: float, y: float, radius: float, grid: Grid) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Rows and columns of the cells that a circle touches, and the area of it in each. [m2]

    A radius of 0 gives the cell that holds the point, whole. Cells off the grid are left out.

    Examples
    --------
    >>> grid = Grid.from_bounds("EPSG:32745", 0, 0, 300, 300, 100)
    >>> rows, columns, areas = circle_shares(150.0, 150.0, 50.0, grid)
    >>> rows.tolist(), columns.tolist(), round(float(areas[0] / (50**2 * np.pi)), 3)
    ([1], [1], 1.0)
    """
    if not radius > 0:
        cell = grid.cell_at(x, y)
        row, column = ([], []) if cell is None else ([cell[0]], [cell[1]])
        return np.array(row, int), np.array(column, int), np.full(len(row), grid.cell**2)
    (left, top), (right, bottom) = (
        ~grid.transform * (x - radius, y + radius),
        ~grid.transform * (x + radius, y - radius),
    )
    rows, columns = (
        np.arange(max(int(np.floor(low)), 0), min(int(np.ceil(high)), size))
        for low, high, size in ((top, bottom, grid.shape[0]), (left, right, grid.shape[1]))
    )
    row, column = (part.ravel() for part in np.meshgrid(rows, columns, indexing="ij"))
    half = grid.cell / 2
    boxes = shapely.box(grid.x[column] - half, grid.y[row] - half, grid.x[column] + half, grid.y[row] + half)
    areas = shapely.area(shapely.intersection(boxes, shapely.Point(x, y).buffer(radius, quad_segs=_ROUND)))
    touched = areas > 0
    return row[touched], column[touched], areas[touched]


def _pieces(
    records: gpd.GeoDataFrame, values: np.ndarray, grid: Grid, side: float, hours: np.ndarray | None
) -> tuple[np.ndarray, dict[str, int]]:
    """Score and share of each cell that each record may be of, with the record's own place; and who was left out."""
    found, left_out = [np.empty((0, 4))], {}
    radii = records["uncertainty"].fillna(0.0).to_numpy()
    for x, y, radius in zip(records.geometry.x, records.geometry.y, radii, strict=True):
        reason = None
        if radius > side / 2:
            reason = UNSURE
        else:
            row, column, areas = circle_shares(x, y, radius, grid)
            scored = ~np.isnan(values[row, column])  # an animal is in water, not on the land within its circle
            row, column, areas = row[scored], column[scored], areas[scored]
            if not len(areas):
                reason = NO_SCORE
            elif hours is not None and areas[hours[row, column] > 0].sum() < _MOSTLY * areas.sum():
                reason = NOT_SEARCHED
        if reason is not None:
            left_out[reason] = left_out.get(reason, 0) + 1
            continue
        count = len(areas)
        found.append(
            np.column_stack(
                [values[row, column], areas / areas.sum(), np.full(count, float(x)), np.full(count, float(y))]
            )
        )
    return np.concatenate(found), left_out


def _cells(values: np.ndarray, row: np.ndarray, column: np.ndarray, weights: np.ndarray, grid: Grid) -> np.ndarray:
    return np.column_stack([values[row, column], weights, grid.x[column], grid.y[row]])
