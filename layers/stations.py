"""Measurements at places and in time: stations and outlets, gauge series, plain tables."""

from __future__ import annotations

from dataclasses import replace

import geopandas
import numpy as np
import pandas as pd

from layers.column import left_out, numbers, times
from layers.fault import Fault
from layers.plausibility import counted, implausible_values
from layers.quantity import BED_ELEVATION, Quantity
from layers.site import FileEntry, Site
from layers.source import absence, is_table, key
from layers.table import has_columns, read_rows
from layers.units import UnitError, converter
from layers.vector import read_features

SAME_PLACE = 1.0  # m: fixes of one station closer than this are rounding


def read_points(
    entry: FileEntry,
    site: Site,
    quantity: Quantity,
    faults: list[Fault],
    *,
    remarks: list[str] | None = None,
) -> geopandas.GeoDataFrame | None:
    """Values measured at points, from a CSV or any vector file of points.

    Returns
    -------
    GeoDataFrame or None
        Columns station (text), time (datetime64, NaT where the entry names no time), value (in the unit of
        `quantity`) and geometry (Point in the grid's CRS). Points outside the site are left out and remarked.
        None if a fault was found.
    """
    remarks = [] if remarks is None else remarks
    before = len(faults)
    frame = read_features(entry, site, faults, kinds=frozenset({"Point"}), quantity=quantity, remarks=remarks)
    records = frame
    if records is None and is_table(entry.path) and entry.path.is_file():
        records = read_rows(entry, [])  # its own faults are noted already; times and stations are not
    if records is None:
        return None
    noun = "row" if is_table(entry.path) else "feature"
    wanted = {name: getattr(entry, name) for name in ("time", "station") if getattr(entry, name)}
    if not has_columns(records.drop(columns="value", errors="ignore"), wanted, entry, faults):
        return None
    moments = times(records, entry.time, entry, faults) if entry.time else np.full(len(records), "NaT", "M8[ns]")
    stations = records[entry.station].astype(str).to_numpy() if entry.station else np.full(len(records), "")
    if entry.station:
        _check_stations(records, stations, moments, entry, faults, noun)
    if frame is None or len(faults) > before:
        return None
    points = geopandas.GeoDataFrame(
        {"station": stations, "time": moments, "value": frame.get("value", np.full(len(frame), np.nan))},
        geometry=frame.geometry,
    )
    if (points.geom_type != "Point").any():
        points = points.explode(index_parts=False)
    if entry.station:
        _check_positions(points, entry, faults, noun)
    elif count := int(_numbers_only(points).duplicated().sum()):
        remarks.append(f"{entry.path.name}: {_repeats(count, noun)} another exactly.")
    inside = points.intersects(_box(site)).to_numpy()
    return None if len(faults) > before else points[inside]


def read_soundings(
    entry: FileEntry,
    site: Site,
    faults: list[Fault],
    *,
    remarks: list[str] | None = None,
) -> geopandas.GeoDataFrame | None:
    """Bed elevations at points above their own datum, positive up; columns as of `read_points`. [m]"""
    if entry.positive == "up":
        return read_points(entry, site, BED_ELEVATION, faults, remarks=remarks)
    low, high = BED_ELEVATION.plausible
    depth = replace(BED_ELEVATION, name="sounding", label="sounded depth", plausible=(-high, -low))
    points = read_points(entry, site, depth, faults, remarks=remarks)
    return None if points is None else points.assign(value=-points["value"])


def read_series(
    entry: FileEntry,
    site: Site,
    quantity: Quantity,
    faults: list[Fault],
    *,
    remarks: list[str] | None = None,
) -> pd.DataFrame | None:
    """A series of one quantity: columns time (datetime64, ascending) and value (in the unit of `quantity`)."""
    rows = read_columns(entry, site, faults)
    if rows is None:
        return None
    before = len(faults)
    convert = _converter(entry, quantity, faults)
    if not has_columns(rows, {"time": entry.time, "column": entry.column}, entry, faults):
        return None
    moments = times(rows, entry.time, entry, faults)
    values = numbers(rows, entry.column, entry, faults, gaps=True)
    known = ~np.isnan(values) & (values != entry.nodata)
    if not known.all() and remarks is not None:
        remarks.append(left_out(entry, ~known, "row"))
    if len(faults) == before and not known.any():
        faults.append(Fault(f"{entry.path.name}, column {entry.column}", "no row has a value.", "Check the column."))
    rows, moments, values = rows[known], moments[known], values[known]
    if convert is not None:
        place = f"{entry.path.name}, column {entry.column}"
        index = rows.index
        faults += implausible_values(place, values, convert, quantity, entry, lambda i: f"row {index[i]}", noun="row")
    step = np.diff(moments)
    _note_steps(rows, step == np.timedelta64(0), "has the time of the row before", "Keep one of them.", entry, faults)
    back = step < np.timedelta64(0)
    _note_steps(rows, back, "is earlier than the row before", "Sort the rows by time.", entry, faults)
    if len(faults) > before:
        return None
    return pd.DataFrame({"time": moments, "value": convert(values)})


