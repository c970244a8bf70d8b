"""What differs between two text files of numbers: where, what it was and what it is.

`differences` decides what counts as a difference; lists of paths here and the reasons of `habitat.profile_change` are
told from it.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from typing import Any

ABSENT = "absent"
_LONGEST = 90  # letters of a value that are shown


@dataclass(frozen=True, kw_only=True)
class Difference:
    """One entry of a file that is not what it was."""

    place: str  # tables and key as in the file, such as "factors.depth.points"
    was: object = None  # None where there was nothing: TOML has no such value
    now: object = None


def differences(before: Mapping[str, Any], after: Mapping[str, Any]) -> Iterator[Difference]:
    """Every entry in which two tables of a TOML file differ, in the order of the first, what is new to a table last.

    A table that only one of them has is one entry, and so is a list. Numbers count as the same if they are equal
    (1 and 1.0); a truth value is no number.

    Examples
    --------
    >>> [*differences({"a": {"x": 1, "y": [1, 2]}}, {"a": {"x": 1.0, "y": [1, 3]}, "b": {"z": 0}})]
    [Difference(place='a.y', was=[1, 2], now=[1, 3]), Difference(place='b', was=None, now={'z': 0})]
    """
    yield from _differences("", before, after)


@dataclass(frozen=True, kw_only=True)
class ParameterChange:
    """One value that differs."""

    document: str  # "site" or "profile"
    path: str  # such as "factors.depth.points[2]"; places in a list are counted from 0
    before: str  # as TOML would write it, or ABSENT
    after: str

    def __str__(self) -> str:
        return f"{self.document} {self.path}: {self.before} -> {self.after}"


def parameter_changes(document: str, before: Mapping[str, Any], after: Mapping[str, Any]) -> list[ParameterChange]:
    """The values that differ between two tables of a TOML file, in the order of the first, what is new last.

    A point of a curve is one value: a list within a list is not taken apart. Numbers count as the same if they are
    equal (1 and 1.0).

    Examples
    --------
    >>> one = {"factors": {"depth": {"weight": 1, "points": [[0, 0], [2, 1.0]]}}}
    >>> other = {"factors": {"depth": {"weight": 1.0, "points": [[0, 0], [3, 1.0], [9, 0]]}}}
    >>> for change in parameter_changes("profile", one, other):
    ...     print(change)
    profile factors.depth.points[1]: [2, 1.0] -> [3, 1.0]
    profile factors.depth.points[2]: absent -> [9, 0]
    """
    changes = [
        ParameterChange(document=document, path=path, before=_shown(was), after=_shown(now))
        for found in differences(before, after)
        for path, was, now in _pieces(found)
    ]
    return sorted(changes, key=lambda change: change.before == ABSENT)


def _differences(place: str, before: object, after: object) -> Iterator[Difference]:
    if isinstance(before, Mapping) and isinstance(after, Mapping):
        for key in dict.fromkeys((*before, *after)):
            yield from _differences(f"{place}.{key}" if place else str(key), before.get(key), after.get(key))
    elif not _is_same(before, after):
        yield Difference(place=place, was=before, now=after)


def _pieces(found: Difference) -> Iterator[tuple[str, object, object]]:
    """A difference taken apart into values: path, before and after."""
    was, now = ({} if value is None else dict(_values(value, found.place)) for value in (found.was, found.now))
    for path in dict.fromkeys((*was, *now)):
        if not _is_same(was.get(path), now.get(path)):
            yield path, was.get(path), now.get(path)


def _values(table: object, path: str = "") -> Iterator[tuple[str, object]]:
    if isinstance(table, Mapping) and table:
        for key, value in table.items():
            yield from _values(value, f"{path}.{key}" if path else str(key))
    elif isinstance(table, list) and any(isinstance(one, (list, Mapping)) for one in table):
        for place, value in enumerate(table):
            is_point = isinstance(value, list)
            yield from [(f"{path}[{place}]", value)] if is_point else _values(value, f"{path}[{place}]")
    else:
        yield path, table


def _is_same(one: object, other: object) -> bool:
    if isinstance(one, list) and isinstance(other, list):
        return len(one) == len(other) and all(map(_is_same, one, other))
    if isinstance(one, Mapping) and isinstance(other, Mapping):
        return one.keys() == other.keys() and all(_is_same(one[key], other[key]) for key in one)
    # in Python, true equals 1
    return one == other and isinstance(one, bool) == isinstance(other, bool)


def _shown(value: object) -> str:
    if value is None:
        return ABSENT
    if isinstance(value, bool):
        return str(value).lower()
    text = f'"{value}"' if isinstance(value, str) else str(value)
    return text if len(text) <= _LONGEST else f"{text[: _LONGEST - 3]}..."
