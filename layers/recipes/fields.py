"""Recipes of what is measured in the water: as a raster, or at stations and carried through the water from there."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
import xarray as xr

from layers.derivation import Derivation
from layers.feeds import FEEDS
from layers.provenance import stacked
from layers.quantity import Quantity
from layers.site import FileEntry

if TYPE_CHECKING:
    import geopandas as gpd

    from layers.matern import StationField

Maker = Callable[[Derivation], xr.DataArray | None]

FUNCTION = "layers.matern.station_field"
# other feeds whose stations give the same quantity, once they are read
_ALSO = {"salinity": ("conductivity", "specific_conductance")}


@dataclass(frozen=True, kw_only=True)
class Measured:
    """A field and its standard error, None where nobody has stated or found one."""

    field: xr.DataArray
    error: xr.DataArray | None


def field(quantity: Quantity, error: Quantity) -> Maker:
    """Maker of a measured field."""

    def make(made: Derivation) -> xr.DataArray | None:
        found = measured(made, quantity, error)
        return None if found is None else found.field

    return make


def field_error(quantity: Quantity, error: Quantity) -> Maker:
    """Maker of the standard error of a measured field."""

    def make(made: Derivation) -> xr.DataArray | None:
        found = measured(made, quantity, error)
        return None if found is None else found.error

    return make


def measured(made: Derivation, quantity: Quantity, error: Quantity) -> Measured | None:
    """What a site's files say of a quantity; None where they say nothing."""
    return made.once(("measured", quantity.name), lambda made: _measured(made, quantity, error))


def _measured(made: Derivation, quantity: Quantity, error: Quantity) -> Measured | None:
    entries = made.entries(quantity.name)
    if entries and entries[0].is_raster:
        return _from_rasters(made, quantity, error)
    stations = entries + tuple(entry for feeds in _ALSO.get(quantity.name, ()) for entry in made.entries(feeds))
    return _from_stations(made, stations, quantity, error) if stations else None


def _from_rasters(made: Derivation, quantity: Quantity, error: Quantity) -> Measured:
    def of_season(chosen: tuple[FileEntry, ...], season: str | None) -> xr.DataArray:
        raster = made.inputs.rasters[chosen[0].name]
        aligned = f"layers.alignment.{(chosen[0].rule or FEEDS[quantity.name].rule).replace(' ', '_')}"
        values = made.on_water(raster.to_numpy())
        return made.label(values, quantity, chosen, raster.attrs["method"], function=aligned)

    def error_of_season(chosen: tuple[FileEntry, ...], season: str | None) -> xr.DataArray | None:
        if chosen[0].error is None:
            return None
        known = made.on_water(made.inputs.rasters[chosen[0].name].to_numpy())
        values = np.where(np.isnan(known), known, np.float32(chosen[0].error))
        return made.label(values, error, chosen, "as stated in the site file for the whole raster")

    stated = all(entry.error is not None for entry in made.entries(quantity.name))
    return Measured(
        field=made.by_season(quantity.name, of_season),
        error=made.by_season(quantity.name, error_of_season) if stated else None,
    )


def _from_stations(
    made: Derivation, entries: tuple[FileEntry, ...], quantity: Quantity, error: Quantity
) -> Measured | None:
    from layers.ashore import shore_distance
    from layers.matern import station_field
    from layers.season import WHOLE_YEAR, station_mean_errors, station_means

    reach = made.reach("stations")
    tables: list[gpd.GeoDataFrame] = [made.inputs.features[entry.name] for entry in entries]
    timed = all(table["time"].notna().all() for table in tables)
    seasons = tuple(made.site.seasons) if made.site.seasons and timed else (None,)
    means = station_means(tables, made.site, seasons)
    values = means[[season or WHOLE_YEAR for season in seasons]].to_numpy().T
    if not np.isfinite(values).any():
        return None
    found = station_field(
        np.column_stack([means.geometry.x, means.geometry.y]),
        values,
        made.is_swum,
        made.grid,
        reach=reach,
        noise=station_mean_errors(tables, made.site, seasons),
        snap=shore_distance(made.site),
    )
    parts = {season: _labelled(made, one, entries, quantity, error) for season, one in zip(seasons, found, strict=True)}
    fields = {season: part.field if part else None for season, part in parts.items()}
    errors = {season: part.error if part else None for season, part in parts.items()}
    told = any(one is not None for one in errors.values())
    if seasons == (None,):
        return parts[None]
    return Measured(field=stacked(fields), error=stacked(errors) if told else None)


def _labelled(
    made: Derivation, found: StationField, entries: tuple[FileEntry, ...], quantity: Quantity, error: Quantity
) -> Measured | None:
    """One season's field and error as layers; None without a station."""
    if not found.count:
        return None
    unit = "" if quantity.units == "1" else f" {quantity.units}"
    method = (
        f"means of {found.count} stations carried through the water as a Matern field, averaged over its "
        f"likely ranges (likeliest {found.range:,.0f} m), up to {made.reach('stations'):,.0f} m from a station"
    )
    if not np.isfinite(found.error).any():
        said = f"{method}; too few to tell a standard error"
        field = made.label(_cut(found.mean, quantity), quantity, entries, said, function=FUNCTION)
        return Measured(field=field, error=None)
    honest = (
        f"{method}; leaving one station out, the others miss it by {found.leave_one_out:.2g}{unit} (root mean square)"
    )
    if np.isfinite(found.standardised):
        honest += f", {found.standardised:.2f} times their standard error"
    field = made.label(_cut(found.mean, quantity), quantity, entries, honest, function=FUNCTION)
    doubt = made.label(found.error, error, entries, f"standard error of {honest}", function=FUNCTION)
    return Measured(field=field, error=doubt)


def _cut(values: np.ndarray, quantity: Quantity) -> np.ndarray:
    """A smooth field may undershoot between stations; what cannot be negative is cut off at 0."""
    return np.maximum(values, 0) if quantity.plausible[0] == 0 else values
