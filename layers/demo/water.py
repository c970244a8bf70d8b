"""The water of the invented site through the year: fresh from the river in the wet season, hot in the north.

One set of formulas gives what twelve stations measured over eight years and what a satellite saw.
"""

from __future__ import annotations

import numpy as np
import pandas as pd
from scipy import ndimage

from layers.demo import cast
from layers.demo.contour import degrees
from layers.demo.noise import generator
from layers.demo.terrain import STEP, Terrain

Numeric = float | np.ndarray

WET, DRY = 2.0, 8.0  # middle of each season [month]
RIVER_MOUTH = (4.0, 8.9)
FIRST_YEAR, YEARS = 2014, 8
NITRATE_LIMIT, CHLOROPHYLL_LIMIT = 0.01, 0.5  # of detection [mg/L], [ug/L]

STATIONS = (
    ("TL01", "upper river", (0.95, 7.5)),
    ("TL02", "river mouth", (3.4, 8.9)),
    ("TL03", "head of the lagoon", (5.4, 8.8)),
    ("TL04", "west of the long island", (7.3, 9.8)),
    ("TL05", "village anchorage", (7.0, 11.8)),
    ("TL06", "middle of the lagoon", (11.3, 10.1)),
    ("TL07", "southern inlet", (12.9, 6.2)),
    ("TL08", "southern end", (9.9, 1.9)),
    ("TL09", "south-west creek", (5.9, 3.2)),
    ("TL10", "northern inlet", (13.0, 14.3)),
    ("TL11", "hot corner", (8.9, 17.6)),
    ("TL12", "open sea", (16.6, 10.2)),
)


def station_places(ground: Terrain) -> np.ndarray:
    """(12, 2) places of the stations, each in the nearest water that only the lowest tides lay dry. [km]"""
    return np.array([wet_place(ground, place) for _, _, place in STATIONS])


def wet_place(ground: Terrain, place: cast.Place, below: float = -0.9) -> cast.Place:
    """The nearest place to `place`, within a kilometre, whose bed lies below `below` [m]. [km]"""
    rows = np.flatnonzero(np.abs(ground.north - place[1]) < 1)
    columns = np.flatnonzero(np.abs(ground.east - place[0]) < 1)
    away = np.hypot(ground.east[columns] - place[0], ground.north[rows, np.newaxis] - place[1])
    away = np.where(ground.bed[np.ix_(rows, columns)] < below, away, np.inf)
    row, column = np.unravel_index(np.argmin(away), away.shape)
    return float(ground.east[columns[column]]), float(ground.north[rows[row]])


def river_share(east: Numeric, north: Numeric, month: Numeric, flow: Numeric = 1.0) -> Numeric:
    """Share of river water, 0 to 1, far in the wet season and near in the dry. [1]"""
    wet = wetness(month) * flow
    away = np.hypot(east - RIVER_MOUTH[0], north - RIVER_MOUTH[1])
    upstream = np.asarray(east) < RIVER_MOUTH[0]
    away = np.where(upstream, -away, away)
    half_way = -1.8 + 4.0 * wet  # where half is river water, below the mouth [km]
    return 1 / (1 + np.exp((away - half_way) / (0.9 + 0.9 * wet)))


def wetness(month: Numeric) -> Numeric:
    """From 0 in the driest to 1 in the wettest time of the year, which is early February. [1]"""
    return 0.5 + 0.5 * np.cos(2 * np.pi * (np.asarray(month, float) - WET) / 12)


def corner(east: Numeric, north: Numeric) -> Numeric:
    """1 deep in the closed northern end, 0 outside. [1]"""
    return np.clip((north - 15.6 + 0.12 * (east - 8)) / 2.2, 0, 1) * np.clip((13 - east) / 1.5, 0, 1)


def salinity(east: Numeric, north: Numeric, month: Numeric, flow: Numeric = 1.0) -> Numeric:
    """Practical salinity; above the sea's in the hot corner when it is dry. [1]"""
    share = river_share(east, north, month, flow)
    return 0.3 + (35.0 - 0.3) * (1 - share) + corner(east, north) * (3.6 - 4.2 * wetness(month))


def temperature(east: Numeric, north: Numeric, month: Numeric, bed: Numeric, seaward: Numeric) -> Numeric:
    """Water temperature; shallow, enclosed water is warmer the nearer to midsummer. [degree_Celsius]"""
    summer = wetness(np.asarray(month) - 0.6)
    shallow = np.exp(-np.clip(-bed, 0.2, None) / 1.6)
    enclosed = np.clip(-seaward / 2.5, 0, 1)
    warmth = 2.2 * enclosed * shallow + 4.4 * corner(east, north)
    return 23.6 + 5.0 * summer + warmth * (0.55 + 0.45 * summer)


