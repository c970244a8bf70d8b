"""The levels the water of a site takes, in metres above the datum of its bed."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from layers.water import constituent_speed, tide_levels

if TYPE_CHECKING:
    from layers.inputs import Inputs
    from layers.site import FileEntry


@dataclass(frozen=True, kw_only=True)
class WaterLevels:
    """Water levels equally spaced in time, and where they come from."""

    levels: np.ndarray  # shape (n,), above the datum of the bed [m]
    method: str
    entries: tuple[FileEntry, ...]

    @property
    def mean(self) -> float:
        """Mean water level. [m]"""
        return float(self.levels.mean())


def water_levels(inputs: Inputs, bed_datum: str | None, season: str | None = None) -> WaterLevels | None:
    """Levels from the site's gauge series or, failing that, from its tidal constituents; None without either.

    A gauge series sets the mean level (so seasons can differ); constituents vary about their own datum.
    """
    site = inputs.site
    for entry in _of_season(inputs.having("water_level"), season):
        offset = site.height_of(entry.datum) - site.height_of(bed_datum)
        levels = inputs.tables[entry.name]["value"].to_numpy() + offset
        return WaterLevels(levels=levels, method=f"the {len(levels):,} levels of the gauge series", entries=(entry,))
    for entry in _of_season(inputs.having("tide"), season):
        known, left_out = known_constituents(inputs, entry)
        offset = site.height_of(entry.datum) - site.height_of(bed_datum)
        levels = tide_levels(
            known[entry.column].to_numpy(),
            known[entry.phase].to_numpy(),
            list(known[entry.constituent]),
            mean_level=offset,
        )
        return WaterLevels(
            levels=levels,
            method=f"a year of hours predicted from {len(known)} tidal constituents, without nodal factors"
            + (f"; {', '.join(left_out)} left out, whose speeds are not known" if left_out else ""),
            entries=(entry,),
        )
    return None


def known_constituents(inputs: Inputs, entry: FileEntry):
    """The rows of a constituent table whose speed is known, amplitudes in metres, and the names left out."""
    from layers.feeds import CONSTITUENT_AMPLITUDE
    from layers.units import converter

    table = inputs.tables[entry.name]
    names = table[entry.constituent]
    is_known = names.map(_has_speed)
    to_metres = converter(entry.units, CONSTITUENT_AMPLITUDE.units)
    rows = table[is_known]
    return rows.assign(**{entry.column: to_metres(rows[entry.column])}), list(names[~is_known])


def _has_speed(name: str) -> bool:
    try:
        constituent_speed(name)
    except ValueError:
        return False
    return True


def _of_season(entries: tuple[FileEntry, ...], season: str | None) -> list[FileEntry]:
    return [entry for entry in entries if entry.season in (None, season)]
