"""What lies about a feature of a proposal: the shapes a distance is measured to, and where nobody knows."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
import shapely

from habitat.conditions_schema import GOOD_HABITAT, ZONE
from habitat.result import SUITABILITY_CLASSES
from layers.grid import Grid
from layers.quantity import LAND

if TYPE_CHECKING:
    import xarray as xr

    from habitat.site_map import SiteMap

_COVERS = ("seagrass", "mangrove")  # a share of 0 in one of these is ground without it


@dataclass(frozen=True, kw_only=True)
class Ground:
    """What is there, and where it may be for all anyone knows; arrays of shapes in the grid's projection."""

    there: np.ndarray
    unknown: np.ndarray


def ground_of(what: str, shape: shapely.Geometry, within: float, site_map: SiteMap) -> Ground | None:
    """All of `what` that matters within a distance of `shape`; None where the site has nothing on file about it.

    Parameters
    ----------
    what : str
        A feed, `GOOD_HABITAT`, or "zone " and the name of one.
    within : float
        Cells are looked at so far; shapes on file however far they are. [m]
    """
    if what == GOOD_HABITAT:
        return _good_habitat(shape, within, site_map)
    zone = what.removeprefix(ZONE).strip() if what.startswith(ZONE) else None
    inputs = site_map.inputs
    entries = inputs.having("zone" if zone else what)
    there, unknown, is_on_file = [], [], False
    for entry in entries:
        if entry.name in inputs.rasters:
            cover = inputs.rasters[entry.name].to_numpy()
            water = site_map.layers["surface"].to_numpy() != LAND
            there += _cells(cover > 0, shape, within, inputs.site.grid)
            unknown += _cells(np.isnan(cover) & water, shape, within, inputs.site.grid)
            is_on_file = True
            continue
        table = inputs.features[entry.name]
        if zone is not None:
            table = table[table[entry.column].astype(str) == zone]
            is_on_file |= len(table) > 0
        else:
            is_on_file = True
            if what in _COVERS and "value" in table:
                table = table[table["value"] > 0]
        there += [part for part in table.geometry if part is not None and not part.is_empty]
    return Ground(there=np.array(there, object), unknown=np.array(unknown, object)) if is_on_file else None


def layer_of(site_map: SiteMap, name: str) -> xr.DataArray | None:
    """A layer of the site, made now if nobody asked for it before; None where its files cannot give it."""
    return site_map.layers[name] if name in site_map.layers else site_map.derivation.layer(name)


def cells_touched(shape: shapely.Geometry, grid: Grid) -> np.ndarray:
    """(y, x) cells that a shape touches."""
    from rasterio.features import rasterize

    form = {"out_shape": grid.shape, "transform": grid.transform, "fill": 0, "dtype": "uint8", "all_touched": True}
    return rasterize([shape], **form).astype(bool)


def _good_habitat(shape: shapely.Geometry, within: float, site_map: SiteMap) -> Ground:
    """Good habitat of any season, and water that has no score in some season and is good in none."""
    codes = site_map.assessment["suitability_class"]
    water = site_map.layers["surface"].to_numpy() != LAND
    best, good = SUITABILITY_CLASSES.index("good habitat"), codes.to_numpy().reshape(-1, *water.shape)
    is_good = (good == best).any(axis=0)
    grid = site_map.inputs.site.grid
    doubtful = (good == 0).any(axis=0) & water & ~is_good
    there, unknown = (_cells(mask, shape, within, grid) for mask in (is_good, doubtful))
    return Ground(there=np.array(there, object), unknown=np.array(unknown, object))


def _cells(mask: np.ndarray, shape: shapely.Geometry, within: float, grid: Grid) -> list[shapely.Geometry]:
    """Outlines of the cells of a mask near a shape."""
    from rasterio.features import shapes

    west, south, east, north = shape.bounds
    (left, top), (right, bottom) = (
        ~grid.transform * (west - within, north + within),
        ~grid.transform
        * (
            east + within,
            south - within,
        ),
    )
    rows, columns = (
        slice(int(np.clip(np.floor(low), 0, size)), int(np.clip(np.ceil(high), 0, size)))
        for low, high, size in ((top, bottom, grid.shape[0]), (left, right, grid.shape[1]))
    )
    part = np.ascontiguousarray(mask[rows, columns])
    if not part.any():
        return []
    transform = grid.window(rows, columns).transform
    outlines = shapes(part.astype(np.uint8), mask=part, connectivity=4, transform=transform)
    return [shapely.geometry.shape(outline) for outline, _ in outlines]
