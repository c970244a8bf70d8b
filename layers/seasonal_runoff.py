"""Runoff of each season from a record of daily rain, as a year's rate."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

import numpy as np
import pandas as pd

from layers.runoff import INITIAL_ABSTRACTION, runoff_of_record

YEAR = "year"
DAYS_OF_MONTH = (31, 28.25, 31, 30, 31, 30, 31, 31, 30, 31, 30, 31)
DAYS_OF_YEAR = 365.25


def share_of_year(months: Sequence[int]) -> float:
    """Share of the year that months, 1 to 12, take up. [1]

    Examples
    --------
    >>> round(share_of_year([11, 12, 1, 2, 3, 4]), 4)
    0.4962
    """
    return sum(DAYS_OF_MONTH[month - 1] for month in months) / DAYS_OF_YEAR


def seasonal_runoff(
    rain: pd.Series,
    curve_number: np.ndarray,
    seasons: Mapping[str, Sequence[int]],
    *,
    initial_abstraction: float = INITIAL_ABSTRACTION,
) -> dict[str, np.ndarray]:
    """Runoff of the year and of each season, as what would run off in a year at that rate.

    Parameters
    ----------
    rain : Series with dates
        Rain of each day, without a gap, for a year at least. [mm]
    curve_number : array, any shape
        Above 0, at most 100; NaN where it is not known. [1]
    seasons : mapping of name to months
        Such as {"wet": [11, 12, 1, 2, 3, 4], "dry": [5, 6, 7, 8, 9, 10]}; may be empty. None is called "year".
    initial_abstraction : float
        As in `runoff_depth`. [1]

    Returns
    -------
    dict of "year" and season to array
        float32, NaN where the curve number is. A season that takes up half of the year and sees 200 mm run off has a
        rate of 400 mm/year; seasons, weighed by their share of the year, add up to the year. [mm/year]

    Raises
    ------
    ValueError
        If the record has no dates, a day is missing, stands twice or is not in order, it is shorter than a year, or a
        season is named "year" or has a month that there is not.

    Notes
    -----
    Each calendar month counts with its mean over the years of the record, so a record need not hold whole years.
    Every day is a storm of its own, as in `runoff_of_record`.

    Examples
    --------
    >>> rain = pd.Series(np.where(np.arange(365) < 1, 50.0, 0.0), pd.date_range("2021-01-01", periods=365))
    >>> seasonal_runoff(rain, np.array([80.0]), {})["year"].round(2).tolist()
    [13.800000190734863]
    """
    _refuse_record(rain)
    for name, months in seasons.items():
        if name == YEAR or not months or not set(months) <= set(range(1, 13)):
            raise ValueError(f'seasons: "{name}" has months {list(months)}. Months are 1 to 12, "{YEAR}" is taken.')
    days, month_of = rain.to_numpy(np.float64), rain.index.month.to_numpy()
    # a map of millions of cells holds few curve numbers
    numbers = np.asarray(curve_number, np.float64)
    once, place = np.unique(numbers, return_inverse=True)
    monthly = np.empty((12, once.size))
    for month in range(1, 13):
        chosen = days[month_of == month]
        depth = np.asarray(runoff_of_record(chosen, once, initial_abstraction=initial_abstraction))
        monthly[month - 1] = depth / chosen.size * DAYS_OF_MONTH[month - 1]
    rates = {YEAR: monthly.sum(axis=0)}
    for name, months in seasons.items():
        rates[name] = sum(monthly[month - 1] for month in months) / share_of_year(months)
    return {name: rate.astype(np.float32)[place].reshape(numbers.shape) for name, rate in rates.items()}


def _refuse_record(rain: pd.Series) -> None:
    if not isinstance(rain.index, pd.DatetimeIndex) or rain.index.hasnans:
        raise ValueError("rain: the record has no dates, or a day without one. Give a Series with a date for each day.")
    steps = np.diff(rain.index.normalize().to_numpy()) / np.timedelta64(1, "D")
    wrong = np.flatnonzero(steps != 1)
    if wrong.size:
        before, after = (rain.index[wrong[0] + one].date() for one in (0, 1))
        raise ValueError(
            f"rain: {after} follows {before}. Give every day once, in order: a missing day is not a dry day: fill it "
            "from a gauge nearby."
        )
    if rain.size < 365:
        raise ValueError(f"rain: found {rain.size} days. Give a year at least, so that every month is in the record.")
