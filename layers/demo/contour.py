"""Polygons and tables in the site's projection, drawn from fields on the lattice of the bed."""

from __future__ import annotations

from itertools import pairwise

import geopandas
import numpy as np
import shapely
from contourpy import FillType, contour_generator

from layers.demo import cast
from layers.demo.terrain import Terrain


def band(ground: Terrain, field: np.ndarray, low: float, high: float = np.inf, *, least: float = 2500.0) -> np.ndarray:
    """Polygons of where `low` <= `field` < `high`, the largest first.

    Parts and holes below `least` m2 are left out, and parts wholly outside the site. Neighbouring bands share
    their edges to within 3 m, by which outlines are thinned.
    """
    x, y = metres(ground.east, ground.north)
    generator = contour_generator(x, y, field, fill_type=FillType.OuterOffset)
    polygons = []
    for points, offsets in zip(*generator.filled(low, high), strict=True):
        rings = [shapely.Polygon(points[a:b]) for a, b in pairwise(offsets)]
        if rings[0].area < least:
            continue
        polygons.append(shapely.Polygon(rings[0].exterior, [ring.exterior for ring in rings[1:] if ring.area >= least]))
    thinned = shapely.make_valid(shapely.simplify(np.array(polygons, object), 3.0))
    parts = shapely.get_parts(thinned)
    site = shapely.box(cast.WEST, cast.SOUTH, cast.EAST, cast.NORTH)
    parts = parts[(shapely.area(parts) >= least) & shapely.intersects(parts, site)]
    return parts[np.argsort(-shapely.area(parts), kind="stable")]


def metres(east: np.ndarray, north: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """x and y in the site's projection of places in kilometres from its south-west corner.

    Examples
    --------
    >>> [float(c) for c in metres(1.5, 2.0)]
    [501500.0, 7772000.0]
    """
    return cast.WEST + 1000 * np.asarray(east, float), cast.SOUTH + 1000 * np.asarray(north, float)


def degrees(east: np.ndarray, north: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """Longitude and latitude of places in kilometres from the site's south-west corner."""
    from pyproj import Transformer

    return Transformer.from_crs(cast.CRS, "EPSG:4326", always_xy=True).transform(*metres(east, north))


def line(places: list[cast.Place] | np.ndarray) -> shapely.LineString:
    """A line through places in kilometres."""
    return shapely.LineString(np.column_stack(metres(*np.asarray(places, float).T)))


def polygon(places: list[cast.Place]) -> shapely.Polygon:
    """A polygon round places in kilometres."""
    return shapely.Polygon(np.column_stack(metres(*np.asarray(places, float).T)))


def points(places: list[cast.Place]) -> np.ndarray:
    """Points at places in kilometres."""
    return shapely.points(*metres(*np.asarray(places, float).T))


def table(geometry, **columns) -> geopandas.GeoDataFrame:
    """Features in the site's projection."""
    return geopandas.GeoDataFrame(columns, geometry=list(geometry), crs=cast.CRS)
