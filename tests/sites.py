"""A small whole site of real files, whose layers can be worked out by hand.

30 rows by 40 columns of 50 m cells. Land is the ten western columns; the bed falls eastwards by 0.25 m a column from
+2 m, level from north to south; mean water stands at the datum of the bed.
"""

from __future__ import annotations

from pathlib import Path

import geopandas as gpd
import numpy as np
import pandas as pd
import rasterio
from affine import Affine
from pyproj import Transformer
from shapely.geometry import LineString, Point, box

from habitat.profile import read_profile

CRS = "EPSG:32745"
WEST, SOUTH, EAST, NORTH, CELL = 500_000, 7_770_000, 502_000, 7_771_500, 50
ROWS, COLUMNS = 30, 40
LAND_COLUMNS = 10
SIGHTINGS = [(500_912.3, 7_770_434.7), (501_313.9, 7_771_127.1)]

_ABOUT = 'date = "2024"\nsource = "written for a test"\nlicence = "CC0-1.0"\ncredit = "nobody"\n'

SITE = """format = 1
title = "Small site"
author = "The testers"
invented = true

[grid]
crs = "EPSG:32745"
west = 500000
south = 7770000
east = 502000
north = 7771500
cell = 50

[seasons]
wet = [11, 12, 1, 2, 3, 4]
dry = [5, 6, 7, 8, 9, 10]

[water]
decided_by = "coast"

[reach]
units = "m"
source = "expert judgement"
stations = 3000
soundings = 2000
vessels = 300

[mixing]
open_edges = ["east"]
dispersion = { value = 5, units = "m2/s", source = "expert judgement" }
least_depth = { value = 0.3, units = "m", source = "expert judgement" }
nitrogen_loss = { value = 0.05, units = "1/day", source = "expert judgement" }
phosphorus_loss = { value = 0.05, units = "1/day", source = "expert judgement" }

[background]
nitrogen = { value = 0.1, units = "mg/L", source = "expert judgement" }
phosphorus = { value = 0.01, units = "mg/L", source = "expert judgement" }
chlorophyll = { value = 1, units = "ug/L", source = "expert judgement" }
suspended_solids = { value = 5, units = "mg/L", source = "expert judgement" }
"""

TABLES = {
    "coast": 'feeds = "land"\nfile = "coast.gpkg"\n',
    "bed": 'feeds = "bed_elevation"\nfile = "bed.tif"\nunits = "m"\npositive = "up"\ndatum = "mean sea level"\n'
    "error = 0.2\n",
    "tide": (
        'feeds = "tide"\nfile = "tide.csv"\nconstituent = "name"\ncolumn = "amplitude"\nphase = "phase"\n'
        'units = "m"\ndatum = "mean sea level"\n'
    ),
    "salinity": (
        'feeds = "salinity"\nfile = "stations.csv"\ncrs = "EPSG:4326"\nx = "longitude"\ny = "latitude"\n'
        'station = "station"\ntime = "date"\ncolumn = "salinity"\nunits = "PSU"\n'
    ),
    "temperature": (
        'feeds = "water_temperature"\nfile = "stations.csv"\ncrs = "EPSG:4326"\nx = "longitude"\ny = "latitude"\n'
        'station = "station"\ntime = "date"\ncolumn = "temperature"\nunits = "degC"\n'
    ),
    **{
        feeds: (
            f'feeds = "{feeds}"\nfile = "stations.csv"\ncrs = "EPSG:4326"\nx = "longitude"\ny = "latitude"\n'
            f'station = "station"\ntime = "date"\ncolumn = "{column}"\nunits = "{units}"\n'
        )
        for feeds, column, units in (
            ("chlorophyll", "green", "ug/L"),
            ("suspended_solids", "solids", "mg/L"),
            ("secchi_depth", "secchi", "m"),
        )
    },
    "seagrass": 'feeds = "seagrass"\nfile = "seagrass.gpkg"\ncolumn = "cover"\nunits = "percent"\n',
    "mangrove": 'feeds = "mangrove"\nfile = "mangrove.gpkg"\n',
    "outlets": 'feeds = "nitrogen_load"\nfile = "outlets.geojson"\ncolumn = "nitrogen"\nunits = "t/year"\n',
    "phosphorus": 'feeds = "phosphorus_load"\nfile = "outlets.geojson"\ncolumn = "phosphorus"\nunits = "t/year"\n',
    "works": 'feeds = "dredge_work"\nfile = "channel.zip"\n',
    "channel": 'feeds = "dredging"\nfile = "channel.zip"\n',
    "ferry": 'feeds = "vessel_route"\nfile = "ferry.gpkg"\ncolumn = "trips"\nunits = "1/day"\ndraft = "draft"\n',
    "jetty": 'feeds = "landing"\nfile = "jetty.csv"\ncrs = "EPSG:32745"\nx = "easting"\ny = "northing"\n',
    "nets": 'feeds = "net"\nfile = "nets.gpkg"\n',
    "road": 'feeds = "track"\nfile = "road.gpkg"\n',
    "spring": 'feeds = "fresh_water"\nfile = "spring.gpkg"\n',
    "wind": 'feeds = "wind"\nfile = "wind.csv"\n',
    "zones": 'feeds = "zone"\nfile = "zones.gpkg"\ncolumn = "name"\n',
    "seen": (
        'feeds = "sighting"\nfile = "seen.csv"\ncrs = "EPSG:4326"\nx = "decimalLongitude"\ny = "decimalLatitude"\n'
    ),
}


