"""Vector files of any format OGR reads, checked and in the projection of the site's grid."""

from __future__ import annotations

import warnings

import geopandas
import numpy as np
import pandas as pd
import pyogrio
import shapely
from pyogrio.errors import DataLayerError, DataSourceError, FeatureError, FieldError, GeometryError

from layers.column import faulty_rows, left_out, numbers
from layers.fault import Fault
from layers.geometry import note_faulty_shapes, note_outside
from layers.place import known_crs, misplacement
from layers.plausibility import implausible_values
from layers.quantity import Quantity
from layers.site import FileEntry, Site
from layers.source import absence, is_table, key, kind
from layers.table import has_columns, kept_rows, place_columns, read_rows
from layers.units import UnitError, converter

_FAILURES = (
    DataSourceError,
    DataLayerError,
    FeatureError,
    FieldError,
    GeometryError,
    RuntimeError,
    ValueError,
)


def read_features(
    entry: FileEntry,
    site: Site,
    faults: list[Fault],
    *,
    kinds: frozenset[str],
    quantity: Quantity | None = None,
    remarks: list[str] | None = None,
) -> geopandas.GeoDataFrame | None:
    """Features of a vector file, or of a CSV with a column for x and one for y, in the grid's CRS.

    Parameters
    ----------
    kinds : frozenset of "Point", "LineString", "Polygon"
        Geometry that is of use; multi-part and 3-D forms of them are accepted, heights dropped.
    quantity : Quantity, optional
        What `entry.column` holds. Without it the column is taken as it is.
    faults, remarks : lists
        What to mend, and what a person should know and need not mend, is added to them.

    Returns
    -------
    GeoDataFrame or None
        The file's columns and, where the entry names a column, `value` in the unit of `quantity`. Features
        outside the site are kept. None if a fault was found.
    """
    remarks = [] if remarks is None else remarks
    absent = absence(entry, site)
    if absent:
        faults.append(absent)
        return None
    before = len(faults)
    noun = "row" if is_table(entry.path) else "feature"
    frame = _points_of_table(entry, faults) if is_table(entry.path) else _read(entry, faults)
    frame = None if frame is None else kept_rows(frame, entry, faults)
    if frame is None:
        return None
    valued = frame if entry.column is None else _with_value(frame, entry, quantity, faults, remarks, noun)
    note_faulty_shapes(frame, entry.path.name, kinds, faults, noun)
    crs = known_crs(entry, frame.crs, faults)
    if crs is not None and np.isfinite(frame.total_bounds).all():
        misplaced = misplacement(entry.path.name, tuple(frame.total_bounds), crs, site.grid)
        if misplaced:
            faults.append(misplaced)
    if len(faults) > before:
        return None
    valued = valued.set_crs(crs, allow_override=True)
    projected = valued.to_crs(site.grid.crs)
    note_outside(valued, projected, entry.path.name, site.grid, faults, remarks, noun)
    return None if len(faults) > before else projected


def _read(entry: FileEntry, faults: list[Fault]) -> geopandas.GeoDataFrame | None:
    """The named layer, whole and with its geometry; None with a fault."""
    fault = _faulty_shapefile(entry) if entry.path.suffix.lower() == ".shp" else None
    if fault:
        faults.append(fault)
        return None
    with warnings.catch_warnings(record=True) as said:
        warnings.simplefilter("always")
        try:
            if entry.path.suffix.lower() == ".parquet":
                frame, expected = geopandas.read_parquet(entry.path), None
            else:
                layer = _layer(entry, faults)
                if layer is None:
                    return None
                frame = pyogrio.read_dataframe(entry.path, layer=layer)
                expected = pyogrio.read_info(entry.path, layer=layer, force_feature_count=True)["features"]
        except _FAILURES:
            faults.append(_unreadable(entry))
            return None
    cut_short = expected is not None and expected != len(frame)
    if cut_short or any("corrupt" in str(line.message) or "malformed" in str(line.message) for line in said):
        faults.append(_damaged(entry))
        return None
    if not isinstance(frame, geopandas.GeoDataFrame):
        faults.append(Fault(entry.path.name, "the layer has no geometry.", "Name a layer that has."))
        return None
    if frame.empty:
        faults.append(Fault(entry.path.name, "the layer has no features.", "Export it again, or remove the table."))
        return None
    frame.index = np.arange(1, len(frame) + 1)
    return frame.set_geometry(shapely.force_2d(frame.geometry.array), crs=frame.crs)


def _layer(entry: FileEntry, faults: list[Fault]) -> str | None:
    layers = {name: shape for name, shape in pyogrio.list_layers(entry.path)}
    with_shape = [name for name, shape in layers.items() if shape is not None]
    if entry.layer is not None and entry.layer not in layers:
        faults.append(
            Fault(
                key(entry, "layer"),
                f'{entry.path.name} has no layer "{entry.layer}".',
                f"Layers there: {', '.join(layers)}.",
            )
        )
        return None
    if entry.layer is not None:
        return entry.layer
    if len(with_shape) == 1:
        return with_shape[0]
    if not with_shape:
        faults.append(Fault(entry.path.name, "no layer of the file has geometry.", "Name a file that has."))
    else:
        faults.append(
            Fault(
                key(entry, "layer"),
                f"{entry.path.name} holds {len(with_shape)} layers, and none is named.",
                f"Name one of them as `layer`: {', '.join(with_shape)}.",
            )
        )
    return None


