"""Straight distance from cells to footprints, with a finite reach.

Distance through the water, round land, is in `layers.waterway`.
"""

from __future__ import annotations

import geopandas as gpd
import numpy as np
import shapely

from layers.grid import Grid
from layers.threads import run_in_strips
from layers.waterway import through_water_distance, through_water_field

__all__ = ["straight_distance", "through_water_distance", "through_water_field"]

NOTHING = 1e-6  # a distance below this is rounding of map coordinates, not a distance [m]


def straight_distance(geometries: gpd.GeoSeries, grid: Grid, reach: float, *, workers: int | None = None) -> np.ndarray:
    """Distance from each cell's centre to the edge of the nearest geometry, in a straight line.

    Parameters
    ----------
    geometries : GeoSeries of points, lines or polygons
        In the grid's CRS.
    grid : Grid
    reach : float
        Greatest distance of interest. [m]
    workers : int, optional
        Number of threads; by default one for each core. The result does not depend on it.

    Returns
    -------
    (y, x) float32
        0 inside polygons, `reach` where nothing is nearer than that. [m]

    Raises
    ------
    ValueError
        If `reach` is not greater than 0 or not finite.

    Notes
    -----
    The distance is to the drawn edge, not to the cells it falls in, and is computed for each cell by itself, so
    a part of the grid gives the same bits as the whole.

    Examples
    --------
    >>> grid = Grid.from_bounds("EPSG:32745", 0, 0, 400, 100, cell=100)
    >>> straight_distance(gpd.GeoSeries.from_wkt(["POINT (50 50)"]), grid, reach=250)
    array([[  0., 100., 200., 250.]], dtype=float32)
    """
    from rasterio.features import rasterize

    from layers.edges import edges_of, least_distance

    if not 0 < reach < np.inf:
        raise ValueError(f"reach: found {reach:g} m. It must be greater than 0 and finite.")
    shapes = np.asarray(geometries.array, dtype=object)
    edges, _ = edges_of(shapes)
    distance = np.full(grid.shape, reach, np.float32)
    if not len(edges):
        return distance
    x, y = grid.x, grid.y

    def fill(rows: slice) -> None:
        near = _edges_near(edges, y[rows], reach)
        if len(near):
            least_distance(near, x, y[rows], float(reach), distance[rows])

    run_in_strips(fill, grid.shape[0], workers=workers, height=64)
    areas = [shape for shape in shapes if shape is not None and shapely.get_dimensions(shape) == 2]
    if areas:
        distance[rasterize(areas, grid.shape, transform=grid.transform, dtype="uint8") > 0] = 0
    distance[distance < NOTHING] = 0
    return distance


def _edges_near(edges: np.ndarray, y: np.ndarray, reach: float) -> np.ndarray:
    """Edges whose rows come within `reach` of the rows `y`."""
    low, high = np.minimum(edges[:, 1], edges[:, 3]), np.maximum(edges[:, 1], edges[:, 3])
    return edges[(high >= y.min() - reach) & (low <= y.max() + reach)]
