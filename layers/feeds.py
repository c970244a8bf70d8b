"""What a file may feed: the catalogue of things people have on disk, and how each is read.

A feed is what a file holds (stations, outlets, polygons of seagrass); a layer is what is made of it on the grid.
"""

from __future__ import annotations

from dataclasses import dataclass
from types import MappingProxyType

from layers import quantity as q
from layers.quantity import Quantity

VECTOR_SUFFIXES = (
    ".csv",
    ".fgb",
    ".geojson",
    ".gml",
    ".gpkg",
    ".gpx",
    ".json",
    ".kml",
    ".parquet",
    ".shp",
    ".tsv",
    ".txt",
    ".xls",
    ".xlsx",
    ".zip",
)

LOAD = Quantity(name="load", label="load", units="kg/year", plausible=(0, 1e9))
CURRENT = Quantity(name="current", label="speed of the current", units="m/s", plausible=(-5, 5))
TERRAIN = Quantity(name="terrain", label="elevation of the ground", units="m", plausible=(-450, 9000))
CODE = Quantity(name="code", label="code", units="1", plausible=(0, 65_535))
RAIN = Quantity(name="rain", label="rain in a day", units="mm", plausible=(0, 2000))
TRIPS = Quantity(name="trips", label="vessel trips", units="1/day", plausible=(0, 100_000))
EFFORT = Quantity(name="survey_effort", label="time searched for animals", units="hour", plausible=(0, 1e6))
CONSTITUENT_AMPLITUDE = Quantity(name="amplitude", label="tidal amplitude", units="m", plausible=(0, 10))


@dataclass(frozen=True, kw_only=True)
class Feed:
    """How the files that feed one thing are read."""

    name: str
    label: str
    forms: tuple[str, ...]  # of "raster", "points", "lines", "polygons", "series", "table"
    quantity: Quantity | None = None
    rule: str | None = None  # default rule of alignment
    needs: tuple[str, ...] = ()  # keys of the site file without which nothing can be read
    on: str = "grid"  # or "catchment": the grid it is read onto
    sensitive: bool = False
    terms: tuple[str, ...] = ()  # columns a file may hold, which `columns` of the site file may call otherwise


# of the Darwin Core standard (TDWG), those that say whether, when and how surely an animal was seen
SIGHTING_TERMS = (
    "occurrenceID",
    "eventDate",
    "individualCount",
    "occurrenceStatus",
    "coordinateUncertaintyInMeters",
    "geodeticDatum",
    "basisOfRecord",
    "samplingEffort",
)
TRACK_TERMS = ("date", "hours", "half_width_m")

_ANY_SHAPE = ("points", "lines", "polygons")


def _measured(quantity: Quantity) -> Feed:
    """Something in the water that comes as a raster, or from stations."""
    return Feed(
        name=quantity.name,
        label=quantity.label,
        forms=("raster", "points"),
        quantity=quantity,
        rule="bilinear",
        needs=("units",),
    )


def _load(substance: str) -> Feed:
    return Feed(
        name=f"{substance}_load",
        label=f"{substance} loads at outlets",
        forms=("points",),
        quantity=LOAD,
        needs=("units", "column"),
    )


