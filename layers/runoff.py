"""Runoff from rain by curve number: how much of a storm leaves the land.

Rain and runoff are depths in mm; a curve number (0 to 100) is what land cover and soil let through. Handbooks round a
weighted or composite curve number to a whole number before they go on; nothing is rounded here, which moves the runoff
of a storm by a per cent or so. Round the curve number yourself to repeat a handbook's table.
"""

from __future__ import annotations

import numpy as np

from layers.cellwise import Numeric, cellwise, refuse_outside
from layers.quantity import Quantity, describe

CURVE_NUMBER = Quantity(name="curve_number", label="runoff curve number", units="1", plausible=(25, 100))
RUNOFF = Quantity(name="runoff", label="depth of runoff", units="mm", plausible=(0, 20_000))

INITIAL_ABSTRACTION = 0.2  # share of the retention that must rain before any runs off; TR-55, eq. 2-2
PAVED = 98.0  # curve number of impervious ground; TR-55, Table 2-2a


def runoff_depth(rain: Numeric, curve_number: Numeric, *, initial_abstraction: float = INITIAL_ABSTRACTION) -> Numeric:
    """Depth of runoff of one storm.

    Parameters
    ----------
    rain : float or array, any shape
        Depth of rain of the storm (in practice of a day). [mm]
    curve_number : float or array, broadcast against `rain`
        Above 0, at most 100. [1]
    initial_abstraction : float
        Share of the retention that is held back before any water runs off, 0 to 1. [1]

    Returns
    -------
    same kind as what was given
        0 to `rain`; NaN where either is not known. [mm]

    Raises
    ------
    ValueError
        If rain is below 0, a curve number is not above 0 and at most 100, or the share is not 0 to 1.

    Notes
    -----
    Q = (P - a S)**2 / (P + (1 - a) S) where P > a S, else 0; S = 25400 / CN - 254, a = 0.2. For average moisture
    before the storm; the handbook advises against it for curve numbers below 40 and for snow melt. Runoff is not
    linear in the curve number: in storms of up to some 150 mm a mean curve number gives less than the mean of the
    runoffs, most so where some of the ground is paved and the rest takes in much.

    References
    ----------
    Soil Conservation Service (1986), Urban hydrology for small watersheds, Technical Release 55, 2nd ed.,
    eqs 2-1 to 2-4 (in inches there).

    Examples
    --------
    >>> round(runoff_depth(50.0, 80.0), 2)
    13.8
    >>> runoff_depth(20.0, 70.0)
    0.0
    """
    refuse_outside(initial_abstraction, "initial_abstraction", "1", least=0, most=1)

    def formula(P, number):
        refuse_outside(P, "rain", "mm", least=0)
        S = _retention(number)
        effective = P - initial_abstraction * S
        below = np.where(effective > 0, effective + S, 1.0)  # where nothing runs off it can be 0
        return np.where(effective > 0, effective**2 / below, np.where(np.isnan(effective), np.nan, 0.0))

    return describe(cellwise(formula, rain, curve_number), RUNOFF)


