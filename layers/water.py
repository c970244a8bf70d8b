"""Depth of water and the tide: where it is wet, how deep, and for what share of the time.

The tide enters as the levels it takes, equally spaced in time; their order does not matter to any share of time.
"""

from __future__ import annotations

from typing import TypeVar

import numpy as np
import xarray as xr

from layers.cellwise import cellwise
from layers.quantity import (
    FEEDING_TIME,
    INTERTIDAL,
    LAND,
    UNKNOWN,
    WATER,
    WATER_DEPTH,
    WET_TIME,
    Quantity,
    describe,
)

WATER_COLUMN = Quantity(name="water_column", label="mean water column over the tide", units="m", plausible=(0, 500))

Numeric = TypeVar("Numeric", float, np.ndarray, xr.DataArray)

# names under which gauges publish constituents that the table of speeds lists under another
_OTHER_NAMES = {"2MK3": "MO3", "LAMBDA2": "LDA2", "LAM2": "LDA2", "RHO": "RHO1"}
HOURS_OF_TIDE = 24 * 365  # a year of hours takes in every spring-neap and seasonal constituent


def tide_levels(
    amplitude: np.ndarray, phase: np.ndarray, constituent: list[str], *, mean_level: float = 0.0
) -> np.ndarray:
    """Hourly water levels of one year predicted from harmonic constituents.

    Parameters
    ----------
    amplitude : array, shape (n,)
        Amplitudes. [m]
    phase : array, shape (n,)
        Greenwich phase lags. [degree]
    constituent : list of n str
        Standard names, such as "M2"; a name the tables do not hold is refused.
    mean_level : float
        Mean water level above the datum of the result. [m]

    Returns
    -------
    array, shape (HOURS_OF_TIDE,)
        Water level in order of time. [m]

    Raises
    ------
    ValueError
        If a constituent is not known.

    Notes
    -----
    h = h0 + sum A cos(speed t - g), without nodal factors: over the 18.6-year cycle they change a range by some
    per cent and average out. Speeds are those of the table that the `utide` package carries.

    References
    ----------
    Schureman, P. (1958), Manual of harmonic analysis and prediction of tides, US Coast and Geodetic Survey
    Special Publication 98.
    """
    speed = np.array([constituent_speed(name) for name in constituent])
    hours = np.arange(HOURS_OF_TIDE)
    levels = np.full(HOURS_OF_TIDE, float(mean_level))
    for A, g, a in zip(amplitude, phase, speed, strict=True):
        levels += A * np.cos(np.deg2rad(a * hours - g))
    return levels


def constituent_speed(name: str) -> float:
    """Speed of a tidal constituent. [degree/hour]

    Raises
    ------
    ValueError
        If the name is not a known constituent.

    Examples
    --------
    >>> round(constituent_speed("M2"), 5)
    28.9841
    """
    from utide import ut_constants

    wanted = name.strip().upper()
    wanted = _OTHER_NAMES.get(wanted, wanted)
    names = [known.strip().upper() for known in ut_constants.const.name]
    if wanted not in names:
        raise ValueError(f'"{name}" is not a known tidal constituent.')
    return float(ut_constants.const.freq[names.index(wanted)]) * 360


def water_depth(bed: Numeric, mean_level: float) -> Numeric:
    """Depth of the bed below the mean water level, positive down.

    Parameters
    ----------
    bed : float or array, any shape
        Bed elevation, positive up. [m]
    mean_level : float
        Mean water level above the datum of the bed. [m]

    Returns
    -------
    same kind and shape as `bed`
        Negative where the bed stands above mean water; NaN where the bed is not known. [m]

    Examples
    --------
    >>> water_depth(-2.0, 0.5)
    2.5
    """
    return describe(mean_level - bed, WATER_DEPTH)


