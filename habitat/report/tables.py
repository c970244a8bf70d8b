"""The tables and polygons of a folder of results: hectares by class and zone, layers, pressures, zones, classes."""

from __future__ import annotations

from itertools import chain
from pathlib import Path
from typing import TYPE_CHECKING

import geopandas as gpd
import numpy as np
import pandas as pd
import shapely
import xarray as xr
from rasterio.features import shapes

from habitat.colours import INK, class_colours
from habitat.inventory import inventory
from habitat.pressure_ranking import pressures_ranked
from habitat.report.rasters import by_season, file_stem
from habitat.result import CONCERN_CLASSES
from habitat.site_zones import site_zones
from habitat.zones import hectares_by_class
from layers.desktop_style import class_desktop_style, outline_desktop_style
from layers.export import write_geopackage, write_table
from layers.grid import Grid
from layers.recipes.loads import catchment_result
from layers.style import class_style, outline_style

if TYPE_CHECKING:
    from habitat.site_map import SiteMap


def write_tables(folder: Path, found: SiteMap) -> None:
    """Write hectares by class (and by class and zone), what the layers hold, and the pressures in order of weight."""
    folder.mkdir()
    write_table(hectares_by_class(found.assessment), folder / "hectares_by_class.csv")
    zones = site_zones(found)
    if zones is not None:
        write_table(hectares_by_class(found.assessment, zones=zones), folder / "hectares_by_zone.csv")
    write_table(inventory(found), folder / "layers.csv")
    land = catchment_result(found.derivation)
    if land is not None:
        write_table(land.load.outlets.round(3), folder / "outlet_loads.csv")
    seasons = [season for season, _ in by_season(found.assessment["suitability"])]
    ranked = [
        pressures_ranked(found.assessment, found.profile, season=season or None).assign(season=season)
        for season in seasons
    ]
    write_table(pd.concat(ranked), folder / "pressures.csv")


def write_polygons(path: Path, found: SiteMap) -> None:
    """Write a GeoPackage of the site's zones and of the polygons of each class of concern, each with its style."""
    tables, styles, desktop_styles = {}, {}, {}
    zones = site_zones(found)
    if zones is not None:
        tables["zones"] = _with_hectares(zones, found)
        styles["zones"] = outline_style("zones", INK)
        desktop_styles["zones"] = outline_desktop_style(INK)
    colours = {CONCERN_CLASSES[code]: colour for code, colour in class_colours("concern").items()}
    for season, concern in by_season(found.assessment["concern"]):
        polygons = class_polygons(concern, CONCERN_CLASSES)
        if len(polygons):
            name = file_stem("concern", season)
            tables[name] = polygons
            styles[name] = class_style(name, "class", colours)
            desktop_styles[name] = class_desktop_style("class", colours)
    if tables:
        write_geopackage(tables, path, styles=styles, desktop_styles=desktop_styles)


def class_polygons(codes: xr.DataArray, names: tuple[str, ...]) -> gpd.GeoDataFrame:
    """One multipolygon of whole cells for each class that is there; code 0 has none.

    Parameters
    ----------
    codes : DataArray (y, x) of uint8
        Classes.
    names : tuple of str
        Name of each code.

    Returns
    -------
    GeoDataFrame
        Columns code, class, hectares, in the order of the codes.
    """
    grid = Grid.of(codes)
    values = codes.to_numpy()
    outlines, owners = [], []
    for outline, code in shapes(values, mask=values > 0, transform=grid.transform):
        outlines.append(outline["coordinates"])
        owners.append(int(code))
    polygons, owners = _polygons(outlines), np.array(owners, int)
    present = np.unique(owners).tolist()
    return gpd.GeoDataFrame(
        {
            "code": present,
            "class": [names[code] for code in present],
            "hectares": [float(np.count_nonzero(values == code) * grid.cell_hectares) for code in present],
        },
        geometry=[shapely.multipolygons(polygons[owners == code]) for code in present],
        crs=grid.crs,
    )


def _with_hectares(zones: gpd.GeoDataFrame, found: SiteMap) -> gpd.GeoDataFrame:
    """The zones with a column of hectares for each class of suitability and threat in each season."""
    table = hectares_by_class(found.assessment, zones=zones)
    table = table[table["kind"].isin(["suitability", "threat"]) & (table["class"] != "no data")]
    column = (table["class"] + " " + table["season"]).str.strip().str.replace(" ", "_") + "_ha"
    wide = table.assign(column=column).pivot(index="zone", columns="column", values="hectares")
    return zones.merge(wide[list(dict.fromkeys(column))], left_on="name", right_index=True, how="left")


def _polygons(outlines: list[list[list[tuple[float, float]]]]) -> np.ndarray:
    """Polygons of many outlines, each a shell and its holes, made in one go: there may be a hundred thousand."""
    rings = [ring for outline in outlines for ring in outline]
    if not rings:
        return np.array([], object)
    places = np.array(list(chain.from_iterable(rings)))
    whole = shapely.linearrings(places, indices=np.repeat(np.arange(len(rings)), [len(ring) for ring in rings]))
    owner = np.repeat(np.arange(len(outlines)), [len(outline) for outline in outlines])
    return shapely.polygons(whole, indices=owner)  # the first ring of each is its shell
