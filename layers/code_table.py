"""Tables that say what the codes of land cover and soil maps mean, looked at when they are read."""

from __future__ import annotations

import pandas as pd

from layers.column import numbers
from layers.cover_table import SHARES, cover_table
from layers.fault import Fault, LayerError
from layers.land_cover import SOIL_GROUPS
from layers.site import FileEntry, Site
from layers.stations import read_columns

NUMBERS = ("code", *SHARES)


def read_cover_table(entry: FileEntry, site: Site, faults: list[Fault]) -> pd.DataFrame | None:
    """One row for each code of land cover, columns as `layers.cover_table.cover_table` takes them."""
    rows = read_columns(entry, site, faults)
    if rows is None:
        return None
    before = len(faults)
    table = pd.DataFrame(
        {
            column: numbers(rows, column, entry, faults, gaps=column != "code") if column in NUMBERS else rows[column]
            for column in rows.columns
        }
    )
    if len(faults) > before:
        return None
    try:
        cover_table(table, name=entry.path.name)
    except LayerError as refusal:
        faults += [_told_of_file(fault, entry, rows.index) for fault in refusal.faults]
        return None
    return table


def read_soil_table(entry: FileEntry, site: Site, faults: list[Fault]) -> pd.DataFrame | None:
    """Columns code, soil_group ("A" to "D", or None for ground without soil) and, where given, erodibility."""
    rows = read_columns(entry, site, faults)
    if rows is None:
        return None
    before = len(faults)
    for column in ("code", "soil_group"):
        if column not in rows.columns:
            faults.append(Fault(entry.path.name, f"the file has no column {column}.", "Add it."))
    if len(faults) > before:
        return None
    table = pd.DataFrame({"code": numbers(rows, "code", entry, faults)})
    groups = rows["soil_group"].astype(str).str.strip().str.upper()
    for row, group in groups[~groups.isin(("", *SOIL_GROUPS))].items():
        remedy = f"Write {', '.join(SOIL_GROUPS)}, or nothing for ground without soil."
        faults.append(Fault(f"{entry.path.name}, row {row}", f'"{group}" is no hydrologic soil group.', remedy))
    for row, code in zip(rows.index, table["code"], strict=True):
        if code == code and code != round(code):
            found = f"{code:g} is not a whole number."
            faults.append(Fault(f"{entry.path.name}, row {row}, column code", found, "Write the code of the map."))
    if table["code"].duplicated().any():
        twice = table["code"][table["code"].duplicated()].iloc[0]
        faults.append(Fault(f"{entry.path.name}, column code", f"{twice:g} is there twice.", "Keep one row."))
    table["soil_group"] = pd.Series([group or None for group in groups], dtype=object)  # `where` would write NaN
    if "erodibility" in rows.columns:
        table["erodibility"] = numbers(rows, "erodibility", entry, faults, gaps=True)
    return table if len(faults) == before else None


def _told_of_file(fault: Fault, entry: FileEntry, rows: pd.Index) -> Fault:
    """A fault of a table, with its file before it and the row of that file."""
    line, comma, rest = fault.place.partition(", ")
    number = line.removeprefix("line ")
    place = f"row {rows[int(number) - 2]}{comma}{rest}" if number.isdecimal() else fault.place
    return Fault(f"{entry.path.name}, {place}", fault.found[:1].lower() + fault.found[1:], fault.remedy)
