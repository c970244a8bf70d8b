"""Does a file lie where the site lies, and if not, which of the usual slips would explain it?"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from pyproj import CRS, Transformer
from pyproj.exceptions import CRSError, ProjError

from layers.fault import Fault
from layers.grid import Grid
from layers.site import FileEntry
from layers.source import key

Bounds = tuple[float, float, float, float]
_FALSE_NORTHING = 10_000_000  # m, of the southern zones of the universal transverse Mercator grid


@dataclass(frozen=True)
class Slip:
    """A slip people make with coordinates: what it is, how to mend it, and the mending itself."""

    found: str
    remedy: str
    mended: Callable[[np.ndarray, np.ndarray], tuple[np.ndarray, np.ndarray]]


_EXCHANGE = "Exchange them in the file; in a CSV, exchange the columns that `x` and `y` name."
SLIPS_IN_DEGREES = (
    Slip("longitude and latitude are swapped", _EXCHANGE, lambda x, y: (y, x)),
    Slip("longitudes are west of Greenwich but have no minus sign", "Write western longitudes with a minus sign.",
         lambda x, y: (-np.abs(x), y)),
    Slip("longitudes are east of Greenwich but have a minus sign", "Write eastern longitudes without a minus sign.",
         lambda x, y: (np.abs(x), y)),
    Slip("latitudes are south of the equator but have no minus sign", "Write southern latitudes with a minus sign.",
         lambda x, y: (x, -np.abs(y))),
    Slip("latitudes are north of the equator but have a minus sign", "Write northern latitudes without a minus sign.",
         lambda x, y: (x, np.abs(y))),
    Slip("longitudes and latitudes have the wrong sign", "Write western longitudes and southern latitudes with a "
         "minus sign, eastern and northern ones without.", lambda x, y: (-x, -y)),
)  # fmt: skip
SLIPS_IN_METRES = (
    Slip("easting and northing are swapped", _EXCHANGE, lambda x, y: (y, x)),
    Slip("northings lack the 10,000,000 m of a southern zone", "Add 10,000,000 m to the northings, or name the CRS of "
         "the northern zone; if the file is right, correct the zone of the grid.",
         lambda x, y: (x, y + _FALSE_NORTHING)),
    Slip("northings carry the 10,000,000 m of a southern zone", "Subtract 10,000,000 m from the northings, or name "
         "the CRS of the southern zone; if the file is right, correct the zone of the grid.",
         lambda x, y: (x, y - _FALSE_NORTHING)),
    Slip("northings have the wrong sign", "Write the northings without the minus sign.", lambda x, y: (x, -y)),
    Slip("coordinates are in kilometres", "Multiply the coordinates by 1000.", lambda x, y: (x * 1000, y * 1000)),
    Slip("coordinates are in feet", "Multiply the coordinates by 0.3048.", lambda x, y: (x * 0.3048, y * 0.3048)),
)  # fmt: skip


def known_crs(entry: FileEntry, given: str | CRS | None, faults: list[Fault]) -> CRS | None:
    """The CRS of a file: its own or, where it has none, the one the site file declares for it."""
    own = declared = None
    try:
        own = CRS.from_user_input(given) if given else None
        declared = CRS.from_user_input(entry.crs) if entry.crs else None
    except CRSError:
        text = entry.crs or str(given)
        faults.append(
            Fault(
                key(entry, "crs"),
                f'"{text}" is not a known CRS.',
                'Give an authority code such as "EPSG:4326".',
            )
        )
        return None
    if own is None and declared is None:
        faults.append(
            Fault(
                entry.path.name,
                "the file does not say in which CRS its coordinates are.",
                f'Add `crs`, for example crs = "EPSG:4326", to the table files.{entry.name}, or set it in the file.',
            )
        )
    if own is not None and declared is not None and not own.equals(declared, ignore_axis_order=True):
        faults.append(
            Fault(
                key(entry, "crs"),
                f'the site file says "{entry.crs}", but the file says "{crs_name(own)}".',
                "Remove `crs` from the site file, or set the right one in the file.",
            )
        )
        return None
    return own if own is not None else declared


def misplacement(place: str, bounds: Bounds, crs: CRS, grid: Grid) -> Fault | None:
    """The fault of a file that cannot lie in its CRS or does not touch the site; None where it does.

    Parameters
    ----------
    bounds : west, south, east, north in `crs`
    """
    west, south, east, north = bounds
    largest_x, largest_y = max(abs(west), abs(east)), max(abs(south), abs(north))
    corners = np.array([west, east, west, east]), np.array([south, south, north, north])
    if crs.is_geographic and (largest_x > 360 or largest_y > 180):
        return Fault(
            place,
            f"the coordinates ({west:.6g} to {east:.6g}, {south:.6g} to {north:.6g}) cannot be degrees, but the CRS "
            f"{crs_name(crs)} is in degrees.",
            "Name the projected CRS that the coordinates are in.",
        )
    if crs.is_projected and largest_x <= 360 and largest_y <= 90:
        return Fault(
            place,
            f"the coordinates ({west:.6g} to {east:.6g}, {south:.6g} to {north:.6g}) look like degrees, but the CRS "
            f"{crs_name(crs)} is in metres.",
            'Name the CRS that the coordinates are in, for degrees mostly "EPSG:4326".',
        )
    try:
        to_grid = Transformer.from_crs(crs, grid.crs, always_xy=True)
    except ProjError:
        return Fault(place, f"the CRS {crs_name(crs)} cannot be turned into the site's.", "Reproject the file first.")
    if _touches(to_grid, *corners, grid):
        return None
    for slip in _slips(crs):
        if _touches(to_grid, *slip.mended(*corners), grid):
            return Fault(place, f"{slip.found}: with that mended, the file would lie in the site.", slip.remedy)
    return elsewhere(place, bounds, crs, grid)


def elsewhere(place: str, bounds: Bounds, crs: CRS, grid: Grid) -> Fault:
    """The fault of a file that lies apart from the site, with both extents."""
    return Fault(
        place,
        f"the file does not overlap the site. The file covers {_extent(bounds, crs)}; the site covers "
        f"{_extent(grid.bounds, grid.crs)}.",
        "Check the CRS and the coordinates of the file, and the bounds of the grid.",
    )


def slipped(x: np.ndarray, y: np.ndarray, crs: CRS, grid: Grid) -> tuple[Slip, np.ndarray] | None:
    """The slip that brings places outside the site into it, and which of them; None if none does."""
    to_grid = Transformer.from_crs(crs, grid.crs, always_xy=True)
    for slip in _slips(crs):
        into = inside(*to_grid.transform(*slip.mended(x, y)), grid)
        if into.any():
            return slip, into
    return None


def inside(x: np.ndarray, y: np.ndarray, grid: Grid) -> np.ndarray:
    """True where a place in the CRS of `grid` lies on it."""
    west, south, east, north = grid.bounds
    return (np.asarray(x) >= west) & (np.asarray(x) <= east) & (np.asarray(y) >= south) & (np.asarray(y) <= north)


def crs_name(crs: CRS) -> str:
    """Authority code of a CRS or, where it has none, its name."""
    authority = crs.to_authority()
    return ":".join(authority) if authority else crs.name


def _slips(crs: CRS) -> tuple[Slip, ...]:
    return SLIPS_IN_DEGREES if crs.is_geographic else SLIPS_IN_METRES


def _touches(to_grid: Transformer, x: np.ndarray, y: np.ndarray, grid: Grid) -> bool:
    """True if the box about some places overlaps the grid."""
    if to_grid.source_crs.is_geographic and np.abs(y).max() > 91:  # a cell past the pole is rounding
        return False
    bounds = x.min(), y.min(), x.max(), y.max()
    if _holds(to_grid, bounds, grid):
        return True
    try:
        west, south, east, north = to_grid.transform_bounds(*bounds)
    except ProjError:
        return False
    left, bottom, right, top = grid.bounds
    finite = np.isfinite([west, south, east, north]).all()
    return bool(finite and west <= right and east >= left and south <= top and north >= bottom)


def _holds(to_grid: Transformer, bounds: Bounds, grid: Grid) -> bool:
    """True if any of some places of the grid lies in `bounds`, which may reach round the world."""
    west, south, east, north = bounds
    x, y = np.meshgrid(*(np.linspace(a, b, 7) for a, b in zip(grid.bounds[:2], grid.bounds[2:], strict=True)))
    x, y = to_grid.transform(x.ravel(), y.ravel(), direction="INVERSE")
    turns = (0, 360) if to_grid.source_crs.is_geographic else (0,)
    return any(((x + turn > west) & (x + turn < east) & (y > south) & (y < north)).any() for turn in turns)


def _extent(bounds: Bounds, crs: CRS) -> str:
    """Bounds in words: in degrees where they can be had, else in metres."""
    try:
        degrees = Transformer.from_crs(crs, "EPSG:4326", always_xy=True).transform_bounds(*bounds)
    except ProjError:
        degrees = (np.inf,) * 4
    if np.isfinite(degrees).all():
        west, south, east, north = degrees
        return f"longitude {west:.3f} to {east:.3f}, latitude {south:.3f} to {north:.3f}"
    west, south, east, north = bounds
    return f"x {west:.0f} to {east:.0f}, y {south:.0f} to {north:.0f} in {crs_name(crs)}"
