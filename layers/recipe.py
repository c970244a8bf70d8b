"""Which function makes which layer from which files: the one place where derivations are put in order.

A layer is made when somebody asks for it, once, together with what it shares with others; what nobody asks
for is not computed, and what the site's files cannot give is absent from the result rather than filled in.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
import xarray as xr

from layers import quantity as q
from layers.derivation import Derivation, Settings
from layers.inputs import Inputs
from layers.provenance import stacked
from layers.quantity import Quantity
from layers.site import FileEntry
from layers.step import OnStep, Step, ignore


def build_layers(inputs: Inputs, settings: Settings, *, on_step: OnStep = ignore) -> xr.Dataset:
    """The wanted layers that the site's files can give, on its grid, with `surface` always among them.

    Returns
    -------
    Dataset
        float32 layers with dimensions (y, x), or (season, y, x) where a file has seasons. A wanted layer
        that no file feeds is absent.

    Raises
    ------
    LayerError
        If the site has no water, or stations or outlets far from it.
    """
    from layers.ashore import require_points_near_water

    order = [
        name
        for name, recipe in RECIPES.items()
        if name == "surface" or (name in settings.wanted and (not recipe.feeds or inputs.having(recipe.feeds)))
    ]
    derivation = Derivation(inputs, settings)
    made: dict[str, xr.DataArray] = {}
    for number, name in enumerate(order, start=1):
        on_step(Step(number, len(order), f"making {q.LAYERS[name].label}"))
        layer = RECIPES[name].make(derivation)
        if name == "surface":
            require_points_near_water(inputs, derivation.is_swum)
        if layer is not None:
            made[name] = layer
    layers = xr.Dataset(made)
    layers.attrs = {"title": inputs.site.title, "invented": str(inputs.site.invented).lower()}
    return layers


def _water_depth(made: Derivation) -> xr.DataArray | None:
    from layers.water import water_depth

    def of_season(season: str | None) -> xr.DataArray:
        levels = made.levels(season)
        mean, said = (levels.mean, levels.method) if levels else (0.0, "the datum itself, for want of a tide")
        depth = made.on_water(water_depth(made.bed.to_numpy(), mean))
        method = f"mean water level {mean:+.2f} m above the datum, from {said}, less the bed"
        return made.label(depth, q.WATER_DEPTH, made.bed_entries + (levels.entries if levels else ()), method)

    return None if made.bed is None else _by_level_season(made, of_season)


def _wet_time(made: Derivation) -> xr.DataArray | None:
    from layers.water import share_of_time_wet

    return _time_share(made, q.WET_TIME, share_of_time_wet, "share of {} that lie above the bed")


def _feeding_time(made: Derivation) -> xr.DataArray | None:
    from layers.water import share_of_time_within

    if made.settings.feeding_depth is None:
        return None
    shallowest, deepest = made.settings.feeding_depth

    def share(bed, levels):
        return share_of_time_within(bed, levels, shallowest, deepest)

    said = f"share of {{}} at which the depth is {shallowest:g} to {deepest:g} m"
    return _time_share(made, q.FEEDING_TIME, share, said)


def _time_share(made: Derivation, quantity: Quantity, share: Callable, said: str) -> xr.DataArray | None:
    if made.bed is None or (made.levels(None) is None and not _level_seasons(made)):
        return None

    def of_season(season: str | None) -> xr.DataArray:
        levels = made.levels(season)
        values = made.on_water(share(made.bed.to_numpy(), levels.levels))
        return made.label(values, quantity, made.bed_entries + levels.entries, said.format(levels.method))

    return _by_level_season(made, of_season)


def _level_seasons(made: Derivation) -> bool:
    return any(entry.season for feeds in ("water_level", "tide") for entry in made.entries(feeds))


def _by_level_season(made: Derivation, of_season: Callable[[str | None], xr.DataArray]) -> xr.DataArray:
    if not _level_seasons(made):
        return of_season(None)
    return stacked({season: of_season(season) for season in made.site.seasons})


def _field(quantity: Quantity) -> Callable[[Derivation], xr.DataArray | None]:
    """Maker of a field that comes as a raster or is carried from stations through the water."""

    def make(made: Derivation) -> xr.DataArray | None:
        entries = made.entries(quantity.name)
        if entries and not entries[0].is_raster:
            return _from_stations(made, entries, quantity)

        def of_season(chosen: tuple[FileEntry, ...], season: str | None) -> xr.DataArray:
            raster = made.inputs.rasters[chosen[0].name]
            return made.label(made.on_water(raster.to_numpy()), quantity, chosen, raster.attrs["method"])

        return made.by_season(quantity.name, of_season)

    return make


def _from_stations(made: Derivation, entries: tuple[FileEntry, ...], quantity: Quantity) -> xr.DataArray | None:
    from layers.ashore import shore_distance
    from layers.interpolation import through_water_mean
    from layers.season import station_means

    reach = made.site.reach["stations"]
    tables = [made.inputs.features[entry.name] for entry in entries]
    timed = all(table["time"].notna().all() for table in tables)
    seasons = tuple(made.site.seasons) if made.site.seasons and timed else (None,)
    means = station_means(tables, made.site, seasons)
    places = np.column_stack([means.geometry.x, means.geometry.y])
    fields, errors = through_water_mean(
        places, means[list(seasons)].to_numpy().T, made.is_swum, made.grid, reach, snap=shore_distance(made.site)
    )
    parts = {}
    for season, values, error in zip(seasons, fields, errors, strict=True):
        count = int(means[season].notna().sum())
        unit = "" if quantity.units == "1" else f" {quantity.units}"
        method = (
            f"means of {count} stations, weighted by the inverse distance through the water less that of the reach, "
            f"{reach:g} m, squared; leaving one station out, the others miss it by {error:.2g}{unit} "
            "(root mean square)"
        )
        layer = made.label(values, quantity, entries, method, leave_one_out_error=f"{error:.6g}")
        parts[season] = layer if count else None
    if not any(part is not None for part in parts.values()):
        return None
    return parts[None] if seasons == (None,) else stacked(parts)


def _cover(feeds: str, quantity: Quantity) -> Callable[[Derivation], xr.DataArray | None]:
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
        if layer is not None:
            # beyond the polygons the survey found none; on land there is nothing to graze
            layer.values = np.where(made.is_swum, layer.values, np.nan)
        return layer

    return make


def _straight(feeds: str, quantity: Quantity) -> Callable[[Derivation], xr.DataArray | None]:
    """Maker of a straight distance."""

    def make(made: Derivation) -> xr.DataArray | None:
        from layers.distance import straight_distance

        def of_season(entries: tuple[FileEntry, ...], season: str | None) -> xr.DataArray:
            reach = float(made.settings.reach[quantity.name])
            values = made.on_water(straight_distance(made.geometries(entries), made.grid, reach))
            method = f"straight from the cell's centre to the nearest edge, up to {reach:g} m"
            return made.label(values, quantity, entries, method, reach=f"{reach:g}")

        return made.by_season(feeds, of_season)

    return make


def _through_water(feeds: str, quantity: Quantity) -> Callable[[Derivation], xr.DataArray | None]:
    """Maker of a distance that land bars."""

    def make(made: Derivation) -> xr.DataArray | None:
        from layers.distance import through_water_distance

        def of_season(entries: tuple[FileEntry, ...], season: str | None) -> xr.DataArray:
            reach = float(made.settings.reach[quantity.name])
            values = through_water_distance(made.geometries(entries), made.is_swum, made.grid, reach)
            method = f"shortest way through the water from the cell's centre, up to {reach:g} m"
            return made.label(values, quantity, entries, method, reach=f"{reach:g}")

        return made.by_season(feeds, of_season)

    return make


def _fetch(made: Derivation) -> xr.DataArray | None:
    from layers.shelter import fetch

    reach = float(made.settings.reach["fetch"])
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


def _nutrient_load(made: Derivation) -> xr.DataArray | None:
    from layers.ashore import shore_distance
    from layers.nutrients import spread_load

    def of_season(entries: tuple[FileEntry, ...], season: str | None) -> xr.DataArray:
        reach = made.site.reach["nutrient_load"]
        outlets = [made.inputs.features[entry.name] for entry in entries]
        places = np.concatenate([np.column_stack([table.geometry.x, table.geometry.y]) for table in outlets])
        loads = np.concatenate([table["value"].to_numpy() for table in outlets])
        values = spread_load(places, loads, made.is_swum, made.grid, reach, snap=shore_distance(made.site))
        method = (
            f"loads of {len(loads)} outlets spread over the water within {reach:g} m of each (distance through the "
            "water), thinning out in a straight line; the sum over the water equals the loads"
        )
        return made.label(values, q.NUTRIENT_LOAD, entries, method, reach=f"{reach:g}")

    return made.by_season("nutrient_load", of_season)


def _vessel_density(made: Derivation) -> xr.DataArray | None:
    from layers.vessels import vessel_density

    def of_season(entries: tuple[FileEntry, ...], season: str | None) -> xr.DataArray:
        radius = made.site.reach["vessels"]
        trips = np.concatenate([made.inputs.features[entry.name]["value"].to_numpy() for entry in entries])
        values = made.on_water(vessel_density(made.geometries(entries), trips, made.grid, radius))
        method = f"length of routes times trips a day within {radius:g} m, over the area of that circle"
        return made.label(values, q.VESSEL_DENSITY, entries, method, reach=f"{radius:g}")

    return made.by_season("vessel_route", of_season)


@dataclass(frozen=True, kw_only=True)
class Recipe:
    """How one layer is made, and the files without which it cannot be."""

    make: Callable[[Derivation], xr.DataArray | None]
    feeds: str  # what a file must feed


RECIPES: dict[str, Recipe] = {
    "surface": Recipe(make=lambda made: made.surface, feeds=""),
    "bed_elevation": Recipe(make=lambda made: made.bed, feeds="bed_elevation"),
    "water_depth": Recipe(make=_water_depth, feeds="bed_elevation"),
    "wet_time": Recipe(make=_wet_time, feeds="bed_elevation"),
    "feeding_time": Recipe(make=_feeding_time, feeds="bed_elevation"),
    "salinity": Recipe(make=_field(q.SALINITY), feeds="salinity"),
    "water_temperature": Recipe(make=_field(q.WATER_TEMPERATURE), feeds="water_temperature"),
    "seagrass_cover": Recipe(make=_cover("seagrass", q.SEAGRASS_COVER), feeds="seagrass"),
    "mangrove_cover": Recipe(make=_cover("mangrove", q.MANGROVE_COVER), feeds="mangrove"),
    "mangrove_distance": Recipe(make=_straight("mangrove", q.MANGROVE_DISTANCE), feeds="mangrove"),
    "fresh_water_distance": Recipe(make=_through_water("fresh_water", q.FRESH_WATER_DISTANCE), feeds="fresh_water"),
    "fetch": Recipe(make=_fetch, feeds=""),
    "nutrient_load": Recipe(make=_nutrient_load, feeds="nutrient_load"),
    "dredging_distance": Recipe(make=_straight("dredging", q.DREDGING_DISTANCE), feeds="dredging"),
    "vessel_density": Recipe(make=_vessel_density, feeds="vessel_route"),
    "landing_distance": Recipe(make=_through_water("landing", q.LANDING_DISTANCE), feeds="landing"),
    "net_distance": Recipe(make=_through_water("net", q.NET_DISTANCE), feeds="net"),
    "track_distance": Recipe(make=_straight("track", q.TRACK_DISTANCE), feeds="track"),
}
