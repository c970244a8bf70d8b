"""The land behind the invented lagoon: hills, streams, fields, soils and rain. Nothing in it was measured anywhere.

Within the site it is the site's own ground, but for the narrow valleys of the creeks; to the west it rises from hand
drawn streams, so that what rains there comes to the heads of the creeks and to the river where it enters the site.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import pandas as pd
from affine import Affine
from scipy import ndimage
from scipy.spatial import cKDTree

from layers.alignment import cover_fraction, line_length
from layers.demo import cast, people
from layers.demo.noise import fractal_noise, generator
from layers.demo.terrain import STEP, Terrain, channel_line
from layers.grid import Grid

CELL = 100.0  # [m]
WEST, EAST = -12.0, 12.5  # of the site's western edge [km]
# upstream from where each meets the river, a creek of the site, or another of these: (east, north) [km]
STREAMS = (
    ((-0.95, 5.62), (-2.6, 5.9), (-4.5, 6.9), (-6.5, 7.0), (-8.5, 8.2), (-11.6, 8.6)),
    ((-2.6, 5.9), (-3.9, 4.5), (-6.2, 3.9), (-9.6, 4.3)),
    ((-4.5, 6.9), (-5.3, 8.8), (-7.5, 10.6), (-10.9, 11.4)),
    ((-6.5, 7.0), (-8.0, 5.9), (-11.2, 6.2)),
    ((1.7, 1.9), (0.2, 1.4), (-2.0, 1.8), (-5.0, 1.2), (-9.2, 1.5)),
    ((2.7, 5.0), (1.5, 4.3), (-0.3, 3.9)),
    ((1.5, 13.9), (0.0, 14.4), (-2.5, 13.8), (-6.0, 14.6), (-10.6, 14.0)),
    ((-2.5, 13.8), (-4.2, 12.6), (-6.4, 12.5)),
    ((3.5, 18.4), (2.0, 18.7), (-0.5, 18.2), (-4.0, 18.6), (-9.6, 18.0)),
)
MOUTH = 0.95  # height of a stream where it meets the tide [m]
GENTLE, STEEPER = 1.5, 0.22  # fall of a stream: so much and so much more with every km [m/km]
COVERS = (  # code, label, then as in the columns of `land_cover`
    (1, "cane", "pasture, fair", "row crops", None, None, 0.15),
    (2, "maize", "pasture, poor", "row crops", None, None, 0.30),
    (3, "orchard", "woods with grass, fair", "other crops", None, None, 0.10),
    (4, "pasture", "pasture, fair", "pasture", None, None, 0.03),
    (5, "woodland", "woods, fair", "forest", None, None, 0.003),
    (6, "wetland", "open space, poor", "forest", None, None, 0.001),
    (7, "village", "open space, fair", "urban", "urban", 0.25, 0.05),
    (8, "road", "open space, fair", "urban", "urban", 0.15, 0.10),
)
CANE, MAIZE, ORCHARD, PASTURE, WOODLAND, WETLAND, VILLAGE, ROAD = range(1, 9)
VILLAGES = (((6.1, 12.25), 0.45), ((-3.6, 7.2), 0.28))  # place, radius [km]
SOILS = ((1, "A", 0.015), (2, "B", 0.030), (3, "C", 0.035), (4, "D", 0.028))  # code, group, erodibility
EROSIVITY, DELIVERY_RATIO, SLOPE_LENGTH = 6000.0, 0.12, 60.0  # [MJ mm/(ha h year)], [1], [m]
YEARS = (2014, 2021)
# chance of rain after a dry and after a wet day, mean rain of a wet day [mm], by month
WET_CHANCES = (0.36, 0.37, 0.33, 0.20, 0.12, 0.09, 0.07, 0.06, 0.07, 0.11, 0.20, 0.30)
WET_MEANS = (16.0, 17.0, 15.5, 12.5, 12.0, 11.5, 10.5, 9.5, 9.5, 10.0, 11.5, 14.5)


@dataclass(frozen=True, kw_only=True, eq=False)
class Land:
    """Maps of the catchment, (M, N) from north to south; NaN where the mainland ends."""

    grid: Grid
    terrain: np.ndarray  # elevation above mean sea level [m]
    land_cover: np.ndarray  # codes of `COVERS`
    soil_group: np.ndarray  # codes of `SOILS`
    water: np.ndarray  # True where the site's water is: for tests and pictures, the site file decides

    @property
    def transform(self) -> Affine:
        """From (column, row) of a cell's corner to (x, y)."""
        return self.grid.transform


