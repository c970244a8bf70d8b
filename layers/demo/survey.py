"""What people went out and recorded in the invented site: animals along survey tracks, and soundings."""

from __future__ import annotations

import geopandas
import numpy as np
import pandas as pd

from layers.demo import cast
from layers.demo.contour import degrees, line, metres, table
from layers.demo.noise import generator
from layers.demo.terrain import STEP, Terrain
from layers.demo.tide import CHART_DATUM

FEET = 0.3048  # [m]
SURVEYS = ("2019-02-12", "2019-08-20", "2020-02-18", "2020-08-11", "2021-02-09", "2021-08-17")
TRACKS = tuple(2.0 + 1.3 * k for k in range(13))  # norths flown along, from shore to barrier [km]
SEEN, NOT_SEEN = 38, 5
HOURS, HALF_WIDTH = 0.08, 400  # to fly one line [hour]; searched to each side of it [m]


def tracks() -> geopandas.GeoDataFrame:
    """Lines flown in each survey. Columns event, date, observers, hours, half_width_m."""
    lines, events, dates = [], [], []
    for number, date in enumerate(SURVEYS):
        for at, north in enumerate(TRACKS):
            shift = 0.25 * (number % 3 - 1)
            lines.append(line([(3.0, north + shift), (14.6, north + shift + 0.1)]))
            events.append(f"S{number + 1}-T{at + 1:02d}")
            dates.append(date)
    count = len(lines)
    effort = {"hours": [HOURS] * count, "half_width_m": [HALF_WIDTH] * count}
    return table(lines, event=events, date=dates, observers=[2] * count, **effort)


def sightings(ground: Terrain, seagrass: np.ndarray) -> pd.DataFrame:
    """Records of animals in Darwin Core terms, most of them over dense seagrass; a few of a track without any."""
    random = generator("sightings")
    flown = tracks()
    east = 3.0 + (14.6 - 3.0) * random.random(60 * len(flown))
    track = np.repeat(np.arange(len(flown)), 60)
    start = np.array([shape.coords[0][1] for shape in flown.geometry])[track]
    north = (start - cast.SOUTH) / 1000 + 0.1 * (east - 3.0) / 11.6 + 0.12 * random.standard_normal(len(east))
    bed = ground.sample(ground.bed, east, north)
    cover = np.clip(ground.sample(seagrass, east, north), 0, 0.9)
    liking = np.where((bed < -0.5) & (ground.sample(ground.seaward, east, north) < 0), cover**2 + 0.004, 0)
    picked = np.sort(random.choice(len(east), SEEN, replace=False, p=liking / liking.sum()))
    empty = np.sort(random.choice(np.setdiff1d(np.arange(len(flown)), track[picked]), NOT_SEEN, replace=False))
    present = _rows(flown, track[picked], east[picked], north[picked])
    present["individualCount"] = random.choice([1, 2, 3, 4], SEEN, p=[0.62, 0.27, 0.08, 0.03])
    present["coordinateUncertaintyInMeters"] = random.choice([50, 100, 150, 250], SEEN)
    present["occurrenceStatus"] = "present"
    absent_north = np.array([flown.geometry.iloc[k].centroid.y - cast.SOUTH for k in empty]) / 1000
    absent = _rows(flown, empty, np.full(NOT_SEEN, 8.8), absent_north)
    absent["individualCount"] = 0
    absent["coordinateUncertaintyInMeters"] = 5900  # half the track
    absent["occurrenceStatus"] = "absent"
    records = pd.concat([present, absent]).sort_values(["eventDate", "eventID"], kind="stable", ignore_index=True)
    records.insert(0, "occurrenceID", [f"invented:tessamure:{number:03d}" for number in range(1, len(records) + 1)])
    return records


def soundings(ground: Terrain) -> tuple[pd.DataFrame, pd.DataFrame]:
    """Soundings of 1998 and of 2021, both below chart datum and positive down.

    Returns
    -------
    DataFrame
        1998, by lead line: columns x, y [m], depth_ft [ft], date.
    DataFrame
        2021, by echo sounder: columns x, y [m], depth_m [m], date. The inlets had deepened since.
    """
    random = generator("soundings")
    old_e, old_n = _lines(random, norths=np.arange(1.6, 19, 0.55), spacing=0.28)
    new_e, new_n = _lines(random, norths=np.arange(1.5, 19, 0.40), spacing=0.12)
    old, new = (ground.sample(ground.bed, e, n) for e, n in ((old_e, old_n), (new_e, new_n)))
    inlet = np.hypot(old_e - 13.2, old_n - 6.1) < 1.8
    old_depth = CHART_DATUM - old - np.where(inlet, 0.8, 0) + 0.15 * random.standard_normal(len(old))
    new_depth = CHART_DATUM - new + 0.05 * random.standard_normal(len(new))
    deep_old, deep_new = old_depth > 0.15, new_depth > 0.4
    tables = []
    for e, n, depth, column, date in (
        (old_e[deep_old], old_n[deep_old], (old_depth[deep_old] / FEET).round(1), "depth_ft", "1998-07-22"),
        (new_e[deep_new], new_n[deep_new], new_depth[deep_new].round(2), "depth_m", "2021-03-16"),
    ):
        x, y = metres(e, n)
        tables.append(pd.DataFrame({"x": x.round(1), "y": y.round(1), column: depth, "date": date}))
    return tables[0], tables[1]


def _rows(flown, track, east, north):
    longitude, latitude = degrees(east, north)
    return pd.DataFrame(
        {
            "basisOfRecord": "HumanObservation",
            "eventID": flown["event"].to_numpy()[track],
            "eventDate": flown["date"].to_numpy()[track],
            "scientificName": "Sirenia",
            "decimalLatitude": np.round(latitude, 5),
            "decimalLongitude": np.round(longitude, 5),
            "geodeticDatum": "EPSG:4326",
            "samplingProtocol": "aerial strip transect",
        }
    )


def _lines(random, norths, spacing):
    """Places along sounding lines between shore and open sea."""
    along = np.arange(3.2, 15.8, spacing)
    e, n = np.meshgrid(along, norths)
    e = e + 0.3 * spacing * random.standard_normal(e.shape)
    n = n + 0.02 * random.standard_normal(n.shape) + 5 * STEP * np.sin(e)
    return e.ravel(), n.ravel()
