"""Tables of published numbers: read with their citation, refused without one.

Such a table is a CSV file that opens with `#` lines: where the numbers come from. Each row then says its own source,
and how far that was seen: "seen" in it or in a copy of it, "computed" from a closed form, or "from memory",
a default that somebody has to confirm. Columns `low`, `median` and `high` give the range of published values.
"""

from __future__ import annotations

import csv
from dataclasses import dataclass
from importlib.resources import files
from pathlib import Path

from layers.fault import Fault, LayerError

SEEN = ("seen", "computed", "from memory")
RANGE = ("low", "median", "high")
SHIPPED = ("curve_number", "event_mean_concentration", "export_coefficient", "loss_fraction")
_LEAST_CITATION = 20  # letters: "a paper" cites nothing


@dataclass(frozen=True, kw_only=True)
class PublishedTable:
    """Rows of a published table; numbers as floats, an empty cell as None."""

    name: str
    citation: str
    rows: tuple[dict[str, str | float | None], ...]

    def row(self, **wanted: str) -> dict[str, str | float | None]:
        """The one row that holds these words.

        Raises
        ------
        ValueError
            If there is no such row, or more than one; what the table holds is named.
        """
        found = [row for row in self.rows if all(row.get(key) == word for key, word in wanted.items())]
        if len(found) == 1:
            return found[0]
        asked = ", ".join(f'{key} "{word}"' for key, word in wanted.items())
        held = "; ".join(sorted({", ".join(str(row.get(key)) for key in wanted) for row in self.rows}))
        raise ValueError(f"{self.name}: {len(found) or 'no'} rows for {asked}. The table holds: {held}.")


def shipped_table(name: str) -> PublishedTable:
    """A table that comes with this package, one of `SHIPPED`.

    Raises
    ------
    ValueError
        If there is no such table.

    Examples
    --------
    >>> shipped_table("export_coefficient").row(cover="forest", substance="nitrogen")["median"]
    2.46
    """
    if name not in SHIPPED:
        raise ValueError(f'"{name}" is not a table that ships. These do: {", ".join(SHIPPED)}.')
    text = files("layers").joinpath("tables", f"{name}.csv").read_text(encoding="utf-8")
    return _table(f"{name}.csv", text)


def read_published_table(path: str | Path) -> PublishedTable:
    """A user's table, such as coefficients measured in the region.

    Parameters
    ----------
    path : str or Path
        CSV file in UTF-8 with a citation on `#` lines, a row of names, and columns `source` and `seen`.

    Raises
    ------
    LayerError
        If it has no citation or no rows, a row no source, or a range that does not rise; all of it at once.
    """
    try:
        text = Path(path).read_text(encoding="utf-8-sig")
    except OSError as error:
        fault = Fault("file", f"It cannot be read: {error.strerror}.", "Check its name and its place.")
        raise LayerError(Path(path).name, [fault]) from None
    except UnicodeDecodeError:
        fault = Fault("file", "It is not text in UTF-8.", "Save it as CSV UTF-8.")
        raise LayerError(Path(path).name, [fault]) from None
    return _table(Path(path).name, text)


def _table(name: str, text: str) -> PublishedTable:
    lines = list(enumerate(text.splitlines(), start=1))
    citation = " ".join(line.lstrip("# ").rstrip() for _, line in lines if line.startswith("#"))
    kept = [(number, line) for number, line in lines if line.strip() and not line.startswith("#")]
    faults = []
    if len(citation) < _LEAST_CITATION:
        faults.append(
            Fault("citation", "The file does not say where its numbers come from.", "Open it with # lines that do.")
        )
    if len(kept) < 2:
        faults.append(Fault("rows", "There are none under the row of names.", "Give at least one."))
        raise LayerError(name, faults)
    names = [word.strip() for word in next(csv.reader([kept[0][1]]))]
    for needed in ("source", "seen"):
        if needed not in names:
            faults.append(Fault(f"column {needed}", "It is missing.", f"Add it: the {needed} of each row."))
    rows = []
    for number, line in kept[1:]:
        cells = [cell.strip() for cell in next(csv.reader([line]))]
        if len(cells) != len(names):
            found = f"It has {len(cells)} cells, the row of names {len(names)}."
            faults.append(Fault(f"line {number}", found, "Quote a cell that holds a comma."))
            continue
        rows.append({key: _value(cell) for key, cell in zip(names, cells, strict=True)})
        faults += _row_faults(f"line {number}", rows[-1])
    if faults:
        raise LayerError(name, faults)
    return PublishedTable(name=name, citation=citation, rows=tuple(rows))


def _row_faults(place: str, row: dict) -> list[Fault]:
    faults = []
    if "source" in row and not row["source"]:
        faults.append(Fault(place, "It names no source.", "Say where the number comes from."))
    if "seen" in row and row["seen"] not in SEEN:
        found = f'`seen` is "{row["seen"] or ""}".'
        faults.append(Fault(place, found, f"Write one of: {', '.join(SEEN)}."))
    values = [row[key] for key in RANGE if row.get(key) is not None]
    if any(isinstance(value, str) for value in values):
        faults.append(Fault(place, f"{', '.join(RANGE)} are not all numbers.", "Write a number or leave it empty."))
    elif values != sorted(values):
        faults.append(Fault(place, f"{', '.join(RANGE)} do not rise.", "Put the smallest first."))
    elif any(value < 0 for value in values):
        faults.append(Fault(place, "A value is below 0.", "Concentrations and loads are 0 or more."))
    return faults


def _value(cell: str) -> str | float | None:
    if not cell:
        return None
    try:
        return float(cell)
    except ValueError:
        return cell