def land(ground: Terrain) -> Land:
    """Terrain, land cover and soil groups of the catchment on cells of 100 m."""
    west, east = cast.WEST + 1000 * WEST, cast.WEST + 1000 * EAST
    grid = Grid.from_bounds(cast.CRS, west, cast.SOUTH, east, cast.NORTH, CELL)
    e, n = np.meshgrid((grid.x - cast.WEST) / 1000, (grid.y - cast.SOUTH) / 1000)
    terrain, water, distance = _shaped(ground, e, n)
    mainland, _ = ndimage.label(~water)
    terrain[mainland != mainland[0, 0]] = np.nan
    cover = _covered(grid, terrain, e, n, distance)
    soil = _soils(terrain, distance)
    return Land(grid=grid, terrain=terrain, land_cover=cover, soil_group=soil, water=water)


def land_cover() -> pd.DataFrame:
    """What the codes of land cover stand for; crops borrow curve numbers of pasture, as no table of crops ships."""
    words = ("code", "label", "curve_number_cover", "export_cover", "concentration_cover", "impervious_share")
    table = pd.DataFrame(COVERS, columns=[*words, "cover_factor"])
    table["note"] = "invented for demonstration"
    return table


def soils() -> pd.DataFrame:
    """What the codes of soil stand for. Columns code, soil_group, erodibility [t ha h/(ha MJ mm)]."""
    return pd.DataFrame(SOILS, columns=["code", "soil_group", "erodibility"])


def rain() -> pd.DataFrame:
    """Columns date, rain_mm: every day of eight years, wet from November to April."""
    random = generator("rain")
    days = pd.date_range(f"{YEARS[0]}-01-01", f"{YEARS[1]}-12-31", freq="D")
    depth, was_wet = np.zeros(len(days)), False
    year_factor = dict(zip(range(YEARS[0], YEARS[1] + 1), random.uniform(0.85, 1.2, 8), strict=True))
    for at, day in enumerate(days):
        chance = WET_CHANCES[day.month - 1] * year_factor[day.year]
        was_wet = random.random() < (chance + 0.28 if was_wet else 0.8 * chance)
        if was_wet:  # mostly showers, at times a storm
            depth[at] = random.gamma(0.62, WET_MEANS[day.month - 1] / 0.62)
    return pd.DataFrame({"date": days.strftime("%Y-%m-%d"), "rain_mm": depth.round(1)})


def _shaped(ground: Terrain, e: np.ndarray, n: np.ndarray) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Elevation [m], the site's water, and the distance to the nearest stream [km]."""
    steps = round(CELL / 1000 / STEP)
    bed = ground.sample(ndimage.uniform_filter(ground.bed, steps), e, n)
    wet = ground.sample(ndimage.uniform_filter((ground.bed < cast.MEAN_HIGH_WATER).astype(np.float32), steps), e, n)
    water = (wet > 0.5) & (e > 0)
    places, level = _stream_nodes()
    distance, node = cKDTree(places).query(np.column_stack([e.ravel(), n.ravel()]))
    distance, stream = distance.reshape(e.shape), level[node].reshape(e.shape)
    rough = fractal_noise("catchment hills", e.shape, CELL / 1000, longest=2.4, roughness=2.5)
    hills = 30 * distance**1.3 * np.clip(1 + 0.4 * rough, 0.25, None)
    upland = stream + 1.5 * distance + hills + 14 * np.clip(-e - 7, 0, None) * np.clip(distance, 0, 1)
    inside = np.clip((e + 0.4) / 1.2, 0, 1)
    terrain = inside * bed + (1 - inside) * upland
    valley = stream + 45 * np.clip(distance - 0.07, 0, None)
    return np.where(distance < 0.6, np.minimum(terrain, valley), terrain).astype(np.float32), water, distance