def records(ground: Terrain) -> pd.DataFrame:
    """What the stations measured: one row a visit, about once a month, with gaps.

    A value below the limit of detection is given as the limit, with "<" in the column beside it.
    """
    random = generator("stations")
    places = station_places(ground)
    longitude, latitude = degrees(*places.T)
    months = np.arange(12 * YEARS)
    flow = np.clip(1 + 0.16 * random.standard_normal(YEARS), 0.7, 1.35)[months // 12]
    tables = []
    for number, ((code, _, _), (east, north)) in enumerate(zip(STATIONS, places, strict=True)):
        bed = float(ground.sample(ground.bed, np.array([east]), np.array([north]))[0])
        seaward = float(ground.sample(ground.seaward, np.array([east]), np.array([north]))[0])
        day = random.integers(4, 26, len(months))
        month = 1 + months % 12 + (day - 1) / 30
        share = river_share(east, north, month, flow)
        village = np.exp(-np.hypot(east - 6.6, north - 12.0) / 0.8)
        growth = 1.035 ** (months / 12)  # the farms grow
        noise = random.standard_normal((6, len(months)))
        nitrate = (0.020 + (0.09 + 0.38 * wetness(month)) * share * growth + 0.05 * village) * np.exp(0.45 * noise[0])
        chlorophyll = (0.9 + 5.5 * share * growth + 2.0 * village) * np.exp(0.40 * noise[1])
        solids = (4 + 45 * share * wetness(month) + 5 * np.exp(bed)) * np.exp(0.35 * noise[2])
        tables.append(
            pd.DataFrame(
                {
                    "station": code,
                    "longitude": round(float(longitude[number]), 6),
                    "latitude": round(float(latitude[number]), 6),
                    "date": [_date(*visit) for visit in zip(months, day, strict=True)],
                    "salinity": np.clip(salinity(east, north, month, flow) + 0.6 * noise[3], 0.1, 41).round(1),
                    "temperature_c": (temperature(east, north, month, bed, seaward) + 0.5 * noise[4]).round(1),
                    "nitrate_mg_per_l": np.maximum(nitrate, NITRATE_LIMIT).round(3),
                    "nitrate_flag": np.where(nitrate < NITRATE_LIMIT, "<", ""),
                    "chlorophyll_ug_per_l": np.maximum(chlorophyll, CHLOROPHYLL_LIMIT).round(1),
                    "chlorophyll_flag": np.where(chlorophyll < CHLOROPHYLL_LIMIT, "<", ""),
                    "suspended_solids_mg_per_l": solids.round(1),
                    "secchi_m": np.minimum(6.5 / solids**0.6 * np.exp(0.1 * noise[5]) * 1.6, -bed).round(1),
                }
            )
        )
    return _with_gaps(pd.concat(tables, ignore_index=True), random)


def _date(month, day):
    return f"{FIRST_YEAR + month // 12}-{1 + month % 12:02d}-{day:02d}"


def _with_gaps(table, random):
    """Visits that storms and a broken boat prevented, and readings of a probe that failed."""
    year = table["date"].str[:4].astype(int)
    month = table["date"].str[5:7].astype(int)
    missed = random.random(len(table)) < np.where(month.isin([1, 2, 3]), 0.13, 0.04)
    missed |= (table["station"] == "TL12") & (year < 2016)  # set up later
    missed |= (table["station"] == "TL06") & (year == 2018) & (month > 3)  # the boat
    for column, share in (("salinity", 0.02), ("temperature_c", 0.01), ("secchi_m", 0.06)):
        table.loc[random.random(len(table)) < share, column] = np.nan
    return table[~missed].reset_index(drop=True)


def satellite_temperature(ground: Terrain) -> tuple[np.ndarray, tuple[float, float, float]]:
    """Mean water temperature of the wet and of the dry season on a lattice of a thousandth of a degree.

    Returns
    -------
    (2, M, N) array, float32
        Wet, dry; NaN over land more than two pixels from water. [degree_Celsius]
    tuple
        Longitude and latitude of the north-west corner, side of a pixel. [degrees]
    """
    from pyproj import Transformer

    side = 0.001
    edge_e, edge_n = np.array([0.0, 20, 0, 20]), np.array([0.0, 0, 20, 20])
    longitude, latitude = degrees(edge_e, edge_n)
    west, north = np.floor(longitude.min() / side) * side, np.ceil(latitude.max() / side) * side
    columns = int(np.ceil((longitude.max() - west) / side))
    rows = int(np.ceil((north - latitude.min()) / side))
    lon, lat = np.meshgrid(west + side * (np.arange(columns) + 0.5), north - side * (np.arange(rows) + 0.5))
    x, y = Transformer.from_crs("EPSG:4326", cast.CRS, always_xy=True).transform(lon, lat)
    e, n = (x - cast.WEST) / 1000, (y - cast.SOUTH) / 1000
    mean_bed = ndimage.uniform_filter(ground.bed, round(0.1 / STEP))
    bed, seaward = ground.sample(mean_bed, e, n), ground.sample(ground.seaward, e, n)
    wet_fraction = ground.sample((ground.bed < cast.MEAN_HIGH_WATER).astype(np.float32), e, n)
    land = ~ndimage.binary_dilation(wet_fraction > 0.3, iterations=2)
    noise = ndimage.gaussian_filter(generator("satellite").standard_normal((2, *bed.shape)), (0, 1.5, 1.5))
    bands = np.array([temperature(e, n, month, bed, seaward) for month in (WET, DRY)]) + 0.5 * noise
    return np.where(land, np.nan, bands).astype(np.float32), (float(west), float(north), side)