def share_of_time_within(bed: Numeric, levels: np.ndarray, shallowest: float, deepest: float) -> Numeric:
    """Share of the time that the depth over a bed lies from `shallowest` to `deepest`, both included.

    Parameters
    ----------
    bed : float or array, any shape
        Bed elevation, positive up. [m]
    levels : array, shape (n,)
        Water levels above the datum of the bed, equally spaced in time, in any order. [m]
    shallowest, deepest : float
        Limits of depth, positive down. [m]

    Returns
    -------
    same kind and shape as `bed`
        0 to 1; NaN where the bed is not known. [1]

    Raises
    ------
    ValueError
        If there is no level, or `shallowest` is not less than `deepest`.

    Examples
    --------
    >>> share_of_time_within(-1.0, np.array([-0.5, 0.0, 0.5, 1.0]), 0.5, 1.5)
    0.75
    """
    if len(levels) == 0:
        raise ValueError("there is no water level to take a share of.")
    if not shallowest < deepest:
        raise ValueError(f"`shallowest` ({shallowest} m) must be less than `deepest` ({deepest} m).")
    return _time_share(bed, levels, shallowest, deepest, FEEDING_TIME)


def share_of_time_wet(bed: Numeric, levels: np.ndarray) -> Numeric:
    """Share of the time that a bed is under water (its hydroperiod).

    Parameters and result are those of `share_of_time_within`.

    Examples
    --------
    >>> share_of_time_wet(0.25, np.array([-0.5, 0.0, 0.5, 1.0]))
    0.5
    """
    return _time_share(bed, levels, 0.0, np.inf, WET_TIME)


def mean_water_column(bed: Numeric, levels: np.ndarray) -> Numeric:
    """Mean over the tide of the water that stands on a bed; nothing stands on it while it is dry.

    Parameters and errors are those of `share_of_time_within`, without its limits.

    Returns
    -------
    same kind and shape as `bed`
        0 or more; NaN where the bed is not known. [m]

    Examples
    --------
    >>> mean_water_column(0.25, np.array([-0.5, 0.0, 0.5, 1.0]))
    0.25
    """
    if len(levels) == 0:
        raise ValueError("there is no water level to take a mean of.")
    ordered = np.sort(np.asarray(levels, np.float64))
    above = np.append(np.cumsum(ordered[::-1])[::-1], 0.0)  # sum of the levels from each on

    def column(bed):
        first = np.searchsorted(ordered, bed, side="right")
        stands = (above[first] - (len(ordered) - first) * bed) / len(ordered)
        return np.where(np.isnan(bed), np.nan, np.maximum(stands, 0.0))

    return describe(cellwise(column, bed), WATER_COLUMN)


def surface_codes(
    is_water: np.ndarray, bed: np.ndarray | None, lowest: float | None, highest: float | None
) -> np.ndarray:
    """Land, intertidal flat, water or unknown, for each cell.

    Parameters
    ----------
    is_water : bool array, shape (y, x)
        What the file that decides says.
    bed : array, shape (y, x), or None
        Bed elevation, NaN where not known. [m]
    lowest, highest : float or None
        Lowest and highest water level above the datum of the bed, None where the tide is not known. [m]

    Returns
    -------
    uint8 array, shape (y, x)
        Codes of `layers.quantity.SURFACE`. Water whose bed is never under water is unknown: the two sources
        contradict each other there, and neither good habitat nor low risk may be read from it.
    """
    codes = np.where(is_water, WATER, LAND).astype(np.uint8)
    if bed is None or lowest is None or highest is None:
        return codes
    codes[is_water & (bed > lowest)] = INTERTIDAL
    codes[is_water & (bed > highest)] = UNKNOWN
    return codes


def _time_share(bed, levels, shallowest, deepest, quantity):
    ordered = np.sort(np.asarray(levels, dtype=np.float64))

    def share(values):
        upper = np.searchsorted(ordered, values + deepest, side="right")
        lower = np.searchsorted(ordered, values + shallowest, side="left")
        result = (upper - lower) / len(ordered)
        return np.where(np.isnan(values), np.nan, result).astype(np.result_type(values, np.float32))

    if isinstance(bed, xr.DataArray):
        kind = {"dask": "parallelized", "output_dtypes": [bed.dtype]}
        return describe(xr.apply_ufunc(share, bed, **kind), quantity)
    result = share(np.asarray(bed, dtype=np.float64) if np.isscalar(bed) else bed)
    return float(result) if np.isscalar(bed) else result
