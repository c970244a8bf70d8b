"""Positions of vessels as a file gives them: who, when and where."""

from __future__ import annotations

import geopandas as gpd

from layers.column import faulty_rows, times
from layers.fault import Fault
from layers.site import FileEntry, Site
from layers.source import is_table
from layers.table import has_columns
from layers.vector import read_features


def read_fixes(entry: FileEntry, site: Site, faults: list[Fault], remarks: list[str]) -> gpd.GeoDataFrame | None:
    """Columns vessel (text), time (datetime64) and geometry (Point in the grid's CRS); None if a fault was found."""
    before = len(faults)
    table = read_features(entry, site, faults, kinds=frozenset({"Point"}), remarks=remarks)
    if table is None or not has_columns(table, {"vessel": entry.vessel, "time": entry.time}, entry, faults):
        return None
    moments = times(table, entry.time, entry, faults)
    vessels = table[entry.vessel].astype(object).where(table[entry.vessel].notna(), "").astype(str).str.strip()
    noun = "row" if is_table(entry.path) else "feature"
    nameless = (vessels == "").to_numpy()
    faulty_rows(table, entry.vessel, nameless, "name no vessel", "Name it, or remove it.", entry, faults, noun=noun)
    if len(faults) > before:
        return None
    return gpd.GeoDataFrame(
        {"vessel": vessels.to_numpy(), "time": moments}, index=table.index, geometry=table.geometry, crs=table.crs
    )
