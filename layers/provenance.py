"""What a layer carries along of where it came from: files, sources, licences, credits, dates."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from typing import TYPE_CHECKING

import numpy as np
import xarray as xr

if TYPE_CHECKING:
    from layers.site import FileEntry

CARRIED = ("files", "source", "licence", "credit", "date", "method")


def provenance(entries: Iterable[FileEntry]) -> dict[str, str]:
    """The attributes of a layer made from `entries`."""
    entries = list(entries)
    return {
        "files": joined(entry.path.name for entry in entries),
        "source": joined(entry.source for entry in entries),
        "licence": joined(entry.licence for entry in entries),
        "credit": joined(entry.credit for entry in entries),
        "date": joined(entry.date for entry in entries),
    }


def joined(words: Iterable[str | None]) -> str:
    """Different words in order, parted by semicolons.

    Examples
    --------
    >>> joined(["survey", None, "survey", "chart"])
    'survey; chart'
    """
    return "; ".join(dict.fromkeys(word for word in words if word))


def stacked(parts: Mapping[str, xr.DataArray | None]) -> xr.DataArray:
    """Layers of single seasons as one layer with a season dimension; a season without a layer is no data."""
    present = [layer for layer in parts.values() if layer is not None]
    filled = [xr.full_like(present[0], np.nan) if layer is None else layer for layer in parts.values()]
    whole = xr.concat(filled, dim="season", join="exact", combine_attrs="override", coords="minimal", compat="override")
    whole = whole.assign_coords(season=list(parts))
    carried = {key: joined(layer.attrs.get(key) for layer in present) for key in CARRIED}
    carried["method"] = _methods(
        {name: layer.attrs.get("method") for name, layer in parts.items() if layer is not None}
    )
    whole.attrs = {**present[0].attrs, **carried}
    whole.encoding["grid_mapping"] = "spatial_ref"
    return whole


def _methods(of_season: Mapping[str, str | None]) -> str:
    """One method for all seasons, or each with its season."""
    if len(set(of_season.values())) == 1:
        return next(iter(of_season.values())) or ""
    return "; ".join(f"{season}: {method}" for season, method in of_season.items())


def shortened(listed: str) -> str:
    """The first three of what semicolons part, and how many more there are.

    Examples
    --------
    >>> shortened("a; b"), shortened("a; b; c; d; e")
    ('a; b', 'a; b; c; and 2 more')
    """
    parts = listed.split("; ")
    return "; ".join(parts[:3]) + (f"; and {len(parts) - 3} more" if len(parts) > 3 else "")
