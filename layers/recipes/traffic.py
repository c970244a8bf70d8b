"""Recipes of vessels: how many pass, how much water is left under their keels, and when an animal is in their way."""

from __future__ import annotations

import numpy as np
import pandas as pd
import xarray as xr

from layers import quantity as q
from layers.derivation import Derivation
from layers.fault import LayerError, told_as_fault
from layers.site import FileEntry


def vessel_density(made: Derivation) -> xr.DataArray | None:
    """Traffic from routes and their trips, and from tracks of recorded positions."""
    from layers.vessels import vessel_density

    tracked = _from_fixes(made)

    def of_season(entries: tuple[FileEntry, ...], season: str | None) -> xr.DataArray:
        radius = made.reach("vessels")
        trips = np.concatenate([made.inputs.features[entry.name]["value"].to_numpy() for entry in entries])
        values = made.on_water(vessel_density(made.geometries(entries), trips, made.grid, radius))
        method = f"length of routes times trips a day within {radius:g} m, over the area of that circle"
        if tracked is None:
            return made.label(values, q.VESSEL_DENSITY, entries, method)
        method += f"; and {tracked.attrs['method']}"
        both = entries + made.entries("vessel_fix")
        return made.label(values + tracked.to_numpy(), q.VESSEL_DENSITY, both, method)

    routes = made.by_season("vessel_route", of_season)
    return tracked if routes is None else routes


def _from_fixes(made: Derivation) -> xr.DataArray | None:
    from layers.fixes import track_density, tracks_of

    entries = made.entries("vessel_fix")
    if not entries:
        return None
    radius = made.reach("vessels")
    values, told = np.zeros(made.grid.shape), []
    for entry in entries:
        table = made.inputs.features[entry.name]
        fixes = pd.DataFrame(
            {"vessel": table["vessel"], "time": table["time"], "x": table.geometry.x, "y": table.geometry.y}
        )
        try:
            tracks = tracks_of(
                fixes,
                longest_gap=made.number("vessels.longest_gap"),
                greatest_speed=made.number("vessels.greatest_speed"),
                least_speed=made.number("vessels.least_speed"),
                days=made.number("vessels.days"),
                crs=made.grid.crs,
            )
        except ValueError as refusal:
            raise LayerError(made.site.path.name, [told_as_fault(entry.path.name, refusal)]) from None
        values += np.nan_to_num(track_density(tracks, made.grid, radius))
        told.append(f"{entry.path.name}: {tracks.said}")
    method = f"length of tracks a day within {radius:g} m, over the area of that circle ({'; '.join(told)})"
    return made.label(made.on_water(values), q.VESSEL_DENSITY, entries, method)


def keel_clearance(made: Derivation) -> xr.DataArray | None:
    """Least water under the keel of any vessel that passes, at mean lower low water."""
    from layers.clearance import least_clearance_of_routes

    entries = tuple(entry for entry in made.entries("vessel_route") if entry.draft)
    bed, levels = made.bed, made.levels(None)
    low = levels.datums.mean_lower_low_water if levels else None
    if not entries or bed is None or low is None:
        return None
    radius = made.reach("vessels")
    drafts = np.concatenate(
        [made.inputs.features[entry.name][entry.draft].astype(float).to_numpy() for entry in entries]
    )
    values = least_clearance_of_routes(made.geometries(entries), drafts, bed.to_numpy(), low, made.grid, radius)
    method = (
        f"mean lower low water {low:+.2f} m above the datum, less the bed, less the deepest draft within {radius:g} m"
    )
    return made.label(made.on_water(values), q.KEEL_CLEARANCE, (*entries, *made.bed_entries, *levels.entries), method)


def strike_exposure(made: Derivation) -> xr.DataArray | None:
    """Traffic that passes while an animal is within striking depth of the surface."""
    from layers.striking import mean_share_within_striking_depth, strike_exposure

    density, bed = made.layer("vessel_density"), made.bed
    depth, share = made.number("striking.depth"), made.number("striking.share_when_deep")
    if density is None or bed is None or depth is None or share is None:
        return None

    def of_season(season: str | None, density: xr.DataArray, water: xr.DataArray) -> xr.DataArray:
        levels = made.levels(season)
        heights = levels.levels if levels else np.zeros(1)
        within = mean_share_within_striking_depth(bed.to_numpy(), heights, depth, share)
        values = made.on_water(strike_exposure(density.to_numpy(), within))
        method = (
            f"traffic times the share of time an animal is within {depth:g} m of the surface: always in water no "
            f"deeper, {100 * share:g} % of the time in deep water, mean over the tide"
        )
        return made.label(values, q.STRIKE_EXPOSURE, made.entries("vessel_route") + made.bed_entries, method)

    return made.by_seasons_of({"density": density, "water": made.layer("water_depth")}, of_season)
