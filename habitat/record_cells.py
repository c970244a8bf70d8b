"""The cells of a grid as evidence: their digest, and where two grids differ.

Cells are cells of a map. Nothing here is ever made of places of animals.
"""

from __future__ import annotations

import hashlib
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    import xarray as xr


ROUNDING = 1e-5  # of the largest value of a layer: differences up to it are the last digits of float32 arithmetic


@dataclass(frozen=True, kw_only=True)
class CellDifference:
    """How the cells of one layer differ between a record and what was made again."""

    layer: str
    count: int  # cells that differ, those that have data on one side only among them
    of: int  # cells of the layer
    one_sided: int  # cells that have data on one side only
    largest: float  # largest difference among those with data on both sides; 0 where there is none
    is_rounding: bool  # whether nothing differs but last digits
    season: str  # of the worst cell; "" without seasons
    row: int  # of the worst cell, from 1 at the northern edge
    column: int  # from 1 at the western edge
    easting: float  # of its centre [m]
    northing: float  # [m]
    recorded: float  # what the record holds there; NaN is no data
    found: float

    def __str__(self) -> str:
        season = f", season {self.season}" if self.season else ""
        return (
            f"{self.layer}: {self.count:,} of {self.of:,} cells differ, the worst in row {self.row}, column "
            f"{self.column} (easting {self.easting:.0f}, northing {self.northing:.0f}{season}): "
            f"{_shown(self.recorded)} in the record, {_shown(self.found)} now"
        )


def cells_digest(layer: xr.DataArray | np.ndarray) -> str:
    """SHA-256 over type, shape and values of a grid, in hexadecimal digits.

    What is hashed is the text "float32 3,40,50\\n" (type, and the lengths of the dimensions) and then the values in
    rows from the north-west corner, least significant byte first. All NaN are one bit pattern (7fc00000 in hex digits),
    and minus zero is zero, so that equal maps have equal digests. Threads and blocks do not matter.

    Examples
    --------
    >>> cells_digest(np.array([[1, 2]], "uint8")) == hashlib.sha256(b"uint8 1,2\\n\\x01\\x02").hexdigest()
    True
    """
    values = layer if isinstance(layer, np.ndarray) else layer.to_numpy()
    if values.dtype.kind == "f":
        values = np.where(np.isnan(values), values.dtype.type(np.nan), values) + values.dtype.type(0)
    little = np.ascontiguousarray(values.astype(values.dtype.newbyteorder("<"), copy=False))
    digest = hashlib.sha256(f"{values.dtype.name} {','.join(map(str, values.shape))}\n".encode())
    digest.update(little)
    return digest.hexdigest()


def cell_difference(recorded: xr.DataArray, found: xr.DataArray, *, tolerance: float = 0.0) -> CellDifference | None:
    """Where two layers of one grid differ by more than `tolerance`; None where they nowhere do.

    The worst cell is one that has data on one side only where there is such a cell, else that of the largest
    difference; of equals, the first from the north-west.

    Raises
    ------
    ValueError
        If their shapes differ.
    """
    one, other = recorded.to_numpy(), found.to_numpy()
    if one.shape != other.shape:
        raise ValueError(f"{found.name} has the shape {other.shape}, and {one.shape} in the record.")
    apart, one_sided = _apart(one, other)
    differs = one_sided | (apart > tolerance)
    count = int(np.count_nonzero(differs))
    if not count:
        return None
    ranked = np.where(one_sided, np.inf, apart)
    place = np.unravel_index(int(np.argmax(np.where(differs, ranked, -1.0))), one.shape)
    return CellDifference(
        layer=str(found.name),
        count=count,
        of=one.size,
        one_sided=int(np.count_nonzero(one_sided)),
        largest=float(apart.max()),
        is_rounding=one.dtype.kind == "f" and not one_sided.any() and apart.max() <= ROUNDING * _scale(one),
        season=str(found["season"].values[place[0]]) if found.ndim == 3 else "",
        row=int(place[-2]) + 1,
        column=int(place[-1]) + 1,
        easting=float(found["x"].values[place[-1]]),
        northing=float(found["y"].values[place[-2]]),
        recorded=float(one[place]),
        found=float(other[place]),
    )


def difference_map(recorded: xr.DataArray, found: xr.DataArray) -> xr.DataArray:
    """Found less recorded, float32, in the unit of the layer; NaN where either has no data."""
    one, other = recorded.to_numpy(), found.to_numpy()
    apart = other.astype(np.float64) - one.astype(np.float64)
    apart = np.where(_missing(one, found) | _missing(other, found), np.nan, apart).astype(np.float32)
    difference = found.copy(data=apart)
    difference.attrs = {
        "long_name": f"{found.attrs['long_name']}: difference",
        "units": found.attrs.get("units", "1"),
    }
    return difference


def _apart(one: np.ndarray, other: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """Absolute difference, 0 where it cannot be told, and where only one has data."""
    if one.dtype.kind != "f":
        return np.abs(other.astype(np.float64) - one.astype(np.float64)), np.zeros(one.shape, bool)
    one_sided = np.isnan(one) != np.isnan(other)
    with np.errstate(invalid="ignore"):  # infinite less infinite
        apart = np.abs(other.astype(np.float64) - one.astype(np.float64))
    return np.where(np.isnan(apart), 0.0, apart), one_sided


def _scale(values: np.ndarray) -> float:
    held = np.abs(values[np.isfinite(values)])
    return float(held.max()) if held.size else 0.0


def _missing(values: np.ndarray, layer: xr.DataArray) -> np.ndarray:
    if values.dtype.kind == "f":
        return np.isnan(values)
    return values == 0 if "flag_meanings" in layer.attrs else np.zeros(values.shape, bool)


def _shown(value: float) -> str:
    return "no data" if np.isnan(value) else f"{value:.7g}"
