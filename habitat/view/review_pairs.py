"""What the maps of a review hold side by side: a layer or score as recorded, as made again, and what parts them."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np
import xarray as xr

from habitat.compare_maps import CLASSES
from habitat.record_cells import CellDifference, cell_difference, difference_map
from habitat.reproduce import Reproduction
from habitat.view.difference import difference_scale
from habitat.view.review_checks import label_of

if TYPE_CHECKING:
    from habitat.colours import Scale
    from habitat.record_schema import GridCells
    from habitat.site_map import SiteMap

AFTER = "after:"  # before the name of a layer of the site with the proposals in place


@dataclass(frozen=True, kw_only=True, eq=False, repr=False)
class Pair:
    """One layer twice, on one grid and in one season. (y, x)"""

    name: str
    recorded: xr.DataArray
    rebuilt: xr.DataArray
    difference: CellDifference | None  # None where every cell is the same

    @property
    def is_codes(self) -> bool:
        """Whether its cells are classes or counts, of which a difference is no number that means anything."""
        return "flag_meanings" in self.rebuilt.attrs

    @property
    def apart(self) -> np.ndarray:
        """Which cells differ, those with data on one side only among them. (y, x) bool"""
        one, other = self.recorded.to_numpy(), self.rebuilt.to_numpy()
        both = np.isnan(one) & np.isnan(other) if one.dtype.kind == "f" else np.zeros(one.shape, bool)
        return (one != other) & ~both

    @property
    def change(self) -> xr.DataArray:
        """Rebuilt less recorded; of classes, those of the rebuilt map where they are others."""
        if self.is_codes:
            rebuilt = self.rebuilt.to_numpy()
            return self.rebuilt.copy(data=np.where(self.apart, rebuilt, 0).astype(rebuilt.dtype))
        changed = difference_map(self.recorded, self.rebuilt)
        changed.attrs["long_name"] = f"change of {self.rebuilt.attrs.get('long_name', self.name)}"
        changed.coords["spatial_ref"] = self.rebuilt["spatial_ref"]
        return changed

    @property
    def scale(self) -> Scale:
        """Colours of the change, its ends at the largest difference."""
        most = self.difference.largest if self.difference is not None and self.difference.largest > 0 else 1.0
        # ends of two digits, so that the legend can be read; never narrower than what is there
        digits = 10.0 ** np.floor(np.log10(most) - 1)
        end = float(f"{np.ceil(most / digits) * digits:.2g}")
        return replace(difference_scale("suitability"), low=-end, high=end)


class Pairs:
    """Every layer and score of a record that was made again, looked up by name; what was read once is kept."""

    def __init__(self, made: Reproduction):
        self.made = made
        self._recorded: dict[str, xr.DataArray | None] = {}

    @property
    def are_on_one_grid(self) -> bool:
        """Whether cells can be compared at all."""
        before, after = self.made.record.grid, self.made.found.inputs.site.grid
        return before.shape == after.shape and before.bounds == after.bounds

    def site_map(self, key: str) -> SiteMap:
        """The site that a layer is of: before, or with the proposals in place."""
        return self.made.after if key.startswith(AFTER) else self.made.found

    def rebuilt(self, key: str) -> xr.DataArray | None:
        """A layer or result of the map made again; None where it could not be made."""
        found, name = self.site_map(key), key.removeprefix(AFTER)
        return next((held[name] for held in (found.layers, found.assessment) if name in held), None)

    def recorded(self, key: str) -> xr.DataArray | None:
        """The same as the record keeps it, with the labels of the rebuilt one; None where it keeps the digest alone.

        What came out the same to the bit needs no reading.
        """
        if key not in self._recorded:
            self._recorded[key] = self._read(key)
        return self._recorded[key]

    def pair(self, key: str, season: str | None) -> Pair | None:
        """Both in a season; None where they cannot be laid side by side."""
        rebuilt, recorded = self.rebuilt(key), self.recorded(key)
        if rebuilt is None or recorded is None:
            return None
        if "season" in rebuilt.dims:
            recorded, rebuilt = (one.sel(season=season) for one in (recorded, rebuilt))
        found = cell_difference(recorded, rebuilt)
        return Pair(name=key.removeprefix(AFTER), recorded=recorded, rebuilt=rebuilt, difference=found)

    def choices(self) -> dict[str, dict[str, str]]:
        """What can be laid side by side: label to key, what differs first."""
        if not self.are_on_one_grid:
            return {}
        changed = {f"{AFTER if one.after else ''}{one.name}" for one in self.made.changes}
        # counts of what is missing have no colours of their own
        keys = [key for key in self._keys() if self.rebuilt(key) is not None and "missing_" not in key]
        first = self.first
        # the first that differs, then the scores: what a reviewer asks for
        order = sorted(keys, key=lambda key: (key != first, key.removeprefix(AFTER) not in ("suitability", "threat")))
        groups = {
            "What differs": [key for key in order if key in changed],
            "What is the same": [key for key in order if key not in changed],
        }
        return {group: {_label(key): key for key in held} for group, held in groups.items() if held}

    @property
    def first(self) -> str:
        """Key of what is shown first: the first layer that differs, else suitability."""
        cause = self.made.cause
        if cause is not None and cause.first.cells is not None:
            return f"{AFTER if cause.first.after else ''}{cause.first.name}"
        return f"{AFTER if self.made.after is not None else ''}suitability"

    def first_season(self) -> str | None:
        """The season of the worst cell of the first layer that differs; else the first there is."""
        cause, scored = self.made.cause, self.made.found.assessment.coords.get("season")
        if scored is None:
            return None
        told = cause.first.cells.season if cause is not None and cause.first.cells is not None else ""
        return told or str(scored.values[0])

    def classes(self) -> dict[str, str]:
        """The maps of classes, label to key; of an appraisal, with the proposals in place."""
        before = AFTER if self.made.after is not None else ""
        keys = [f"{before}{name}" for name in CLASSES]
        return {label_of(key.removeprefix(AFTER)): key for key in keys if self.recorded(key) is not None}

    def told(self, key: str) -> GridCells | None:
        """What the record says of it."""
        table = self.made.record.table
        held = table.appraisal if key.startswith(AFTER) else table
        name = key.removeprefix(AFTER)
        return next((one for one in (*held.steps, *held.results) if one.name == name), None)

    def _keys(self) -> list[str]:
        table = self.made.record.table
        keys = [one.name for one in (*table.steps, *table.results)]
        if table.appraisal:
            keys += [f"{AFTER}{one.name}" for one in (*table.appraisal.steps, *table.appraisal.results)]
        return keys

    def _read(self, key: str) -> xr.DataArray | None:
        rebuilt, told = self.rebuilt(key), self.told(key)
        if rebuilt is None or told is None or list(rebuilt.shape) != told.shape or not self.are_on_one_grid:
            return None
        name, after = key.removeprefix(AFTER), key.startswith(AFTER)
        if not any(one.name == name and one.after == after for one in self.made.changes):
            return rebuilt
        cells = self.made.record.cells(told)
        return None if cells is None else rebuilt.copy(data=cells.to_numpy())


def _label(key: str) -> str:
    return f"{label_of(key.removeprefix(AFTER))}{', with the proposals' if key.startswith(AFTER) else ''}"
