"""The ground of each outlet, from a terrain or from drawn polygons, and what a map of it adds up to at the outlets."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import shapely
from scipy import sparse

from layers.alignment import LEAST_KNOWN, cover_fraction
from layers.drainage import OUTSIDE, Drainage
from layers.fault import Fault, LayerError
from layers.grid import Grid

MOST_OVERLAP = 0.01  # of the smaller polygon: more is ground counted twice, less is the drawing's slips


@dataclass(frozen=True, kw_only=True, eq=False)
class Catchment:
    """Outlets, and the share of every cell that drains to each."""

    grid: Grid
    names: tuple[str, ...]
    outlets_xy: np.ndarray  # (n, 2) [m]
    hectares: np.ndarray  # (n,) ground of each outlet [ha]
    cells: sparse.csr_array  # (n, M N) share of each cell [1]

    def known_share(self, values: np.ndarray) -> np.ndarray:
        """(n,) share of each outlet's ground on which `values`, (M, N), are not NaN. [1]"""
        return self.cells @ self._known(values).astype(np.float64) * self.grid.cell_hectares / self.hectares

    def total(self, per_hectare: np.ndarray) -> np.ndarray:
        """(n,) sum at each outlet of an amount per hectare, (M, N).

        Ground on which it is not known is taken to be like the mean of the rest of the outlet's ground; NaN where
        less than half is known.
        """
        known = self._known(per_hectare)
        values = np.where(known, np.asarray(per_hectare, np.float64).ravel(), 0)
        share = self.known_share(per_hectare)
        enough = share >= LEAST_KNOWN
        found = self.cells @ values * self.grid.cell_hectares
        return np.where(enough, found / np.where(enough, share, 1), np.nan)

    def _known(self, values: np.ndarray) -> np.ndarray:
        if np.shape(values) != self.grid.shape:
            raise ValueError(f"values: found {np.shape(values)} cells. The catchment's grid has {self.grid.shape}.")
        return np.isfinite(np.ravel(values))


def catchment_of_drainage(drained: Drainage) -> Catchment:
    """The catchment of a routed terrain; outlets are named by their number, the largest "outlet 1"."""
    labels = drained.outlet_of.ravel()
    cells = np.flatnonzero(labels >= 0)
    count = len(drained.areas)
    share = sparse.csr_array((np.ones(len(cells)), (labels[cells], cells)), shape=(count, labels.size))
    return Catchment(
        grid=drained.grid,
        names=tuple(f"outlet {number}" for number in range(1, count + 1)),
        outlets_xy=drained.outlets_xy,
        hectares=drained.areas / 10_000,
        cells=share,
    )


def lost_to_the_edge(drained: Drainage, per_hectare: np.ndarray) -> float:
    """Sum of an amount per hectare, (M, N), over the ground that drains to no outlet; NaN where it is not known."""
    lost = (drained.direction != OUTSIDE) & (drained.outlet_of < 0)
    return float(np.sum(np.asarray(per_hectare, np.float64)[lost]) * drained.grid.cell_hectares)


def catchment_of_polygons(polygons, outlets, grid: Grid) -> Catchment:
    """The catchment of drawn polygons, each with the outlet of the same name.

    Parameters
    ----------
    polygons : GeoDataFrame
        Column name, (Multi)Polygons in the CRS of `grid`, one for each name.
    outlets : GeoDataFrame
        Column name, points in the CRS of `grid`, one for each name.
    grid : Grid
        Of the catchment.

    Raises
    ------
    LayerError
        If a name is missing or stands twice, a polygon lacks its outlet or an outlet its polygon, a shape is of
        another kind or not valid, polygons overlap by more than 1 % of the smaller, or one lies outside the grid;
        all of it at once.

    Notes
    -----
    Areas are exact: a cell counts by the share of it that lies within. Ground of a polygon beyond the grid counts
    as not known.
    """
    faults = [*_faults("polygons", polygons, ("Polygon", "MultiPolygon"), grid)]
    faults += _faults("outlets", outlets, ("Point",), grid)
    if faults:
        raise LayerError("catchment polygons", faults)
    outlet_at = dict(zip(outlets["name"], outlets.geometry, strict=True))
    names = polygons["name"].tolist()
    for name in sorted(set(names) ^ set(outlet_at)):
        has, lacks = ("polygon", "outlet") if name in names else ("outlet", "polygon")
        remedy = f"Add the {lacks} of that name, or leave the {has} out."
        faults.append(Fault(f'"{name}"', f"The {has} has no {lacks}.", remedy))
    faults += _overlaps(names, polygons.geometry.to_numpy())
    rows = [_cells_within(shape, grid) for shape in polygons.geometry]
    for name, (_, shares) in zip(names, rows, strict=True):
        if not len(shares):
            found = "The polygon lies outside the grid of the catchment."
            faults.append(Fault(f'"{name}"', found, "Check its coordinates, or enlarge the grid."))
    if faults:
        raise LayerError("catchment polygons", faults)
    starts = np.cumsum([0, *(len(shares) for _, shares in rows)])
    cells, shares = (np.concatenate(part) for part in zip(*rows, strict=True))
    return Catchment(
        grid=grid,
        names=tuple(names),
        outlets_xy=np.array([(outlet_at[name].x, outlet_at[name].y) for name in names]),
        hectares=polygons.area.to_numpy() / 10_000,
        cells=sparse.csr_array((shares, cells, starts), shape=(len(names), grid.shape[0] * grid.shape[1])),
    )


