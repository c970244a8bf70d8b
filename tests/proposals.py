"""Features of proposals for the small site, and files that hold them."""

from __future__ import annotations

import warnings
from pathlib import Path

import geopandas as gpd
from shapely.geometry import LineString, Point, Polygon, box

from tests.sites import CRS

CHANNEL = box(501_100, 7_770_600, 501_300, 7_770_800)  # over seagrass of the small site, whole cells
DREDGED = {
    "kind": "dredged area",
    "depth_m": 6.0,
    "volume_m3": 90_000.0,
    "rate_m3_h": 500.0,
    "equipment": "cutter suction dredge",
    "hours_day": 10.0,
    "dry_kg_m3": 800.0,
    "fines": 0.3,
    "fines_um": 20.0,
}
OUTFALL = {"kind": "outfall", "n_kg_year": 5000.0}
ROUTE = {"kind": "vessel route", "trips_day": 12.0, "draft_m": 1.2}
PLANTED = {"kind": "seagrass planted", "share": 0.8}
MOORINGS = {"kind": "moorings", "berths": 40, "trips_day": 12.0}
PIPE = Point(500_525, 7_771_025)
WAY = LineString([(501_150, 7_770_050), (501_150, 7_771_450)])
MEADOW = box(501_500, 7_770_900, 501_600, 7_771_000)
BOW = Polygon([(501_000, 7_770_600), (501_200, 7_770_800), (501_200, 7_770_600), (501_000, 7_770_800)])


def frame(*features: tuple[dict, object], crs: str | None = CRS) -> gpd.GeoDataFrame:
    """Features as a table: what is said of each, and its shape."""
    columns = dict.fromkeys(column for said, _ in features for column in said)
    held = {column: [said.get(column) for said, _ in features] for column in columns}
    return gpd.GeoDataFrame(held, geometry=[shape for _, shape in features], crs=crs)


def write(path: Path, *features: tuple[dict, object], crs: str | None = CRS, layer: str | None = None) -> Path:
    """The features in a file of the format of its suffix; GeoJSON and KML in degrees."""
    table = frame(*features, crs=crs)
    in_degrees = path.suffix in (".geojson", ".kml") and crs is not None
    more = {"layer": layer, "mode": "a" if path.exists() else "w"} if layer else {}
    with warnings.catch_warnings():
        warnings.filterwarnings("ignore", "'crs' was not provided")  # some files are to be so
        target = path.with_name(f"{path.stem}.shp.zip") if path.suffix == ".zip" else path
        (table.to_crs(4326) if in_degrees else table).to_file(
            target, driver="KML" if path.suffix == ".kml" else None, engine="pyogrio", **more
        )
    return target.rename(path)
