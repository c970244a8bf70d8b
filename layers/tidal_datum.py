"""The levels that sum up a tide: mean high and low water, mean sea level, and what kind of tide it is.

They stand above the datum of the levels they are worked out from. Where the water has no tide there are no high and
low waters of the half day, and none are made up.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from layers.cellwise import Numeric, cellwise
from layers.high_water import LEAST_RISE, TIDAL_DAY, mean_of_highest, turning_points
from layers.quantity import HIGH_WATER_DEPTH, LOW_WATER_DEPTH, describe
from layers.water import constituent_speed

SHORTEST_RECORD = 7  # tidal days; in fewer, the weather may pass for a tide
LONGEST_STEP = 3.0  # hours; a half-day's rise and fall is not seen in fewer than four levels
# what swings within a day is called a tide where the four great constituents make up half of it (our choice)
TIDAL_SHARE = 0.5
NOTHING = 1e-12  # [m2], the variance of levels that are all the same but for rounding
DAYS_TO_PART_SUN_AND_MOON = 15  # shorter records do not tell S2 from M2, nor O1 from K1
# Courtier's four types; limits by common practice
TYPES = (
    (0.25, "semidiurnal"),
    (1.5, "mixed, mainly semidiurnal"),
    (3.0, "mixed, mainly diurnal"),
    (np.inf, "diurnal"),
)


@dataclass(frozen=True, kw_only=True)
class TidalDatums:
    """Datums of a series of water levels, above its own datum. [m]

    The four of high and low water are None where no tide is seen; `said` tells why, or from what they come.
    """

    highest: float
    lowest: float
    mean_sea_level: float  # the mean of all levels, in a river too
    mean_high_water: float | None = None
    mean_low_water: float | None = None
    mean_higher_high_water: float | None = None
    mean_lower_low_water: float | None = None
    said: str

    @property
    def has_tide(self) -> bool:
        """True if the levels show a tide."""
        return self.mean_high_water is not None

    @property
    def mean_range(self) -> float | None:
        """Mean high water less mean low water; None without a tide. [m]"""
        return self.mean_high_water - self.mean_low_water if self.has_tide else None


def tidal_datums(levels: np.ndarray, step: float) -> TidalDatums:
    """Tidal datums of a series of water levels, by its own high and low waters.

    Parameters
    ----------
    levels : array, shape (n,)
        Water levels in order of time, at equal steps, without gaps. [m]
    step : float
        Time from one level to the next. [hour]

    Returns
    -------
    TidalDatums
        Above the datum of `levels`. [m]

    Raises
    ------
    ValueError
        If a level is missing, `step` is not greater than 0, or the record is shorter than `SHORTEST_RECORD` tidal
        days.

    Notes
    -----
    Mean high (low) water is the mean of all high (low) waters, mean higher high (lower low) water that of the higher
    (lower) one of each tidal day; where a day has one only, that one counts. Mean sea level is the mean of the levels.
    The full datums are means over 19 years; those of a shorter record are its own, and the range of a single year
    is some per cent off.

    High and low waters and tidal days are those of `layers.high_water`; levels an hour apart give a high water of the
    half day to 0.1 % of its amplitude. Where the second high and low water of the day come and go, how many of them
    count hangs on the least rise, and mean high and low water with them: a year predicted for St. Petersburg, Florida,
    has a mean range of 0.41 m by this, 0.46 m if only changes of 0.06 m count, and 0.485 m was published. Mean higher
    high and lower low water do not hang on it.

    A tide is seen where M2, S2, K1 and O1, fitted by least squares, make up at least half the variance of the levels
    about their running mean of a tidal day, with a range of at least `LEAST_RISE`. A daily rise and fall by another
    cause, such as a dam or a sea breeze, cannot be told from a tide by this.

    References
    ----------
    NOAA Special Publication NOS CO-OPS 1 (2001), Tidal datums and their applications: definitions from memory.

    Examples
    --------
    >>> hours = np.arange(24 * 60)
    >>> tide = tidal_datums(0.2 + 0.5 * np.cos(2 * np.pi * hours / 12.42), step=1)
    >>> round(tide.mean_high_water, 2), round(tide.mean_low_water, 2), round(tide.mean_range, 2)
    (0.7, -0.3, 1.0)
    >>> river = tidal_datums(3 + np.sin(2 * np.pi * np.arange(365) / 365), step=24)
    >>> river.mean_low_water is None, river.said
    (True, 'steps of 24 h are too long to see a tide in')
    """
    levels = _checked(levels, step)
    plain = {"mean_sea_level": float(levels.mean())}
    extremes = {"highest": float(levels.max()), "lowest": float(levels.min())}
    if step > LONGEST_STEP:
        return TidalDatums(**plain, **extremes, said=f"steps of {step:g} h are too long to see a tide in")
    share, size = _tidal_part(levels, step)
    if share < TIDAL_SHARE or size < LEAST_RISE:
        said = f"no tide is seen: {share:.0%} of what varies within a day is tidal, with a range of {size:.3f} m"
        return TidalDatums(**plain, **extremes, said=said)
    times, heights, is_high = turning_points(levels, step)
    highs, lows, length = heights[is_high], heights[~is_high], (len(levels) - 1) * step
    higher = mean_of_highest(times[is_high], highs, length)
    lower = mean_of_highest(times[~is_high], -lows, length)
    if higher is None or lower is None:
        return TidalDatums(**plain, **extremes, said="no whole tidal day has a high and a low water")
    return TidalDatums(
        **plain,
        # a crest between two levels stands above both
        highest=max(extremes["highest"], float(highs.max())),
        lowest=min(extremes["lowest"], float(lows.min())),
        mean_high_water=float(highs.mean()),
        mean_low_water=float(lows.mean()),
        mean_higher_high_water=higher,
        mean_lower_low_water=-lower,
        said=f"{len(highs)} high and {len(lows)} low waters of {len(levels) * step / TIDAL_DAY:.1f} tidal days",
    )


def form_number(amplitudes: Mapping[str, float]) -> float:
    """How much of a tide is daily beside half-daily: (K1 + O1) / (M2 + S2).

    Parameters
    ----------
    amplitudes : mapping of name to amplitude
        At least M2, S2, K1 and O1, in one unit; others are not used.

    Returns
    -------
    float
        0 or more; infinite where there is no half-daily tide. [1]

    Raises
    ------
    ValueError
        If one of the four is absent, or not a number from 0 up, or all are 0.

    Examples
    --------
    >>> round(form_number({"M2": 1.0, "S2": 0.3, "K1": 0.2, "O1": 0.15}), 6)
    0.269231
    """
    known = {name.strip().upper(): float(amplitude) for name, amplitude in amplitudes.items()}
    absent = [name for name in ("M2", "S2", "K1", "O1") if name not in known]
    if absent:
        raise ValueError(f"amplitudes: {', '.join(absent)} is absent. A form number needs M2, S2, K1 and O1.")
    four = {name: known[name] for name in ("M2", "S2", "K1", "O1")}
    for name, amplitude in four.items():
        if not 0 <= amplitude < np.inf:
            raise ValueError(f"amplitudes: {name} is {amplitude:g}. An amplitude is 0 or more.")
    daily, half_daily = four["K1"] + four["O1"], four["M2"] + four["S2"]
    if daily == half_daily == 0:
        raise ValueError("amplitudes: all four are 0, so there is no tide to classify.")
    return daily / half_daily if half_daily else np.inf


def tide_type(form: float) -> str:
    """Name of the kind of tide that has this form number.

    Notes
    -----
    Below 0.25 semidiurnal, below 1.5 mixed and mainly semidiurnal, below 3 mixed and mainly diurnal, else diurnal.

    References
    ----------
    Courtier, A., Classification of tides in four types, International Hydrographic Review (title seen, not read): the
    limits are common practice.

    Examples
    --------
    >>> tide_type(0.269231)
    'mixed, mainly semidiurnal'
    """
    if not form >= 0:
        raise ValueError(f"form number: found {form:g}. It is 0 or more.")
    return next((name for limit, name in TYPES if form < limit), TYPES[-1][1])


def high_water_depth(bed: Numeric, mean_high_water: float) -> Numeric:
    """Depth of the bed below mean high water, positive down; negative where it stands above, NaN kept. [m]

    `bed` is an elevation, positive up, of any kind and shape; the level stands above the same datum. [m]

    Examples
    --------
    >>> high_water_depth(-0.5, 0.75)
    1.25
    """
    return describe(_below(bed, mean_high_water, "mean high water"), HIGH_WATER_DEPTH)


def low_water_depth(bed: Numeric, mean_low_water: float) -> Numeric:
    """Depth of the bed below mean low (or mean lower low) water; else as `high_water_depth`. [m]

    Examples
    --------
    >>> low_water_depth(-0.5, -0.75)  # a flat that dries
    -0.25
    """
    return describe(_below(bed, mean_low_water, "mean low water"), LOW_WATER_DEPTH)


def _below(bed: Numeric, level: float | None, name: str) -> Numeric:
    if level is None or not np.isfinite(level):
        raise ValueError(f"{name}: found {level}. A level is needed; water without a tide has no {name}.")
    return cellwise(lambda elevation: level - elevation, bed)


def _checked(levels: np.ndarray, step: float) -> np.ndarray:
    levels = np.asarray(levels, np.float64)
    if not 0 < step < np.inf:
        raise ValueError(f"step: found {step:g} h. It must be greater than 0.")
    missing = int((~np.isfinite(levels)).sum())
    if missing:
        raise ValueError(
            f"levels: {missing:,} of {len(levels):,} are not a number. Give a part of the record without gaps: "
            "high and low waters cannot be told from levels that are not at equal steps."
        )
    if len(levels) * step < SHORTEST_RECORD * TIDAL_DAY:
        raise ValueError(
            f"levels: found {len(levels):,} levels of {step:g} h, {len(levels) * step / 24:.1f} days. At least "
            f"{SHORTEST_RECORD} tidal days ({SHORTEST_RECORD * TIDAL_DAY / 24:.1f} days) are needed. Is the step in "
            "hours?"
        )
    return levels


def _tidal_part(levels: np.ndarray, step: float) -> tuple[float, float]:
    """Share of the variance within a day that the great constituents make up [1], and their range [m]."""
    width = round(TIDAL_DAY / step)
    slow = np.convolve(levels, np.full(width, 1 / width), mode="valid")
    fast = levels[width // 2 :][: len(slow)] - slow
    names = ("M2", "S2", "K1", "O1") if len(levels) * step >= 24 * DAYS_TO_PART_SUN_AND_MOON else ("M2", "K1")
    turns = np.outer(np.arange(len(fast)) * step, np.deg2rad([constituent_speed(name) for name in names]))
    terms = np.hstack([np.ones((len(fast), 1)), np.cos(turns), np.sin(turns)])
    tide = terms @ np.linalg.lstsq(terms, fast, rcond=None)[0]
    whole = float(fast.var())
    share = 1 - float((fast - tide).var()) / whole if whole > NOTHING else 0.0
    return share, float(np.ptp(tide))