def _faults(what: str, features, kinds: tuple[str, ...], grid: Grid) -> list[Fault]:
    if "name" not in features.columns:
        return [Fault(f"{what}, column name", "It is missing.", "Name every feature.")]
    if not len(features):
        return [Fault(what, "There are none.", "Give at least one.")]
    if features.crs is None or features.crs != grid.crs:
        found = f"Their CRS is {features.crs.to_string() if features.crs else 'not said'}."
        return [Fault(what, found, "Reproject them to that of the grid.")]
    faults = []
    for number, (name, shape) in enumerate(zip(features["name"], features.geometry, strict=True), start=1):
        place = f"{what}, feature {number}"
        if not isinstance(name, str) or not name.strip():
            faults.append(Fault(place, "It has no name.", "Name it."))
        if shape is None or shape.is_empty or shape.geom_type not in kinds:
            kind = "nothing" if shape is None or shape.is_empty else f"a {shape.geom_type}"
            faults.append(Fault(place, f"It is {kind}.", f"Draw a {kinds[0]}."))
        elif not shape.is_valid:
            faults.append(Fault(place, f"{shapely.is_valid_reason(shape)}.", "Repair its outline."))
    named = features["name"][features["name"].map(lambda name: isinstance(name, str))]
    for name in sorted(named[named.duplicated()].unique()):
        found = f'"{name}" stands {int((named == name).sum())} times.'
        faults.append(Fault(what, found, "Give each a name of its own, or join its parts into one."))
    return faults


def _overlaps(names: list[str], shapes: np.ndarray) -> list[Fault]:
    faults = []
    one, other = shapely.STRtree(shapes).query(shapes, predicate="intersects")
    for first, second in sorted((int(a), int(b)) for a, b in zip(one, other, strict=True) if a < b):
        shared = shapely.area(shapely.intersection(shapes[first], shapes[second]))
        smaller = min(shapes[first].area, shapes[second].area)
        if shared > MOST_OVERLAP * smaller:
            found = f"They share {shared / 10_000:.3g} ha, {shared / smaller:.0%} of the smaller."
            faults.append(Fault(f'"{names[first]}" and "{names[second]}"', found, "Draw ground once: cut one of them."))
    return faults


def _cells_within(shape, grid: Grid) -> tuple[np.ndarray, np.ndarray]:
    """Flat indices of the cells that a polygon touches, and its share of each."""
    import geopandas

    west, south, east, north = shape.bounds
    (left, top), (right, bottom) = ~grid.transform * (west, north), ~grid.transform * (east, south)
    first_row, last_row = np.clip([np.floor(top), np.ceil(bottom)], 0, grid.shape[0]).astype(int)
    first, last = np.clip([np.floor(left), np.ceil(right)], 0, grid.shape[1]).astype(int)
    if first_row >= last_row or first >= last:
        return np.empty(0, np.int64), np.empty(0)
    window = grid.window(slice(first_row, last_row), slice(first, last))
    share = cover_fraction(geopandas.GeoSeries([shape], crs=grid.crs), window)
    row, column = np.nonzero(share)
    return (row + first_row) * grid.shape[1] + column + first, share[row, column].astype(np.float64)
