"""What a stranger learns of the animals from class maps alone: told to who publishes, and never published."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from habitat.result import SUITABILITY_CLASSES

if TYPE_CHECKING:
    import geopandas as gpd
    import xarray as xr


def learned_from_classes(classes: xr.DataArray, seen: gpd.GeoDataFrame | None) -> str:
    """How much the map of habitat narrows a search for the animals, in a sentence; "" where there is nothing to tell.

    Parameters
    ----------
    classes : DataArray
        `suitability_class` as it is published; of the seasons the one that tells most counts.
    seen : GeoDataFrame of points, optional
        Sightings; where a column `seen` says that nobody was, the record does not count.
    """
    from layers.grid import Grid

    if seen is None or seen.empty:
        return ""
    grid = Grid.of(classes)
    there = seen[seen["seen"].astype(bool)] if "seen" in seen else seen
    points = there[~(there.geometry.isna() | there.geometry.is_empty)].to_crs(grid.crs).geometry
    cells = [cell for cell in (grid.cell_at(x, y) for x, y in zip(points.x, points.y, strict=True)) if cell is not None]
    if not cells:
        return ""
    rows, columns = np.array(cells).T
    best = len(SUITABILITY_CLASSES) - 1
    told = []
    for codes in classes.to_numpy().reshape(-1, *classes.shape[-2:]):
        known = int((codes > 0).sum())
        if known:
            told.append((float((codes[rows, columns] == best).mean()), float((codes == best).sum()) / known))
    if not told:
        return ""
    held, wide = max(told, key=lambda pair: pair[0] - pair[1])
    return (
        f"A stranger learns where to look: {held:.0%} of the sightings lie in {SUITABILITY_CLASSES[best]}, which is "
        f"{wide:.0%} of the water that is scored. If that is too much, publish with wider cells (--cell) or nothing."
    )
