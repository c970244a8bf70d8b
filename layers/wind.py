"""How often the wind blows from each direction."""

from __future__ import annotations

from typing import TYPE_CHECKING

from layers.fault import Fault
from layers.site import FileEntry

if TYPE_CHECKING:
    import pandas as pd


def read_wind(entry: FileEntry, faults: list[Fault]) -> pd.DataFrame | None:
    """The wind table of a file: columns direction (where it blows from, degrees from north) and share (0 to 1)."""
    from layers.stations import read_table

    table = read_table(entry, {"direction": float, "share": float}, faults)
    if table is None:
        return None
    direction, share = table["direction"], table["share"]
    wrong = None
    if ((direction < 0) | (direction > 360)).any():
        worst = direction.min() if (direction < 0).any() else direction.max()
        wrong = "direction", f"a direction is {worst:g} degrees.", "Give 0 to 360, clockwise from north."
    elif (direction % 360).duplicated().any():
        wrong = "direction", "a direction is there more than once.", "Keep one row for each direction."
    elif (share < 0).any():
        wrong = "share", f"a share is {share.min():g}.", "Write a share of the time, 0 or more."
    elif abs(share.sum() - 1) > 0.02:
        wrong = "share", f"the shares add up to {share.sum():g}.", "Write shares of the time, which add up to 1."
    if wrong:
        faults.append(Fault(f"{entry.path.name}, column {wrong[0]}", *wrong[1:]))
        return None
    return table
