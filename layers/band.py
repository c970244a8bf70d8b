"""One band of a raster file, as much of it as covers the site, as it stands in the file."""

from __future__ import annotations

import logging
import warnings
from dataclasses import dataclass

import numpy as np
import rasterio
from affine import Affine
from pyproj import CRS, Transformer
from rasterio.errors import NotGeoreferencedWarning, RasterioError, RasterioIOError
from rasterio.windows import Window, from_bounds, intersect
from rasterio.windows import transform as window_transform

from layers.fault import Fault
from layers.grid import Grid
from layers.place import elsewhere, known_crs, misplacement
from layers.site import FileEntry
from layers.source import key, kind

MARGIN = 2  # raster cells read around the site, so that rules see past its edge


@dataclass(frozen=True)
class Band:
    """The part of a raster that covers the site."""

    values: np.ndarray  # (rows, columns) float32, as in the file, NaN where it has no data
    transform: Affine
    crs: CRS
    window: Window
    nodata_is_declared: bool


def read_band(entry: FileEntry, grid: Grid, faults: list[Fault], remarks: list[str]) -> Band | None:
    # GDAL's own lines go to the log; what a person needs is in the fault
    logging.getLogger("rasterio._env").setLevel(logging.CRITICAL)
    with warnings.catch_warnings():
        warnings.simplefilter("ignore", NotGeoreferencedWarning)  # said as a fault below
        try:
            with rasterio.open(entry.path) as raster:
                return _read_open(raster, entry, grid, faults, remarks)
        except RasterioIOError as failure:
            faults.append(_unreadable(entry, failure))
            return None


def _read_open(raster, entry: FileEntry, grid: Grid, faults: list[Fault], remarks: list[str]) -> Band | None:
    if raster.subdatasets:
        return _read_variable(raster, entry, grid, faults, remarks)
    if not 1 <= entry.band <= raster.count:
        bands = "1 band" if raster.count == 1 else f"{raster.count} bands"
        faults.append(
            Fault(
                key(entry, "band"),
                f"{entry.path.name} has {bands}, and band {entry.band} is asked for.",
                "Correct `band`.",
            )
        )
        return None
    place = band_place(entry)
    if np.dtype(raster.dtypes[entry.band - 1]).kind not in "iuf":
        faults.append(Fault(place, "the cells hold complex numbers.", "Export the raster with real numbers."))
        return None
    if raster.transform.is_identity and raster.gcps[0]:
        faults.append(
            Fault(entry.path.name, "the raster is placed by control points only.", "Warp it with a GIS first.")
        )
        return None
    crs = known_crs(entry, raster.crs.to_wkt() if raster.crs else None, faults)
    if raster.transform.is_identity:
        faults.append(
            Fault(
                entry.path.name,
                "the raster does not say where it lies.",
                "Georeference it and export it again.",
            )
        )
        return None
    if crs is None:
        return None
    misplaced = misplacement(entry.path.name, _sorted(raster.bounds), crs, grid)
    if misplaced:
        faults.append(misplaced)
        return None
    # a file that was cut short lacks its end, which the site may not need: still it is not the file it should be
    raster.read(entry.band, window=Window(raster.width - 1, raster.height - 1, 1, 1))
    transform = Affine.translation(-_turn(raster, crs, grid), 0) * raster.transform
    window = _window(raster, transform, crs, grid)
    if window is None:
        faults.append(elsewhere(entry.path.name, _sorted(raster.bounds), crs, grid))
        return None
    values = raster.read(entry.band, window=window, out_dtype=np.float32)
    values[raster.read_masks(entry.band, window=window) == 0] = np.nan
    nodata = raster.nodatavals[entry.band - 1]
    if entry.nodata is not None:
        values[values == np.float32(entry.nodata)] = np.nan
    scale, offset = raster.scales[entry.band - 1], raster.offsets[entry.band - 1]
    if (scale, offset) != (1, 0):
        values = values * np.float32(scale) + np.float32(offset)
        sign = "-" if offset < 0 else "+"
        remarks.append(f"{place}: the file stores packed numbers; value = {scale:g} x number {sign} {abs(offset):g}.")
    declared = entry.nodata is not None or nodata is not None
    return Band(values, window_transform(window, transform), crs, window, declared)


def _read_variable(raster, entry: FileEntry, grid: Grid, faults: list[Fault], remarks: list[str]) -> Band | None:
    """One of the variables of a file that holds several, such as NetCDF."""
    names = {name.rsplit(":", 1)[-1].strip('/"'): name for name in raster.subdatasets}
    if entry.layer not in names:
        said = "none is named" if entry.layer is None else f'none is called "{entry.layer}"'
        faults.append(
            Fault(
                key(entry, "layer"),
                f"{entry.path.name} holds {len(names)} variables ({', '.join(names)}), and {said}.",
                "Name one of them as `layer`.",
            )
        )
        return None
    with rasterio.open(names[entry.layer]) as variable:
        return _read_open(variable, entry, grid, faults, remarks)


def _turn(raster, crs: CRS, grid: Grid) -> int:
    """360 where the raster counts longitudes from 0 to 360 and the site lies in the western half, else 0."""
    if not crs.is_geographic:
        return 0
    west, south, east, north = grid.bounds
    to_file = Transformer.from_crs(grid.crs, crs, always_xy=True)
    middle, _ = to_file.transform((west + east) / 2, (south + north) / 2)
    return 360 if middle < raster.bounds.left and raster.bounds.right > 180 else 0


def _window(raster, t: Affine, crs: CRS, grid: Grid) -> Window | None:
    """The part of a raster to read: the site and a margin; None where they do not overlap."""
    whole = Window(0, 0, raster.width, raster.height)
    if t.b or t.d:  # rotated: the box of the site in its rows and columns is not worth the trouble
        return whole
    west, south, east, north = Transformer.from_crs(grid.crs, crs, always_xy=True).transform_bounds(
        *grid.bounds, densify_pts=51
    )
    if t.a < 0:
        west, east = east, west
    if t.e > 0:
        south, north = north, south
    # a grid cell beside the site is within reach of the rules too
    rough = from_bounds(west, south, east, north, t)
    margin = MARGIN + max(rough.width / grid.shape[1], rough.height / grid.shape[0])
    first_row, first_column = (int(np.floor(a - margin)) for a in (rough.row_off, rough.col_off))
    last_row = int(np.ceil(rough.row_off + rough.height + margin))
    last_column = int(np.ceil(rough.col_off + rough.width + margin))
    wanted = Window(first_column, first_row, last_column - first_column, last_row - first_row)
    return wanted.intersection(whole) if intersect(wanted, whole) else None


def _sorted(bounds) -> tuple[float, float, float, float]:
    return (
        min(bounds.left, bounds.right),
        min(bounds.bottom, bounds.top),
        max(bounds.left, bounds.right),
        max(bounds.bottom, bounds.top),
    )


def _unreadable(entry: FileEntry, failure: RasterioError) -> Fault:
    what = kind(entry.path)
    if what == "vector":
        return Fault(
            key(entry, "file"),
            f"{entry.path.name} is a vector file, and a raster is needed here.",
            "Name a raster.",
        )
    if what == "raster":
        return Fault(
            band_place(entry),
            "the file opens, but its cells cannot be read: it is cut short or damaged.",
            "Copy or export it again.",
        )
    return Fault(
        entry.path.name,
        "the file cannot be opened as a raster: it is cut short, damaged, or of an unknown format.",
        "Copy it again, or export it as GeoTIFF.",
    )


def band_place(entry: FileEntry) -> str:
    return f"{entry.path.name}, band {entry.band}"