def _points_of_table(entry: FileEntry, faults: list[Fault]) -> geopandas.GeoDataFrame | None:
    """The rows of a CSV whose place can be read, as points without a CRS."""
    rows = read_rows(entry, faults)
    places = None if rows is None else place_columns(rows, entry, faults)
    if places is None:
        return None
    known = np.isfinite(places[0]) & np.isfinite(places[1])
    return geopandas.GeoDataFrame(rows[known], geometry=shapely.points(*(c[known] for c in places)))


def _with_value(
    frame: geopandas.GeoDataFrame,
    entry: FileEntry,
    quantity: Quantity | None,
    faults: list[Fault],
    remarks: list[str],
    noun: str,
) -> geopandas.GeoDataFrame | None:
    """`frame` with a column `value`; without the features that hold the declared value for no data."""
    if not has_columns(frame, {"column": entry.column}, entry, faults):
        return None
    if quantity is None:
        missing = (frame[entry.column].isna() | (frame[entry.column] == "")).to_numpy()
        faulty_rows(frame, entry.column, missing, "have no value", "Fill it in.", entry, faults, noun=noun)
        return frame.assign(value=frame[entry.column])
    before = len(faults)
    try:
        convert = converter(entry.units, quantity.units, quantity=quantity.name)
    except UnitError as refusal:
        faults.append(Fault(key(entry, "units"), refusal.found, refusal.remedy))
        convert = None
    gaps = entry.time is not None  # a record in time may have gaps; a place without a value is a hole
    values = _column_values(frame, entry, faults, noun=noun, gaps=gaps)
    known = ~np.isnan(values)
    if entry.nodata is not None:
        known &= values != entry.nodata
    if (gaps or entry.nodata is not None) and not known.all():
        remarks.append(left_out(entry, ~known, noun))
    frame, values = frame[known], values[known]
    if convert is None:
        return None
    place = f"{entry.path.name}, column {entry.column}"
    index = frame.index
    faults += implausible_values(place, values, convert, quantity, entry, lambda i: f"{noun} {index[i]}", noun=noun)
    if len(faults) == before and frame.empty:
        faults.append(Fault(place, f"no {noun} has a value.", "Check the column and `nodata`."))
    return frame.assign(value=convert(values)) if len(faults) == before else None


def _column_values(frame: pd.DataFrame, entry: FileEntry, faults: list[Fault], *, noun: str, gaps: bool) -> np.ndarray:
    """The numbers of the entry's column, from text or from a numeric field. [as in the file]"""
    if noun == "row":
        return numbers(frame, entry.column, entry, faults, gaps=gaps)
    values = pd.to_numeric(frame[entry.column], errors="coerce").to_numpy(dtype=float)
    missing = frame[entry.column].isna().to_numpy()
    text = np.isnan(values) & ~missing
    for those, found, remedy in (
        (missing & (not gaps), "have no value", "Fill it in, or remove the feature."),
        (text, "hold text that is not a number", "Write a number, or remove the feature."),
    ):
        faulty_rows(frame, entry.column, those, found, remedy, entry, faults, noun=noun)
    return values


def _faulty_shapefile(entry: FileEntry) -> Fault | None:
    """The fault of a shapefile that lacks one of its files or its own end, both of which OGR would pass over."""
    lacking = [
        ending
        for ending in (".shx", ".dbf")
        if not any(entry.path.with_suffix(spelt).exists() for spelt in (ending, ending.upper()))
    ]
    if lacking:
        found = f"the shapefile lacks its {' and '.join(lacking)}."
        return Fault(entry.path.name, found, "Copy all its files, or send it zipped.")
    header = entry.path.read_bytes()[:100]
    length = 2 * int.from_bytes(header[24:28], "big")  # the header counts 16-bit words
    return _damaged(entry) if len(header) < 100 or length > entry.path.stat().st_size else None


def _unreadable(entry: FileEntry) -> Fault:
    what = kind(entry.path)
    if what == "raster":
        return Fault(
            key(entry, "file"),
            f"{entry.path.name} is a raster, and a vector file is needed here.",
            "Name a vector file.",
        )
    if what == "vector":
        return _damaged(entry)
    return Fault(
        entry.path.name,
        "the file cannot be opened as a vector file: it is cut short, damaged, or of an unknown format.",
        "Copy it again, or export it as GeoPackage or GeoJSON.",
    )


def _damaged(entry: FileEntry) -> Fault:
    return Fault(
        entry.path.name,
        "the file opens, but its features cannot all be read: it is cut short or damaged.",
        "Copy or export it again.",
    )
