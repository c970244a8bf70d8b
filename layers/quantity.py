"""The catalogue of quantities: name, unit, standard name and plausible range of everything a layer can hold.

Names are resolved to a `Quantity` once, where files are read; from there on a layer carries its own name and
unit. `standard_name` is given only where the CF table's definition is exactly true of the layer.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TypeVar

Result = TypeVar("Result")


@dataclass(frozen=True, kw_only=True)
class Quantity:
    """What a layer holds."""

    name: str
    label: str
    units: str
    plausible: tuple[float, float]
    standard_name: str | None = None
    categories: tuple[str, ...] = ()  # the meaning of code 0, 1, 2, ... of a uint8 layer
    saturates: bool = False  # the value at the reach means "this far or farther"


def describe(result: Result, quantity: Quantity, **attributes: str) -> Result:
    """Name and attribute a labelled grid; leave plain numbers and arrays alone.

    Old attributes are dropped: after arithmetic they are no longer true.
    """
    import xarray as xr  # costly to import, and a text file's faults can be told without it

    if not isinstance(result, xr.DataArray):
        return result
    described = result.rename(quantity.name)
    described.attrs = {"long_name": quantity.label, "units": quantity.units, **attributes}
    if quantity.standard_name:
        described.attrs["standard_name"] = quantity.standard_name
    if quantity.categories:
        described.attrs.pop("units")
        described.attrs["flag_values"] = list(range(len(quantity.categories)))
        described.attrs["flag_meanings"] = " ".join(word.replace(" ", "_") for word in quantity.categories)
    return described


SURFACE = Quantity(
    name="surface",
    label="land, intertidal or water",
    units="1",
    plausible=(0, 3),
    categories=("unknown", "land", "intertidal", "water"),
)
UNKNOWN, LAND, INTERTIDAL, WATER = range(4)

BED_ELEVATION = Quantity(name="bed_elevation", label="bed elevation", units="m", plausible=(-200, 500))
WATER_LEVEL = Quantity(name="water_level", label="water level", units="m", plausible=(-20, 20))
WATER_DEPTH = Quantity(
    name="water_depth", label="water depth below the mean water level", units="m", plausible=(-500, 200)
)
WET_TIME = Quantity(name="wet_time", label="share of the time under water", units="1", plausible=(0, 1))
FEEDING_TIME = Quantity(
    name="feeding_time", label="share of the time within the feeding depth", units="1", plausible=(0, 1)
)
SALINITY = Quantity(
    name="salinity",
    label="practical salinity",
    units="1",
    plausible=(0, 50),
    standard_name="sea_water_practical_salinity",
)
WATER_TEMPERATURE = Quantity(
    name="water_temperature",
    label="water temperature",
    units="degree_Celsius",
    plausible=(-2, 45),
    standard_name="sea_water_temperature",
)
CONDUCTIVITY = Quantity(
    name="conductivity",
    label="electrical conductivity of the water",
    units="mS/cm",
    plausible=(0, 120),
    standard_name="sea_water_electrical_conductivity",
)
SPECIFIC_CONDUCTANCE = Quantity(
    name="specific_conductance", label="specific conductance at 25 degrees Celsius", units="mS/cm", plausible=(0, 120)
)
NITROGEN = Quantity(
    name="nitrogen_concentration", label="total nitrogen in the water", units="mg/L", plausible=(0, 1000)
)
PHOSPHORUS = Quantity(
    name="phosphorus_concentration", label="total phosphorus in the water", units="mg/L", plausible=(0, 1000)
)
CHLOROPHYLL = Quantity(name="chlorophyll", label="chlorophyll a", units="ug/L", plausible=(0, 2000))
SUSPENDED_SOLIDS = Quantity(name="suspended_solids", label="suspended solids", units="mg/L", plausible=(0, 50_000))
SECCHI_DEPTH = Quantity(name="secchi_depth", label="Secchi depth", units="m", plausible=(0, 80))
DREDGE_PLUME = Quantity(
    name="dredge_plume", label="solids of a dredge while it digs", units="mg/L", plausible=(0, 100_000)
)
DREDGE_SOLIDS = Quantity(
    name="dredge_solids", label="solids of a dredge, mean of the season", units="mg/L", plausible=(0, 100_000)
)
DREDGE_DEPOSIT = Quantity(
    name="dredge_deposit", label="sediment of a dredge settled in the season", units="kg/m2", plausible=(0, 100_000)
)
ATTENUATION = Quantity(
    name="attenuation", label="attenuation coefficient of downwelling light", units="1/m", plausible=(0.02, 30)
)
BED_LIGHT = Quantity(
    name="bed_light", label="share of the light below the surface that reaches the bed", units="1", plausible=(0, 1)
)
DEPTH_LIMIT = Quantity(name="depth_limit", label="depth limit of rooted plants", units="m", plausible=(0, 100))
FORAGE = Quantity(name="forage", label="seagrass cover that the light can keep", units="1", plausible=(0, 1))
KEEL_CLEARANCE = Quantity(
    name="keel_clearance", label="least clearance under keels at low water", units="m", plausible=(-100, 500)
)
STRIKE_EXPOSURE = Quantity(
    name="strike_exposure",
    label="traffic while an animal is within striking depth",
    units="km/km2/day",
    plausible=(0, 100_000),
)
LOW_WATER_DEPTH = Quantity(
    name="low_water_depth", label="water depth below mean low water", units="m", plausible=(-500, 200)
)
HIGH_WATER_DEPTH = Quantity(
    name="high_water_depth", label="water depth below mean high water", units="m", plausible=(-500, 200)
)
SEAGRASS_COVER = Quantity(name="seagrass_cover", label="seagrass cover", units="1", plausible=(0, 1))
MANGROVE_COVER = Quantity(name="mangrove_cover", label="mangrove cover", units="1", plausible=(0, 1))
FETCH = Quantity(name="fetch", label="fetch", units="m", plausible=(0, 1_000_000), saturates=True)
VESSEL_DENSITY = Quantity(
    name="vessel_density", label="vessel traffic density", units="km/km2/day", plausible=(0, 100_000)
)


def _distance(name: str, label: str) -> Quantity:
    return Quantity(name=name, label=label, units="m", plausible=(0, 1_000_000), saturates=True)


DREDGING_DISTANCE = _distance("dredging_distance", "distance to a dredged footprint")
MANGROVE_DISTANCE = _distance("mangrove_distance", "distance to mangrove")
FRESH_WATER_DISTANCE = _distance("fresh_water_distance", "distance through the water to fresh water")
LANDING_DISTANCE = _distance("landing_distance", "distance through the water to a landing place")
NET_DISTANCE = _distance("net_distance", "distance through the water to a netting place")
TRACK_DISTANCE = _distance("track_distance", "distance to a track or road")


def _error(of: Quantity) -> Quantity:
    return Quantity(
        name=f"{of.name}_error",
        label=f"standard error of the {of.label}",
        units=of.units,
        plausible=(0, of.plausible[1]),
    )


BED_ELEVATION_ERROR = _error(BED_ELEVATION)
SALINITY_ERROR = _error(SALINITY)
WATER_TEMPERATURE_ERROR = _error(WATER_TEMPERATURE)
CHLOROPHYLL_ERROR = _error(CHLOROPHYLL)
SUSPENDED_SOLIDS_ERROR = _error(SUSPENDED_SOLIDS)
SECCHI_DEPTH_ERROR = _error(SECCHI_DEPTH)

LAYERS: dict[str, Quantity] = {
    quantity.name: quantity
    for quantity in (
        SURFACE,
        BED_ELEVATION,
        BED_ELEVATION_ERROR,
        WATER_DEPTH,
        LOW_WATER_DEPTH,
        HIGH_WATER_DEPTH,
        WET_TIME,
        FEEDING_TIME,
        SALINITY,
        SALINITY_ERROR,
        WATER_TEMPERATURE,
        WATER_TEMPERATURE_ERROR,
        SEAGRASS_COVER,
        MANGROVE_COVER,
        MANGROVE_DISTANCE,
        FRESH_WATER_DISTANCE,
        FETCH,
        NITROGEN,
        PHOSPHORUS,
        CHLOROPHYLL,
        CHLOROPHYLL_ERROR,
        SUSPENDED_SOLIDS,
        SUSPENDED_SOLIDS_ERROR,
        SECCHI_DEPTH,
        SECCHI_DEPTH_ERROR,
        DREDGE_PLUME,
        DREDGE_SOLIDS,
        DREDGE_DEPOSIT,
        ATTENUATION,
        BED_LIGHT,
        DEPTH_LIMIT,
        FORAGE,
        DREDGING_DISTANCE,
        VESSEL_DENSITY,
        KEEL_CLEARANCE,
        STRIKE_EXPOSURE,
        LANDING_DISTANCE,
        NET_DISTANCE,
        TRACK_DISTANCE,
    )
}
