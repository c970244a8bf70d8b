"""A reproduction in words: the verdict, the first cause, what follows from it, and what else differs."""

from __future__ import annotations

from typing import TYPE_CHECKING

from habitat.compare_text import hectare_lines, map_lines
from habitat.reproduce import DIFFERENT, SAME, WITHIN, Reproduction

if TYPE_CHECKING:
    import xarray as xr

MOST_CAUSES = 5
MOST_CHANGES = 12  # lines of changed layers and results


def reproduction_text(made: Reproduction) -> str:
    """The whole answer as plain text, the verdict first."""
    table = made.record.table
    lines = [f"{made.record.name} (digest {made.record.root[:16]}...): {_verdict(made)}"]
    if made.cause is not None:
        lines += ["", *_cause_lines(made)]
    shown = [str(change) for change in made.changes if made.cause and change is not made.cause.first]
    if shown:
        lines += ["", "What else comes out differently", *(f"  {one}" for one in shown[:MOST_CHANGES])]
        lines += [f"  and {len(shown) - MOST_CHANGES} more"] if len(shown) > MOST_CHANGES else []
    if made.verdict == DIFFERENT:
        lines += _conclusions(made)
    lines += _else(made)
    if table.invented:
        lines += ["", "INVENTED SITE - not a real place."]
    return "\n".join(lines)


def difference_pairs(made: Reproduction) -> dict[str, tuple[xr.DataArray, xr.DataArray]]:
    """The first layer that differs and the scores, as recorded and as found, for `write_difference_maps`.

    Only those whose cells the record keeps and that differ.
    """
    pairs = {}
    for change in made.changes:
        is_first = made.cause is not None and change is made.cause.first
        if change.cells is None or not (is_first or change.name in ("suitability", "threat")):
            continue
        now = made.after if change.after else made.found
        layer = now.layers[change.name] if change.name in now.layers else now.assessment[change.name]
        pairs[f"{'after_' if change.after else ''}{change.name}"] = (made.record.cells(change.told), layer)
    return pairs


def _verdict(made: Reproduction) -> str:
    table = made.record.table
    count = f"{len(table.steps)} layers and {len(table.results)} results"
    if made.verdict == SAME:
        return f"the map made again is the same: every cell of {count}, to the bit."
    if made.verdict == WITHIN:
        return (
            f"the map made again is the same within tolerance: every class is the same in every cell, and no score "
            f"differs by more than {made.tolerance:g}. To the bit, {len(made.changes)} differ, of {count}."
        )
    return f"the map made again is not the same: of {count}, {len(made.changes)} differ."


def _cause_lines(made: Reproduction) -> list[str]:
    cause = made.cause
    told = cause.first.told
    lines = [f"First cause: {cause.said}."]
    lines += [f"  and perhaps: {one}" for one in cause.others[:MOST_CAUSES]]
    lines += [f"  and {len(cause.others) - MOST_CAUSES} more"] if len(cause.others) > MOST_CAUSES else []
    function = getattr(told, "function", "")
    what = f"First {'layer' if function else 'result'} that differs"
    if made.changes[0] is not cause.first:
        what += " by more than its last digits"
    lines.append(f"{what}: {cause.first}.")
    if function:
        parents = getattr(told, "parents", [])
        apart = {change.name for change in made.changes} & set(parents)
        same = "" if apart else f", which {'is' if len(parents) == 1 else 'are'} the same"
        of = f", from {', '.join(parents)}{same}" if parents else ""
        lines.append(f"  It is made by {function}{of}.")
    return lines


def _conclusions(made: Reproduction) -> list[str]:
    from habitat.compare import class_maps
    from habitat.compare_maps import CLASSES, changed_hectares, hectares_of_classes, map_comparisons

    recorded = class_maps(made.record)
    now = (made.after or made.found).assessment
    found = {name: now[name] for name in CLASSES if name in now}
    before, after = made.record.grid, made.found.inputs.site.grid
    hectares = changed_hectares(
        hectares_of_classes(recorded, cell_hectares=before.cell_hectares),
        hectares_of_classes(found, cell_hectares=after.cell_hectares),
    )
    lines = ["", "What it changes (the record first, then now)"]
    if before.shape == after.shape and before.bounds == after.bounds:
        lines += map_lines(map_comparisons(recorded, found, cell_hectares=before.cell_hectares))
    return [*lines, *hectare_lines(hectares)]


def _else(made: Reproduction) -> list[str]:
    said = [*(str(one) for one in made.inputs), *(str(one) for one in made.parameters)]
    said += [str(one) for one in (*made.software, *made.machine)]
    told = {made.cause.said, *made.cause.others} if made.cause else set()
    said = [one for one in said if one not in told]
    heading = "Other differences from the record" if made.cause else "What differs from the record and changes no cell"
    more = [f"  and {len(said) - MOST_CHANGES} more"] if len(said) > MOST_CHANGES else []
    lines = ["", heading, *(f"  {one}" for one in said[:MOST_CHANGES]), *more] if said else []
    if made.left_out:
        names = ", ".join(one.file for one in made.left_out)
        lines += ["", f"Left out, since they are withheld and no layer is made from them: {names}."]
    return lines
