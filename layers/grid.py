"""The site's one grid: a map projection in metres, an extent and a cell size, as one immutable value.

Coordinates of a layer come from here and nowhere else, so two layers of a site either share every
coordinate to the bit or are refused.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

import numpy as np
import xarray as xr
from affine import Affine
from odc.geo.geobox import GeoBox
from pyproj import CRS

from layers.quantity import Quantity, describe


@dataclass(frozen=True)
class Grid:
    """Square cells, north up, rows counted southwards from the north-west corner."""

    geobox: GeoBox

    @classmethod
    def from_bounds(cls, crs: str, west: float, south: float, east: float, north: float, cell: float) -> Grid:
        """Grid of whole `cell`-metre squares that starts at (`west`, `north`) and covers the bounds.

        Raises
        ------
        ValueError
            If the bounds are not west < east and south < north, `cell` is not positive, or the CRS is not
            projected in metres.
        """
        known = CRS.from_user_input(crs)
        if not known.is_projected or any(axis.unit_name != "metre" for axis in known.axis_info):
            raise ValueError(f"{crs} is not a projected CRS in metres.")
        if not (west < east and south < north):
            raise ValueError("bounds must have west < east and south < north.")
        if not cell > 0:
            raise ValueError("cell must be greater than 0 m.")
        columns, rows = int(np.ceil((east - west) / cell - 1e-9)), int(np.ceil((north - south) / cell - 1e-9))
        return cls(GeoBox((rows, columns), Affine(cell, 0, west, 0, -cell, north), crs))

    @classmethod
    def of(cls, layer: xr.DataArray | xr.Dataset) -> Grid:
        """Grid that `layer` was labelled with."""
        attributes = layer["spatial_ref"].attrs
        west, dx, _, north, _, dy = (float(word) for word in attributes["GeoTransform"].split())
        return cls(
            GeoBox((layer.sizes["y"], layer.sizes["x"]), Affine(dx, 0, west, 0, dy, north), attributes["crs_wkt"])
        )

    @property
    def shape(self) -> tuple[int, int]:
        """Rows and columns."""
        return tuple(self.geobox.shape)

    @property
    def cell(self) -> float:
        """Side of a cell. [m]"""
        return self.geobox.transform.a

    @property
    def cell_hectares(self) -> float:
        """Area of a cell. [ha]"""
        return self.cell**2 / 10_000

    @property
    def transform(self) -> Affine:
        """From (column, row) of a cell's corner to (x, y)."""
        return self.geobox.transform

    @cached_property
    def crs(self) -> CRS:
        """The projection."""
        return CRS.from_user_input(str(self.geobox.crs))

    @property
    def bounds(self) -> tuple[float, float, float, float]:
        """West, south, east, north. [m]"""
        return tuple(self.geobox.boundingbox)

    @cached_property
    def x(self) -> np.ndarray:
        """Eastings of the cell centres. [m]"""
        return self.transform.c + self.cell * (np.arange(self.shape[1]) + 0.5)

    @cached_property
    def y(self) -> np.ndarray:
        """Northings of the cell centres, from north to south. [m]"""
        return self.transform.f - self.cell * (np.arange(self.shape[0]) + 0.5)

    @cached_property
    def coordinates(self) -> dict[str, xr.Variable]:
        """The coordinates every layer of this grid carries, as CF wants them."""
        # the true window offset matters to GIS readers: GeoTransform is in GDAL's order
        t = self.transform
        reference = {**self.crs.to_cf(), "GeoTransform": f"{t.c!r} {t.a!r} 0.0 {t.f!r} 0.0 {t.e!r}"}
        metre = {"units": "m"}
        return {
            "y": xr.Variable("y", self.y, {**metre, "standard_name": "projection_y_coordinate", "axis": "Y"}),
            "x": xr.Variable("x", self.x, {**metre, "standard_name": "projection_x_coordinate", "axis": "X"}),
            "spatial_ref": xr.Variable((), np.int32(0), reference),
        }

    def label(self, values: np.ndarray, quantity: Quantity, **attributes: str) -> xr.DataArray:
        """`values`, shape (y, x), as a layer of this grid."""
        layer = xr.DataArray(values, dims=("y", "x"), coords=self.coordinates)
        layer.encoding["grid_mapping"] = "spatial_ref"
        return describe(layer, quantity, **attributes)

    def blank(self, quantity: Quantity, fill: float = np.nan) -> xr.DataArray:
        """A layer that holds `fill` (float32) everywhere."""
        return self.label(np.full(self.shape, fill, np.float32), quantity)

    def window(self, rows: slice, columns: slice) -> Grid:
        """The part of this grid that `rows` and `columns` pick."""
        return Grid(self.geobox[rows, columns])

    def cell_at(self, x: float, y: float) -> tuple[int, int] | None:
        """Row and column of the cell that holds a point, or None outside the grid."""
        column, row = ~self.transform * (x, y)
        row, column = int(np.floor(row)), int(np.floor(column))
        inside = 0 <= row < self.shape[0] and 0 <= column < self.shape[1]
        return (row, column) if inside else None
