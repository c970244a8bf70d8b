"""What a reviewer writes to a record: comments pinned to a check, a layer or a cell, kept as a file beside the record.

A cell is named by its row and column on the grid of the map and by its centre; no other place can be given.
"""

from __future__ import annotations

import datetime
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

from pydantic import Field

from habitat.record_toml import MOST_TEXT_BYTES, parsed
from layers.fault import Fault, RecordError
from layers.textfile import Table, validate

if TYPE_CHECKING:
    from habitat.record_file import Record
    from layers.grid import Grid

FORMAT = 1
LONGEST = 4_000  # letters of a comment
MOST = 500  # comments to a record
MOST_FILES = 50  # of one day, beside a record
KINDS = ("check", "layer", "cell")
_DECIMALS = 3  # of a centre: a millimetre [m]


class CellTable(Table):
    """A cell of the grid of the map."""

    row: Annotated[int, Field(ge=1)]  # from the northern edge
    column: Annotated[int, Field(ge=1)]  # from the western edge
    easting: float  # of its centre [m]
    northing: float


class CommentTable(Table):
    """One comment as it stands in the file."""

    about: str
    name: str
    text: str
    author: str
    date: str
    cell: CellTable | None = None


class FileTable(Table):
    """The whole file."""

    format: int
    record: str
    digest: str
    comments: list[CommentTable] = []


@dataclass(frozen=True, kw_only=True)
class Cell:
    """A cell of the grid of a map."""

    row: int  # from 1 at the northern edge
    column: int  # from 1 at the western edge
    easting: float  # of its centre [m]
    northing: float  # [m]

    def __str__(self) -> str:
        return f"row {self.row}, column {self.column} (easting {self.easting:.0f}, northing {self.northing:.0f})"


@dataclass(frozen=True, kw_only=True)
class Comment:
    """What one reviewer says of one thing."""

    about: str  # one of KINDS
    name: str  # of the check or the layer; of a cell, the layer it was looked at on
    text: str
    author: str
    date: str  # ISO date
    cell: Cell | None = None

    @property
    def pin(self) -> str:
        """What it is pinned to, in words."""
        name = self.name.replace("_", " ")
        return f"{name}, {self.cell}" if self.cell else f"{self.about}: {name}"


def cell_of(grid: Grid, easting: float, northing: float) -> Cell | None:
    """The cell that holds a point; None outside the grid. [m]

    Examples
    --------
    >>> from layers.grid import Grid
    >>> print(cell_of(Grid.from_bounds("EPSG:32745", 500000, 7770000, 501000, 7771000, 100), 500010, 7770990))
    row 1, column 1 (easting 500050, northing 7770950)
    """
    found = grid.cell_at(easting, northing)
    return None if found is None else _centred(grid, *found)


def comment(
    record: Record, about: str, name: str, text: str, *, author: str, date: str, cell: Cell | None = None
) -> Comment:
    """A comment that was looked at.

    Raises
    ------
    RecordError
        With all that is wrong: no text, no name of the reviewer, no date, an unknown kind, a cell off the grid.
    """
    made = Comment(
        about=about, name=name.strip(), text=text.strip(), author=author.strip(), date=date.strip(), cell=cell
    )
    faults = _faults(made, record.grid, "comment")
    if faults:
        raise RecordError("comment", faults)
    return made


def comments_text(record: Record, comments: Sequence[Comment]) -> str:
    """The comments as TOML, in their order."""
    import tomlkit

    tables = []
    for one in comments:
        told = {"about": one.about, "name": one.name, "author": one.author, "date": one.date, "text": one.text}
        if one.cell:
            told["cell"] = dict(vars(one.cell))
        tables.append(told)
    head = {"format": FORMAT, "record": record.name, "digest": record.root}
    return "# Comments of reviewers on a sealed record.\n" + tomlkit.dumps({**head, "comments": tables})


def read_comments(path: str | Path, record: Record) -> tuple[Comment, ...]:
    """The comments in a file, which may come from anybody.

    Raises
    ------
    RecordError
        If it is no file of comments, belongs to another record, or holds what `comment` would refuse.
    """
    path = Path(path)
    if not path.is_file() or path.stat().st_size > MOST_TEXT_BYTES:
        raise RecordError(path.name, [Fault(path.name, "it is no file of comments.", "Name one that was saved here.")])
    faults: list[Fault] = []
    table = validate(FileTable, parsed(path, path.name, path.read_bytes()), "", faults)
    if table is not None and table.format != FORMAT:
        faults.append(Fault("format", f"it is {table.format}.", f"This version reads format {FORMAT}."))
    if table is not None and table.digest != record.root:
        said = f"it belongs to a record of digest {table.digest[:16]}, and this one has {record.root[:16]}."
        faults.append(Fault("digest", said, "Open the record it was written to."))
    if table is not None and len(table.comments) > MOST:
        faults.append(Fault("comments", f"there are {len(table.comments):,}.", f"{MOST:,} are the most."))
    found = [_comment_of(one) for one in table.comments] if table is not None and not faults else []
    for number, one in enumerate(found, start=1):
        faults += _faults(one, record.grid, f"comment {number}")
    if faults:
        raise RecordError(path.name, faults)
    return tuple(found)


