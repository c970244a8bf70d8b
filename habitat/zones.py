"""Hectares and habitat units by class, for the whole site or for zones.

A habitat unit is a hectare of ideal habitat: suitability times area, summed over cells.

References
----------
U.S. Fish and Wildlife Service 1980, Habitat Evaluation Procedures, ESM 102: habitat units are index times area.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator

import geopandas
import numpy as np
import pandas as pd
import xarray as xr

from habitat.result import CONCERN_CLASSES, SUITABILITY_CLASSES, THREAT_CLASSES
from layers.grid import Grid

WHOLE_SITE = "whole site"

Coverage = Callable[[geopandas.GeoSeries, Grid], np.ndarray]

_KINDS = (
    ("suitability", "suitability_class", SUITABILITY_CLASSES),
    ("threat", "threat_class", THREAT_CLASSES),
    ("concern", "concern", CONCERN_CLASSES),
)


def hectares_by_class(
    assessment: xr.Dataset,
    season: str | None = None,
    zones: geopandas.GeoDataFrame | None = None,
    *,
    coverage: Coverage | None = None,
) -> pd.DataFrame:
    """Area and habitat units of every class.

    Parameters
    ----------
    assessment : Dataset
        From `habitat.assessment.assess`.
    season : str, optional
        One season of an assessment that has them; without it, each season in turn.
    zones : GeoDataFrame, optional
        Polygons in the CRS of the grid, with a column `name`. Polygons of one name are one zone; zones may
        overlap. Without it, the whole site.
    coverage : function of polygons and a grid, optional
        Share of each cell that counts. By default `layers.alignment.cover_fraction`, the exact share of the
        cell within the zone; `centre_within` counts whole cells whose centre is inside.

    Returns
    -------
    DataFrame
        One row for each zone, season, kind ("suitability", "threat", "concern") and class, classes without a
        cell included: `zone`, `kind`, `class`, `hectares`, `share` (of the zone's water; NaN in a zone without
        water), `habitat_units`, `season` ("" without seasons). The class "no data" is water without a score;
        its habitat units are NaN. Land counts nowhere. `attrs["rule"]` says how cells on an edge were counted.
    """
    if coverage is None:
        from layers.alignment import cover_fraction as coverage
    rows = []
    for name, weight, window in _parts(assessment, zones, coverage):
        for label, cells in _by_season(assessment.isel(window), season):
            for kind, layer, classes in _KINDS:
                rows += _rows(name, label, kind, classes, cells, cells[layer].to_numpy(), weight)
    table = pd.DataFrame(rows, columns=["zone", "kind", "class", "hectares", "share", "habitat_units", "season"])
    table.attrs["rule"] = "whole grid" if zones is None else coverage.__name__.replace("_", " ")
    return table


def centre_within(polygons: geopandas.GeoSeries, grid: Grid) -> np.ndarray:
    """1 in cells whose centre lies within the polygons, 0 elsewhere: a coarser count than the exact share. [1]"""
    from rasterio.features import rasterize

    if polygons.empty:
        return np.zeros(grid.shape, np.float32)
    return rasterize(polygons, out_shape=grid.shape, transform=grid.transform, fill=0, default_value=1, dtype="float32")


def _parts(
    assessment: xr.Dataset, zones: geopandas.GeoDataFrame | None, coverage: Coverage
) -> Iterator[tuple[str, np.ndarray, dict[str, slice]]]:
    """Name, hectares of each cell that count, and the window of the grid they stand for."""
    grid = Grid.of(assessment)
    if zones is None:
        yield WHOLE_SITE, np.full(grid.shape, grid.cell_hectares), {}
        return
    if "name" not in zones:
        raise ValueError("zones must have a column `name`.")
    if zones.crs is not None and not zones.crs.equals(grid.crs):
        raise ValueError("zones must be in the CRS of the grid.")
    for name, polygons in zones.geometry.groupby(zones["name"], sort=False):
        window = _window(polygons, grid)
        part = grid.window(window["y"], window["x"])
        share = coverage(polygons, part) if 0 not in part.shape else np.zeros(part.shape)
        yield str(name), share.astype(np.float64) * grid.cell_hectares, window


def _window(polygons: geopandas.GeoSeries, grid: Grid) -> dict[str, slice]:
    """The rows and columns that hold the polygons: a zone is small beside its site."""
    west, south, east, north = polygons.total_bounds
    (left, top), (right, bottom) = ~grid.transform * (west, north), ~grid.transform * (east, south)
    rows, columns = grid.shape
    first_row, last_row = (int(np.clip(edge, 0, rows)) for edge in (np.floor(top), np.ceil(bottom)))
    first, last = (int(np.clip(edge, 0, columns)) for edge in (np.floor(left), np.ceil(right)))
    return {"y": slice(first_row, last_row), "x": slice(first, last)}


def _by_season(cells: xr.Dataset, season: str | None) -> Iterator[tuple[str, xr.Dataset]]:
    if "season" not in cells.dims:
        yield "", cells
        return
    seasons = [str(name) for name in cells["season"].values]
    if season is not None and season not in seasons:
        raise ValueError(f"season {season!r} is not one of: {', '.join(seasons)}.")
    for name in seasons if season is None else [season]:
        yield name, cells.sel(season=name)


def _rows(name, season, kind, classes, cells: xr.Dataset, codes: np.ndarray, weight: np.ndarray) -> list[tuple]:
    suitability = cells["suitability"].to_numpy()
    lacking = cells["missing_factors"].to_numpy() + cells["missing_pressures"].to_numpy()
    counted = (codes > 0) | (lacking > 0) | ~np.isnan(suitability)  # the rest is land
    codes, weight = codes[counted], weight[counted]
    worth = np.nan_to_num(suitability[counted].astype(np.float64))
    # bincount of nothing gives whole numbers, weighted or not
    hectares, units = (np.bincount(codes, part, len(classes)).astype(float) for part in (weight, weight * worth))
    units[0] = np.nan
    water = hectares.sum()
    share = hectares / water if water > 0 else np.full(len(classes), np.nan)
    return [
        (name, kind, label, hectares[code], share[code], units[code], season)
        for code, label in (*enumerate(classes[1:], 1), (0, classes[0]))
    ]
