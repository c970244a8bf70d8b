"""Habitat units over the years of a project: what a place gives with it and without it, year by year.

A proposal does not take habitat at one moment: works spread, wounds heal, a place may have been losing ground anyway.
Area and index are told for a few target years, run straight between them, and are added up over the whole period.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

from layers.cellwise import Numeric, cellwise, refuse_outside

FULL_EFFECT = 1.0  # works are felt in full by the end of their first year, unless they are done sooner [year]
_SAME = 1e-9  # relative difference below which two numbers of year 0 are the same number, worked out twice


@dataclass(frozen=True, kw_only=True)
class TargetYear:
    """Habitat in one year.

    Raises
    ------
    ValueError
        If the year or the area is below 0, the index is outside 0 to 1, or one of them is not a number.
    """

    year: float  # from the baseline, which is year 0 [year]
    hectares: float
    index: float  # mean suitability over the area, 0 to 1; 0 where no area is left [1]

    def __post_init__(self):
        for value, name, units, most in (
            (self.year, "year", "1", None),
            (self.hectares, "area", "ha", None),
            (self.index, "index", "1", 1),
        ):
            if not value == value:
                raise ValueError(f"{name}: found no number. A target year needs its year, its area and its index.")
            refuse_outside(value, name, units, least=0, most=most)

    @property
    def habitat_units(self) -> float:
        """Index times area in that year. [ha]"""
        return self.hectares * self.index


def interval_habitat_units(
    years: Numeric, first_area: Numeric, last_area: Numeric, first_index: Numeric, last_index: Numeric
) -> Numeric:
    """Habitat units summed over the years between two target years.

    Parameters
    ----------
    years : float or array, any shape
        Length of the interval. [year]
    first_area, last_area : float or array, broadcast
        Area of habitat at its begin and end. [ha]
    first_index, last_index : float or array, broadcast
        Mean index over that area at its begin and end, 0 to 1. [1]

    Returns
    -------
    same kind and shape
        NaN where any is NaN (no data). [ha*year]

    Raises
    ------
    ValueError
        If a length or an area is below 0 or an index outside 0 to 1.

    Notes
    -----
    HU = (T2 - T1) [(A1 H1 + A2 H2) / 3 + (A2 H1 + A1 H2) / 6]. It is the exact integral of area times index where both
    run straight. The mean of the units at both ends, or mean area times mean index, is wrong as soon as both change.

    References
    ----------
    U.S. Fish and Wildlife Service 1980, Habitat Evaluation Procedures, ESM 102. The formula is from memory; that it is
    the integral is tested.

    Examples
    --------
    >>> round(interval_habitat_units(10, 100, 50, 0.8, 0.2), 6)
    400.0
    """

    def units(years, first_area, last_area, first_index, last_index):
        refuse_outside(years, "interval", "years", least=0)
        for area in (first_area, last_area):
            refuse_outside(area, "area", "ha", least=0)
        for index in (first_index, last_index):
            refuse_outside(index, "index", "1", least=0, most=1)
        alike = first_area * first_index + last_area * last_index
        crossed = last_area * first_index + first_area * last_index
        return years * (alike / 3 + crossed / 6)

    return cellwise(units, years, first_area, last_area, first_index, last_index)


def total_habitat_units(targets: Sequence[TargetYear]) -> float:
    """Habitat units summed over the whole period of analysis. [ha*year]

    Raises
    ------
    ValueError
        If there are fewer than two target years, the first is not year 0, or a year does not come after the one before.
    """
    _require_order(targets)
    return sum(
        interval_habitat_units(
            last.year - first.year, first.hectares, last.hectares, float(first.index), float(last.index)
        )
        for first, last in pairwise(targets)
    )


def average_annual_habitat_units(targets: Sequence[TargetYear]) -> float:
    """Habitat units of a mean year: the total over the period of analysis, divided by its length. [ha]

    Raises
    ------
    ValueError
        As `total_habitat_units`.

    Examples
    --------
    >>> without = [(0, 1000, 0.5), (1, 1000, 0.5), (20, 900, 0.45), (50, 800, 0.4)]
    >>> round(average_annual_habitat_units([TargetYear(year=t, hectares=a, index=h) for t, a, h in without]), 5)
    398.63333
    """
    return total_habitat_units(targets) / targets[-1].year


def net_annual_habitat_units(with_project: Sequence[TargetYear], without: Sequence[TargetYear]) -> float:
    """What the project changes in a mean year: below 0 where habitat is lost. [ha]

    Raises
    ------
    ValueError
        As `total_habitat_units`, and if the two differ at year 0 or do not end in the same year: a project changes
        nothing before it begins, and a longer period would dilute what it does.
    """
    for targets in (with_project, without):
        _require_order(targets)
    ours, theirs = with_project[0], without[0]
    for mine, other, what, unit in (
        (ours.hectares, theirs.hectares, "area", " ha"),
        (ours.index, theirs.index, "index", ""),
    ):
        if abs(mine - other) > _SAME * max(mine, other):
            raise ValueError(
                f"year 0: the {what} is {mine:.6g}{unit} with the project and {other:.6g}{unit} without. "
                "Year 0 is before the project, so the two must be the same."
            )
    if with_project[-1].year != without[-1].year:
        raise ValueError(
            f"the period ends in year {with_project[-1].year:g} with the project and in year {without[-1].year:g} "
            "without. Tell both to the same year."
        )
    return average_annual_habitat_units(with_project) - average_annual_habitat_units(without)


def unchanged_years(hectares: float, index: float, *, period: float) -> list[TargetYear]:
    """Target years of a place that stays as it is, for want of anything known about its future.

    Parameters
    ----------
    hectares, index : float
        Of the baseline. [ha], [1]
    period : float
        Period of analysis. [year]
    """
    _require_period(period)
    return [TargetYear(year=year, hectares=hectares, index=index) for year in (0.0, float(period))]


def recovery_years(
    before: tuple[float, float],
    after: tuple[float, float],
    *,
    construction: float,
    recovery: float | None,
    period: float,
    recovered: tuple[float, float] | None = None,
) -> list[TargetYear]:
    """Target years of a project: the baseline, the works, the recovery and what is left at the end.

    Parameters
    ----------
    before, after : (hectares, index)
        Area of habitat and mean index over it, without the project and with all of it built. [ha], [1]
    construction : float
        Length of the works. [year]
    recovery : float or None
        From the end of the works until the place is what it will be again; None if it never recovers. [year]
    period : float
        Period of analysis; a recovery that takes longer is cut off there. [year]
    recovered : (hectares, index), optional
        What it recovers to. By default `before`: say so only where everything does grow back. A channel that stays
        dug, a claim that stays land, do not recover, and `recovered` is then what `after` and they leave.

    Returns
    -------
    list of TargetYear
        In order, the first year 0, the last `period`.

    Raises
    ------
    ValueError
        If a length is not above 0, the works last longer than the period, or an area or an index is impossible.

    Notes
    -----
    The careful reading: the loss is whole by the end of the first year of works (or of the works, if they are shorter),
    lasts while they do, and recovery begins when they end. Area and index each recover in a straight line. No source:
    a convention of this project, to be replaced by a table of what is known.

    Examples
    --------
    >>> for target in recovery_years((100, 0.8), (60, 0.5), construction=2, recovery=10, period=50):
    ...     print(target.year, target.hectares, target.index)
    0.0 100 0.8
    1.0 60 0.5
    2.0 60 0.5
    12.0 100 0.8
    50.0 100 0.8
    """
    _require_period(period)
    _require_length(construction, "construction")
    if construction > period:
        raise ValueError(
            f"construction: the works take {construction:g} years and the period of analysis is {period:g}. "
            "Lengthen the period: what happens after the works is most of what is asked."
        )
    recovered = before if recovered is None else recovered
    states = {0.0: before, min(FULL_EFFECT, float(construction)): after, float(construction): after}
    if recovery is None:
        states[float(period)] = after
    else:
        _require_length(recovery, "recovery")
        healed = float(construction + recovery)
        if healed <= period:
            states[healed] = recovered
            states[float(period)] = recovered
        elif construction < period:
            share = (period - construction) / recovery
            states[float(period)] = tuple(
                start + share * (end - start) for start, end in zip(after, recovered, strict=True)
            )
    return [TargetYear(year=year, hectares=area, index=index) for year, (area, index) in sorted(states.items())]


def _require_order(targets: Sequence[TargetYear]) -> None:
    if len(targets) < 2:
        raise ValueError(f"target years: found {len(targets)}. At least the baseline and the end are needed.")
    if targets[0].year != 0:
        raise ValueError(f"target years: the first is year {targets[0].year:g}. Begin with the baseline, year 0.")
    for first, last in pairwise(targets):
        if not last.year > first.year:
            raise ValueError(
                f"target years: year {last.year:g} comes after year {first.year:g}. Put them in order, each once."
            )


def _require_period(period: float) -> None:
    _require_length(period, "period of analysis")


def _require_length(years: float, name: str) -> None:
    refuse_outside(years, name, "years", above=0)
    if not years == years:
        raise ValueError(f"{name}: found no number. Give years above 0.")
