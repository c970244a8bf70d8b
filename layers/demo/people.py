"""What people do in the invented site: farms, outlets, dredging, boats, landing places, nets, roads and zones."""

from __future__ import annotations

import geopandas
import numpy as np
import pandas as pd

from layers.demo import cast
from layers.demo.contour import line, points, polygon, table
from layers.demo.noise import generator
from layers.demo.terrain import Terrain, channel_line
from layers.demo.water import wet_place

# name, kind, place, nitrogen in the wet and in the dry season [kg/year]
OUTLETS = (
    ("Jessimble outfall", "village", (6.75, 12.1), 8_200.0, 8_600.0),
    ("cannery outfall", "fish landing", (6.5, 11.85), 2_100.0, 3_400.0),
)
# name, kind of place, people who land a day, place
LANDINGS = (
    ("Jessimble landing", "fishing village", 85, (6.6, 12.05)),
    ("barrier jetty", "ferry jetty", 40, (13.2, 10.75)),
    ("river camp", "camp", 6, (3.5, 9.0)),
    ("long island beach", "day visitors", 12, (9.75, 8.3)),
)
NETS = (
    ("stake net 1", ((7.3, 12.9), (7.7, 12.7))),
    ("stake net 2", ((6.3, 10.6), (6.7, 10.4))),
    ("stake net 3", ((5.3, 8.1), (5.6, 7.8))),
    ("stake net 4", ((5.9, 14.1), (6.3, 14.2))),
    ("stake net 5", ((11.5, 13.2), (11.8, 13.0))),
    ("stake net 6", ((5.9, 10.0), (6.2, 9.75))),
)
ROADS = (
    (
        "coast road",
        "sealed",
        (
            (3.0, 20.5),
            (3.4, 19.2),
            (2.2, 16.6),
            (3.0, 15.6),
            (3.6, 14.8),
            (4.0, 13.2),
            (4.9, 12.2),
            (4.2, 11.2),
            (2.3, 10.3),
            (0.6, 9.2),
            (-0.5, 8.7),
        ),
    ),
    ("village road", "sealed", ((4.9, 12.2), (5.6, 12.3), (6.15, 12.3))),
    ("farm track", "earth", ((0.6, 9.2), (0.4, 8.1), (-0.3, 7.4))),
    ("southern track", "earth", ((-0.5, 5.0), (0.9, 5.3), (2.0, 5.9), (3.2, 6.9), (3.6, 7.4))),
    (
        "barrier track",
        "sand",
        ((13.75, 13.2), (13.75, 12.2), (13.72, 11.2), (13.85, 10.2), (13.75, 9.2), (13.55, 8.2)),
    ),
)
# the line between the northern and the other zones, and between the river's and the sound's
NORTH_LINE = ((5.2, 12.75), (8.6, 12.6), (11.2, 12.2), (14.4, 12.2))
RIVER_LINE = ((8.6, 12.6), (9.3, 10.4), (8.6, 8.6), (7.2, 7.2), (4.4, 6.8))
ZONES = (
    (
        "Ambrel Flats",
        "no nets",
        (*NORTH_LINE, (14.2, 14.6), (13.2, 16.6), (11.4, 19.0), (9.0, 20.0), (3.4, 18.8), (3.0, 15.4)),
    ),
    ("Quorvane Reach", "general use", (NORTH_LINE[0], *RIVER_LINE, (2.4, 8.0), (2.4, 9.8))),
    (
        "Tessamure Sound",
        "no anchoring on seagrass",
        (
            *RIVER_LINE[::-1],
            *NORTH_LINE[2:],
            (14.7, 10.0),
            (13.9, 6.0),
            (12.6, 3.4),
            (12.1, 0.2),
            (8.0, 0.6),
            (3.8, 2.2),
        ),
    ),
)
# share of the time the wind blows from each of 16 directions, in percent: south-east trades
WIND = (2.0, 2.5, 4.0, 6.5, 9.0, 12.0, 18.0, 14.5, 9.5, 5.5, 4.0, 3.0, 2.5, 2.5, 2.5, 2.0)


def outlets(ground: Terrain) -> geopandas.GeoDataFrame:
    """Outfalls of the village; what the land sends is worked out from its cover.

    Columns name, kind, wet_kg_per_year, dry_kg_per_year: nitrogen, each as a year's rate.
    """
    names, kinds, places, wet, dry = zip(*OUTLETS, strict=True)
    at = points([wet_place(ground, place, -0.4) for place in places])
    return table(at, name=names, kind=kinds, wet_kg_per_year=wet, dry_kg_per_year=dry)


