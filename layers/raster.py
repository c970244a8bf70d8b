"""Rasters of any format GDAL reads, checked and brought onto the site's grid.

Values are checked as they stand in the file, before any rule mixes them with their neighbours.
"""

from __future__ import annotations

import numpy as np
import xarray as xr

from layers.alignment import RULES
from layers.band import Band, band_place, read_band
from layers.fault import Fault
from layers.grid import Grid
from layers.place import crs_name
from layers.plausibility import doubtful_sign, doubtful_zeros, implausible_values
from layers.provenance import provenance
from layers.quantity import BED_ELEVATION, Quantity
from layers.site import FileEntry, Site
from layers.source import absence, key
from layers.units import UnitError, converter


def read_raster(
    entry: FileEntry,
    site: Site,
    quantity: Quantity,
    faults: list[Fault],
    *,
    default_rule: str = "area mean",
    remarks: list[str] | None = None,
) -> xr.DataArray | None:
    """One band of a raster as a layer on the site's grid.

    Parameters
    ----------
    entry : FileEntry
        The file, and what the site file says about it.
    quantity : Quantity
        What it holds; values come out in its unit. A bed comes out as elevation, positive up.
    faults : list of Fault
        Everything to mend is added to it.
    default_rule : str
        Rule of alignment where the entry names none.
    remarks : list of str, optional
        What a person should know and need not mend is added to it.

    Returns
    -------
    (y, x) float32 layer, or None
        NaN where the raster has no data. None if a fault was found.
    """
    before = len(faults)
    convert = _conversion(entry, quantity, faults)
    rule = _rule(entry, default_rule, faults)
    absent = absence(entry, site)
    if absent:
        faults.append(absent)
        return None
    part = read_band(entry, site.grid, faults, [] if remarks is None else remarks)
    if part is None:
        return None
    place = band_place(entry)
    if np.isnan(part.values).all():
        faults.append(_nothing(place))
    if convert is None:
        return None

    def where(index: int) -> str:
        row, column = divmod(index, part.values.shape[1])
        x, y = part.transform * (column + 0.5, row + 0.5)
        digits = 4 if part.crs.is_geographic else 0
        return (
            f"row {row + part.window.row_off + 1:.0f}, column {column + part.window.col_off + 1:.0f} "
            f"(x {x:.{digits}f}, y {y:.{digits}f})"
        )

    faults += implausible_values(place, part.values, convert, quantity, entry, where)
    doubt = doubtful_zeros(place, part.values, quantity, entry, part.nodata_is_declared)
    values = convert(part.values)
    if quantity.name == BED_ELEVATION.name and doubt is None and len(faults) == before:
        doubt = doubtful_sign(entry, values)
    if doubt is not None:
        faults.append(doubt)
    if len(faults) > before or rule is None:
        return None
    aligned = RULES[rule](values.astype(np.float32, copy=False), part.transform, part.crs, site.grid)
    if np.isnan(aligned).all():  # data in the margin only
        faults.append(_nothing(place))
        return None
    return site.grid.label(aligned, quantity, **provenance([entry]), method=_method(rule, part, site.grid))


def _conversion(entry: FileEntry, quantity: Quantity, faults: list[Fault]):
    """From the file's values to the layer's: unit and sign."""
    is_bed = quantity.name == BED_ELEVATION.name
    if is_bed and entry.positive is None:
        faults.append(_no_sign(entry))
    try:
        convert = converter(entry.units, quantity.units, quantity=quantity.name)
    except UnitError as refusal:
        faults.append(Fault(key(entry, "units"), refusal.found, refusal.remedy))
        return None
    if is_bed and entry.positive == "down":
        return lambda values: -convert(values)
    return convert


def _rule(entry: FileEntry, default_rule: str, faults: list[Fault]) -> str | None:
    rule = entry.rule or default_rule
    if rule not in RULES:
        faults.append(Fault(key(entry, "rule"), f'there is no rule "{rule}".', f"Use one of: {', '.join(RULES)}."))
        return None
    return rule


def _method(rule: str, part: Band, grid: Grid) -> str:
    """What was done, in a sentence, with what the rule means at these cell sizes."""
    side = np.sqrt(abs(part.transform.determinant))
    unit = "degree" if part.crs.is_geographic else "m"
    ground = side * (111_200 if part.crs.is_geographic else 1)  # a rough length, to tell coarser from finer
    text = f"{rule} of raster cells of {side:.4g} {unit} ({crs_name(part.crs)})"
    if ground > 1.5 * grid.cell and rule.startswith("area"):
        text += f", which are coarser than the grid's {grid.cell:g} m, so neighbouring cells repeat a value"
    elif ground < grid.cell / 1.5 and rule == "nearest":
        text += f", which are finer than the grid's {grid.cell:g} m, so most raster cells are passed over"
    return text


def _no_sign(entry: FileEntry) -> Fault:
    return Fault(
        key(entry, "positive"),
        "the site file does not say whether values grow upwards (elevation) or downwards (depth).",
        'Write positive = "up" or positive = "down".',
    )


def _nothing(place: str) -> Fault:
    return Fault(
        place, "the raster has no data anywhere in the site.", "Check the band, its value for no data, and its extent."
    )
