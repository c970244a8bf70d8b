"""Columns of a file of sightings: Darwin Core terms, or plain columns that the site file calls by those terms."""

from __future__ import annotations

import re
from typing import TYPE_CHECKING

import numpy as np
import pandas as pd

from layers.column import faulty_rows, is_nothing, numbers, times
from layers.fault import Fault
from layers.source import is_table, key

if TYPE_CHECKING:
    from layers.site import FileEntry

# Darwin Core says detected and notDetected; older data say present and absent
PRESENT = frozenset({"present", "detected"})
ABSENT = frozenset({"absent", "notdetected", "not detected"})
_YEAR_FIRST = re.compile(r"\d{4}(-\d\d)?(-\d\d)?([T ].*)?")
_HOURS = re.compile(r"(\d+(?:\.\d+)?)\s*(hours?|hrs?|h|minutes?|mins?)\b.*", re.IGNORECASE)


def column_of(table: pd.DataFrame, term: str, entry: FileEntry | None = None) -> str | None:
    """Name of the column that holds a Darwin Core term; None where the table has none.

    What the site file says comes first. Letters may be small or capital, and shapefiles cut names to ten.
    """
    if entry is not None:
        keys = {"eventDate": entry.time, "individualCount": entry.column}
        said = entry.columns.get(term) or keys.get(term)
        if said is not None:
            return said if said in table.columns else None
    columns = {str(name).lower(): name for name in table.columns}
    return next((columns[name] for name in (term.lower(), term.lower()[:10]) if name in columns), None)


def texts(table: pd.DataFrame, term: str, entry: FileEntry) -> pd.Series:
    """The column of a term as text, "" where it holds nothing or is not there."""
    name = column_of(table, term, entry)
    if name is None:
        return pd.Series("", index=table.index, dtype=object)
    return table[name].map(lambda given: "" if is_nothing(given) else str(given).strip()).astype(object)


def is_seen(table: pd.DataFrame, entry: FileEntry | None = None) -> np.ndarray:
    """True where a row says that an animal was there: not of status absent, not of a count of 0."""
    seen = np.ones(len(table), bool)
    status, count = (column_of(table, term, entry) for term in ("occurrenceStatus", "individualCount"))
    if status is not None:
        seen &= ~table[status].astype(str).str.strip().str.lower().isin(ABSENT).to_numpy()
    if count is not None:
        seen &= (pd.to_numeric(table[count], errors="coerce") != 0).to_numpy()
    return seen


def uncertainties(table: pd.DataFrame, entry: FileEntry | None = None) -> np.ndarray:
    """Radius of the circle that holds the place of each row, NaN where it is unknown. [m]"""
    name = column_of(table, "coordinateUncertaintyInMeters", entry)
    if name is None:
        return np.full(len(table), np.nan)
    return pd.to_numeric(table[name], errors="coerce").to_numpy(float)


def columns_are_there(table: pd.DataFrame, entry: FileEntry, faults: list[Fault]) -> None:
    """Note each column that the site file names and the table lacks."""
    named = {"time": entry.time, "column": entry.column}
    named |= {f"columns.{term}": column for term, column in entry.columns.items()}
    there = ", ".join(str(column) for column in table.columns if column != "geometry")
    for name, column in named.items():
        if column is not None and column not in table.columns:
            found = f'{entry.path.name} has no column "{column}".'
            faults.append(Fault(key(entry, name), found, f"Columns there: {there}."))


def dates(table: pd.DataFrame, entry: FileEntry, faults: list[Fault]) -> pd.DataFrame:
    """When each row was recorded, by its ISO 8601 text; a span counts from its first day.

    Returns
    -------
    DataFrame on the index of `table`
        Columns date (datetime64, NaT where there is none) and month (1 to 12; 0 where the text does not say it, or
        spans several).
    """
    name, text = column_of(table, "eventDate", entry), texts(table, "eventDate", entry)
    first, _, last = (text.str.partition("/")[part].str.strip() for part in range(3))
    is_span = first.str.fullmatch(_YEAR_FIRST) & (last != "")
    first = first.where(is_span, text)
    found = pd.DataFrame({"date": pd.Series(pd.NaT, table.index, dtype="datetime64[ns]"), "month": 0})
    given = first[text != ""]
    if not len(given):
        return found
    found.loc[given.index, "date"] = times(pd.DataFrame({name: given}), name, entry, faults)
    known = found["date"].notna() & (first.str.len() > 4)
    found.loc[known, "month"] = found.loc[known, "date"].dt.month
    # the end of a span may leave out what it shares with the begin: 2021-04-03/05
    ends = last.where(last.str.len() >= 7, first.str[:7])
    several = is_span & (ends.str[:7] != first.str[:7])
    found.loc[several, "month"] = 0
    return found


