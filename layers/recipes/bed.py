"""Recipes of the bed: a raster of it, soundings carried over the water, or the raster as the soundings correct it."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
import xarray as xr

from layers import quantity as q
from layers.derivation import Derivation
from layers.fault import LayerError, told_as_fault
from layers.recipes.water import was_swum
from layers.recipes.works import bed_after_works
from layers.season import year_of
from layers.site import FileEntry
from layers.units import converter

if TYPE_CHECKING:
    from layers.kriging import BedFit


@dataclass(frozen=True, kw_only=True)
class Soundings:
    """Soundings of all surveys, above the datum of the bed."""

    places: np.ndarray  # (n, 2) [m]
    elevation: np.ndarray  # (n,), less the raster where there is one [m]
    error: np.ndarray  # (n,) standard error, an older one's greater [m]
    told: str


def bed_elevation(made: Derivation) -> xr.DataArray | None:
    """Bed elevation above its datum."""
    bed = _surveyed(made)
    if bed is None or not made.entries("bed_change"):
        return bed
    values = bed_after_works(made, bed.to_numpy()).astype(np.float32)
    method = f"{bed.attrs['method']}; dug or filled to the level of works"
    return made.label(values, q.BED_ELEVATION, made.bed_entries + made.entries("bed_change"), method)


def _surveyed(made: Derivation) -> xr.DataArray | None:
    raster = _raster(made)
    if not made.entries("sounding"):
        return None if raster is None else raster.assign_attrs(function="layers.raster.read_raster")
    fit, soundings = _from_soundings(made)
    if raster is None:
        return made.label(made.on_water(fit.elevation), q.BED_ELEVATION, made.bed_entries, _method(fit, soundings))
    corrected = raster.to_numpy() + np.nan_to_num(fit.elevation)
    method = f"{raster.attrs['method']}; corrected by what soundings differ from it: {_method(fit, soundings)}"
    return made.label(corrected.astype(np.float32), q.BED_ELEVATION, made.bed_entries, method)


def bed_elevation_error(made: Derivation) -> xr.DataArray | None:
    """Standard error of the bed: as found from soundings, else as stated for the raster."""
    rasters = made.entries("bed_elevation")
    stated = rasters[0].error if rasters else None
    if not made.entries("sounding"):
        if stated is None:
            return None
        values = np.where(made.bed.notnull(), _metres(rasters[0], stated), np.nan)
        said = "as stated in the site file for the whole raster"
        return made.label(made.on_water(values), q.BED_ELEVATION_ERROR, rasters, said)
    fit, soundings = _from_soundings(made)
    said = f"standard error of kriging; {_honesty(fit)}"
    values = fit.error
    if rasters:
        spread = float(np.sqrt(np.mean(soundings.elevation**2)))
        beyond = _metres(rasters[0], stated) if stated is not None else spread
        values = np.where(np.isnan(values) & made.bed.notnull().to_numpy(), beyond, values)
        source = "as stated for it" if stated is not None else "the root mean square of what soundings differ from it"
        said += f"; {beyond:.2f} m beyond the reach of soundings, where the raster stands alone: {source}"
    return made.label(made.on_water(values), q.BED_ELEVATION_ERROR, made.bed_entries, said)


def _raster(made: Derivation) -> xr.DataArray | None:
    return next((made.inputs.rasters[entry.name] for entry in made.entries("bed_elevation")), None)


def _from_soundings(made: Derivation) -> tuple[BedFit, Soundings]:
    return made.once("bed from soundings", _kriged)


def _kriged(made: Derivation) -> tuple[BedFit, Soundings]:
    from layers.kriging import bed_from_soundings

    soundings = _soundings(made)
    try:
        fit = bed_from_soundings(
            soundings.places,
            soundings.elevation,
            soundings.error,
            was_swum(made),
            made.grid,
            reach=made.reach("soundings"),
        )
    except ValueError as refusal:  # too few of them, or too few in the water
        fault = told_as_fault(f"files.{made.entries('sounding')[0].name}", refusal)
        raise LayerError(made.site.path.name, [fault]) from None
    return fit, soundings


def _soundings(made: Derivation) -> Soundings:
    from layers.soundings import sounding_error

    raster, entries = _raster(made), made.entries("sounding")
    zero = made.site.height_of(made.bed_datum)
    tables = {entry.name: made.inputs.features[entry.name] for entry in entries}
    years = {entry.name: _years(tables[entry.name], entry) for entry in entries}
    newest = max(float(year.max()) for year in years.values())
    change = made.number("bed.yearly_change") or 0.0
    places, elevations, errors, told = [], [], [], []
    for entry in entries:
        table = tables[entry.name]
        at = np.column_stack([table.geometry.x, table.geometry.y])
        height = table["value"].to_numpy() + made.site.height_of(entry.datum) - zero
        error = sounding_error(_metres(entry, entry.error), change, newest - years[entry.name])
        if raster is not None:
            height = height - _sampled(raster, at)
        known = np.isfinite(height)
        places.append(at[known])
        elevations.append(height[known])
        errors.append(error[known])
        differs = f", {height[known].mean():+.2f} m from the raster on the mean" if raster is not None else ""
        told.append(
            f"{known.sum():,} of {entry.path.name} (standard error {error[known].mean():.2f} m, age counted{differs})"
        )
    return Soundings(
        places=np.concatenate(places),
        elevation=np.concatenate(elevations),
        error=np.concatenate(errors),
        told=" and ".join(told),
    )


def _years(table, entry: FileEntry) -> np.ndarray:
    """When each was sounded, as a year with its fraction."""
    if table["time"].notna().all():
        return (table["time"].dt.year + (table["time"].dt.dayofyear - 1) / 365.25).to_numpy()
    return np.full(len(table), year_of(entry.date))


def _sampled(raster: xr.DataArray, places: np.ndarray) -> np.ndarray:
    """The raster between its cell centres; NaN beside cells without data."""
    from scipy.ndimage import map_coordinates

    x, y = raster["x"].to_numpy(), raster["y"].to_numpy()
    cell = x[1] - x[0]
    row, column = (y[0] - places[:, 1]) / cell, (places[:, 0] - x[0]) / cell
    return map_coordinates(raster.to_numpy().astype(np.float64), [row, column], order=1, mode="nearest")


def _method(fit: BedFit, soundings: Soundings) -> str:
    return (
        f"ordinary kriging of {soundings.told}, through one water body, up to {fit.reach:,.0f} m from a sounding; "
        f"{_honesty(fit)}"
    )


def _honesty(fit: BedFit) -> str:
    return (
        f"soundings left out are missed by {fit.leave_out_error:.2f} m (root mean square), {fit.standardised:.2f} "
        "times their standard error"
    )


def _metres(entry: FileEntry, error: float) -> float:
    return float(converter(entry.units, "m")(error))
