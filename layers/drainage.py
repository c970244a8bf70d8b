"""Where rain runs off the land: down a terrain model, cell by cell, to outlets on the shore.

Every cell drains to one of its eight neighbours. What reaches the water counts to an outlet; what reaches the edge of
the terrain first is lost to it, and said so: a terrain model that ends short of the divide gives too little.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy import ndimage

from layers.grid import Grid
from layers.shore_outlets import joined_outlets

LEAST_AREA = 50.0  # ground of the smallest outlet by default; our choice [ha]
NO_OUTLET = -1
ENDS = 0  # direction of a cell from which water leaves over the edge of the terrain
OUTSIDE = 247  # direction where there is no terrain, or water
# row, column, code of the direction; straight steps first, so that they win a tie
_STEPS = ((0, 1, 1), (1, 0, 4), (0, -1, 16), (-1, 0, 64), (1, 1, 2), (1, -1, 8), (-1, -1, 32), (-1, 1, 128))
# heights are rounded to 1/512 m, of which single precision adds and subtracts up to 16 km without an error:
# filled ground is then level to the bit, and no two cells drain into each other
_HEIGHT_STEP, _HIGHEST = 1 / 512, 16_000.0


@dataclass(frozen=True, kw_only=True, eq=False)
class Drainage:
    """How a terrain drains. Arrays are (M, N) on `grid`; outlets come largest first."""

    grid: Grid
    filled: np.ndarray  # elevation with hollows filled to their brim, NaN outside and in water [m]
    direction: np.ndarray  # uint8: 1 east, 2 south-east, 4 south ... 128 north-east; 0 ends here, 247 outside
    upstream_area: np.ndarray  # ground that drains through a cell, itself included, NaN outside and in water [m2]
    outlet_of: np.ndarray  # int32 index of the outlet, -1 where water leaves over the edge, outside, and in water
    outlets_xy: np.ndarray  # (n, 2) centres of the first water cell each outlet runs into [m]
    areas: np.ndarray  # (n,) ground of each outlet [m2]

    @property
    def lost_area(self) -> float:
        """Ground from which water leaves over the edge of the terrain. [m2]"""
        return float(np.sum((self.direction != OUTSIDE) & (self.outlet_of == NO_OUTLET)) * self.grid.cell**2)


def drainage(terrain: np.ndarray, grid: Grid, water: np.ndarray, *, least_area: float = LEAST_AREA) -> Drainage:
    """Flow directions, upstream areas and outlets on the shore of a terrain model.

    Parameters
    ----------
    terrain : (M, N) float
        Elevation, positive up, NaN outside. Of what lies under water nothing is used. [m]
    grid : Grid
        Of the catchment: its own extent and cell, the CRS of the site.
    water : (M, N) bool
        True where the flow ends: the water of the site. A lake upstream is terrain.
    least_area : float
        Outlets with less ground are joined to their neighbours along the shore, see `joined_outlets`. [ha]

    Raises
    ------
    ValueError
        If the arrays do not have the shape of the grid, no terrain is known, a height is infinite or beyond
        16 000 m, no land lies beside water, or the least area is below 0.

    Notes
    -----
    Hollows are filled from the water and the edges inwards, lowest cell first. A cell drains to the neighbour with
    the steepest fall, fall over distance, diagonals being longer; a cell beside water drains into it; on level ground
    it drains the way the filling came. Heights are rounded to 2 mm. Flow does not part: fans and braids are not in it.

    References
    ----------
    Wang and Liu (2006), International Journal of Geographical Information Science 20, 193-213, is the filling as the
    library `pyflwdir` cites and does it; the steepest fall of eight is O'Callaghan and Mark (1984), from memory.
    """
    import pyflwdir

    ground, water = _checked(terrain, grid, water, least_area)
    land = np.isfinite(ground) & ~water
    filled, flooded = _filled(ground, land, water)
    direction = _steepest(filled, flooded, land, water)
    routed = pyflwdir.from_array(direction, ftype="d8", check_ftype=False)
    upstream = routed.accuflux(land.astype(np.float64)) * grid.cell**2
    ends = np.asarray(routed.idxs_pit, np.int64)
    end_of = np.asarray(routed.basins(), np.int64) - 1  # index in `ends`
    place, xy, areas = _outlets(ends, direction, upstream, grid, least_area)
    outlet_of = np.full(grid.shape, NO_OUTLET, np.int32)
    outlet_of[land] = place[end_of[land]]
    return Drainage(
        grid=grid,
        filled=np.where(land, filled, np.nan).astype(np.float32),
        direction=direction,
        upstream_area=np.where(land, upstream, np.nan),
        outlet_of=outlet_of,
        outlets_xy=xy,
        areas=areas,
    )


def _checked(terrain, grid: Grid, water, least_area: float) -> tuple[np.ndarray, np.ndarray]:
    ground, water = np.asarray(terrain, np.float64), np.asarray(water, bool)
    for name, array in (("terrain", ground), ("water", water)):
        if array.shape != grid.shape:
            raise ValueError(f"{name}: found an array of {array.shape}. The grid of the catchment has {grid.shape}.")
    if not least_area >= 0:
        raise ValueError(f"least_area: found {least_area:g} ha. It must be 0 ha or more.")
    land = ~np.isnan(ground) & ~water
    if not land.any():
        raise ValueError("terrain: there is no land in it. Give elevations where `water` is False.")
    highest = np.abs(ground[land]).max()
    if not highest <= _HIGHEST:
        raise ValueError(
            f"terrain: found a height of {highest:g} m. Heights lie within {_HIGHEST:g} m: declare the value for no "
            "data, or change the unit to metres."
        )
    if not (ndimage.binary_dilation(water, np.ones((3, 3))) & land).any():
        raise ValueError("water: none lies beside the terrain, so nothing can drain into it. Check grid and extent.")
    return ground, water


def _filled(ground: np.ndarray, land: np.ndarray, water: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    from pyflwdir.dem import fill_depressions

    every = np.ones((3, 3))
    shore = ndimage.binary_dilation(land, every) & water
    edge = land & ~ndimage.binary_erosion(land | water, every)  # beside no data, or at the rim of the raster
    heights = np.where(land, np.round(ground / _HEIGHT_STEP) * _HEIGHT_STEP, np.nan)
    heights[shore] = np.nanmin(heights) - 1
    starts = np.flatnonzero(shore | edge)
    return fill_depressions(heights.astype(np.float32), nodata=np.nan, idxs_pit=starts)


def _steepest(filled: np.ndarray, flooded: np.ndarray, land: np.ndarray, water: np.ndarray) -> np.ndarray:
    rows, columns = filled.shape
    heights = np.pad(filled, 1, constant_values=np.nan)
    is_water = np.pad(water, 1)
    direction = np.where(land, flooded, np.uint8(OUTSIDE)).astype(np.uint8)
    best = np.zeros(filled.shape)
    for down, across, code in _STEPS:
        window = np.s_[1 + down : 1 + down + rows, 1 + across : 1 + across + columns]
        fall = (filled - heights[window]) / np.hypot(down, across)
        fall[is_water[window]] = np.inf
        steeper = land & (fall > best)  # never where a height is not known
        best[steeper], direction[steeper] = fall[steeper], code
    return direction


def _outlets(ends, direction, upstream, grid: Grid, least_area: float) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """The outlet of each end of flow, -1 at the edge; the places and areas of outlets, largest first."""
    code = direction.flat[ends]
    wet = np.flatnonzero(code != ENDS)
    cells = np.column_stack(np.unravel_index(ends[wet], grid.shape))
    ground = upstream.flat[ends[wet]]
    joined = joined_outlets(cells, ground, least_area * 10_000)
    areas = np.bincount(joined, ground, len(wet))
    order = np.unique(joined)
    order = order[np.lexsort((order, -areas[order]))]
    number = np.empty(len(wet), np.int64)
    number[order] = np.arange(len(order))
    place = np.full(len(ends), NO_OUTLET, np.int64)
    place[wet] = number[joined]
    steps = {code: (down, across) for down, across, code in _STEPS}
    into = cells[order] + np.array([steps[int(one)] for one in code[wet][order]])
    return place, np.column_stack([grid.x[into[:, 1]], grid.y[into[:, 0]]]), areas[order]
