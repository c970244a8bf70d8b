"""Marks beside the numbers of a profile: what each was, why it was changed, by whom and when."""

from __future__ import annotations

import re
from collections.abc import Iterator

import tomlkit
from tomlkit.items import Array, Item, Table

from habitat.toml_list import entries_of, with_remarks

# in a table on one line the mark names its key: "deepest was 3: seen deeper (A. Diver, 2026-05-01)"
_MARK = re.compile(r"(?:(?P<key>[\w.]+) )?(?P<was>was [^|]*?|new): (?P<reason>[^|]*) \((?P<signed>[^()|]*)\)")


def reasons_in(text: str) -> dict[str, str]:
    """The latest reason, with who gave it and when, that a file gives for each place.

    Examples
    --------
    >>> reasons_in("[threat]\\nmay_lack = 1  # was 0: the survey of nets was lost (A. Diver, 2026-05-01)")
    {'threat.may_lack': 'the survey of nets was lost (A. Diver, 2026-05-01)'}
    """
    return {place: f"{mark['reason']} ({mark['signed']})" for place, mark in latest_marks(text).items()}


def latest_marks(text: str) -> dict[str, re.Match]:
    """The latest mark of each place, with its `was`, `reason` and `signed`."""
    marks = (
        (place, _MARK.fullmatch(piece.strip()))
        for place, remark in _remarks("", tomlkit.parse(text))
        for piece in remark.split(" | ")
    )
    return {f"{place}.{mark['key']}" if mark["key"] else place: mark for place, mark in marks if mark is not None}


def put_mark(document: tomlkit.TOMLDocument, place: str, mark: str) -> bool:
    """Put the mark on the line of a place; whether there is such a line."""
    path, _, number = place.partition("[")
    *tables, key = path.split(".")
    table = document
    for position, name in enumerate(tables):
        inner = table.get(name)
        if not isinstance(inner, Table) and not _is_proxy(inner):
            mark = f"{'.'.join((*tables[position + 1 :], key))} {mark}"
            tables, key = tables[:position], name
            break
        table = inner
    if key == "points" and key not in table and "trapezoid" in table:
        key = "trapezoid"
    if key not in table or isinstance(table[key], Table) or _is_proxy(table):
        return False
    if number and key == "points":
        put_list(table, key, with_remarks(table[key].as_string(), {int(number.rstrip("]")) - 1: mark}))
        return True
    trivia = _item(table, key).trivia
    trivia.comment = f"{trivia.comment} | {mark}" if trivia.comment else f"# {mark}"
    trivia.comment_ws = trivia.comment_ws or "  "
    return True


def tables_of(place: str, table: object) -> Iterator[tuple[str, object]]:
    """Every table of a document, itself first, with its place."""
    yield place, table
    for key, value in table.items():
        if isinstance(value, Table) or _is_proxy(value):
            yield from tables_of(f"{place}.{key}".lstrip("."), value)


def put_list(table: object, key: str, text: str) -> None:
    """Replace a list by the one written in `text`; the remark after it stays."""
    table[key] = tomlkit.parse(f"list = {text}\n")["list"]


def _remarks(place: str, table: object) -> Iterator[tuple[str, str]]:
    for key, value in table.items():
        here = f"{place}.{key}".lstrip(".")
        if isinstance(value, Table) or _is_proxy(value):
            yield from _remarks(here, value)
            continue
        if isinstance(value, Array) and key == "points":
            for number, entry in enumerate(entries_of(value.as_string())[0], 1):
                yield f"{here}[{number}]", entry.remark
        yield here, "" if _is_proxy(table) else _item(table, key).trivia.comment.removeprefix("#").strip()


def _item(table: object, key: str) -> Item:
    # not table[key]: a truth value comes out of it bare, without its remark
    return (table.value if isinstance(table, Table) else table).item(key)


def _is_proxy(value: object) -> bool:
    """Whether this stands for a table that is written in several pieces of the file."""
    return type(value).__name__ == "OutOfOrderTableProxy"
