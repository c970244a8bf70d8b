"""The levels the water of a site takes, in metres above the datum of its bed."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property
from typing import TYPE_CHECKING

import numpy as np
import pandas as pd

from layers.fault import Fault
from layers.water import constituent_speed, tide_levels

if TYPE_CHECKING:
    from layers.inputs import Inputs
    from layers.site import FileEntry
    from layers.tidal_datum import TidalDatums


@dataclass(frozen=True, kw_only=True)
class WaterLevels:
    """Water levels equally spaced in time, and where they come from."""

    levels: np.ndarray  # shape (n,), above the datum of the bed [m]
    method: str
    entries: tuple[FileEntry, ...]
    times: np.ndarray | None = None  # of a gauge [datetime64]; None where the levels are an hour apart

    @cached_property
    def datums(self) -> TidalDatums:
        """Mean high and low water, from the longest stretch of levels at equal steps."""
        from layers.tidal_datum import TidalDatums, tidal_datums

        if self.times is None:
            return tidal_datums(self.levels, 1.0)
        levels, step = longest_even_stretch(self.times, self.levels)
        try:
            return tidal_datums(levels, step)
        except ValueError as refusal:  # too short to see a tide in
            plain = {"highest": float(self.levels.max()), "lowest": float(self.levels.min())}
            return TidalDatums(**plain, mean_sea_level=self.mean, said=str(refusal))

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
        return WaterLevels(
            levels=levels,
            method=f"the {len(levels):,} levels of the gauge series",
            entries=(entry,),
            times=inputs.tables[entry.name]["time"].to_numpy(),
        )
    for entry in _of_season(inputs.having("tide"), season):
        known = inputs.tables[entry.name]
        offset = site.height_of(entry.datum) - site.height_of(bed_datum)
        levels = tide_levels(
            known["amplitude"].to_numpy(), known["phase"].to_numpy(), list(known["constituent"]), mean_level=offset
        )
        return WaterLevels(
            levels=levels,
            method=f"a year of hours predicted from {len(known)} tidal constituents, without nodal factors",
            entries=(entry,),
        )
    return None


def longest_even_stretch(times: np.ndarray, levels: np.ndarray) -> tuple[np.ndarray, float]:
    """The longest part of a series without a gap, and its step. [hour]

    Examples
    --------
    >>> times = np.array(["2024-01-01T00", "2024-01-01T01", "2024-01-01T02", "2024-01-01T09"], "datetime64[h]")
    >>> longest_even_stretch(times, np.array([1.0, 2.0, 3.0, 4.0]))
    (array([1., 2., 3.]), 1.0)
    """
    steps = np.diff(times) / np.timedelta64(1, "h")
    if not len(steps):
        return levels, 1.0
    step = float(np.median(steps))
    ends = np.flatnonzero(np.abs(steps - step) > step / 100) + 1
    parts = np.split(levels, ends)
    return max(parts, key=len), step


def read_tide(entry: FileEntry, faults: list[Fault], remarks: list[str]) -> pd.DataFrame | None:
    """The constituents of a file whose speed is known: columns constituent, amplitude [m], phase [degree].

    Those whose speed is not known are left out and remarked; they are a fault when they carry more than a
    twentieth of all amplitude.
    """
    from layers.feeds import CONSTITUENT_AMPLITUDE
    from layers.stations import read_table
    from layers.units import UnitError, converter

    rows = read_table(entry, {entry.constituent: str, entry.column: float, entry.phase: float}, faults)
    try:
        to_metres = converter(entry.units, CONSTITUENT_AMPLITUDE.units, quantity=CONSTITUENT_AMPLITUDE.label)
    except UnitError as problem:
        faults.append(Fault(f"files.{entry.name}.units", problem.found, problem.remedy))
        return None
    if rows is None:
        return None
    table = pd.DataFrame(
        {
            "constituent": rows[entry.constituent].str.strip(),
            "amplitude": to_metres(rows[entry.column].to_numpy()),
            "phase": rows[entry.phase].to_numpy(),
        }
    )
    before = len(faults)
    _check_tide(table, entry, faults)
    is_known = table["constituent"].map(_has_speed)
    left_out = table[~is_known]
    if len(left_out) and left_out["amplitude"].sum() > table["amplitude"].sum() / 20:
        faults.append(
            Fault(
                f"{entry.path.name}, column {entry.constituent}",
                f"the speed of {', '.join(left_out['constituent'])} is not known, and "
                f"{left_out['amplitude'].sum():.2f} of {table['amplitude'].sum():.2f} m of the tide rest on it.",
                'Use standard names such as "M2", "S2", "K1".',
            )
        )
    elif len(left_out):
        remarks.append(
            f"{entry.path.name}: {', '.join(left_out['constituent'])} left out, whose speeds are not known "
            f"({100 * left_out['amplitude'].sum() / table['amplitude'].sum():.1f} % of all amplitude)."
        )
    return table[is_known].reset_index(drop=True) if len(faults) == before else None


def _check_tide(table: pd.DataFrame, entry: FileEntry, faults: list[Fault]) -> None:
    from layers.feeds import CONSTITUENT_AMPLITUDE

    twice = table["constituent"][table["constituent"].duplicated()]
    if len(twice):
        faults.append(
            Fault(
                f"{entry.path.name}, column {entry.constituent}",
                f'"{twice.iloc[0]}" is there more than once.',
                "Keep one gauge: say which with `where`.",
            )
        )
    lowest, highest = entry.plausible or CONSTITUENT_AMPLITUDE.plausible
    strange = table[(table["amplitude"] < lowest) | (table["amplitude"] > highest)]
    if len(strange):
        worst = strange.iloc[0]
        faults.append(
            Fault(
                f"{entry.path.name}, column {entry.column}",
                f"the amplitude of {worst['constituent']} is {worst['amplitude']:g} m.",
                f"It should lie from {lowest:g} to {highest:g} m: check the unit.",
            )
        )


def _has_speed(name: str) -> bool:
    try:
        constituent_speed(name)
    except ValueError:
        return False
    return True


def _of_season(entries: tuple[FileEntry, ...], season: str | None) -> list[FileEntry]:
    return [entry for entry in entries if entry.season in (None, season)]