FEEDS: MappingProxyType[str, Feed] = MappingProxyType(
    {
        feed.name: feed
        for feed in (
            Feed(name="land", label="land", forms=("polygons",), rule="area fraction"),
            Feed(name="sea", label="sea", forms=("polygons",), rule="area fraction"),
            Feed(
                name="bed_elevation",
                label="bed elevation or depth",
                forms=("raster",),
                quantity=q.BED_ELEVATION,
                rule="area mean",
                needs=("units", "positive", "datum"),
            ),
            Feed(
                name="sounding",
                label="soundings",
                forms=("points",),
                quantity=q.BED_ELEVATION,
                needs=("units", "positive", "datum", "column", "error"),
            ),
            Feed(
                name="water_level",
                label="water level",
                forms=("series",),
                quantity=q.WATER_LEVEL,
                needs=("units", "datum", "column", "time"),
            ),
            Feed(
                name="tide",
                label="tidal constituents",
                forms=("table",),
                quantity=CONSTITUENT_AMPLITUDE,
                needs=("units", "datum", "column", "constituent", "phase"),
            ),
            _measured(q.SALINITY),
            Feed(
                name="conductivity",
                label="conductivity at the temperature of the water",
                forms=("points",),
                quantity=q.CONDUCTIVITY,
                needs=("units", "column", "temperature", "temperature_scale"),
            ),
            Feed(
                name="specific_conductance",
                label="conductivity brought to 25 degrees Celsius",
                forms=("points",),
                quantity=q.SPECIFIC_CONDUCTANCE,
                needs=("units", "column"),
            ),
            _measured(q.WATER_TEMPERATURE),
            _measured(q.CHLOROPHYLL),
            _measured(q.SUSPENDED_SOLIDS),
            _measured(q.SECCHI_DEPTH),
            _load("nitrogen"),
            _load("phosphorus"),
            _load("sediment"),
            Feed(name="current_east", label="eastward current", forms=("raster",), quantity=CURRENT, rule="bilinear"),
            Feed(name="current_north", label="northward current", forms=("raster",), quantity=CURRENT, rule="bilinear"),
            Feed(
                name="terrain",
                label="elevation of the catchment",
                forms=("raster",),
                quantity=TERRAIN,
                rule="area mean",
                needs=("units",),
                on="catchment",
            ),
            Feed(
                name="land_cover",
                label="land cover codes",
                forms=("raster",),
                quantity=CODE,
                rule="nearest",
                on="catchment",
            ),
            Feed(
                name="soil_group",
                label="soil codes",
                forms=("raster",),
                quantity=CODE,
                rule="nearest",
                on="catchment",
            ),
            Feed(name="cover_table", label="what each land cover code means", forms=("table",)),
            Feed(name="soil_table", label="hydrologic soil group of each soil code", forms=("table",)),
            Feed(
                name="rain",
                label="rain day by day",
                forms=("series",),
                quantity=RAIN,
                needs=("units", "column", "time"),
            ),
            Feed(name="catchment", label="catchments", forms=("polygons",), needs=("column",)),
            Feed(name="catchment_outlet", label="outlets of catchments", forms=("points",), needs=("column",)),
            Feed(name="dredge_work", label="works of dredges", forms=("polygons",)),
            Feed(name="dredging", label="dredged footprints", forms=("polygons",)),
            Feed(
                name="seagrass",
                label="seagrass",
                forms=("polygons", "raster"),
                quantity=q.SEAGRASS_COVER,
                rule="area mean",
            ),
            Feed(
                name="mangrove",
                label="mangrove",
                forms=("polygons", "raster"),
                quantity=q.MANGROVE_COVER,
                rule="area mean",
            ),
            Feed(name="fresh_water", label="sources of fresh water", forms=_ANY_SHAPE),
            Feed(
                name="vessel_route",
                label="vessel routes",
                forms=("lines",),
                quantity=TRIPS,
                needs=("units", "column"),
            ),
            Feed(name="vessel_fix", label="positions of vessels", forms=("points",), needs=("vessel", "time")),
            Feed(name="landing", label="landing places", forms=_ANY_SHAPE),
            Feed(name="net", label="netting places", forms=_ANY_SHAPE),
            Feed(name="track", label="tracks and roads", forms=_ANY_SHAPE),
            Feed(
                name="bed_change",
                label="areas dug or filled to a level",
                forms=("polygons",),
                quantity=q.BED_ELEVATION,
                needs=("units", "positive", "datum", "column"),
            ),
            Feed(name="land_change", label="land claimed, and structures that bar the water", forms=("polygons",)),
            Feed(
                name="seagrass_change",
                label="seagrass cleared or planted",
                forms=("polygons",),
                quantity=q.SEAGRASS_COVER,
                needs=("units", "column"),
            ),
            Feed(
                name="mangrove_change",
                label="mangrove cleared or planted",
                forms=("polygons",),
                quantity=q.MANGROVE_COVER,
                needs=("units", "column"),
            ),
            Feed(
                name="land_cover_change",
                label="land put to another use",
                forms=("polygons",),
                quantity=CODE,
                needs=("column",),
                on="catchment",
            ),
            Feed(name="wind", label="wind directions", forms=("table",)),
            Feed(name="zone", label="zones", forms=("polygons",), needs=("column",)),
            Feed(name="sighting", label="sightings", forms=("points",), sensitive=True, terms=SIGHTING_TERMS),
            Feed(name="survey_track", label="lines searched for animals", forms=("lines",), terms=TRACK_TERMS),
            Feed(
                name="survey_effort",
                label="time searched for animals",
                forms=("raster",),
                quantity=EFFORT,
                rule="area sum",
                needs=("units",),
            ),
        )
    }
)


def is_raster(path_suffix: str) -> bool:
    """Whether a file of this suffix is read as a raster: every suffix not listed as a table or vector is."""
    return path_suffix.lower() not in VECTOR_SUFFIXES
