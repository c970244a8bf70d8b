"""Recipes of what is water, how deep, and for how long."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
import xarray as xr

from layers import quantity as q
from layers.derivation import Derivation
from layers.fault import Fault, LayerError
from layers.provenance import stacked
from layers.quantity import Quantity
from layers.recipes.works import surface_after_works


def surface(made: Derivation) -> xr.DataArray:
    """Land, intertidal flat, water or unknown; over the levels of the whole year.

    Raises
    ------
    LayerError
        If there is no water in the site.
    """
    codes, said = _surveyed_surface(made)
    levels = made.levels(None)
    if made.entries("bed_change") or made.entries("land_change"):
        lowest, highest = (levels.levels.min(), levels.levels.max()) if levels else (0.0, 0.0)
        codes = surface_after_works(made, codes, lowest, highest)
        said += "; changed by works"
    decider = next(entry for entry in made.site.files if entry.name == made.site.decided_by)
    made.entries(decider.feeds)
    if not np.isin(codes, (q.INTERTIDAL, q.WATER)).any():
        fault = Fault(
            f"files.{decider.name}",
            f"{decider.path.name} decides what is water, and by it no cell of the site is.",
            "Check what it feeds, and the bounds of the grid.",
        )
        raise LayerError(made.site.path.name, [fault])
    works = made.entries("bed_change") + made.entries("land_change")
    entries = (decider, *made.entries("bed_elevation"), *(levels.entries if levels else ()), *works)
    return made.label(codes, q.SURFACE, entries, said)


def was_swum(made: Derivation) -> np.ndarray:
    """Where an animal could swim before any work: what soundings are carried over."""
    return np.isin(_surveyed_surface(made)[0], (q.INTERTIDAL, q.WATER))


def _surveyed_surface(made: Derivation) -> tuple[np.ndarray, str]:
    return made.once("surveyed surface", _from_decider)


def _from_decider(made: Derivation) -> tuple[np.ndarray, str]:
    from layers.shore import surface

    for feeds in ("land", "sea"):
        made.entries(feeds)
    # soundings are carried through the water, so they cannot say where it is
    bed = next((made.inputs.rasters[entry.name] for entry in made.entries("bed_elevation")), None)
    return surface(made.inputs, None if bed is None else bed.to_numpy(), made.levels(None))


def water_depth(made: Derivation) -> xr.DataArray | None:
    """Depth below the mean water level."""
    from layers.water import water_depth

    bed = made.bed
    if bed is None:
        return None

    def of_season(season: str | None) -> xr.DataArray:
        levels = made.levels(season)
        mean, said = (levels.mean, levels.method) if levels else (0.0, "the datum itself, for want of a tide")
        depth = made.on_water(water_depth(bed.to_numpy(), mean))
        method = f"mean water level {mean:+.2f} m above the datum, from {said}, less the bed"
        return made.label(depth, q.WATER_DEPTH, made.bed_entries + (levels.entries if levels else ()), method)

    return _by_level_season(made, of_season)


def low_water_depth(made: Derivation) -> xr.DataArray | None:
    """Depth below mean low water."""
    from layers.tidal_datum import low_water_depth

    return _depth_below(made, q.LOW_WATER_DEPTH, low_water_depth, "mean_low_water")


def high_water_depth(made: Derivation) -> xr.DataArray | None:
    """Depth below mean high water."""
    from layers.tidal_datum import high_water_depth

    return _depth_below(made, q.HIGH_WATER_DEPTH, high_water_depth, "mean_high_water")


def wet_time(made: Derivation) -> xr.DataArray | None:
    """Share of the time under water."""
    from layers.water import share_of_time_wet

    return _time_share(made, q.WET_TIME, share_of_time_wet, "share of {} that lie above the bed")


def feeding_time(made: Derivation) -> xr.DataArray | None:
    """Share of the time within the depths at which the animal feeds."""
    from layers.water import share_of_time_within

    if made.settings.feeding_depth is None:
        return None
    shallowest, deepest = made.settings.feeding_depth

    def share(bed, levels):
        return share_of_time_within(bed, levels, shallowest, deepest)

    said = f"share of {{}} at which the depth is {shallowest:g} to {deepest:g} m"
    return _time_share(made, q.FEEDING_TIME, share, said)


def _depth_below(made: Derivation, quantity: Quantity, depth: Callable, datum: str) -> xr.DataArray | None:
    bed = made.bed
    if bed is None or (made.levels(None) is None and not made.has_level_seasons):
        return None

    def of_season(season: str | None) -> xr.DataArray | None:
        levels = made.levels(season)
        level = getattr(levels.datums, datum) if levels else None
        if level is None:
            return None
        method = f"{datum.replace('_', ' ')} {level:+.2f} m above the datum, from {levels.method}, less the bed"
        values = made.on_water(depth(bed.to_numpy(), level))
        return made.label(values, quantity, made.bed_entries + levels.entries, method)

    return _by_level_season(made, of_season)


def _time_share(made: Derivation, quantity: Quantity, share: Callable, said: str) -> xr.DataArray | None:
    bed = made.bed
    if bed is None or (made.levels(None) is None and not made.has_level_seasons):
        return None

    def of_season(season: str | None) -> xr.DataArray | None:
        levels = made.levels(season)
        if levels is None:
            return None
        values = made.on_water(share(bed.to_numpy(), levels.levels))
        return made.label(values, quantity, made.bed_entries + levels.entries, said.format(levels.method))

    return _by_level_season(made, of_season)


def _by_level_season(made: Derivation, of_season: Callable[[str | None], xr.DataArray | None]) -> xr.DataArray | None:
    if not made.has_level_seasons:
        return of_season(None)
    parts = {season: of_season(season) for season in made.site.seasons}
    return stacked(parts) if any(part is not None for part in parts.values()) else None
