"""Which function makes which layer from which files: the one place where derivations are put in order.

A layer is made when somebody asks for it, once, together with what it shares with others; what nobody asks
for is not computed, and what the site's files cannot give is absent from the result rather than filled in.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import xarray as xr

from layers import quantity as q
from layers.derivation import Derivation, Settings
from layers.inputs import Inputs
from layers.recipes import bed, distances, fields, light, mixed, traffic, water
from layers.step import OnStep, Step, ignore


@dataclass(frozen=True, kw_only=True)
class Recipe:
    """How one layer is made, by which function, and from what."""

    make: Callable[[Derivation], xr.DataArray | None]
    function: str  # that does the work, as it is imported
    feeds: tuple[str, ...] = ()  # of which a file is needed, any of them


def build_layers(inputs: Inputs, settings: Settings, *, on_step: OnStep = ignore) -> xr.Dataset:
    """The wanted layers that the site's files can give, and those they are made from; `surface` always.

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
    return layers_of(derive(inputs, settings, on_step=on_step))


def derive(
    inputs: Inputs,
    settings: Settings,
    *,
    on_step: OnStep = ignore,
    on_made: Callable[[Derivation], None] | None = None,
) -> Derivation:
    """The layers of `build_layers` with a note of what each was made from; errors as there.

    `on_made` is handed the derivation each time it has made more layers.
    """
    from layers.ashore import require_points_near_water

    derivation = Derivation(inputs, settings, RECIPES)
    order = ["surface", *(name for name in RECIPES if name in settings.wanted and name != "surface")]
    for number, name in enumerate(order, start=1):
        on_step(Step(number, len(order), f"making {q.LAYERS[name].label}"))
        derivation.layer(name)
        if name == "surface":
            require_points_near_water(inputs, derivation.is_swum)
        if on_made is not None:
            on_made(derivation)
    for name in list(derivation.made):
        if f"{name}_error" in RECIPES:
            derivation.layer(f"{name}_error")
    return derivation


def layers_of(derivation: Derivation) -> xr.Dataset:
    """The layers made so far, as one labelled set."""
    site = derivation.site
    return xr.Dataset(derivation.made, attrs={"title": site.title, "invented": str(site.invented).lower()})


def _measured(quantity: q.Quantity, error: q.Quantity, *feeds: str) -> dict[str, Recipe]:
    """A measured field and its standard error."""
    function = "layers.matern.station_field"
    return {
        quantity.name: Recipe(make=fields.field(quantity, error), function=function, feeds=(quantity.name, *feeds)),
        error.name: Recipe(make=fields.field_error(quantity, error), function=function, feeds=(quantity.name, *feeds)),
    }


def _straight(quantity: q.Quantity, feeds: str) -> dict[str, Recipe]:
    make = distances.straight(feeds, quantity)
    return {quantity.name: Recipe(make=make, function="layers.distance.straight_distance", feeds=(feeds,))}


def _through_water(quantity: q.Quantity, feeds: str) -> dict[str, Recipe]:
    make = distances.through_water(feeds, quantity)
    return {quantity.name: Recipe(make=make, function="layers.distance.through_water_distance", feeds=(feeds,))}


def _cover(quantity: q.Quantity, feeds: str) -> dict[str, Recipe]:
    make = distances.cover(feeds, quantity)
    return {quantity.name: Recipe(make=make, function="layers.alignment.cover_fraction", feeds=(feeds,))}


_BED = ("bed_elevation", "sounding")
_SOLIDS = ("suspended_solids", "sediment_load", "land_cover")

