"""What differs between two text files of numbers, as a list of paths with the value before and after."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from typing import Any

ABSENT = "absent"
_LONGEST = 90  # letters of a value that are shown


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
    first, second = dict(_values(before)), dict(_values(after))
    nothing = object()
    changes = []
    for path in dict.fromkeys([*first, *second]):
        one, other = first.get(path, nothing), second.get(path, nothing)
        if one is nothing or other is nothing or not _is_same(one, other):
            told = [ABSENT if value is nothing else _shown(value) for value in (one, other)]
            changes.append(ParameterChange(document=document, path=path, before=told[0], after=told[1]))
    return changes


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
    # in Python, true equals 1
    return one == other and isinstance(one, bool) == isinstance(other, bool)


def _shown(value: object) -> str:
    if isinstance(value, bool):
        return str(value).lower()
    text = f'"{value}"' if isinstance(value, str) else str(value)
    return text if len(text) <= _LONGEST else f"{text[: _LONGEST - 3]}..."
