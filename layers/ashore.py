"""Points that should be in the water and are nowhere near it: told before anything is carried from them."""

from __future__ import annotations

import numpy as np

from layers.fault import Fault, LayerError
from layers.inputs import Inputs
from layers.site import Site
from layers.source import is_table
from layers.starts import SNAP_CELLS, start_at

# feeds whose points are followed through the water
_CARRIED = (
    "salinity",
    "conductivity",
    "specific_conductance",
    "water_temperature",
    "chlorophyll",
    "suspended_solids",
    "secchi_depth",
    "nitrogen_load",
    "phosphorus_load",
    "sediment_load",
    "catchment_outlet",
)


def shore_distance(site: Site) -> float:
    """How far from the water a station or an outlet may lie: `ashore` of the site file, else three cells. [m]"""
    return site.reach.get("ashore", SNAP_CELLS * site.grid.cell)


def require_points_near_water(inputs: Inputs, is_swum: np.ndarray) -> None:
    """Pass a site whose stations and outlets lie in the water or beside it.

    Parameters
    ----------
    is_swum : (M, N) bool
        Where there is water at some stage of the tide.

    Raises
    ------
    LayerError
        With a fault for each file that has points far from all water.
    """
    grid = inputs.site.grid
    within = shore_distance(inputs.site)
    faults = []
    for entry in (entry for feeds in _CARRIED for entry in inputs.having(feeds) if not entry.is_raster):
        places = inputs.features[entry.name].geometry
        places = places[~places.duplicated()]
        dry = [row for row, at in places.items() if start_at(at.x, at.y, is_swum, grid, within) is None]
        if not dry:
            continue
        noun = "row" if is_table(entry.path) else "feature"
        others = f", nor of {len(dry) - 1:,} others" if len(dry) > 2 else ", nor of one other" if len(dry) == 2 else ""
        faults.append(
            Fault(
                f"{entry.path.name}, {noun} {dry[0]}",
                f"no water lies within {within:g} m of the point{others}.",
                "Correct the coordinates, move the point to the water it belongs to, or leave it out.",
            )
        )
    if faults:
        raise LayerError(inputs.site.path.name, faults)
