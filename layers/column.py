"""Columns of a text table as numbers and times; every row that cannot be read is named."""

from __future__ import annotations

import re

import numpy as np
import pandas as pd

from layers.fault import Fault
from layers.plausibility import counted
from layers.site import FileEntry

SHOWN = 3  # bad rows that a fault quotes
_DECIMAL_COMMA = re.compile(r"[+-]?\d+,\d+")
_DECIMAL_POINT = re.compile(r"[+-]?\d+\.\d+")
_BELOW_DETECTION = re.compile(r"[<>]\s*\d")
_DAY_OR_MONTH_FIRST = re.compile(r"(\d{1,2})[/.-](\d{1,2})[/.-](?:\d{4}|\d{2})\b")
_CALENDAR_DATE = re.compile(r"\d{4}(?:-\d\d(?:-\d\d(?:[T ].*)?)?)?")
_OFFSET = re.compile(r":\d\d(?:\.\d+)?\s*(?:Z|[+-]\d\d:?\d\d)$")


def is_nothing(given: object) -> bool:
    """Whether a cell of a table holds nothing: no value, or only blanks.

    Examples
    --------
    >>> [is_nothing(given) for given in (None, float("nan"), pd.NaT, "  ", 0, "0")]
    [True, True, True, True, False, False]
    """
    if isinstance(given, str):
        return not given.strip()
    return given is None or (pd.api.types.is_scalar(given) and bool(pd.isna(given)))


def numbers(
    frame: pd.DataFrame, column: str, entry: FileEntry, faults: list[Fault], *, gaps: bool = False
) -> np.ndarray:
    """The numbers of a column of text. [as in the file]

    NaN where a fault was found and, if `gaps` are allowed, where the cell is empty.
    """
    text = frame[column].astype(str)
    comma = entry.decimal == ","
    other = _DECIMAL_POINT if comma else _DECIMAL_COMMA
    parsed = pd.to_numeric(text.str.replace(",", ".", regex=False) if comma else text, errors="coerce")
    values = parsed.to_numpy(dtype=float)
    bad = np.isnan(values)
    if comma:
        bad |= text.str.fullmatch(other).to_numpy()
    if not bad.any():
        return values
    kinds = {
        "empty": text.eq("").to_numpy(),
        "below detection": text.str.match(_BELOW_DETECTION).to_numpy(),
        "decimal": text.str.fullmatch(other).to_numpy(),
    }
    sentences = {
        "empty": ("have no value", "Fill it in, or remove the row."),
        "below detection": (
            "hold a value below or above a limit of detection",
            "Such values cannot be read yet: remove the row, or write a number and say in `source` how it was chosen.",
        ),
        "decimal": (
            f"hold a number with a decimal {'point' if comma else 'comma'}",
            f'Write `decimal = "{"." if comma else ","}"` in files.{entry.name} if the whole file is written so, '
            "or mend the row.",
        ),
        "text": ("hold text that is not a number", "Write a number, or remove the row."),
    }
    left = bad.copy()
    for name, (found, remedy) in sentences.items():
        those = left & kinds.get(name, left)
        left &= ~those
        if gaps and name == "empty":
            continue
        faulty_rows(frame, column, those, found, remedy, entry, faults)
    return np.where(bad, np.nan, values)


def times(frame: pd.DataFrame, column: str, entry: FileEntry, faults: list[Fault]) -> np.ndarray:
    """The times of a column of ISO 8601 text, datetime64[ns]; NaT where a fault was found.

    Times with an offset are turned into universal time; times without one are taken as they are.
    """
    text = frame[column].astype(str)
    parsed = pd.to_datetime(text, format="ISO8601", errors="coerce", utc=True)
    values = parsed.dt.tz_localize(None).to_numpy().astype("datetime64[ns]")
    bad = np.isnat(values) | ~text.str.fullmatch(_CALENDAR_DATE).to_numpy()  # the library also takes "now"
    empty = text.eq("").to_numpy()
    turned = text.str.extract(_DAY_OR_MONTH_FIRST)[[0, 1]].astype(float).to_numpy()
    with np.errstate(invalid="ignore"):
        ambiguous = bad & (turned <= 12).all(axis=1)
    for those, found, remedy in (
        (bad & empty, "have no date", "Fill it in, or remove the row."),
        (
            ambiguous,
            "hold a date that can be read in two ways (day first or month first)",
            "Write dates as year-month-day, such as 2021-04-03.",
        ),
        (
            bad & ~empty & ~ambiguous,
            "hold a date that cannot be read",
            "Write dates as year-month-day, such as 2021-04-03 or 2021-04-03T14:30.",
        ),
    ):
        faulty_rows(frame, column, those, found, remedy, entry, faults)
    offset = text.str.contains(_OFFSET).to_numpy()
    if offset.any() and not offset[~bad].all():
        faults.append(
            Fault(
                f"{entry.path.name}, column {column}",
                f"{int(offset.sum()):,} of {counted(len(text), 'time')} {'has' if offset.sum() == 1 else 'have'} an "
                "offset from universal time, the others have none.",
                "Write all times with an offset (such as +10:00 or Z), or none.",
            )
        )
    return np.where(bad, np.datetime64("NaT"), values)


def faulty_rows(
    frame: pd.DataFrame,
    column: str,
    those: np.ndarray,
    found: str,
    remedy: str,
    entry: FileEntry,
    faults: list[Fault],
    *,
    noun: str = "row",
) -> None:
    """Note one fault for all rows of `those`, quoting the first; `found` is in the plural ("hold text")."""
    rows = frame.index[those]
    if not len(rows):
        return
    shown = [_quoted(frame.at[row, column]) for row in rows[:SHOWN]]
    if len(rows) == 1:
        place = f"{entry.path.name}, {noun} {rows[0]}, column {column}"
        verb, rest = found.split(" ", 1)
        value = f": {shown[0]}" if shown[0] else ""
        text = f"the {noun} {'has' if verb == 'have' else verb + 's'} {rest}{value}."
    else:
        place = f"{entry.path.name}, column {column}"
        listed = [
            f"{value} in {noun} {row}" if value else f"{noun} {row}" for value, row in zip(shown, rows, strict=False)
        ]
        more = f" and {len(rows) - SHOWN:,} more" if len(rows) > SHOWN else ""
        text = f"{counted(len(rows), noun)} {found}: {', '.join(listed)}{more}."
    faults.append(Fault(place, text, remedy))


def left_out(entry: FileEntry, those: np.ndarray, noun: str) -> str:
    """The remark on rows or features that have no value."""
    count = int(those.sum())
    verbs = ("has", "is") if count == 1 else ("have", "are")
    return (
        f"{entry.path.name}, column {entry.column}: {count:,} of {counted(len(those), noun)} {verbs[0]} no value and "
        f"{verbs[1]} left out."
    )


def _quoted(value: object) -> str:
    missing = value is None or value == "" or (isinstance(value, float) and np.isnan(value))
    return "" if missing else f'"{value}"'