def farms() -> geopandas.GeoDataFrame:
    """Fields along the river. Columns crop, hectares."""
    random = generator("farms")
    course = channel_line(cast.RIVER)
    course = course[(course[:, 0] > -0.3) & (course[:, 0] < 2.4)]
    fields, crops = [], []
    for at in range(15, len(course) - 15, 34):
        along = course[at + 12] - course[at - 12]
        along = along / np.hypot(*along)
        for side in (1, -1):
            across = side * np.array([-along[1], along[0]])
            near, far, length = 0.16, 0.45 + 0.5 * random.random(), 0.13 + 0.02 * random.random()
            corners = ((-length, near), (length, near), (length, far), (-length, far))
            shape = polygon([course[at] + ahead * along + aside * across for ahead, aside in corners])
            if all(shape.intersection(other).area < 2000 for other in fields) and random.random() < 0.85:
                fields.append(shape)
                crops.append(str(random.choice(["cane", "cane", "maize", "orchard"])))
    return table(fields, crop=crops, hectares=[round(field.area / 10_000, 2) for field in fields])


def dredging() -> geopandas.GeoDataFrame:
    """Dredged footprints of the ferry channel: what is dug each dry season, and how. Columns as a work needs them."""
    course = channel_line(cast.FERRY_CHANNEL)
    reaches = (
        ("village reach", 0.0, 0.24, 96_000, 2020),
        ("middle reach", 0.42, 0.72, 71_000, 2018),
        ("barrier basin", 0.88, 1.0, 54_000, 2020),
    )
    names, starts, ends, volumes, years = zip(*reaches, strict=True)
    size = len(course)
    lines = [line(course[int(a * size) : max(int(b * size), 2)]) for a, b in zip(starts, ends, strict=True)]
    footprints = [part.buffer(75, cap_style="flat") for part in lines]
    count = len(footprints)
    return table(
        footprints,
        name=names,
        depth_m=[3.8] * count,
        volume_m3=volumes,
        year=years,
        season=["dry"] * count,
        equipment=["cutter suction dredge"] * count,
        rate_m3_h=[350.0] * count,
        hours_day=[10.0] * count,
        dry_kg_m3=[900.0] * count,
        fines=[0.45, 0.35, 0.12],
        fines_um=[16.0, 20.0, 30.0],
    )


def routes() -> geopandas.GeoDataFrame:
    """Vessel routes. Columns name, vessel, trips [1/day], draft_m [m]."""
    ferry = channel_line(cast.FERRY_CHANNEL)
    south, _, back, north, _ = (channel_line(channel)[::-1] for channel in cast.TIDAL_CHANNELS)
    to_the_river = [(7.3, 11.0), (6.9, 10.0), (6.2, 9.4), (4.6, 8.8), (3.4, 8.9)]
    drafts = {"ferry": 1.6, "fishing boat": 0.8, "dive boat": 0.7, "freighter": 5.2}
    rows = (
        ("ferry", "ferry", 14.0, ferry[::5]),
        (
            "village to the sea",
            "fishing boat",
            22.0,
            [*ferry[:40:5], *north[::4], (17.2, 14.8), (20.4, 15.6)],
        ),
        ("village to the river", "fishing boat", 9.0, [*ferry[:60:5], *to_the_river]),
        ("river to the sea", "fishing boat", 5.0, [*south[::5], (18.0, 5.2), (20.4, 4.6)]),
        ("behind the barrier", "dive boat", 6.0, [ferry[-1], (12.9, 10.2), *back[::5]]),
        (
            "coastal passage",
            "freighter",
            3.0,
            [(17.6, -0.4), (18.6, 6.0), (18.9, 11.0), (18.6, 15.0), (17.9, 20.4)],
        ),
    )
    names, vessels, trips, lines = zip(*rows, strict=True)
    drawn = [line(places) for places in lines]
    return table(drawn, name=names, vessel=vessels, trips=trips, draft_m=[drafts[vessel] for vessel in vessels])


def landings(ground: Terrain) -> geopandas.GeoDataFrame:
    """Landing places. Columns name, kind, people_per_day."""
    names, kinds, people, places = zip(*LANDINGS, strict=True)
    at = points([wet_place(ground, place, -0.3) for place in places])
    return table(at, name=names, kind=kinds, people_per_day=people)


def nets() -> geopandas.GeoDataFrame:
    """Stake nets. Columns name, mesh_mm."""
    names, lines = zip(*NETS, strict=True)
    return table([line(places) for places in lines], name=names, mesh_mm=[90, 90, 120, 75, 120, 90])


def roads() -> geopandas.GeoDataFrame:
    """Roads and tracks. Columns name, surface."""
    names, surfaces, lines = zip(*ROADS, strict=True)
    drawn = [channel_line(cast.Channel(line=places, depth=(0, 0), width=(0, 0)))[::8] for places in lines]
    return table([line(places) for places in drawn], name=names, surface=surfaces)


def zones() -> geopandas.GeoDataFrame:
    """Management zones. Columns name, rule."""
    names, rules, outlines = zip(*ZONES, strict=True)
    return table([polygon(places) for places in outlines], name=names, rule=rules)


def wind() -> pd.DataFrame:
    """Columns direction the wind blows from [degrees], share of the time [1]."""
    shares = np.array(WIND) / 100
    return pd.DataFrame({"direction": 22.5 * np.arange(16), "share": shares.round(3)})
