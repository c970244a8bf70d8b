"""What a proposal does over the years: target years of the site, and what a mean year of the period loses.

The course of a project is that of `habitat.interval.recovery_years`; without it the place is taken to stay as it is.
"""

from __future__ import annotations

import math
from dataclasses import asdict, dataclass
from typing import TYPE_CHECKING

import pandas as pd

from habitat.interval import TargetYear, net_annual_habitat_units, recovery_years, unchanged_years

if TYPE_CHECKING:
    from habitat.site_map import SiteMap


@dataclass(frozen=True, kw_only=True)
class Course:
    """How a project goes through the years. [year]"""

    construction: float
    recovery: float | None  # from the end of the works until the place is what it was; None: it never is
    period: float  # of analysis


def year_tables(units: pd.DataFrame, before: SiteMap, course: Course) -> tuple[pd.DataFrame, pd.DataFrame]:
    """Target years, and net units of a mean year, of each season; the area of the site's water taken as it is.

    Parameters
    ----------
    units : DataFrame
        As `habitat.appraisal_tables.unit_changes` gives it; NaN of what threat leaves stays NaN.

    Returns
    -------
    targets, years : DataFrame
        Columns season, project ("with", "without"), year, hectares, index, units; and columns season,
        net_annual_units, net_annual_spared. [ha]
    """
    targets, net = [], []
    is_known = before.assessment["suitability"].notnull()
    is_known = is_known.any("season") if "season" in is_known.dims else is_known
    hectares = float(is_known.sum()) * before.inputs.site.grid.cell_hectares
    for row in units.itertuples():
        found = {"season": row.season}
        for name in ("units", "spared"):
            totals = (getattr(row, f"{name}_before"), getattr(row, f"{name}_after"))
            if math.isnan(totals[0]):
                found[f"net_annual_{name}"] = math.nan
                continue
            without, with_project = _courses(*totals, hectares, course)
            found[f"net_annual_{name}"] = net_annual_habitat_units(with_project, without)
            if name == "units":
                targets += [
                    (row.season, project, one.year, one.hectares, one.index, one.habitat_units)
                    for project, states in (("without", without), ("with", with_project))
                    for one in states
                ]
        net.append(found)
    columns = ["season", "project", "year", "hectares", "index", "units"]
    return pd.DataFrame(targets, columns=columns), pd.DataFrame(net)


def zone_years(classes: pd.DataFrame, course: Course) -> pd.DataFrame:
    """Net units of a mean year of each zone, its water taken as it is."""
    rows = []
    if len(classes):
        known = classes[(classes["kind"] == "suitability") & classes["units_before"].notna()]
        for (zone, season), part in known.groupby(["zone", "season"], sort=False):
            totals = part["units_before"].sum(), part["units_after"].sum()
            hectares = max(part["hectares_before"].sum(), part["hectares_after"].sum())
            without, with_project = _courses(*totals, hectares, course)
            rows.append((zone, season, net_annual_habitat_units(with_project, without)))
    return pd.DataFrame(rows, columns=["zone", "season", "net_annual_units"])


def _courses(before: float, after: float, hectares: float, course: Course) -> tuple[list[TargetYear], list[TargetYear]]:
    """Target years without and with the project, from habitat units before and after."""
    states = [(hectares, total / hectares if hectares else 0.0) for total in (before, after)]
    return unchanged_years(*states[0], period=course.period), recovery_years(*states, **asdict(course))
