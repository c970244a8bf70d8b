"""High and low waters: the turning points of a series of levels, and the higher one of each tidal day."""

from __future__ import annotations

import numpy as np

TIDAL_DAY = 24.84  # hours of a mean lunar day
# a high water stands at least so far above the low waters beside it, and so long from them: 0.1 foot and two hours
# are the practice of the tabulation of tides in the United States (from memory)
LEAST_RISE, LEAST_INTERVAL = 0.03, 2.0  # [m], [hours]


def turning_points(levels: np.ndarray, step: float) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """High and low waters of a series in turn, those at its two ends left out.

    Parameters
    ----------
    levels : array, shape (n,)
        Water levels in order of time, at equal steps, without gaps. [m]
    step : float
        Time from one level to the next. [hour]

    Returns
    -------
    (k,) float64
        Their times after the first level. [hour]
    (k,) float64
        Their heights. [m]
    (k,) bool
        True for high waters.

    Notes
    -----
    From one to the next the level changes by `LEAST_RISE` or more; two that follow within `LEAST_INTERVAL` are no
    high and low water of a tide, and the higher (lower) of the high (low) waters beside them stays. A parabola
    through the three levels at each gives its time and height.

    Examples
    --------
    >>> levels = np.array([0.0, 1, 2, 1, 0, -1, 0, 0.01, 0, 1])
    >>> turning_points(levels, step=2)
    (array([ 4., 10.]), array([ 2., -1.]), array([ True, False]))
    """
    levels = np.asarray(levels, np.float64)
    points = _without_short_waits(_reversals(levels.tolist()), levels, LEAST_INTERVAL / step)
    inner = np.array(points[1:-1], int)
    before, here, after = levels[inner - 1], levels[inner], levels[inner + 1]
    # a turning point is the first of equal levels, so it stands out from the one before and the bend is not nothing
    bend = before - 2 * here + after
    shift = 0.5 * (before - after) / bend
    return (inner + shift) * step, here - 0.25 * (before - after) * shift, bend < 0


def mean_of_highest(times: np.ndarray, heights: np.ndarray, length: float) -> float | None:
    """Mean over the tidal days of the highest of `heights` in each; None where no whole day has one.

    Parameters
    ----------
    times, heights : (k,) float
        High waters: when, after the first level, and how high. For low waters give heights with the sign turned.
        [hour], [m]
    length : float
        From the first level to the last. [hour]

    Notes
    -----
    Days of `TIDAL_DAY` begin midway between the high waters of the half day, so that no high water falls now into
    one day and now into the next. A day with one high water has it for its highest, a day without one is left out,
    and so are the hours at both ends that are no whole day.

    Examples
    --------
    >>> mean_of_highest(np.arange(6) * 12.42 + 6.21, np.array([1.0, 2, 1, 2, 1, 2]), length=6 * 12.42)
    2.0
    """
    if not len(times):
        return None
    half = TIDAL_DAY / 2
    middle = np.angle(np.exp(2j * np.pi * times / half).sum()) / (2 * np.pi) * half
    start = (middle + half / 2) % half
    # high waters evenly spaced from the first level on put the start at 0 but for rounding
    start = 0.0 if half - start < 1e-6 else start
    day = np.floor((times - start) / TIDAL_DAY).astype(int)
    whole = (day >= 0) & (start + (day + 1) * TIDAL_DAY <= length + 1e-6)
    if not whole.any():
        return None
    highest = np.full(day[whole].max() + 1, -np.inf)
    np.maximum.at(highest, day[whole], heights[whole])
    return float(highest[np.isfinite(highest)].mean())


def _reversals(levels: list[float]) -> list[int]:
    """Where the level turns and goes `LEAST_RISE` the other way; the last is the turn that may still come."""
    points, high, low, rises = [], 0, 0, None
    for i, level in enumerate(levels):
        if level > levels[high]:
            high = i
        if level < levels[low]:
            low = i
        if rises is not False and levels[high] - level >= LEAST_RISE:
            points.append(high)
            rises, low = False, i
        elif rises is not True and level - levels[low] >= LEAST_RISE:
            points.append(low)
            rises, high = True, i
    return [*points, high if rises else low]


def _without_short_waits(points: list[int], levels: np.ndarray, least: float) -> list[int]:
    """`points` with every pair that is fewer than `least` steps apart taken out."""
    kept: list[int] = []
    for point in points:
        kept.append(point)
        while len(kept) >= 4 and kept[-2] - kept[-3] < least:
            first, one, other, last = kept[-4:]
            sign = 1 if levels[one] > levels[first] else -1
            # first and other are of a kind, so are one and last: of each kind the farther out stays
            kept[-4:] = [
                other if sign * levels[other] < sign * levels[first] else first,
                one if sign * levels[one] > sign * levels[last] else last,
            ]
    return kept
