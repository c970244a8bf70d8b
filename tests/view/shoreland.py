"""The small site with a small catchment behind its shore, whose loads can be worked out by hand.

The land is 30 by 30 cells of 50 m, with ten columns of water to the east of it: the northern half row crops, the
southern half forest, and each half is a catchment with its own outlet on the shore. In the published table of export
coefficients row crops send off 9.0 and forest 2.46 kg of nitrogen a hectare and year (Reckhow et al. 1980, as the
table that ships says).
"""

from __future__ import annotations

from pathlib import Path

import geopandas as gpd
import numpy as np
import pandas as pd
import rasterio
from affine import Affine
from shapely.geometry import Point, box

from tests import sites

WEST, SHORE, EAST, SOUTH, NORTH, CELL = 499_000, 500_500, 501_000, sites.SOUTH, sites.NORTH, 50
MIDDLE = (SOUTH + NORTH) / 2
CROPS, FOREST = 1, 2
EXPORT = {"fields": 9.0, "woods": 2.46}  # [kg/ha/year]
HECTARES = {"fields": 112.5, "woods": 112.5}
OUTLETS = {"north creek": (500_525, 7_771_125), "south creek": (500_525, 7_770_375)}

_CATCHMENT = f"""
[catchment]
west = {WEST}
south = {SOUTH}
east = {EAST}
north = {NORTH}
cell = {CELL}
nitrogen = "export coefficient"
phosphorus = "export coefficient"

[files"""

_TABLES = {
    "cover": 'feeds = "land_cover"\nfile = "cover.tif"\nunits = "1"\n',
    "covers": 'feeds = "cover_table"\nfile = "cover.csv"\n',
    "soil": 'feeds = "soil_group"\nfile = "soil.tif"\nunits = "1"\n',
    "soils": 'feeds = "soil_table"\nfile = "soil.csv"\n',
    "rain": 'feeds = "rain"\nfile = "rain.csv"\ntime = "date"\ncolumn = "rain"\nunits = "mm"\n',
    "catchments": 'feeds = "catchment"\nfile = "catchments.gpkg"\ncolumn = "name"\n',
    "creeks": 'feeds = "catchment_outlet"\nfile = "creeks.gpkg"\ncolumn = "name"\n',
}


def write_shore_site(folder: Path) -> Path:
    """Write the small site with its catchment into `folder`; returns the path of its site file."""
    path = sites.write_small_site(folder)
    text = sites.site_text({**sites.TABLES, **_TABLES})
    path.write_text(text.replace("\n[files", _CATCHMENT, 1), encoding="utf-8")
    codes = np.full((30, 40), CROPS, np.float32)
    codes[15:] = FOREST
    codes[:, 30:] = -9999
    form = {"driver": "GTiff", "width": 40, "height": 30, "count": 1, "dtype": "float32", "crs": sites.CRS}
    form |= {"transform": Affine(CELL, 0, WEST, 0, -CELL, NORTH), "nodata": -9999.0}
    for name, values in (("cover.tif", codes), ("soil.tif", np.ones((30, 40), np.float32))):
        with rasterio.open(folder / name, "w", **form) as target:
            target.write(values, 1)
    covers = {
        "code": [CROPS, FOREST],
        "label": ["fields", "woods"],
        "curve_number_cover": ["pasture, fair", "woods, fair"],
        "export_cover": ["row crops", "forest"],
    }
    days = pd.date_range("2020-01-01", "2021-12-31")
    # a storm of 80 mm on the 10th of each month of the wet season, one of 30 mm in the dry one
    stormy = np.where(np.isin(days.month, (11, 12, 1, 2, 3, 4)), 80.0, 30.0)
    for name, table in (
        ("cover.csv", pd.DataFrame(covers)),
        ("soil.csv", pd.DataFrame({"code": [1], "soil_group": ["D"]})),
        ("rain.csv", pd.DataFrame({"date": days.strftime("%Y-%m-%d"), "rain": np.where(days.day == 10, stormy, 0.0)})),
    ):
        table.to_csv(folder / name, index=False)
    halves = [box(WEST, MIDDLE, SHORE, NORTH), box(WEST, SOUTH, SHORE, MIDDLE)]
    names = list(OUTLETS)
    gpd.GeoDataFrame({"name": names}, geometry=halves, crs=sites.CRS).to_file(folder / "catchments.gpkg")
    places = [Point(*OUTLETS[name]) for name in names]
    gpd.GeoDataFrame({"name": names}, geometry=places, crs=sites.CRS).to_file(folder / "creeks.gpkg")
    return path
