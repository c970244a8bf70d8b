"""The first cause of a difference: which file, number or version, which layer it meets first, and in which cells."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

from habitat.record_cells import CellDifference

if TYPE_CHECKING:
    from habitat.compare_parameters import ParameterChange
    from habitat.record_schema import GridCells, StepTable
    from habitat.reproduce_site import InputChange

_WORDS = ("title", "author", "invented", "source", "licence", "credit")  # keys that change no cell


@dataclass(frozen=True, kw_only=True)
class VersionChange:
    """A library, or a property of the machine, that is another than in the record."""

    name: str
    before: str
    after: str

    def __str__(self) -> str:
        return f"{self.name}: {self.before} -> {self.after}"


@dataclass(frozen=True, kw_only=True)
class Change:
    """A layer or result that came out differently."""

    told: GridCells  # as the record has it
    after: bool  # whether of the site with the proposals in place
    cells: CellDifference | None  # None where the record keeps the digest alone, or the grid is another
    what: str  # of the difference, where `cells` cannot tell

    @property
    def name(self) -> str:
        """Name of the layer or result."""
        return self.told.name

    def __str__(self) -> str:
        return f"{self.cells or f'{self.name}: {self.what}'}{' (with the proposals in place)' if self.after else ''}"


@dataclass(frozen=True, kw_only=True)
class Cause:
    """Where the chain from files to a map first parts from the record."""

    kind: str  # "input", "parameter", "version", "machine" or "function"
    said: str  # in words
    others: tuple[str, ...]  # further differences of the same kind that may have a part in it
    first: Change  # the first layer that differs by more than last digits, or result where all layers are the same


def version_changes(before: dict[str, str], after: dict[str, str]) -> tuple[VersionChange, ...]:
    """What differs, in the order of the record, what is new last."""
    return tuple(
        VersionChange(name=name, before=before.get(name, "absent"), after=after.get(name, "absent"))
        for name in dict.fromkeys([*before, *after])
        if before.get(name) != after.get(name)
    )


def first_cause(
    change: Change,
    *,
    numbers: Sequence[str],
    feeds: Sequence[str],
    inputs: Sequence[InputChange],
    parameters: Sequence[ParameterChange],
    tables: Sequence[str],
    software: Sequence[VersionChange],
    machine: Sequence[VersionChange],
) -> Cause:
    """The cause of the first layer or result that differs.

    Parameters
    ----------
    change : Change
        The first difference; all that it is made from is the same.
    numbers : sequence of str
        Keys of numbers the layer took that are others now, such as "mixing.dispersion".
    feeds : sequence of str
        What the layer asked for.
    tables : sequence of str
        Tables of the profile that look at the layer, such as "factors.depth".
    inputs, parameters, software, machine
        All that differs from the record, in the order in which a difference of each kind is looked for.
    """
    guilty = [one for one in inputs if one.feeds in feeds]
    if guilty:
        return _cause("input", guilty, change)
    telling = [one for one in parameters if one.path.rpartition(".")[2] not in _WORDS]
    near = [one for one in telling if _is_about(one, numbers, tables, change.name)]
    if near or telling:
        return _cause("parameter", near or telling, change)
    if software:
        return _cause("version", software, change)
    if machine:
        return _cause("machine", machine, change)
    function = getattr(change.told, "function", "habitat.assessment.assess")
    said = f"{function} gives something else from the same files, numbers and versions: its code was changed"
    return Cause(kind="function", said=said, others=(), first=change)


def keys_that_differ(before: StepTable, after: Sequence[str]) -> list[str]:
    """Keys of the numbers of a step that are not what they were."""
    apart = set(before.numbers) ^ set(after)
    return list(dict.fromkeys(number.partition(" = ")[0] for number in (*before.numbers, *after) if number in apart))


def _is_about(parameter: ParameterChange, numbers: Sequence[str], tables: Sequence[str], name: str) -> bool:
    """Whether a parameter is one of the numbers a layer took, or belongs to the factor or pressure of a result."""
    if any(parameter.path == key or parameter.path.startswith(f"{key}.") for key in numbers):
        return True
    part = re.fullmatch(r"(index|exposure)_(.+)", name)
    table = {"index": "factors", "exposure": "pressures"}.get(part[1]) if part else None
    if table is not None and parameter.document == "profile":
        return parameter.path.startswith(f"{table}.{part[2]}.")
    # how far a layer of distances reaches follows from the curves that look at it
    is_reach = parameter.document == "profile" and f"reach.{name}" in numbers
    return is_reach and any(parameter.path.startswith(f"{table}.") for table in tables)


def _cause(kind: str, found: Sequence[object], change: Change) -> Cause:
    return Cause(kind=kind, said=str(found[0]), others=tuple(str(one) for one in found[1:]), first=change)
