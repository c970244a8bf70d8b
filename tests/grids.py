"""Toy grids and layers for the tests: a small coast with land, flats, water and a hole in the data."""

import numpy as np
import xarray as xr

from habitat import result
from habitat.concern import class_of, concern
from layers import quantity as q
from layers.grid import Grid

SEASONS = ("wet", "dry")
FACTORS = ("water_depth", "salinity", "seagrass_cover")
PRESSURES = ("dredging", "vessels")
PROVENANCE = {
    "method": "Made up for a test.",
    "source": "Survey of nowhere, 2021",
    "licence": "CC BY 4.0",
    "credit": "Nobody & Daughters <nobody@example.org>",
    "date": "2021-03",
    "files": "bed.tif; stations.csv",
}


def toy_grid(rows: int = 60, columns: int = 90, cell: float = 50) -> Grid:
    """Grid of whole cells in UTM 45 south, in the open ocean."""
    west, south = 500_000, 7_770_000
    return Grid.from_bounds("EPSG:32745", west, south, west + columns * cell, south + rows * cell, cell)


def toy_layers(grid: Grid) -> xr.Dataset:
    """Surface, depth, seasonal salinity, seagrass and two pressures of a coast that runs from west to east."""
    across, down = np.meshgrid(np.linspace(0, 1, grid.shape[1]), np.linspace(0, 1, grid.shape[0]))
    shore = 0.2 + 0.08 * np.sin(9 * across)
    water = down > shore
    depth = np.where(water, 9 * (down - shore) - 0.5, np.nan).astype(np.float32)
    surface = np.where(~water, q.LAND, np.where(depth < 0, q.INTERTIDAL, q.WATER)).astype(np.uint8)
    hole = (np.hypot(across - 0.75, (down - 0.8) * 0.7) < 0.09) & water
    salinity = np.stack([np.where(water, 35 * (0.3 + 0.7 * across * wetness), np.nan) for wetness in (0.7, 1.0)])
    salinity[:, hole] = np.nan
    cover = np.where(water, np.clip(np.sin(8 * across) * np.cos(5 * down), 0, 1), np.nan)
    dredging = np.where(water, np.minimum(2_000, 5_000 * np.abs(across - 0.4)), np.nan)
    traffic = np.where(water, 12 * np.exp(-((down - 0.6) ** 2) / 0.02), np.nan)
    layers = {
        "surface": grid.label(surface, q.SURFACE, **PROVENANCE),
        "water_depth": grid.label(depth, q.WATER_DEPTH, **PROVENANCE),
        "salinity": seasonal(salinity, q.SALINITY, grid),
        "seagrass_cover": grid.label(cover.astype(np.float32), q.SEAGRASS_COVER, **PROVENANCE),
        "dredging_distance": grid.label(dredging.astype(np.float32), q.DREDGING_DISTANCE, reach="2000", **PROVENANCE),
        "vessel_density": grid.label(traffic.astype(np.float32), q.VESSEL_DENSITY, **PROVENANCE),
    }
    return xr.Dataset(layers)


def toy_assessment(layers: xr.Dataset) -> xr.Dataset:
    """An assessment in the shape of `habitat.assess`, by arithmetic that is plain rather than right."""
    grid = Grid.of(layers)
    water = layers["surface"].values >= q.INTERTIDAL
    depth, cover = layers["water_depth"].values, layers["seagrass_cover"].values
    parts = {
        "water_depth": np.where(water, np.clip(1 - np.abs(depth - 2) / 4, 0, 1), np.nan),
        "salinity": np.where(water, np.clip(layers["salinity"].values / 30, 0, 1), np.nan),
        "seagrass_cover": np.where(water, cover, np.nan),
    }
    press = {
        "dredging": 1 - layers["dredging_distance"].values / 2_000,
        "vessels": layers["vessel_density"].values / 12,
    }
    every = np.stack(np.broadcast_arrays(*parts.values())).astype(np.float32)
    lacking = np.isnan(every).sum(axis=0).astype(np.uint8) * water
    suitability = np.where(water, np.nanmean(np.where(water, every, 0), axis=0), np.nan).astype(np.float32)
    threat = 1 - (1 - 0.8 * press["dredging"]) * (1 - 0.5 * press["vessels"])
    threat = np.broadcast_to(threat, suitability.shape).astype(np.float32)
    limiting = (1 + np.nanargmin(np.where(water, every, 0), axis=0)).astype(np.uint8) * water
    good, bad = class_of(suitability, (0.35, 0.65)), class_of(threat, (0.25, 0.6))
    whole = xr.Dataset(
        {
            "suitability": seasonal(suitability, result.SUITABILITY, grid),
            "threat": seasonal(threat, result.THREAT, grid),
            "suitability_class": seasonal(good, result.SUITABILITY_CLASS, grid),
            "threat_class": seasonal(bad, result.THREAT_CLASS, grid),
            "concern": seasonal(concern(good, bad), result.CONCERN, grid),
            "limiting_factor": seasonal(limiting, result.limiting_factor(FACTORS), grid),
            "missing_factors": seasonal(lacking, result.MISSING_FACTORS, grid),
            "missing_pressures": seasonal(np.zeros_like(lacking), result.MISSING_PRESSURES, grid),
            **{
                f"index_{name}": labelled(values, result.index_quantity(name, name), grid)
                for name, values in parts.items()
            },
            **{
                f"exposure_{name}": labelled(press[name], result.exposure_quantity(name, layer), grid)
                for name, layer in (("dredging", "dredging_distance"), ("vessels", "vessel_density"))
            },
        }
    )
    whole.attrs = {
        "title": "Toy coast",
        "profile_title": "Toy grazer",
        "factors": list(FACTORS),
        "pressures": list(PRESSURES),
    }
    return whole


def seasonal(values: np.ndarray, quantity: q.Quantity, grid: Grid) -> xr.DataArray:
    """Values (season, y, x) as a layer with the seasons of `SEASONS`."""
    kind = values.dtype if values.dtype == np.uint8 else np.float32
    layer = xr.DataArray(
        values.astype(kind), dims=("season", "y", "x"), coords={**grid.coordinates, "season": list(SEASONS)}
    )
    layer.encoding["grid_mapping"] = "spatial_ref"
    return q.describe(layer, quantity, **PROVENANCE)


def labelled(values: np.ndarray, quantity: q.Quantity, grid: Grid) -> xr.DataArray:
    """Values as a layer, with seasons where there are three dimensions."""
    if values.ndim == 3:
        return seasonal(values, quantity, grid)
    return grid.label(values.astype(np.float32), quantity, **PROVENANCE)
