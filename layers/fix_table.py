"""Positions of vessels as a file gives them: who, when and where."""

from __future__ import annotations

import geopandas as gpd

from layers.column import times
from layers.fault import Fault
from layers.site import FileEntry, Site
from layers.table import has_columns
from layers.vector import read_features


def read_fixes(entry: FileEntry, site: Site, faults: list[Fault], remarks: list[str]) -> gpd.GeoDataFrame | None:
    """Columns vessel (text), time (datetime64) and geometry (Point in the grid's CRS); None if a fault was found."""
    before = len(faults)
    table = read_features(entry, site, faults, kinds=frozenset({"Point"}), remarks=remarks)
    if table is None or not has_columns(table, {"vessel": entry.vessel, "time": entry.time}, entry, faults):
        return None
    moments = times(table, entry.time, entry, faults)
    vessels = table[entry.vessel].astype(str).to_numpy()
    if len(faults) > before:
        return None
    return gpd.GeoDataFrame({"vessel": vessels, "time": moments}, geometry=table.geometry, crs=table.crs)
