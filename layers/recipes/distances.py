"""Recipes of distances, of covers, and of open water to windward."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
import xarray as xr

from layers import quantity as q
from layers.derivation import Derivation
from layers.feeds import FEEDS
from layers.provenance import joined
from layers.quantity import Quantity
from layers.recipes.works import cover_after_works, shapes_after_works
from layers.site import FileEntry

Maker = Callable[[Derivation], xr.DataArray | None]


def straight(feeds: str, quantity: Quantity) -> Maker:
    """Maker of a straight distance."""

    def make(made: Derivation) -> xr.DataArray | None:
        from layers.distance import straight_distance

        def of_season(entries: tuple[FileEntry, ...], season: str | None) -> xr.DataArray:
            reach = made.reach(quantity.name)
            shapes = made.geometries(entries)
            works = made.entries(f"{feeds}_change") if f"{feeds}_change" in FEEDS else ()
            if works:
                left = shapes_after_works(made, f"{feeds}_change", shapes.union_all())
                shapes = shapes.iloc[:0] if left.is_empty else type(shapes)([left], crs=shapes.crs)
            values = made.on_water(straight_distance(shapes, made.grid, reach))
            method = f"straight from the cell's centre to the nearest edge, up to {reach:g} m"
            return made.label(values, quantity, entries + works, method, reach=f"{reach:g}")

        return made.by_season(feeds, of_season)

    return make


def through_water(feeds: str, quantity: Quantity) -> Maker:
    """Maker of a distance that land bars."""

    def make(made: Derivation) -> xr.DataArray | None:
        from layers.distance import through_water_distance

        def of_season(entries: tuple[FileEntry, ...], season: str | None) -> xr.DataArray:
            reach = made.reach(quantity.name)
            values = through_water_distance(made.geometries(entries), made.is_swum, made.grid, reach)
            method = f"shortest way through the water from the cell's centre, up to {reach:g} m"
            return made.label(values, quantity, entries, method, reach=f"{reach:g}")

        return made.by_season(feeds, of_season)

    return make


def cover(feeds: str, quantity: Quantity) -> Maker:
    """Maker of a share of each cell, from polygons or a raster."""

    def of_entries(made: Derivation, entries: tuple[FileEntry, ...]) -> xr.DataArray:
        from layers.alignment import cover_fraction

        if entries[0].is_raster:
            raster = made.inputs.rasters[entries[0].name]
            return made.label(raster.to_numpy(), quantity, entries, raster.attrs["method"])
        table = made.inputs.features[entries[0].name]
        shares = table["value"] if "value" in table else None
        method = "exact share of each cell inside the polygons, 0 where none lies" + (
            " times their cover" if "value" in table else ""
        )
        return made.label(cover_fraction(table.geometry, made.grid, shares), quantity, entries, method)

    def make(made: Derivation) -> xr.DataArray | None:
        layer = made.by_season(feeds, lambda entries, season: of_entries(made, entries))
        works = made.entries(f"{feeds}_change")
        if layer is None and works:  # planted where nothing was mapped
            layer = made.label(np.full(made.grid.shape, np.nan), quantity, works, "nothing was mapped before")
        if layer is not None and works:
            layer.values = cover_after_works(made, f"{feeds}_change", layer.values).astype(np.float32)
            layer.attrs["method"] += "; cleared and planted by works"
            layer.attrs["files"] = joined([layer.attrs["files"], *(entry.path.name for entry in works)])
        if layer is not None:
            # beyond the polygons the survey found none; on land there is nothing to graze
            layer.values = np.where(made.is_swum, layer.values, np.nan)
        return layer

    return make


def fetch(made: Derivation) -> xr.DataArray | None:
    """Open water to windward."""
    from layers.shelter import fetch

    reach = made.reach("fetch")
    winds = made.entries("wind")
    shares = None
    if winds:
        table = made.inputs.tables[winds[0].name]
        shares = dict(zip(table["direction"], table["share"], strict=True))
    values = made.on_water(fetch(~made.is_swum, made.grid, reach, shares))
    decider = next(entry for entry in made.site.files if entry.name == made.site.decided_by)
    method = (
        f"open water up to {reach:g} m in each of {len(shares) if shares else 16} directions, mean weighted by "
        f"{'the share of the wind' if shares else 'nothing: every direction counts the same'}; water beyond the "
        "grid counts as open"
    )
    return made.label(values, q.FETCH, (decider, *winds), method, reach=f"{reach:g}")
