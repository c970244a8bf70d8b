"""Judgements of one or several people as a text file: a long table, or TOML."""

from __future__ import annotations

import csv
from collections.abc import Iterator
from dataclasses import dataclass, field
from fractions import Fraction
from itertools import combinations
from pathlib import Path
from typing import Any, Literal

from layers.fault import Fault, ProfileError

COLUMNS = ("person", "first", "second", "times_as_important")
ACCEPTED = "accepted_because"
MOST_TIMES = 9  # end of the scale: one thing is at most nine times as important as another (Saaty 1980, from memory)
_LEAST_SOURCE = 8  # letters: less says nothing


@dataclass(frozen=True, kw_only=True)
class Judgements:
    """Who finds which of two things how many times as important."""

    file: str
    source: str  # when, where and how they were asked
    names: tuple[str, ...]  # of the things compared, in the order of the file
    people: dict[str, dict[tuple[str, str], float]]  # of each person: every pair once
    accepted: dict[str, str] = field(default_factory=dict)  # of a person: why inconsistent judgements are used


def read_judgements(path: str | Path) -> Judgements:
    """The judgements of a file.

    Parameters
    ----------
    path
        A ``.csv`` that opens with `#` lines (when, where and how people were asked), with columns person, first,
        second, times_as_important (3, or 1/3, from 1/9 to 9) and, where inconsistent judgements are to be used all the
        same, accepted_because. Or a ``.toml`` with `format`, `source`, tables `[[judgement]]` of the same keys, and a
        table `[accepted]` of reasons by person.

    Raises
    ------
    ProfileError
        With everything that is wrong in the file: a pair missing, given twice or of one thing, a number off the scale.
    """
    path = Path(path)
    faults: list[Fault] = []
    if path.suffix.lower() == ".toml":
        source, rows, accepted = _of_toml(path, faults)
    else:
        source, rows, accepted = _of_table(path, faults)
    people: dict[str, dict[tuple[str, str], float]] = {}
    for place, row in rows:
        _add(place, row, people, faults)
    names = tuple(dict.fromkeys(name for pairs in people.values() for pair in pairs for name in pair))
    if not faults or people:
        if len(source) < _LEAST_SOURCE:
            found = "the file does not say when, where and how people were asked."
            faults.append(Fault("source", found, "Open a CSV with # lines that do, or give `source` in TOML."))
        if not people:
            faults.append(Fault("judgements", "there are none.", "Give at least one."))
    for person, pairs in people.items():
        missing = [pair for pair in combinations(names, 2) if pair not in pairs and pair[::-1] not in pairs]
        if missing:
            listed = "; ".join(f"{first} and {second}" for first, second in missing[:3])
            more = f" and {len(missing) - 3} more" if len(missing) > 3 else ""
            found = f"{person} does not compare {listed}{more}."
            faults.append(Fault(f"judgements of {person}", found, "Everybody must compare every two."))
    for person in accepted:
        if person not in people:
            faults.append(Fault(f"accepted.{person}", "nobody of that name judges.", "Correct the name."))
    if faults:
        raise ProfileError(path.name, faults)
    return Judgements(file=path.name, source=source, names=names, people=people, accepted=accepted)


def _add(place: str, row: dict[str, Any], people: dict, faults: list[Fault]) -> None:
    person, first, second = (str(row[key]).strip() for key in COLUMNS[:3])
    value = _times(row[COLUMNS[3]])
    before = len(faults)
    for key, text in zip(COLUMNS, (person, first, second), strict=False):
        if not text:
            faults.append(Fault(place, f"{key} is empty.", "Fill it in."))
    if first == second and first:
        faults.append(Fault(place, f'"{first}" is compared with itself.', "Name two things."))
    if value is None or not 1 / MOST_TIMES <= value <= MOST_TIMES:
        found = f'times_as_important is "{row[COLUMNS[3]]}".'
        faults.append(Fault(place, found, f"Write a number from 1/{MOST_TIMES} to {MOST_TIMES}, such as 3 or 1/3."))
    pairs = people.setdefault(person, {}) if person else {}
    if (first, second) in pairs or (second, first) in pairs:
        faults.append(Fault(place, f"{person} compares {first} and {second} a second time.", "Keep one of the two."))
    if len(faults) == before:
        pairs[first, second] = float(value)


def _times(given: Any) -> Fraction | float | None:
    if isinstance(given, (int, float)) and not isinstance(given, bool):
        return given
    try:
        return Fraction(str(given).replace(" ", ""))
    except (ValueError, ZeroDivisionError):
        return None


def _of_table(path: Path, faults: list[Fault]) -> tuple[str, list[tuple[str, dict[str, Any]]], dict[str, str]]:
    try:
        text = path.read_text(encoding="utf-8-sig")
    except OSError as problem:
        faults.append(Fault("file", f"it cannot be read: {problem.strerror}.", "Check its name and its place."))
        return "", [], {}
    except UnicodeDecodeError:
        faults.append(Fault("file", "it is not text in UTF-8.", "Save it as CSV UTF-8."))
        return "", [], {}
    lines = [(number, line) for number, line in enumerate(text.splitlines(), start=1) if line.strip()]
    source = " ".join(line.lstrip("# ").rstrip() for _, line in lines if line.startswith("#"))
    kept = [(number, next(csv.reader([line]))) for number, line in lines if not line.startswith("#")]
    header = [name.strip() for name in kept[0][1]] if kept else []
    missing = [name for name in COLUMNS if name not in header]
    if missing:
        found = f"there is no column {', '.join(missing)}."
        faults.append(Fault("row of names", found, f"Columns needed: {', '.join(COLUMNS)}, parted by commas."))
        return source, [], {}
    rows, accepted = [], {}
    for number, cells in kept[1:]:
        if len(cells) != len(header):
            found = f"it has {len(cells)} cells, the row of names {len(header)}."
            faults.append(Fault(f"line {number}", found, "Quote a cell that holds a comma."))
            continue
        row = dict(zip(header, cells, strict=True))
        if row.get(ACCEPTED, "").strip():
            accepted[row["person"].strip()] = row[ACCEPTED].strip()
        rows.append((f"line {number}", row))
    return source, rows, accepted


def _of_toml(path: Path, faults: list[Fault]) -> tuple[str, list[tuple[str, dict[str, Any]]], dict[str, str]]:
    from layers.textfile import Table, read_document, validate

    class JudgementTable(Table):
        person: str
        first: str
        second: str
        times_as_important: float | str

    class JudgementsTable(Table):
        format: Literal[1]
        source: str
        judgement: list[JudgementTable]
        accepted: dict[str, str] = {}

    document = read_document(path, faults)
    table = None if document is None else validate(JudgementsTable, document, "", faults)
    if table is None:
        return "", [], {}
    return table.source, list(_numbered(table.judgement)), {k: v for k, v in table.accepted.items() if v.strip()}


def _numbered(tables: list) -> Iterator[tuple[str, dict[str, Any]]]:
    for number, table in enumerate(tables, start=1):
        yield f"judgement {number}", table.model_dump()
