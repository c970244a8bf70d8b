"""What grows and flows in the invented site: land, seagrass, mangrove and fresh water, as features."""

from __future__ import annotations

import geopandas
import numpy as np
import pandas as pd
import shapely
from scipy import ndimage
from scipy.interpolate import PchipInterpolator

from layers.demo import cast
from layers.demo.contour import band, line, points, table
from layers.demo.noise import fractal_noise, generator
from layers.demo.terrain import STEP, Terrain, channel_line
from layers.demo.water import RIVER_MOUTH, corner, wet_place

COVER_BREAKS = (0.12, 0.35, 0.60, 1.5)  # of the seagrass map's classes [1]
COVER_CLASSES = (22.0, 47.0, 74.0)  # percent given to each
VILLAGE = (6.25, 12.25)  # [km]
MAINLAND = PchipInterpolator(*zip(*cast.MAINLAND_SHORE, strict=True))
SPRINGS = (("Issaby spring", (9.75, 9.15)), ("Ullamere spring", (5.05, 7.35)))


def land(ground: Terrain) -> geopandas.GeoDataFrame:
    """Land above mean high water. Columns part, hectares; the largest part comes first."""
    polygons = band(ground, ground.bed, cast.MEAN_HIGH_WATER, least=1200)
    return table(polygons, part=np.arange(1, len(polygons) + 1), hectares=_hectares(polygons))


def seagrass_potential(ground: Terrain) -> np.ndarray:
    """Seagrass cover on the lattice: sandbars at the right depth, away from mud, fresh water and heat. [1]"""
    e, n = np.meshgrid(ground.east, ground.north)
    shape = ground.bed.shape
    broad = fractal_noise("seagrass", shape, STEP, longest=2.6, roughness=2.1)
    fine = fractal_noise("seagrass patches", shape, STEP, longest=0.5, roughness=1.8)
    depth = -ndimage.gaussian_filter(ground.bed, 2)
    by_depth = np.clip((depth - 0.35) / 0.5, 0, 1) * np.clip((3.3 - depth) / 1.6, 0, 1)
    lagoon = np.clip(-ground.seaward / 0.5, 0, 1)
    plume = np.exp(-np.hypot(e - RIVER_MOUTH[0], n - RIVER_MOUTH[1]) / 1.6)
    salty = np.clip((e - MAINLAND(n) + 0.3) / 0.5, 0, 1)  # none in the river and the creeks
    vigour = 0.16 + 0.40 * broad + 0.09 * fine - 1.1 * plume - 0.9 * corner(e, n)
    return (by_depth * lagoon * salty * vigour).astype(np.float32)


def seagrass(ground: Terrain, potential: np.ndarray) -> geopandas.GeoDataFrame:
    """Seagrass beds by cover class. Columns bed, cover_pct [percent], hectares."""
    random = generator("seagrass cover")
    parts = []
    for low, high, cover in zip(COVER_BREAKS, COVER_BREAKS[1:], COVER_CLASSES, strict=False):
        polygons = band(ground, potential, low, high, least=4000)
        spread = cover + random.integers(-6, 7, len(polygons))
        parts.append(table(polygons, cover_pct=spread.astype(float), hectares=_hectares(polygons)))
    beds = pd.concat(parts, ignore_index=True)
    beds.insert(0, "bed", [f"SG{number:03d}" for number in range(1, len(beds) + 1)])
    return beds


def mangrove(ground: Terrain) -> geopandas.GeoDataFrame:
    """Mangrove on sheltered mud between mean sea level and high water. Columns stand, hectares."""
    e, n = np.meshgrid(ground.east, ground.north)
    patches = fractal_noise("mangrove", ground.bed.shape, STEP, longest=1.4, roughness=1.9)
    bed = ndimage.gaussian_filter(ground.bed, 1)
    level = np.minimum((bed - 0.02) / 0.25, (1.12 - bed) / 0.3)
    sheltered = (-0.12 - ground.seaward) / 0.2
    axis = np.interp([inlet for inlet, _ in cast.INLETS], *np.array(cast.BARRIER).T[::-1])
    sand = [np.hypot(e - a + 0.9, n - inlet) - 2.0 for a, (inlet, _) in zip(axis, cast.INLETS, strict=True)]
    village = (np.hypot(e - VILLAGE[0], n - VILLAGE[1]) - 0.42) / 0.1
    growth = np.minimum(1.15 + 0.6 * patches, 0.9 - 1.2 * corner(e, n) + patches)
    field = np.minimum.reduce([level, sheltered, *sand, village, growth])
    polygons = band(ground, field, 0.0, least=1500)
    return table(polygons, stand=[f"M{k:03d}" for k in range(1, len(polygons) + 1)], hectares=_hectares(polygons))


def springs(ground: Terrain) -> geopandas.GeoDataFrame:
    """Two springs that rise in the shallows. Columns name, flow_l_per_s."""
    places = [wet_place(ground, place, -0.2) for _, place in SPRINGS]
    return table(points(places), name=[name for name, _ in SPRINGS], flow_l_per_s=[38.0, 14.0])


def fresh_reach(ground: Terrain) -> geopandas.GeoDataFrame:
    """The river above the reach of salt in most months, from bank to bank. Column name."""
    course = channel_line(cast.RIVER)
    upper = line(course[course[:, 0] < 2.2]).buffer(220)
    water = shapely.union_all(band(ground, -ground.bed, -cast.MEAN_HIGH_WATER))
    return table([upper.intersection(water)], name=["upper Quorvane River"])


def _hectares(polygons):
    return np.round(shapely.area(polygons) / 10_000, 2)
