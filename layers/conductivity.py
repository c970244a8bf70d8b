"""Stations that measure conductivity, read as salinity."""

from __future__ import annotations

from dataclasses import replace

import geopandas
import numpy as np

from layers.fault import Fault, told_as_fault
from layers.plausibility import counted
from layers.quantity import CONDUCTIVITY, SPECIFIC_CONDUCTANCE, WATER_TEMPERATURE
from layers.salinity import (
    EXTENDED,
    OUTSIDE,
    REFERENCE_TEMPERATURE,
    its90_temperature,
    practical_salinity,
    salinity_validity,
)
from layers.site import FileEntry, Site
from layers.stations import read_points


def read_conductivity(
    entry: FileEntry, site: Site, faults: list[Fault], remarks: list[str]
) -> geopandas.GeoDataFrame | None:
    """Practical salinity at points, from their conductivity and the temperature they stand beside.

    Returns
    -------
    GeoDataFrame or None
        As `layers.stations.read_points`, `value` being practical salinity. Rows that lack either are left out. None
        if a fault was found.
    """
    points = read_points(entry, site, CONDUCTIVITY, faults, remarks=remarks)
    temperatures = _temperatures(entry, site, faults)
    if points is None or temperatures is None:
        return None
    both = points.index.intersection(temperatures.index)
    if len(both) < len(points):
        missing = counted(len(points) - len(both), "row")
        remarks.append(f"{entry.path.name}: {missing} left out for want of a temperature.")
    warm = temperatures.loc[both, "value"].to_numpy()
    if entry.temperature_scale == "IPTS-68":
        warm = its90_temperature(warm)
    return _as_salinity(points.loc[both], warm, entry, faults, remarks)


def read_specific_conductance(
    entry: FileEntry, site: Site, faults: list[Fault], remarks: list[str]
) -> geopandas.GeoDataFrame | None:
    """Practical salinity at points, from conductivity that the meter has brought to 25 degrees Celsius."""
    points = read_points(entry, site, SPECIFIC_CONDUCTANCE, faults, remarks=remarks)
    if points is None:
        return None
    return _as_salinity(points, np.full(len(points), REFERENCE_TEMPERATURE), entry, faults, remarks)


def remark_salinities(points: geopandas.GeoDataFrame, entry: FileEntry, remarks: list[str]) -> None:
    """Remark the values of a file of salinities for which the practical scale was not made."""
    _remark(points["value"].to_numpy(), np.full(len(points), REFERENCE_TEMPERATURE), entry, remarks)


def _temperatures(entry: FileEntry, site: Site, faults: list[Fault]) -> geopandas.GeoDataFrame | None:
    """The column of temperatures, as points; its faults name the key it is named by, and the unit it is bound to."""
    warmth = replace(entry, column=entry.temperature, units=WATER_TEMPERATURE.units, plausible=None)
    found: list[Fault] = []
    temperatures = read_points(warmth, site, WATER_TEMPERATURE, found)
    column, key = f"{entry.path.name}, column {entry.temperature}", f"files.{entry.name}"
    for fault in found:
        if fault.place == f"{key}.column":
            fault = replace(fault, place=f"{key}.temperature")
        elif fault.place == column and "plausible range" in fault.found:
            fault = replace(fault, remedy="Temperatures beside a conductivity are in degrees Celsius: convert them.")
        if fault not in faults:
            faults.append(fault)
    return temperatures


def _as_salinity(
    points: geopandas.GeoDataFrame,
    temperature: np.ndarray,
    entry: FileEntry,
    faults: list[Fault],
    remarks: list[str],
) -> geopandas.GeoDataFrame | None:
    try:
        salinity = practical_salinity(points["value"].to_numpy(), temperature)
    except ValueError as refusal:
        faults.append(told_as_fault(f"{entry.path.name}, column {entry.column}", refusal))
        return None
    _remark(salinity, temperature, entry, remarks)
    return points.assign(value=salinity)


def _remark(salinity: np.ndarray, temperature: np.ndarray, entry: FileEntry, remarks: list[str]) -> None:
    validity = salinity_validity(salinity, temperature)
    for code, said in (
        (EXTENDED, "lie below 2, where the practical scale is carried on by its low salinity extension"),
        (OUTSIDE, "lie outside the salinities and temperatures for which the practical scale was made"),
    ):
        count = int(np.count_nonzero(validity == code))
        if count:
            remarks.append(f"{entry.path.name}: {count:,} of {len(salinity):,} salinities {said}.")
