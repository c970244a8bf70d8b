"""A table of a report: what stands in print is what stands in its CSV file, to the last digit."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

import numpy as np
import pandas as pd

from habitat.report.appraisal_document import Block, table
from layers.export import write_table

NOT_KNOWN = "-"  # in print, where there is no data


@dataclass(frozen=True, kw_only=True)
class Numbers:
    """A table of the report: a frame whose numbers are text already, and which of it is printed."""

    name: str  # of its CSV file
    caption: str
    frame: pd.DataFrame  # of text; empty where there is no data
    words: dict[str, str]  # heading of each column that is printed
    numeric: frozenset[str]
    printed: np.ndarray  # which rows are printed

    def block(self, where: Callable[[pd.DataFrame], pd.Series] | None = None, caption: str = "") -> Block | None:
        """The printed rows (those of a choice of them) as a table; None where there are none."""
        rows = self.frame[self.printed & (True if where is None else where(self.frame).to_numpy())]
        if not len(rows):
            return None
        headings = {word: column in self.numeric for column, word in self.words.items()}
        blank = [NOT_KNOWN if column in self.numeric else "" for column in self.words]
        cells = [
            tuple(cell or empty for cell, empty in zip(row, blank, strict=True))
            for row in rows[list(self.words)].itertuples(index=False)
        ]
        return table(caption or self.caption, headings, cells)


def numbers_of(
    name: str,
    caption: str,
    frame: pd.DataFrame,
    words: dict[str, str],
    *,
    places: dict[str, int] | None = None,
    kept: Callable[[pd.DataFrame], pd.Series] | None = None,
) -> Numbers:
    """A table in print.

    Parameters
    ----------
    name : str
        Of its CSV file.
    frame : DataFrame
        Numbers and text; NaN is no data.
    words : mapping of str to str
        Heading of each column that is printed.
    places : mapping of str to int, optional
        Digits after the point, by column; two by default.
    kept : callable, optional
        Which rows of `frame` are printed; by default all.
    """
    printed = np.ones(len(frame), bool) if kept is None or not len(frame) else kept(frame).to_numpy().astype(bool)
    text, numeric = {}, set()
    for column in frame.columns:
        if pd.api.types.is_numeric_dtype(frame[column]):
            numeric.add(column)
            digits = (places or {}).get(column, 2)
            text[column] = [_number(value, digits) for value in frame[column]]
        else:
            text[column] = ["" if pd.isna(value) else str(value) for value in frame[column]]
    if "season" in text and not any(text["season"]):
        text["season"] = ["all year"] * len(frame)
    return Numbers(
        name=name,
        caption=caption,
        frame=pd.DataFrame(text, columns=frame.columns, dtype=object),
        words=words,
        numeric=frozenset(numeric),
        printed=printed,
    )


def write_report_tables(folder: Path, tables: dict[str, Numbers]) -> None:
    """Write each table as a CSV file, all its rows and columns, in the digits of the report."""
    folder.mkdir()
    for name, one in tables.items():
        write_table(one.frame, folder / f"{name}.csv")


def _number(value: float, digits: int) -> str:
    """A number in print.

    Examples
    --------
    >>> _number(-0.001, 2), _number(12.345, 1), _number(float("nan"), 2)
    ('0.00', '12.3', '')
    """
    if not np.isfinite(value):
        return ""
    shown = f"{value:.{digits}f}"
    return shown.removeprefix("-") if not float(shown) else shown
