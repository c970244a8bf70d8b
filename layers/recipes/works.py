"""Works that change the place itself: areas dug or filled, land claimed, plants cleared or planted, land put to use.

They are files of the site like all others, so that what is approved can stand in a site file; a proposal adds its own.
"""

from __future__ import annotations

import numpy as np
import shapely

from layers import quantity as q
from layers.alignment import cover_fraction
from layers.derivation import Derivation
from layers.grid import Grid
from layers.site import FileEntry

MOST_OF_IT = 0.5  # of a cell: from there on the cell is what most of it is


def bed_after_works(made: Derivation, bed: np.ndarray) -> np.ndarray:
    """(M, N) bed with areas dug or filled to their level: of each cell the share that lies in them. [m]"""
    for area, level in levels_of_works(made):
        share = _share(area, made.grid)
        bed = np.where(share > 0, _mixed(np.nan_to_num(bed, nan=level), level, share), bed)
    return bed


def surface_after_works(made: Derivation, codes: np.ndarray, lowest: float, highest: float) -> np.ndarray:
    """(M, N) codes of the surface with what is dug under water, and what is filled or claimed made land."""
    codes = codes.copy()
    for area, level in levels_of_works(made):
        becomes = q.WATER if level <= lowest else q.INTERTIDAL if level <= highest else q.LAND
        codes[_share(area, made.grid) >= MOST_OF_IT] = becomes
    for entry in made.entries("land_change"):
        shapes = made.inputs.features[entry.name].geometry
        codes[cover_fraction(shapes, made.grid) >= MOST_OF_IT] = q.LAND
    return codes


def cover_after_works(made: Derivation, feeds: str, cover: np.ndarray) -> np.ndarray:
    """(M, N) cover with plants cleared (to 0) or planted (to a share, if less grew) in the areas of some files. [1]

    Where nothing was mapped (NaN) nothing is known beside what is planted.
    """
    for entry in made.entries(feeds):
        table = made.inputs.features[entry.name]
        for area, value in zip(table.geometry, table["value"], strict=True):
            share, planted = _share(area, made.grid), float(value)
            new = np.fmax(cover, planted) if planted > 0 else 0.0
            cover = np.where(share > 0, _mixed(np.nan_to_num(cover), new, share), cover)
    return cover


def shapes_after_works(made: Derivation, feeds: str, shapes: shapely.Geometry) -> shapely.Geometry:
    """Shapes less what is cleared, with what is planted."""
    for entry in made.entries(feeds):
        table = made.inputs.features[entry.name]
        for area, value in zip(table.geometry, table["value"], strict=True):
            shapes = shapes.union(area) if value > 0 else shapes.difference(area)
    return shapes


def land_cover_after_works(made: Derivation, codes: np.ndarray, grid: Grid) -> np.ndarray:
    """(M, N) codes of land cover on the catchment's grid with land put to another use."""
    codes = codes.copy()
    for entry in made.entries("land_cover_change"):
        table = made.inputs.features[entry.name]
        for area, value in zip(table.geometry, table["value"], strict=True):
            codes[(_share(area, grid) >= MOST_OF_IT) & np.isfinite(codes)] = value
    return codes


def levels_of_works(made: Derivation) -> list[tuple[shapely.Geometry, float]]:
    """Areas and the level above the bed's datum to which each is dug or filled, in the order of the files. [m]

    Where two overlap, the level of the later stands.
    """
    zero = made.site.height_of(made.bed_datum)
    return [
        (area, float(value) + made.site.height_of(entry.datum) - zero)
        for entry in made.entries("bed_change")
        for area, value in zip(
            made.inputs.features[entry.name].geometry, _upwards(made.inputs.features[entry.name], entry), strict=True
        )
    ]


def _upwards(table, entry: FileEntry) -> np.ndarray:
    values = table["value"].to_numpy(float)
    return -values if entry.positive == "down" else values


def _share(area: shapely.Geometry, grid: Grid) -> np.ndarray:
    import geopandas as gpd

    return cover_fraction(gpd.GeoSeries([area], crs=grid.crs), grid)


def _mixed(values: np.ndarray, new: float | np.ndarray, share: np.ndarray) -> np.ndarray:
    return (1 - share) * values + share * new