def write_small_site(folder: Path) -> Path:
    """Write the site into `folder` (made if need be); returns the path of its site file."""
    folder.mkdir(parents=True, exist_ok=True)
    _write_rasters(folder)
    _write_shapes(folder)
    _write_tables(folder)
    (folder / "profile.toml").write_text(read_profile("marine_seagrass_grazer").text, encoding="utf-8")
    path = folder / "site.toml"
    path.write_text(site_text(), encoding="utf-8")
    return path


def site_text(tables: dict[str, str] = TABLES) -> str:
    """The text of the site file with these tables under `[files]`."""
    return SITE + "".join(f"\n[files.{name}]\n{keys}{_ABOUT}" for name, keys in tables.items())


def bed() -> np.ndarray:
    """Bed elevation of the small site. [m]"""
    return np.tile(2.0 - 0.25 * np.arange(COLUMNS), (ROWS, 1)).astype(np.float32)


def degrees(x: float, y: float) -> tuple[float, float]:
    """Longitude and latitude of a place in the grid's projection."""
    return Transformer.from_crs(CRS, 4326, always_xy=True).transform(x, y)


def _write_rasters(folder: Path) -> None:
    form = {"driver": "GTiff", "width": COLUMNS, "height": ROWS, "count": 1, "dtype": "float32", "crs": CRS}
    form |= {"transform": Affine(CELL, 0, WEST, 0, -CELL, NORTH), "nodata": -9999.0}
    with rasterio.open(folder / "bed.tif", "w", **form) as target:
        target.write(bed(), 1)


def _write_shapes(folder: Path) -> None:
    def write(file: str, shapes: list, **columns: list) -> None:
        table = gpd.GeoDataFrame(columns, geometry=shapes, crs=CRS)
        (table.to_crs(4326) if file.endswith("geojson") else table).to_file(folder / file)

    write("coast.gpkg", [box(WEST, SOUTH, WEST + LAND_COLUMNS * CELL, NORTH)])
    write("seagrass.gpkg", [box(501_000, 7_770_500, 501_400, 7_771_000)], cover=[60.0])
    write("mangrove.gpkg", [box(500_450, 7_771_200, 500_600, 7_771_400)])
    write("outlets.geojson", [Point(500_525, 7_771_025)], nitrogen=[12.0], phosphorus=[1.0])
    write(
        "channel.shp.zip",
        [box(501_500, SOUTH, 501_600, 7_770_800)],
        name=["the channel"],
        equipment=["cutter suction dredge"],
        volume_m3=[36_000.0],
        rate_m3_h=[500.0],
        hours_day=[10.0],
        dry_kg_m3=[800.0],
        fines=[0.3],
        fines_um=[20.0],
        season=["dry"],
    )
    (folder / "channel.shp.zip").rename(folder / "channel.zip")
    write("ferry.gpkg", [LineString([(501_550, SOUTH), (501_550, NORTH)])], trips=[8.0], draft=[1.5])
    write("nets.gpkg", [Point(501_025, 7_770_225)])
    write("road.gpkg", [LineString([(500_200, SOUTH), (500_200, NORTH)])])
    write("spring.gpkg", [Point(500_525, 7_770_125)])
    write(
        "zones.gpkg", [box(500_500, SOUTH, 501_250, NORTH), box(501_250, SOUTH, EAST, NORTH)], name=["Inner", "Outer"]
    )


def _write_tables(folder: Path) -> None:
    def write(name: str, table: pd.DataFrame) -> None:
        table.to_csv(folder / name, index=False)

    write("tide.csv", pd.DataFrame({"name": ["M2", "S2"], "amplitude": [0.5, 0.2], "phase": [10.0, 40.0]}))
    write("wind.csv", pd.DataFrame({"direction": [0, 90, 180, 270], "share": [0.1, 0.4, 0.4, 0.1]}))
    write("jetty.csv", pd.DataFrame({"easting": [500_525.0], "northing": [7_770_525.0]}))
    stations = {"A": (500_625, 7_770_325), "B": (501_025, 7_770_825), "C": (501_725, 7_771_225)}
    records = [
        (
            name,
            *degrees(x, y),
            f"2023-{month:02d}-15",
            30.0 + 2 * rank - 4 * (month in (11, 12, 1, 2, 3, 4)),
            24.0 + rank,
            1.0 + rank,
            5.0 + rank,
            2.0 + rank,
        )
        for rank, (name, (x, y)) in enumerate(stations.items())
        for month in range(1, 13)
    ]
    write(
        "stations.csv",
        pd.DataFrame(
            records,
            columns=[
                "station",
                "longitude",
                "latitude",
                "date",
                "salinity",
                "temperature",
                "green",
                "solids",
                "secchi",
            ],
        ),
    )
    seen = [(*degrees(x, y), "2023-06-01", 1) for x, y in SIGHTINGS]
    write(
        "seen.csv", pd.DataFrame(seen, columns=["decimalLongitude", "decimalLatitude", "eventDate", "individualCount"])
    )
