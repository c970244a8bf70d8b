"""The land that drains to a site, on its own grid: its cover, what each hectare yields, and the outlets."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

import holoviews as hv
import numpy as np
import pandas as pd
import xarray as xr

from habitat.colours import INK, PAGE, Scale, class_colours, scale_of
from habitat.view import maps
from layers.grid import Grid
from layers.quantity import Quantity
from layers.shore import cells_outlined

if TYPE_CHECKING:
    import geopandas as gpd

    from layers.cover_table import Cover
    from layers.derivation import Derivation

# axes of their own: zooming on land leaves the maps of the water alone
AXES = hv.Dimension("easting on land", unit="m"), hv.Dimension("northing on land", unit="m")
YIELD = Quantity(
    name="nitrogen_yield", label="nitrogen that a hectare sends off in a year", units="kg/ha/year", plausible=(0, 100)
)
# the medians published for rural land lie below its end
YIELD_SCALE = Scale(name="load", colours=scale_of("nitrogen_concentration").colours, low=0, high=15)
WATER = class_colours("surface")[3]
CIRCLE = class_colours("limiting_factor", 12)[1]
CIRCLE_ALPHA = 0.45
# codes of the palette without an order: for each kind of cover that the published table of loads knows, then in turn;
# blues last, for they read as water
_OF_KIND = {
    "forest": (10, 5, 9),
    "pasture": (7,),
    "row crops": (4, 2, 11),
    "other crops": (11, 12),
    "mixed agriculture": (4, 11),
    "urban": (6, 1),
}
_IN_TURN = (10, 4, 7, 6, 2, 5, 1, 11, 9, 12, 3, 8)
LARGEST = 44  # diameter of the circle of the largest load [px]


# without a printed form: the drawing library asks for it again and again, and it would print every layer
@dataclass(frozen=True, kw_only=True, eq=False, repr=False)
class Land:
    """A catchment as it is drawn."""

    grid: Grid
    cover: xr.DataArray  # codes 1, 2, ... of the covers that occur, 0 is no data
    colours: dict[int, str]
    hectares: dict[str, float]  # of each cover within the ground that drains to the outlets
    nitrogen: xr.DataArray | None  # median yield of a year [kg/ha/year]
    drained: gpd.GeoSeries  # the ground that drains to the outlets
    water: gpd.GeoSeries  # the water of the site
    season_factor: dict[str, float]  # rate of the runoff in a season over that in the year [1]
    outlets: int


def land_of(made: Derivation) -> Land | None:
    """The catchment of a site; None for a site without one.

    Raises
    ------
    LayerError
        If its files do not fit together.
    """
    from layers.recipes.loads import catchment_result

    found = catchment_result(made)
    if found is None:
        return None
    grid = found.catchment.grid
    share = np.asarray(found.catchment.cells.sum(axis=0)).reshape(grid.shape)
    codes = np.nan_to_num(np.asarray(found.land_cover, np.float64), nan=-1).astype(np.int64)
    present = [cover for cover in found.covers.covers if (codes == cover.code).any()]
    drawn = np.zeros(grid.shape, np.uint8)
    for number, cover in enumerate(present, start=1):
        drawn[codes == cover.code] = number
    hectares = {
        cover.label: float(share[drawn == number].sum() * grid.cell_hectares)
        for number, cover in enumerate(present, start=1)
    }
    labels = ("no data", *(cover.label for cover in present))
    quantity = Quantity(
        name="land_cover", label="land cover", units="1", plausible=(0, len(present)), categories=labels
    )
    per_hectare = found.load.per_hectare.get("nitrogen")
    return Land(
        grid=grid,
        cover=grid.label(drawn, quantity),
        colours=cover_colours(present),
        hectares=dict(sorted(hectares.items(), key=lambda pair: -pair[1])),
        nitrogen=None if per_hectare is None else grid.label(np.asarray(per_hectare, np.float32), YIELD),
        drained=cells_outlined(share > 0.5, grid),
        water=cells_outlined(made.is_swum, made.grid),
        season_factor=dict(found.load.season_factor),
        outlets=len(found.catchment.names),
    )


def cover_colours(covers: Sequence[Cover]) -> dict[int, str]:
    """A colour for each cover, numbered from 1: of the palette without an order, green for what reads as forest.

    What has no published kind, or shares one with too many others, takes the next colour that is left.
    """
    palette, left = class_colours("limiting_factor", len(_IN_TURN)), list(_IN_TURN)
    chosen = {}
    for number, cover in enumerate(covers, start=1):
        liked = [code for code in _OF_KIND.get(cover.export_cover or "", ()) if code in left]
        code = (liked or left or list(_IN_TURN))[0]
        chosen[number] = palette[code]
        if code in left:
            left.remove(code)
    return chosen


def cover_map(land: Land, x_range=None, y_range=None) -> hv.Image:
    """Picture of the land cover."""
    return maps.class_map(land.cover, x_range, y_range, colours=land.colours, axes=AXES)


def yield_map(land: Land, x_range=None, y_range=None) -> hv.Image:
    """Picture of the nitrogen that each hectare sends off in a year."""
    return maps.score_map(land.nitrogen, x_range, y_range, scale=YIELD_SCALE, axes=AXES)


def waters(land: Land) -> hv.Polygons:
    """The water of the site, cut to the catchment's grid."""
    return maps.shapes_within(land.water, land.grid, AXES).opts(
        color=WATER, line_color=INK, line_width=0.5, line_alpha=0.5, apply_ranges=False
    )


def divide(land: Land) -> hv.Contours:
    """The border of the ground that drains to the outlets."""
    return maps.outlines(land.drained, land.grid, AXES).opts(line_width=0.8)


def circles(
    outlets: pd.DataFrame, largest: float, axes: tuple = (maps.EAST, maps.NORTH), *, by_load: bool = True
) -> hv.Points:
    """Outlets where they are: circles whose area is the load, or plain dots.

    Parameters
    ----------
    outlets : DataFrame
        Columns x, y [m], tonnes [t/year] and name.
    largest : float
        Load of the largest circle, the same in every season. [t/year]
    """
    shown = outlets.sort_values("tonnes", ascending=False)
    size = diameter(shown["tonnes"].to_numpy(), largest) if by_load else np.full(len(shown), 7.0)
    rows = (shown["x"], shown["y"], shown["name"], shown["tonnes"], size)
    points = hv.Points(rows, list(axes), ["outlet", "load", "diameter"])
    return points.opts(
        size="diameter",
        color=CIRCLE if by_load else INK,
        fill_alpha=CIRCLE_ALPHA if by_load else 1,
        line_color=INK if by_load else PAGE,
        line_width=1.1,
        apply_ranges=False,
    )


def diameter(tonnes: np.ndarray | float, largest: float) -> np.ndarray | float:
    """Diameter of the circle of a load. [px]

    Examples
    --------
    >>> float(diameter(25.0, 100.0))
    22.0
    """
    return LARGEST * np.sqrt(np.asarray(tonnes) / largest) if largest > 0 else np.zeros_like(np.asarray(tonnes))
