"""Onto the site's grid by a named rule: nearest, bilinear, area mean, area sum, area fraction.

Rasters are resampled; polygons, lines and points are measured exactly: the share of each cell that polygons
cover, the length of lines in it, the sum of points in it.
"""

from __future__ import annotations

from collections.abc import Callable

import geopandas
import numpy as np
import shapely
from affine import Affine
from pyproj import CRS, Transformer

from layers.grid import Grid
from layers.pieces import add_cover, edges_of, pieces, settled

LEAST_KNOWN = 0.5  # a cell of which less than this share is known has no mean
SNAP = 1e-9  # shares closer than this to 0 or 1 are rounding of the running sum
CHUNK = 200_000  # raster cells measured at once


def nearest(values: np.ndarray, transform: Affine, crs: CRS, grid: Grid) -> np.ndarray:
    """Value of the raster cell that holds each cell's centre; NaN outside the raster and where that is NaN.

    Parameters
    ----------
    values : (rows, columns) float array
        The raster, NaN where it has no data.
    transform, crs
        Where the raster lies.

    Returns
    -------
    (y, x) float32 array on `grid`.
    """
    from layers.sampling import sampled_nearest

    return sampled_nearest(values, transform, crs, grid)


def bilinear(values: np.ndarray, transform: Affine, crs: CRS, grid: Grid) -> np.ndarray:
    """Value at each cell's centre, weighed linearly between raster cells; NaN exactly where `nearest` is.

    Raster cells without data take no part in the weighing. Where the raster is finer than the grid, the
    weights reach over one grid cell each way, so that no raster cell is skipped.
    """
    from layers.sampling import sampled_bilinear

    field = sampled_bilinear(values, transform, crs, grid)
    field[np.isnan(nearest(values, transform, crs, grid))] = np.nan
    return field


def area_mean(values: np.ndarray, transform: Affine, crs: CRS, grid: Grid) -> np.ndarray:
    """Mean over each cell's area, raster cells counted by the share of them in the cell.

    NaN where less than half of the cell is known. Where the raster is coarser than the grid, cells inside one
    raster cell repeat its value.
    """
    if crs != grid.crs:
        amounts, known = _laid_over(values, transform, crs, grid, lambda area: np.sign(area))
        # the same half for a cell that rounding leaves a hair short of it
        share = np.where(known >= LEAST_KNOWN - SNAP, known, np.nan)
        return (amounts / share).astype(np.float32)
    field = _averaged(values, transform, grid)
    if np.isnan(values).any() or not _surrounds(values.shape, transform, grid):
        # a rim of unknown cells makes what lies outside the raster count as unknown
        known = np.pad(np.isfinite(values).astype(np.float32), 1)
        share = _averaged(known, transform * Affine.translation(-1, -1), grid)
        field[~(share >= LEAST_KNOWN - 1e-6)] = np.nan
    return field


def area_sum(values: np.ndarray, transform: Affine, crs: CRS, grid: Grid) -> np.ndarray:
    """Sum of a raster of amounts, each raster cell's amount spread evenly over its own area.

    The total is kept: what lies within the grid adds up to what the raster holds there. NaN where no known
    raster cell touches the cell.
    """
    amounts, known = _laid_over(values, transform, crs, grid, lambda area: 1 / area)
    field = amounts.astype(np.float32)
    field[known < SNAP] = np.nan
    return field


RULES: dict[str, Callable[[np.ndarray, Affine, CRS, Grid], np.ndarray]] = {
    "nearest": nearest,
    "bilinear": bilinear,
    "area mean": area_mean,
    "area sum": area_sum,
    "area fraction": area_mean,  # of a raster that holds shares
}


