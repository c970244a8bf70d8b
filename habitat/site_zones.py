"""The zones of a site, from all files that hold some."""

from __future__ import annotations

from typing import TYPE_CHECKING

import geopandas as gpd
import pandas as pd

if TYPE_CHECKING:
    from habitat.site_map import SiteMap


def site_zones(found: SiteMap) -> gpd.GeoDataFrame | None:
    """Polygons of all zones of the site with a column `name`, or None where it has no zones."""
    parts = []
    for entry in found.inputs.having("zone"):
        table = found.inputs.features[entry.name]
        parts.append(gpd.GeoDataFrame({"name": table[entry.column].astype(str)}, geometry=table.geometry))
    return pd.concat(parts, ignore_index=True) if parts else None