RECIPES: dict[str, Recipe] = {
    "surface": Recipe(make=water.surface, function="layers.shore.surface"),
    "bed_elevation": Recipe(make=bed.bed_elevation, function="layers.kriging.bed_from_soundings", feeds=_BED),
    "bed_elevation_error": Recipe(
        make=bed.bed_elevation_error, function="layers.kriging.bed_from_soundings", feeds=_BED
    ),
    "water_depth": Recipe(make=water.water_depth, function="layers.water.water_depth", feeds=_BED),
    "low_water_depth": Recipe(make=water.low_water_depth, function="layers.tidal_datum.low_water_depth", feeds=_BED),
    "high_water_depth": Recipe(make=water.high_water_depth, function="layers.tidal_datum.high_water_depth", feeds=_BED),
    "wet_time": Recipe(make=water.wet_time, function="layers.water.share_of_time_wet", feeds=_BED),
    "feeding_time": Recipe(make=water.feeding_time, function="layers.water.share_of_time_within", feeds=_BED),
    **_measured(q.SALINITY, q.SALINITY_ERROR, "conductivity", "specific_conductance"),
    **_measured(q.WATER_TEMPERATURE, q.WATER_TEMPERATURE_ERROR),
    **_cover(q.SEAGRASS_COVER, "seagrass"),
    **_cover(q.MANGROVE_COVER, "mangrove"),
    **_straight(q.MANGROVE_DISTANCE, "mangrove"),
    **_through_water(q.FRESH_WATER_DISTANCE, "fresh_water"),
    "fetch": Recipe(make=distances.fetch, function="layers.shelter.fetch"),
    "nitrogen_concentration": Recipe(
        make=mixed.nitrogen, function="layers.mixing.concentration", feeds=("nitrogen_load", "land_cover")
    ),
    "phosphorus_concentration": Recipe(
        make=mixed.phosphorus, function="layers.mixing.concentration", feeds=("phosphorus_load", "land_cover")
    ),
    "chlorophyll": Recipe(
        make=light.chlorophyll, function="layers.mixing.concentration", feeds=("chlorophyll", "nitrogen_load")
    ),
    "chlorophyll_error": Recipe(
        make=fields.field_error(q.CHLOROPHYLL, q.CHLOROPHYLL_ERROR),
        function="layers.matern.station_field",
        feeds=("chlorophyll",),
    ),
    "suspended_solids": Recipe(make=light.suspended_solids, function="layers.mixing.concentration", feeds=_SOLIDS),
    "suspended_solids_error": Recipe(
        make=fields.field_error(q.SUSPENDED_SOLIDS, q.SUSPENDED_SOLIDS_ERROR),
        function="layers.matern.station_field",
        feeds=("suspended_solids",),
    ),
    **_measured(q.SECCHI_DEPTH, q.SECCHI_DEPTH_ERROR),
    "dredge_plume": Recipe(make=mixed.dredge_plume, function="layers.mixing.concentration", feeds=("dredge_work",)),
    "dredge_solids": Recipe(make=mixed.dredge_solids, function="layers.mixing.concentration", feeds=("dredge_work",)),
    "dredge_deposit": Recipe(
        make=mixed.dredge_deposit, function="layers.deposition.deposition_rate", feeds=("dredge_work",)
    ),
    "attenuation": Recipe(
        make=light.attenuation,
        function="layers.attenuation.attenuation_from_water_quality",
        feeds=("secchi_depth", *_SOLIDS),
    ),
    "bed_light": Recipe(make=light.bed_light, function="layers.light.mean_bed_light", feeds=("secchi_depth", *_SOLIDS)),
    "depth_limit": Recipe(
        make=light.depth_limit, function="layers.light.light_depth_limit", feeds=("secchi_depth", *_SOLIDS)
    ),
    "forage": Recipe(make=light.forage, function="layers.light.light_limited_cover", feeds=("seagrass",)),
    **_straight(q.DREDGING_DISTANCE, "dredging"),
    "vessel_density": Recipe(
        make=traffic.vessel_density, function="layers.vessels.vessel_density", feeds=("vessel_route",)
    ),
    "keel_clearance": Recipe(
        make=traffic.keel_clearance, function="layers.clearance.least_clearance_of_routes", feeds=("vessel_route",)
    ),
    "strike_exposure": Recipe(
        make=traffic.strike_exposure, function="layers.striking.strike_exposure", feeds=("vessel_route",)
    ),
    **_through_water(q.LANDING_DISTANCE, "landing"),
    **_through_water(q.NET_DISTANCE, "net"),
    **_straight(q.TRACK_DISTANCE, "track"),
}
