"""Text tables (CSV) as they come from spreadsheets and loggers: whole, in one encoding, with one header."""

from __future__ import annotations

import csv
import io

import numpy as np
import pandas as pd

from layers.column import faulty_rows, numbers
from layers.fault import Fault
from layers.site import FileEntry
from layers.source import key

_DELIMITERS = {";": "semicolons", "\t": "tabs", "|": "bars", ",": "commas"}
_NOT_TEXT = {
    b"\xff\xfe": ("the file is in UTF-16.", "Save it as CSV in UTF-8."),
    b"\xfe\xff": ("the file is in UTF-16.", "Save it as CSV in UTF-8."),
    b"PK\x03\x04": ("the file is a workbook or an archive, not text.", "Save the sheet as CSV in UTF-8."),
}


def read_rows(entry: FileEntry, faults: list[Fault]) -> pd.DataFrame | None:
    """The rows of a CSV as text, kept by `where`, indexed by their row in the file (the header is row 1).

    A byte order mark and empty rows at the end are passed over; everything else that is not a plain table is a
    fault, and then the result is None.
    """
    text = _text(entry, faults)
    if text is None:
        return None
    name = entry.path.name
    records, rows = [], []
    reader = csv.reader(io.StringIO(text, newline=""), delimiter=entry.delimiter, strict=True)
    last = 0
    try:
        for record in reader:
            records.append([cell.strip() for cell in record])
            rows.append(last + 1)
            last = reader.line_num
    except csv.Error:
        faults.append(
            Fault(
                f"{name}, row {last + 1}",
                "a quotation mark is opened and never closed.",
                "Close it, or remove it.",
            )
        )
        return None
    while records and not any(records[-1]):
        records.pop(), rows.pop()
    if not records:
        faults.append(Fault(name, "the file has no rows.", "Export it again, with a header row."))
        return None
    header = _header(records[0], entry, faults)
    if header is None:
        return None
    if len(records) == 1:
        faults.append(Fault(name, "the file has a header and no rows below it.", "Export it again."))
        return None
    width = len(header)
    if not _is_whole(records[1:], rows[1:], width, entry, faults):
        return None
    frame = pd.DataFrame([record[:width] for record in records[1:]], columns=header, index=rows[1:], dtype=object)
    return kept_rows(frame, entry, faults)


def has_columns(frame: pd.DataFrame, wanted: dict[str, str | None], entry: FileEntry, faults: list[Fault]) -> bool:
    """True if every wanted column is there; `wanted` maps keys of the site file to names of columns."""
    there = ", ".join(str(column) for column in frame.columns if column != "geometry")
    complete = True
    for name, column in wanted.items():
        if column is None:
            found, remedy = (
                "the site file does not name this column.",
                f"Columns of {entry.path.name}: {there}.",
            )
        elif column not in frame.columns:
            found, remedy = f'{entry.path.name} has no column "{column}".', f"Columns there: {there}."
        else:
            continue
        faults.append(Fault(key(entry, name), found, remedy))
        complete = False
    return complete


def place_columns(frame: pd.DataFrame, entry: FileEntry, faults: list[Fault]) -> tuple[np.ndarray, np.ndarray] | None:
    """The coordinates of the rows, as in the file, NaN where a fault was found; None without the columns."""
    if not has_columns(frame, {"x": entry.x, "y": entry.y}, entry, faults):
        return None
    places = numbers(frame, entry.x, entry, faults), numbers(frame, entry.y, entry, faults)
    for column, values in zip((entry.x, entry.y), places, strict=True):
        found = "hold an infinite coordinate"
        faulty_rows(frame, column, np.isinf(values), found, "Mend it, or remove the row.", entry, faults)
    return places


def kept_rows(frame: pd.DataFrame, entry: FileEntry, faults: list[Fault]) -> pd.DataFrame | None:
    """The rows (or features) that `where` picks; None with a fault if a column is missing or no row is left."""
    for column, value in entry.where.items():
        if not has_columns(frame, {"where": column}, entry, faults):
            return None
        frame = frame[frame[column].astype(str) == value]
        if frame.empty:
            faults.append(
                Fault(
                    key(entry, "where"),
                    f'nothing in {entry.path.name} has {column} = "{value}".',
                    "Correct the value of `where`.",
                )
            )
            return None
    return frame


def _text(entry: FileEntry, faults: list[Fault]) -> str | None:
    name, content = entry.path.name, entry.path.read_bytes()
    for start, (found, remedy) in _NOT_TEXT.items():
        if content.startswith(start):
            faults.append(Fault(name, found, remedy))
            return None
    try:
        text = content.decode("utf-8-sig")
    except UnicodeDecodeError as failure:
        row = content[: failure.start].count(b"\n") + 1
        line = content.split(b"\n")[row - 1].decode("latin-1").strip()
        faults.append(
            Fault(
                f"{name}, row {row}",
                f'the text is not UTF-8. Read as Latin-1 the row is "{line[:60]}".',
                "Save the file in UTF-8.",
            )
        )
        return None
    if "\x00" in text:
        faults.append(Fault(name, "the file holds null bytes, so it is not text.", "Export it again as CSV in UTF-8."))
        return None
    return text


def _header(header: list[str], entry: FileEntry, faults: list[Fault]) -> list[str] | None:
    place = f"{entry.path.name}, row 1"
    if len(header) == 1:
        for other, words in _DELIMITERS.items():
            if other != entry.delimiter and other in header[0]:
                written = "\\t" if other == "\t" else other
                faults.append(
                    Fault(
                        place,
                        f"the columns are parted by {words}, not by {_DELIMITERS[entry.delimiter]}.",
                        f'Write delimiter = "{written}" in files.{entry.name}.',
                    )
                )
                return None
    while header and header[-1] == "":
        header = header[:-1]
    twice = sorted({column for column in header if column and header.count(column) > 1})
    if twice:
        faults.append(
            Fault(place, f"columns have the same name: {', '.join(twice)}.", "Give every column its own name.")
        )
    if "" in header:
        faults.append(Fault(place, f"column {header.index('') + 1} has no name.", "Name it, or remove the column."))
    return None if twice or "" in header else header


def _is_whole(records: list[list[str]], rows: list[int], width: int, entry: FileEntry, faults: list[Fault]) -> bool:
    """True if every record fills the header's columns; cuts off empty cells beyond them."""
    name = entry.path.name
    empty = [row for record, row in zip(records, rows, strict=True) if not any(record)]
    if empty:
        shown = ", ".join(str(row) for row in empty[:3]) + (f" and {len(empty) - 3:,} more" if len(empty) > 3 else "")
        several = len(empty) > 1
        faults.append(
            Fault(
                f"{name}, row {empty[0]}",
                f"{len(empty):,} rows are empty: {shown}." if several else "the row is empty.",
                "Remove them." if several else "Remove it.",
            )
        )
    ragged = [
        (row, len(record))
        for record, row in zip(records, rows, strict=True)
        if any(record) and (len(record) < width or any(record[width:]))
    ]
    if ragged:
        row, count = ragged[0]
        others = f" ({len(ragged):,} rows are like this)" if len(ragged) > 1 else ""
        cause = (
            "Look for a decimal comma, or a comma in a text, and put quotation marks around that value."
            if count > width and entry.delimiter == ","
            else "The file may be cut short: export it again, or mend the row."
        )
        faults.append(Fault(f"{name}, row {row}", f"the row has {count} values, the header {width}{others}.", cause))
    return not empty and not ragged