def counts(table: pd.DataFrame, entry: FileEntry, faults: list[Fault]) -> np.ndarray:
    """Animals of each row, NaN where the row does not say. [1]"""
    values = _numbers(table, "individualCount", entry, faults)
    with np.errstate(invalid="ignore"):
        wrong = (values < 0) | (values % 1 != 0) & ~np.isnan(values)
    _note(table, "individualCount", wrong, "hold a count that is no whole number of animals", entry, faults)
    return values


def stated_uncertainties(table: pd.DataFrame, entry: FileEntry, faults: list[Fault]) -> np.ndarray:
    """Stated radius of each row, as in the file: 0 where the file says 0, NaN where it says nothing. [m]"""
    values = _numbers(table, "coordinateUncertaintyInMeters", entry, faults)
    with np.errstate(invalid="ignore"):
        wrong = (values < 0) | np.isinf(values)
    _note(table, "coordinateUncertaintyInMeters", wrong, "hold an uncertainty below 0 or without end", entry, faults)
    return values


def statuses(table: pd.DataFrame, entry: FileEntry, count: np.ndarray, faults: list[Fault]) -> np.ndarray:
    """True where an animal was seen, False where somebody looked and saw none; by the status, else by the count."""
    said = texts(table, "occurrenceStatus", entry).str.lower()
    present, absent = said.isin(PRESENT).to_numpy(), said.isin(ABSENT).to_numpy()
    unknown = (said != "").to_numpy() & ~present & ~absent
    words = 'Write "present" or "absent".'
    _note(table, "occurrenceStatus", unknown, "hold a status that is not known", entry, faults, words)
    for wrong, found in (
        (present & (count == 0), "hold the status of animals seen beside a count of 0"),
        (absent & (count > 0), "hold the status of none seen beside a count of animals"),
    ):
        _note(table, "occurrenceStatus", wrong, found, entry, faults, "Correct the status or the count.")
    return np.where(present | absent, present, count != 0)


def effort_hours(table: pd.DataFrame, entry: FileEntry) -> tuple[np.ndarray, np.ndarray]:
    """Hours of looking that each row states (NaN where it does not), and where its text tells no hours."""
    text = texts(table, "samplingEffort", entry)
    matched = text.map(_HOURS.fullmatch)
    hours = [
        np.nan if match is None else float(match[1]) / (60 if match[2].lower().startswith("m") else 1)
        for match in matched
    ]
    return np.array(hours, float), ((text != "") & matched.isna()).to_numpy()


def note_datums(table: pd.DataFrame, entry: FileEntry, crs: object, faults: list[Fault]) -> np.ndarray:
    """True where a row does not say its datum; a datum that is not the file's CRS is a fault."""
    from pyproj import CRS
    from pyproj.exceptions import CRSError

    text = texts(table, "geodeticDatum", entry)
    wrong = np.zeros(len(text), bool)
    for datum in text.unique():
        if not datum or datum.lower() in ("unknown", "not recorded"):
            continue
        try:
            same = CRS.from_user_input(datum).equals(crs, ignore_axis_order=True)
        except CRSError:
            same = False
        wrong |= (text == datum).to_numpy() & (not same)
    remedy = "Turn these rows into the CRS that the site file names, or read them as a file of their own."
    _note(table, "geodeticDatum", wrong, "hold a datum that is not that of the file", entry, faults, remedy)
    return text.str.lower().isin(["", "unknown", "not recorded"]).to_numpy()


def _numbers(table: pd.DataFrame, term: str, entry: FileEntry, faults: list[Fault]) -> np.ndarray:
    name = column_of(table, term, entry)
    if name is None:
        return np.full(len(table), np.nan)
    return numbers(pd.DataFrame({name: texts(table, term, entry)}), name, entry, faults, gaps=True)


def _note(
    table: pd.DataFrame,
    term: str,
    those: np.ndarray,
    found: str,
    entry: FileEntry,
    faults: list[Fault],
    remedy: str = "Correct it, or remove the row.",
) -> None:
    name = column_of(table, term, entry)
    noun = "row" if is_table(entry.path) else "feature"
    if name is not None:
        faulty_rows(table, name, np.asarray(those), found, remedy, entry, faults, noun=noun)