def save_comments(record: Record, comments: Sequence[Comment], *, date: str) -> Path:
    """Write the comments beside the record, under a name of its own that was free, and give the path.

    Raises
    ------
    RecordError
        If there is none, the date is none, or nothing can be written there.
    """
    from layers.atomic import whole_file

    folder, stem = record.archive.path.parent, record.archive.path.stem
    faults = [] if is_date(date) else [_dateless("date", date)]
    if not comments:
        faults.append(Fault("comments", "there is none to save.", "Write one first."))
    if len(comments) > MOST:
        faults.append(Fault("comments", f"there are {len(comments):,}.", f"{MOST:,} are the most."))
    if faults:
        raise RecordError("comments", faults)
    names = (f"{stem}.comments-{date}{'' if number == 1 else f'-{number}'}.toml" for number in range(1, MOST_FILES + 1))
    path = next((folder / name for name in names if not (folder / name).exists()), None)
    if path is None:
        said = f"{MOST_FILES} files of comments of {date} lie there already."
        raise RecordError("comments", [Fault(folder.name, said, "Move some of them away.")])
    try:
        with whole_file(path) as unfinished:
            unfinished.write_text(comments_text(record, comments), encoding="utf-8", newline="")
    except OSError:
        fault = Fault(folder.name, "nothing can be written in this folder.", "Take the file home instead.")
        raise RecordError("comments", [fault]) from None
    return path


def comments_beside(record: Record) -> list[Path]:
    """Files of comments beside the record, in the order of their names."""
    path = record.archive.path
    return sorted(
        one
        for one in path.parent.iterdir()
        if one.name.startswith(f"{path.stem}.comments-") and one.suffix == ".toml" and one.is_file()
    )


def is_date(text: str) -> bool:
    """Whether a text is an ISO date such as "2026-03-05"."""
    try:
        datetime.date.fromisoformat(text)
    except ValueError:
        return False
    return len(text) == len("2026-03-05")


def _centred(grid: Grid, row: int, column: int) -> Cell:
    easting, northing = float(grid.x[column]), float(grid.y[row])
    return Cell(
        row=int(row) + 1,
        column=int(column) + 1,
        easting=round(easting, _DECIMALS),
        northing=round(northing, _DECIMALS),
    )


def _comment_of(table: CommentTable) -> Comment:
    cell = None if table.cell is None else Cell(**table.cell.model_dump())
    return Comment(about=table.about, name=table.name, text=table.text, author=table.author, date=table.date, cell=cell)


def _faults(one: Comment, grid: Grid, place: str) -> list[Fault]:
    faults = []
    if one.about not in KINDS or not one.name:
        faults.append(Fault(place, "it is pinned to nothing.", "Pin it to a check, a layer or a cell."))
    if not one.text:
        faults.append(Fault(place, "it says nothing.", "Write what you found."))
    for what, text, most in (("text", one.text, LONGEST), ("author", one.author, 200), ("name", one.name, 200)):
        if len(text) > most:
            faults.append(Fault(place, f"its {what} has {len(text):,} letters.", f"{most:,} are the most."))
    if not one.author:
        faults.append(Fault(place, "nobody answers for it.", "Give the name of the reviewer."))
    if not is_date(one.date):
        faults.append(_dateless(place, one.date))
    if (one.cell is None) == (one.about == "cell"):
        faults.append(Fault(place, "a cell is needed for a comment on a cell, and for no other.", "Click one."))
    elif one.cell is not None and not _is_on(grid, one.cell):
        faults.append(Fault(place, f"{one.cell} is no cell of the map.", "Take a cell by its row and column."))
    return faults


def _is_on(grid: Grid, cell: Cell) -> bool:
    rows, columns = grid.shape
    return cell.row <= rows and cell.column <= columns and cell == _centred(grid, cell.row - 1, cell.column - 1)


def _dateless(place: str, text: str) -> Fault:
    return Fault(place, f'"{text[:40]}" is not a date.', 'Write it like "2026-03-05".')
