"""Three proposals for the invented site: one is fine, one is bad, one is bad only in the wrong season."""

from __future__ import annotations

import geopandas
import numpy as np

from layers.demo.contour import line, points, polygon, table
from layers.demo.terrain import Terrain
from layers.demo.water import wet_place

MARINA_CHANNEL = ((5.75, 4.45), (6.6, 4.2), (7.9, 4.0), (9.55, 3.95))
ROAD = ((3.0, 15.95), (3.6, 15.75), (4.1, 15.6), (4.6, 15.5))
FARM = ((0.2, 8.5), (0.9, 9.05), (1.6, 9.35), (1.35, 9.95), (0.5, 9.75), (-0.1, 9.2))


def marina() -> geopandas.GeoDataFrame:
    """A marina whose channel is dredged through the densest seagrass: bad. Polygons."""
    basin = polygon([(5.35, 4.25), (5.8, 4.2), (5.85, 4.65), (5.4, 4.7)])
    channel = line(MARINA_CHANNEL).buffer(60, cap_style="flat").difference(basin)
    return table(
        [basin, channel],
        kind=["marina", "dredged channel"],
        name=["Pellowick marina", "Pellowick marina channel"],
        note=["Basin for 120 boats.", "Cut through seagrass to reach the southern tidal channel."],
        berths=[120.0, np.nan],
        trips_per_day=[35.0, 35.0],
        depth_m=[3.0, 3.5],
        volume_m3=[265_000.0, 610_000.0],
        first_month=[5, 5],
        last_month=[10, 10],
    )


def farm(ground: Terrain) -> geopandas.GeoDataFrame:
    """More cane upstream, with its drain: bad in the wet season, hardly felt in the dry. Polygon and point."""
    return table(
        [polygon(FARM), points([wet_place(ground, (1.7, 8.4), -0.4)])[0]],
        kind=["farm", "nutrient outlet"],
        name=["Quorvane cane expansion", "Quorvane cane drain"],
        note=["Fertiliser is washed out by the rains.", "Nitrogen that leaves the new fields, by season."],
        area_ha=[round(polygon(FARM).area / 10_000, 1), np.nan],
        wet_kg_per_year=[np.nan, 96_000.0],
        dry_kg_per_year=[np.nan, 2_400.0],
    )


def road(stands: geopandas.GeoDataFrame) -> geopandas.GeoDataFrame:
    """A road to a jetty through a narrow strip of mangrove, far from seagrass: fine. Polygons."""
    strip = line(ROAD).buffer(15, cap_style="flat")
    cleared = stands.geometry.union_all().intersection(strip)
    return table(
        [cleared],
        kind=["mangrove clearing"],
        name=["North-west jetty road"],
        note=["A strip 30 m wide, on culverts."],
        area_ha=[round(cleared.area / 10_000, 2)],
        width_m=[30.0],
    )
