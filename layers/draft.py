"""Drafts of vessels as a file of routes states them, looked at when it is read."""

from __future__ import annotations

import geopandas as gpd
import numpy as np
import pandas as pd

from layers.column import faulty_rows
from layers.fault import Fault
from layers.site import FileEntry
from layers.table import has_columns

DEEPEST = 30.0  # m: no ship draws more


def check_drafts(routes: gpd.GeoDataFrame, entry: FileEntry, faults: list[Fault]) -> None:
    """Add a fault where the column of drafts [m] is missing, or holds what no vessel draws."""
    there = routes.drop(columns="value", errors="ignore") if entry.draft != "value" else routes
    if not has_columns(there, {"draft": entry.draft}, entry, faults):
        return
    drafts = pd.to_numeric(routes[entry.draft], errors="coerce").to_numpy(float)
    missing = routes[entry.draft].isna().to_numpy()
    for those, found, remedy in (
        (missing, "have no value", "Fill it in: write 0 for a vessel that hardly draws water."),
        (np.isnan(drafts) & ~missing, "hold text that is not a number", "Write a number."),
    ):
        faulty_rows(routes, entry.draft, those, found, remedy, entry, faults, noun="feature")
    wrong = np.flatnonzero(~np.isnan(drafts) & ~((drafts >= 0) & (drafts <= DEEPEST)))
    if len(wrong):
        faults.append(
            Fault(
                f"{entry.path.name}, feature {routes.index[wrong[0]]}, column {entry.draft}",
                f"the draft is {drafts[wrong[0]]:g}.",
                f"Drafts are in metres, from 0 to {DEEPEST:g}.",
            )
        )