def _stream_nodes() -> tuple[np.ndarray, np.ndarray]:
    """(K, 2) places along all streams [km] and their heights [m]."""
    river = channel_line(cast.RIVER)
    tidal = river[river[:, 0] < 0][::-1]  # from the site's edge upstream to where the drawn stream begins
    places, lengths = [tidal], [_along(tidal)]
    for number, stream in enumerate(STREAMS):
        line = channel_line(cast.Channel(line=stream, depth=(0, 0), width=(0, 0), meander=0.16, wavelength=1.3))
        line = np.vstack([stream[0], line])
        start = 0.0  # at the tide, or where it meets a stream drawn before
        before = np.concatenate(places)
        apart, node = cKDTree(before).query(line[0])
        if number == 0 or apart < 0.3:
            start = np.concatenate(lengths)[node] + apart
        places.append(line)
        lengths.append(start + _along(line))
    along = np.concatenate(lengths)
    return np.concatenate(places), MOUTH + GENTLE * along + STEEPER * along**2


def _along(line: np.ndarray) -> np.ndarray:
    return np.concatenate([[0], np.cumsum(np.hypot(*np.diff(line, axis=0).T))])


def _covered(grid: Grid, terrain: np.ndarray, e: np.ndarray, n: np.ndarray, distance: np.ndarray) -> np.ndarray:
    slope = np.hypot(*np.gradient(np.nan_to_num(terrain), CELL))
    patch = fractal_noise("catchment cover", e.shape, CELL / 1000, longest=1.6, roughness=2.4)
    cover = np.full(e.shape, WOODLAND, np.float32)
    cover[(slope < 0.07) & (patch + 0.7 * (distance < 1.1) > 0.25)] = PASTURE
    # fields in blocks of 300 m on the gentle ground beside the streams
    sides = (e.shape[0] // 3 + 1, e.shape[1] // 3 + 1)
    crop = generator("catchment fields").choice([CANE, CANE, CANE, MAIZE, ORCHARD], sides)
    blocks = np.kron(crop, np.ones((3, 3)))[: e.shape[0], : e.shape[1]]
    fields = (distance < 0.75) & (slope < 0.05) & (patch > -0.25) & (e + patch > -8.5) & (e < 1.2)
    cover[fields] = blocks[fields]
    farms = people.farms()
    for code, name in ((CANE, "cane"), (MAIZE, "maize"), (ORCHARD, "orchard")):
        cover[cover_fraction(farms.geometry[farms["crop"] == name], grid) > 0.5] = code
    cover[(terrain < 1.4) & (e > 0)] = WETLAND
    for (at_e, at_n), radius in VILLAGES:
        cover[np.hypot(e - at_e, n - at_n) < radius] = VILLAGE
    roads = people.roads()
    cover[line_length(roads.geometry[roads["surface"] == "sealed"], grid) > 0.6 * CELL] = ROAD
    return np.where(np.isnan(terrain), np.float32(np.nan), cover)


def _soils(terrain: np.ndarray, distance: np.ndarray) -> np.ndarray:
    """Clay on the flats, loam in the valleys, sand on some ridges."""
    kind = fractal_noise("catchment soils", terrain.shape, CELL / 1000, longest=3.0, roughness=2.6)
    soil = np.where(kind > 0.2, 2.0, 3.0)
    soil[(distance > 1.0) & (kind > 1.1)] = 1
    soil[(terrain < 2.5) | (kind < -1.3)] = 4
    return np.where(np.isnan(terrain), np.nan, soil).astype(np.float32)
