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
NUTRIENT_LOAD = Quantity(
    name="nutrient_load", label="nitrogen load on the water", units="kg/ha/year", plausible=(0, 100_000)
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

LAYERS: dict[str, Quantity] = {
    quantity.name: quantity
    for quantity in (
        SURFACE,
        BED_ELEVATION,
        WATER_DEPTH,
        WET_TIME,
        FEEDING_TIME,
        SALINITY,
        WATER_TEMPERATURE,
        SEAGRASS_COVER,
        MANGROVE_COVER,
        MANGROVE_DISTANCE,
        FRESH_WATER_DISTANCE,
        FETCH,
        NUTRIENT_LOAD,
        DREDGING_DISTANCE,
        VESSEL_DENSITY,
        LANDING_DISTANCE,
        NET_DISTANCE,
        TRACK_DISTANCE,
    )
}
