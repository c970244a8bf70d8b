"""Vessel traffic: how much of the routes lies round each cell, and how often it is travelled."""

from __future__ import annotations

import geopandas as gpd
import numpy as np

from layers.grid import Grid
from layers.threads import run_in_strips


def vessel_density(
    routes: gpd.GeoSeries, trips_per_day: np.ndarray, grid: Grid, radius: float, *, workers: int | None = None
) -> np.ndarray:
    """Length travelled per day within a circle round each cell's centre, per area of the circle.

    Parameters
    ----------
    routes : GeoSeries of lines
        In the grid's CRS; parts outside the grid count where the circle takes them in.
    trips_per_day : (n,) float
        Trips along each route, both ways counted. [1/day]
    grid : Grid
    radius : float
        Radius of the circle. [m]
    workers : int, optional
        Number of threads; by default one for each core. The result does not depend on it.

    Returns
    -------
    (y, x) float32
        0 where no route is within the radius. The circle's whole area counts, land or water. [km/km2/day]

    Raises
    ------
    ValueError
        If `radius` is not greater than 0, or a number of trips is missing or below 0.

    Notes
    -----
    The length of a straight stretch inside a circle is exact, so the sum over a large grid times the cell's area
    is the length of the routes times their trips.

    Examples
    --------
    >>> grid = Grid.from_bounds("EPSG:32745", 0, 0, 100, 100, cell=100)
    >>> through_the_middle = gpd.GeoSeries.from_wkt(["LINESTRING (-5000 50, 5000 50)"])
    >>> density = vessel_density(through_the_middle, [3], grid, radius=1000)
    >>> round(float(density[0, 0]), 4), round(3 * 2 / np.pi, 4)  # 3 trips of 2 km in a circle of pi km2
    (1.9099, 1.9099)
    """
    from layers.edges import edges_of
    from layers.traffic import length_in_circles

    if not radius > 0:
        raise ValueError(f"radius: found {radius:g} m. It must be greater than 0.")
    trips = np.asarray(trips_per_day, float)
    if len(trips) != len(routes):
        raise ValueError(f"routes: found {len(routes)} routes and {len(trips)} trips. Give one for each.")
    wrong = np.flatnonzero(~(trips >= 0) | ~np.isfinite(trips))
    if len(wrong):
        raise ValueError(f"routes: route {wrong[0]} has {trips[wrong[0]]:g} trips per day. Give 0 or more.")
    edges, route = edges_of(np.asarray(routes.array, dtype=object))
    metres = np.zeros(grid.shape)
    x, y = grid.x, grid.y

    def add(rows: slice) -> None:
        length_in_circles(edges, trips[route], x, y[rows], float(radius), metres[rows])

    run_in_strips(add, grid.shape[0], workers=workers)
    # m/day per m2 is 1000 times km/day per km2
    return (metres / (np.pi * radius**2) * 1000).astype(np.float32)
