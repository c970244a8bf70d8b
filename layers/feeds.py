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

LOAD = Quantity(name="load", label="nitrogen load", units="kg/year", plausible=(0, 1e9))
TRIPS = Quantity(name="trips", label="vessel trips", units="1/day", plausible=(0, 100_000))
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
    sensitive: bool = False


_ANY_SHAPE = ("points", "lines", "polygons")

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
            Feed(
                name="salinity",
                label="salinity",
                forms=("raster", "points"),
                quantity=q.SALINITY,
                rule="bilinear",
                needs=("units",),
            ),
            Feed(
                name="water_temperature",
                label="water temperature",
                forms=("raster", "points"),
                quantity=q.WATER_TEMPERATURE,
                rule="bilinear",
                needs=("units",),
            ),
            Feed(
                name="nutrient_load",
                label="nitrogen loads at outlets",
                forms=("points",),
                quantity=LOAD,
                needs=("units", "column"),
            ),
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
            Feed(name="landing", label="landing places", forms=_ANY_SHAPE),
            Feed(name="net", label="netting places", forms=_ANY_SHAPE),
            Feed(name="track", label="tracks and roads", forms=_ANY_SHAPE),
            Feed(name="wind", label="wind directions", forms=("table",)),
            Feed(name="zone", label="zones", forms=("polygons",), needs=("column",)),
            Feed(name="sighting", label="sightings", forms=("points",), sensitive=True),
        )
    }
)


def is_raster(path_suffix: str) -> bool:
    """Whether a file of this suffix is read as a raster: every suffix not listed as a table or vector is."""
    return path_suffix.lower() not in VECTOR_SUFFIXES