def runoff_of_record(
    rain: np.ndarray, curve_number: Numeric, *, initial_abstraction: float = INITIAL_ABSTRACTION
) -> Numeric:
    """Depth of runoff of a whole record, each day taken as a storm of its own.

    Parameters
    ----------
    rain : array, shape (T,)
        Rain of each day. A missing day is refused: it is not a dry day. [mm]
    curve_number : float or array, any shape
        Above 0, at most 100. [1]
    initial_abstraction : float
        As in `runoff_depth`. [1]

    Returns
    -------
    same kind and shape as `curve_number`
        Sum over the record; NaN where the curve number is not known. [mm]

    Raises
    ------
    ValueError
        As `runoff_depth`, and if a day of rain is missing.

    Notes
    -----
    No moisture is carried from day to day, so that wet spells give too little. A storm over midnight is cut in two,
    which also gives too little. The curve number of a yearly total of rain means nothing: give the days.

    Examples
    --------
    >>> round(runoff_of_record([50.0, 0.0, 20.0], 80.0), 2)
    14.56
    """
    rain = np.atleast_1d(np.asarray(rain, np.float64))
    missing = np.flatnonzero(np.isnan(rain))
    if missing.size:
        raise ValueError(
            f"rain: {missing.size} of {rain.size} days are missing, the first at index {missing[0]}. A missing day is "
            "not a dry day: fill it from a gauge nearby, or give a record without gaps."
        )
    refuse_outside(rain, "rain", "mm", least=0)
    days = rain[rain > 0]

    def formula(number):
        _refuse_curve_number(number)
        # a grid of millions of cells holds few curve numbers, and a year of grids at once would not fit
        once, place = np.unique(number, return_inverse=True)
        total = np.where(np.isnan(once), np.nan, 0.0)
        for day in days:
            total += runoff_depth(day, once, initial_abstraction=initial_abstraction)
        return total[place].reshape(number.shape)

    refuse_outside(initial_abstraction, "initial_abstraction", "1", least=0, most=1)
    return describe(cellwise(formula, curve_number), RUNOFF)


def composite_curve_number(pervious_curve_number: Numeric, impervious_share: Numeric) -> Numeric:
    """Curve number of ground that is paved in part, the paved part draining straight to the water.

    Parameters
    ----------
    pervious_curve_number : float or array, any shape
        Curve number of the ground that is not paved. [1]
    impervious_share : float or array, broadcast
        0 to 1. [1]

    Returns
    -------
    same kind as what was given
        NaN where either is not known. Not rounded. [1]

    Raises
    ------
    ValueError
        If a value is outside its range; a share in per cent is told.

    Notes
    -----
    CN = CNp + share (98 - CNp). For paved ground that drains over lawns first it gives too much.

    References
    ----------
    Technical Release 55 (1986), Figure 2-3; the rows of Table 2-2a are this, rounded, but for one
    (lots of 1/3 acre on group D: 86 printed, 85.4 computed).

    Examples
    --------
    >>> round(composite_curve_number(61.0, 0.38), 2)
    75.06
    """

    def formula(number, share):
        _refuse_curve_number(number)
        refuse_outside(share, "impervious_share", "1", least=0, most=1, advice="Divide a percentage by 100.")
        return number + share * (PAVED - number)

    return describe(cellwise(formula, pervious_curve_number, impervious_share), CURVE_NUMBER)


def area_weighted_curve_number(curve_number: np.ndarray, area: np.ndarray) -> float:
    """Mean curve number of pieces of land, weighted by their areas.

    Parameters
    ----------
    curve_number : array, shape (n,)
        Above 0, at most 100. [1]
    area : array, shape (n,)
        In any one unit.

    Returns
    -------
    float
        Not rounded; NaN if a piece with an area has no curve number. [1]

    Raises
    ------
    ValueError
        If an area is missing or below 0, no piece has an area, or a curve number is outside its range.

    Examples
    --------
    >>> area_weighted_curve_number([61, 74], [75, 175])
    70.1
    """
    number, weight = np.broadcast_arrays(np.asarray(curve_number, np.float64), np.asarray(area, np.float64))
    _refuse_curve_number(number)
    refuse_outside(weight, "area", "1", least=0)
    if np.isnan(weight).any() or not weight.sum() > 0:
        raise ValueError("area: found a missing area, or none above 0. Give the area of every piece of land.")
    counted = weight > 0
    return float(np.sum(number[counted] * weight[counted]) / weight.sum())


def _retention(number: np.ndarray) -> np.ndarray:
    _refuse_curve_number(number)
    return 25_400 / number - 254


def _refuse_curve_number(number: np.ndarray) -> None:
    refuse_outside(number, "curve_number", "1", above=0, most=100)