def cover_fraction(polygons: geopandas.GeoSeries, grid: Grid, shares: np.ndarray | None = None) -> np.ndarray:
    """Share of each cell that polygons cover, exact to rounding.

    Parameters
    ----------
    polygons : GeoSeries of (Multi)Polygon in the CRS of `grid`
        Where they overlap, the ground counts once.
    shares : (n,) array, optional
        Cover within each polygon, 0 to 1. Where polygons overlap, the greater share counts. [1]

    Returns
    -------
    (y, x) float32 array
        0 to 1; 0 where there is no polygon. [1]

    Notes
    -----
    The signed area between each polygon edge and the eastern edge of its row is added up cell by cell, as
    outline fonts are drawn, so the cost goes with the number of edges and of cells they cross.

    Examples
    --------
    >>> grid = Grid.from_bounds("EPSG:32756", 500000, 7000000, 500020, 7000010, 10)
    >>> cover_fraction(geopandas.GeoSeries([shapely.box(500005, 7000000, 500012, 7000010)]), grid).tolist()
    [[0.5, 0.20000000298023224]]
    """
    geometries = np.asarray(polygons.array)
    weights = np.ones(len(geometries)) if shares is None else np.asarray(shares, dtype=float)
    geometries, weights = _disjoint(geometries, weights)
    cover = np.zeros((grid.shape[0], grid.shape[1] + 1))
    if len(geometries):
        # normalising makes every shell run north along its west side, and every hole south: hence end before start
        parts, owner = shapely.get_parts(shapely.normalize(geometries), return_index=True)
        rings, part = shapely.get_rings(parts, return_index=True)
        start, end, ring = edges_of(rings, grid)
        add_cover(cover, end, start, weights[owner[part[ring]]])
    share = np.clip(settled(cover), 0, 1)
    share[share < SNAP] = 0
    share[share > 1 - SNAP] = 1
    return share.astype(np.float32)


def line_length(lines: geopandas.GeoSeries, grid: Grid, weights: np.ndarray | None = None) -> np.ndarray:
    """Length of lines in each cell, times `weights` where given. [m]

    What lies outside the grid is not counted; a line along the edge of two cells counts in one of them.
    """
    parts, owner = shapely.get_parts(np.asarray(lines.array), return_index=True)
    field = np.zeros(grid.shape)
    if len(parts):
        start, end, part = edges_of(parts, grid)
        middle, vector, edge = pieces(start, end, grid.shape)
        column, row = np.floor(middle).astype(int).T
        inside = (row >= 0) & (row < grid.shape[0]) & (column >= 0) & (column < grid.shape[1])
        length = np.hypot(*vector.T) * grid.cell
        if weights is not None:
            length *= np.asarray(weights, dtype=float)[owner[part[edge]]]
        np.add.at(field, (row[inside], column[inside]), length[inside])
    return field.astype(np.float32)


def point_sum(points: geopandas.GeoSeries, grid: Grid, values: np.ndarray | None = None) -> np.ndarray:
    """Number of points in each cell, or the sum of their `values`. Points outside the grid are not counted."""
    column, row = (np.floor(c).astype(int) for c in ~grid.transform * (points.x.to_numpy(), points.y.to_numpy()))
    inside = (row >= 0) & (row < grid.shape[0]) & (column >= 0) & (column < grid.shape[1])
    amounts = np.ones(len(points)) if values is None else np.asarray(values, dtype=float)
    cells = row[inside] * grid.shape[1] + column[inside]
    return np.bincount(cells, amounts[inside], np.prod(grid.shape)).reshape(grid.shape).astype(np.float32)


