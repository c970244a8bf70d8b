"""Drafts of vessels as a file of routes states them, looked at when it is read."""

from __future__ import annotations

import geopandas as gpd
import numpy as np

from layers.column import numbers
from layers.fault import Fault
from layers.site import FileEntry
from layers.table import has_columns

DEEPEST = 30.0  # m: no ship draws more


def check_drafts(routes: gpd.GeoDataFrame, entry: FileEntry, faults: list[Fault]) -> None:
    """Add a fault where the column of drafts [m] is missing, or holds what no vessel draws."""
    if not has_columns(routes, {"draft": entry.draft}, entry, faults):
        return
    drafts = numbers(routes, entry.draft, entry, faults)
    wrong = np.flatnonzero(~np.isnan(drafts) & ~((drafts >= 0) & (drafts <= DEEPEST)))
    if len(wrong):
        faults.append(
            Fault(
                f"{entry.path.name}, feature {routes.index[wrong[0]]}, column {entry.draft}",
                f"the draft is {drafts[wrong[0]]:g}.",
                f"Drafts are in metres, from 0 to {DEEPEST:g}.",
            )
        )
