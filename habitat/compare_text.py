"""A comparison in words: what differs in numbers, files and versions, how far maps agree, what conclusions change."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    import pandas as pd

    from habitat.compare import Comparison
    from habitat.compare_maps import MapComparison

MOST_LINES = 40  # of a list


def comparison_text(comparison: Comparison) -> str:
    """The whole comparison as plain text."""
    lines = [f"{comparison.first} and {comparison.second}:", ""]
    if comparison.is_same:
        return f"{lines[0]} nothing differs."
    lines += comparison.remarks
    for heading, said in (
        ("Numbers and words", comparison.parameters),
        ("Files", comparison.inputs),
        ("Versions", comparison.software),
    ):
        lines += _listed(heading, [str(one) for one in said])
    if comparison.maps is not None:
        lines += ["Maps", *map_lines(comparison.maps)]
    if comparison.hectares is not None:
        lines += ["", "Hectares of each class", *hectare_lines(comparison.hectares)]
    return "\n".join(lines).rstrip()


def map_lines(maps: Sequence[MapComparison]) -> list[str]:
    """What can be said of each map, a line or more each."""
    lines = []
    for one in maps:
        name = one.name.replace("_", " ")
        lines.append(f"  {name}{f', {one.season}' if one.season else ''}: {' '.join(one.sentences)}")
    return lines


def hectare_lines(hectares: pd.DataFrame) -> list[str]:
    """The classes whose hectares differ, a line each; the long list of concern only where it alone differs."""
    brief = hectares[hectares["map"] != "concern"]
    hectares = brief if len(brief) else hectares
    if not len(hectares):
        return ["  no class has other hectares"]
    return [
        f"  {row.map.replace('_', ' ')}{f', {row.season}' if row.season else ''}, {_class(row)}: "
        f"{row.first:,.1f} ha -> {row.second:,.1f} ha ({row.change:+,.1f})"
        for row in hectares.itertuples()
    ]


def _class(row: object) -> str:
    return row[3]  # `class` is a word of the language, so the row has no attribute of that name


def _listed(heading: str, said: list[str]) -> list[str]:
    if not said:
        return []
    more = [f"  and {len(said) - MOST_LINES} more"] if len(said) > MOST_LINES else []
    return [heading, *(f"  {one}" for one in said[:MOST_LINES]), *more, ""]