def _laid_over(
    values: np.ndarray, transform: Affine, crs: CRS, grid: Grid, density_of: Callable[[np.ndarray], np.ndarray]
) -> tuple[np.ndarray, np.ndarray]:
    """Sum of value x density x area over each cell, and the share of it that is known; both (y, x).

    `density_of` gives the density of one from the signed areas of raster cells. [grid cells]
    """
    rows, columns = values.shape
    to_grid = Transformer.from_crs(crs, grid.crs, always_xy=True)
    amounts, known = (np.zeros((grid.shape[0], grid.shape[1] + 1)) for _ in range(2))
    step = max(1, CHUNK // columns)
    for first in range(0, rows, step):
        part = values[first : first + step]
        corner_columns, corner_rows = np.meshgrid(np.arange(columns + 1.0), first + np.arange(part.shape[0] + 1.0))
        x, y = to_grid.transform(*(transform * (corner_columns, corner_rows)))
        corners = np.stack(~grid.transform * (np.asarray(x), np.asarray(y)), axis=-1)
        area = _quadrilateral_areas(corners)
        is_known = np.isfinite(part)
        density = np.where(is_known, part, 0) * density_of(area)
        start, end, weights = _sides(corners, density, np.where(is_known, np.sign(area), 0))
        add_cover(amounts, start, end, weights[0])
        add_cover(known, start, end, weights[1])
    return settled(amounts), settled(known)


def _averaged(values: np.ndarray, transform: Affine, grid: Grid) -> np.ndarray:
    """Mean over each cell of a raster in the grid's own projection. (y, x)"""
    from rasterio.warp import Resampling, reproject

    field = np.full(grid.shape, np.nan, np.float32)
    crs = grid.crs.to_wkt()
    reproject(
        np.ascontiguousarray(values, np.float32),
        field,
        src_transform=transform,
        src_crs=crs,
        src_nodata=np.nan,
        dst_transform=grid.transform,
        dst_crs=crs,
        dst_nodata=np.nan,
        resampling=Resampling.average,
    )
    return field


def _surrounds(shape: tuple[int, int], transform: Affine, grid: Grid) -> bool:
    """True if a raster in the grid's own projection certainly reaches past every edge of the grid."""
    west, south, east, north = grid.bounds
    column, row = ~transform * (np.array([west, west, east, east]), np.array([south, north, south, north]))
    margin = 1.0
    return bool(
        (column > margin).all()
        and (column < shape[1] - margin).all()
        and (row > margin).all()
        and (row < shape[0] - margin).all()
    )


def _quadrilateral_areas(corners: np.ndarray) -> np.ndarray:
    """Signed areas of the cells between (rows + 1, columns + 1) corners, in grid cells."""
    diagonal = corners[1:, 1:] - corners[:-1, :-1]
    other = corners[1:, :-1] - corners[:-1, 1:]
    return (other[..., 1] * diagonal[..., 0] - other[..., 0] * diagonal[..., 1]) / 2


def _sides(corners: np.ndarray, *densities: np.ndarray) -> tuple[np.ndarray, np.ndarray, list[np.ndarray]]:
    """Every side of the cells between `corners` once, weighted by the step in density across it."""
    down = corners[:-1], corners[1:]
    along = corners[:, :-1], corners[:, 1:]
    start, end = (np.concatenate([a.reshape(-1, 2), b.reshape(-1, 2)]) for a, b in zip(down, along, strict=True))
    weights = []
    for density in densities:
        across = np.diff(np.pad(density, ((0, 0), (1, 1))), axis=1)
        above = -np.diff(np.pad(density, ((1, 1), (0, 0))), axis=0)
        weights.append(np.concatenate([across.ravel(), above.ravel()]))
    return start, end, weights


def _disjoint(geometries: np.ndarray, weights: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """Polygons that share no ground, the greater weight first."""
    order = np.argsort(-weights, kind="stable")
    geometries, weights = geometries[order], weights[order]
    if len(geometries) < 2:
        return geometries, weights
    if np.all(weights == weights[0]):
        return np.array([shapely.union_all(geometries)]), weights[:1]
    later, earlier = shapely.STRtree(geometries).query(geometries, predicate="intersects")
    cut = geometries.copy()
    for index in np.unique(later[earlier < later]):
        above = geometries[earlier[(later == index) & (earlier < index)]]
        cut[index] = shapely.difference(geometries[index], shapely.union_all(above))
    return cut, weights