def read_table(
    entry: FileEntry, columns: dict[str, type], faults: list[Fault], *, site: Site | None = None
) -> pd.DataFrame | None:
    """The named columns of a plain CSV, each as text (`str`) or numbers (`float`, as in the file)."""
    rows = read_columns(entry, site, faults)
    if rows is None:
        return None
    before = len(faults)
    missing = [column for column in columns if column not in rows.columns]
    if missing:
        absent = ", ".join(f'"{column}"' for column in missing)
        faults.append(
            Fault(
                entry.path.name,
                f"the file has no column {absent}.",
                f"Columns there: {', '.join(rows.columns)}.",
            )
        )
    found = {
        column: rows[column].to_numpy() if kind is str else numbers(rows, column, entry, faults)
        for column, kind in columns.items()
        if column not in missing
    }
    for column, values in found.items():
        infinite = values.dtype.kind == "f" and np.isinf(values).any()
        if infinite:
            faults.append(Fault(f"{entry.path.name}, column {column}", "a value is infinite.", "Write a number."))
    return pd.DataFrame(found) if len(faults) == before else None


def read_columns(entry: FileEntry, site: Site | None, faults: list[Fault]) -> pd.DataFrame | None:
    """All columns of a plain CSV, as text; None if a fault was found."""
    absent = absence(entry, site)
    if absent:
        faults.append(absent)
    elif not is_table(entry.path):
        faults.append(
            Fault(
                key(entry, "file"),
                f"{entry.path.name} is not a CSV, and one is needed here.",
                "Name a CSV file.",
            )
        )
    else:
        return read_rows(entry, faults)
    return None


def _converter(entry: FileEntry, quantity: Quantity, faults: list[Fault]):
    try:
        return converter(entry.units, quantity.units, quantity=quantity.name)
    except UnitError as refusal:
        faults.append(Fault(key(entry, "units"), refusal.found, refusal.remedy))
        return None


def _check_stations(
    records: pd.DataFrame,
    stations: np.ndarray,
    moments: np.ndarray,
    entry: FileEntry,
    faults: list[Fault],
    noun: str,
) -> None:
    name = entry.path.name
    nameless = (stations == "") | (stations == "None") | (stations == "nan")
    if nameless.any():
        first = records.index[nameless][0]
        faults.append(
            Fault(
                f"{name}, {noun} {first}, column {entry.station}",
                f"{counted(int(nameless.sum()), noun)} {'has' if nameless.sum() == 1 else 'have'} no station.",
                "Name the station.",
            )
        )
    listed = pd.DataFrame({"station": stations, "time": moments}, index=records.index)[~nameless]
    again = listed.duplicated().to_numpy()
    if again.any():
        row = listed.index[again][0]
        station, moment = listed.loc[row]
        first = listed.index[((listed.station == station) & ((listed.time == moment) | listed.time.isna())).to_numpy()][
            0
        ]
        at = "" if pd.isna(moment) else f" at {moment.isoformat(sep=' ', timespec='minutes')}"
        more = f" ({counted(int(again.sum()), noun)} like this)" if again.sum() > 1 else ""
        faults.append(
            Fault(
                f"{name}, {noun} {row}",
                f'station "{station}"{at} is in {noun} {first} already{more}.',
                "Keep one of them" + ("." if entry.time else ", or name the column of times as `time`."),
            )
        )
    if not entry.time:
        return
    for station, group in listed.groupby("station", sort=False):
        step = np.diff(group.time.to_numpy())
        if (step < np.timedelta64(0)).any() and (step > np.timedelta64(0)).any():
            row = group.index[1:][step < np.timedelta64(0)][0]
            faults.append(
                Fault(
                    f"{name}, {noun} {row}, column {entry.time}",
                    f'the times of station "{station}" run forwards and backwards.',
                    "Check the date of this row, then sort the rows of each station by time.",
                )
            )
            return


def _check_positions(points: geopandas.GeoDataFrame, entry: FileEntry, faults: list[Fault], noun: str) -> None:
    first = points.drop_duplicates("station").set_index("station").geometry
    distance = points.geometry.distance(geopandas.GeoSeries(first[points.station].to_numpy(), points.index, points.crs))
    moved = (distance > SAME_PLACE).to_numpy()
    if moved.any():
        row = points.index[moved][0]
        faults.append(
            Fault(
                f"{entry.path.name}, {noun} {row}",
                f'station "{points.station[row]}" lies {distance[row]:,.0f} m from where an earlier {noun} puts it.',
                "Correct the coordinates, or give the new place a name of its own.",
            )
        )


def _note_steps(
    rows: pd.DataFrame, those: np.ndarray, found: str, remedy: str, entry: FileEntry, faults: list[Fault]
) -> None:
    if those.any():
        row = rows.index[1:][those][0]
        more = f" ({those.sum():,} rows are like this)" if those.sum() > 1 else ""
        when = rows.at[row, entry.time]
        faults.append(Fault(f"{entry.path.name}, row {row}, column {entry.time}", f'"{when}" {found}{more}.', remedy))


def _box(site: Site):
    import shapely

    return shapely.box(*site.grid.bounds)


def _numbers_only(points: geopandas.GeoDataFrame) -> pd.DataFrame:
    """Points as plain columns, which are compared faster than shapes."""
    return pd.DataFrame({"time": points.time, "value": points.value, "x": points.geometry.x, "y": points.geometry.y})


def _repeats(count: int, noun: str) -> str:
    return f"{counted(count, noun)} {'repeats' if count == 1 else 'repeat'}"
