"""Three proposals for the invented site: one is fine, one is bad, one is bad only in the wrong season."""

from __future__ import annotations

import geopandas
import numpy as np

from layers.demo.contour import line, points, polygon, table
from layers.demo.terrain import Terrain
from layers.demo.water import wet_place

MARINA_BASIN = ((5.35, 4.25), (5.8, 4.2), (5.85, 4.65), (5.4, 4.7))
MARINA_BERTHS = ((5.45, 4.32), (5.72, 4.29), (5.76, 4.58), (5.48, 4.61))
MARINA_CHANNEL = ((5.75, 4.45), (6.6, 4.2), (7.9, 4.0), (9.55, 3.95))
ROAD = ((3.0, 15.95), (3.6, 15.75), (4.1, 15.6), (4.6, 15.5))
# where the water of the ponds is let out: off the closed northern end, where it stays longest
FARM_PIPE = (7.0, 15.5)


def marina() -> geopandas.GeoDataFrame:
    """A marina whose channel is dredged through the densest seagrass: bad. Polygons and a line."""
    basin = polygon(MARINA_BASIN)
    channel = line(MARINA_CHANNEL).buffer(60, cap_style="flat").difference(basin)
    nothing = np.nan
    return table(
        [basin, channel, polygon(MARINA_BERTHS), line(MARINA_CHANNEL)],
        kind=["dredged area", "dredged area", "moorings", "vessel route"],
        name=["Pellowick marina", "Pellowick marina channel", "Pellowick berths", "Pellowick boats"],
        note=[
            "Basin for 120 boats.",
            "Cut through seagrass to reach the southern tidal channel.",
            "Pontoons in the basin.",
            "Day trips of private boats.",
        ],
        depth_m=[3.0, 3.5, nothing, nothing],
        volume_m3=[265_000.0, 610_000.0, nothing, nothing],
        rate_m3_h=[400.0, 400.0, nothing, nothing],
        equipment=["cutter suction dredge", "cutter suction dredge", None, None],
        hours_day=[10.0, 10.0, nothing, nothing],
        dry_kg_m3=[850.0, 850.0, nothing, nothing],
        fines=[0.5, 0.4, nothing, nothing],
        fines_um=[14.0, 18.0, nothing, nothing],
        berths=[nothing, nothing, 120.0, nothing],
        trips_day=[nothing, nothing, 35.0, 35.0],
        draft_m=[nothing, nothing, nothing, 1.6],
        speed_kn=[nothing, nothing, nothing, 6.0],
    )


def farm(ground: Terrain) -> geopandas.GeoDataFrame:
    """A prawn farm that drains its ponds in the wet season: bad then, hardly felt in the dry. Point."""
    return table(
        points([wet_place(ground, FARM_PIPE, -0.4)]),
        kind=["outfall"],
        name=["Ambrel prawn farm"],
        note=["The ponds are drained after the harvest. The rates are a year's, while they are drained."],
        n_kg_year=[60_000.0],
        p_kg_year=[5_400.0],
        season=["wet"],
    )


def road(stands: geopandas.GeoDataFrame) -> geopandas.GeoDataFrame:
    """A road to a jetty through a narrow strip of mangrove, far from seagrass: fine. Polygons."""
    way = line(ROAD)
    cleared = stands.geometry.union_all().intersection(way.buffer(15, cap_style="flat"))
    culvert = way.interpolate(0.5, normalized=True).buffer(8, cap_style="square")
    return table(
        [cleared, culvert],
        kind=["mangrove cleared", "structure"],
        name=["North-west jetty road", "North-west culvert"],
        note=["A strip 30 m wide.", "The tide passes under the road."],
        bars=[None, "no"],
        opening_m=[np.nan, 4.0],
    )
