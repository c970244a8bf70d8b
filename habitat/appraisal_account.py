"""All that an appraisal has to say, worked out once: what the page, the report and the command line show."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING

import geopandas as gpd
import pandas as pd
import shapely

from habitat.appraisal_tables import causes, class_changes, crossings, unit_changes
from habitat.conditions import Conditions, Finding, findings
from habitat.interval import TargetYear, net_annual_habitat_units, recovery_years, unchanged_years
from habitat.presence import Presence, presence_near, site_presence
from habitat.site_zones import site_zones
from habitat.ways import nearest_good_habitat, ways_to_fresh_water
from layers.feeds import FEEDS

if TYPE_CHECKING:
    from habitat.appraisal import Appraisal
    from habitat.site_map import SiteMap

PERIOD = 50.0  # of analysis [year]; a convention, from memory: that of the agencies which made the interval formula
LEAST_CONSTRUCTION = 1.0  # years; expert judgement


@dataclass(frozen=True, kw_only=True)
class Account:
    """The tables and sentences of an appraisal. Tables are those of `habitat.appraisal_tables` and `habitat.ways`."""

    appraisal: Appraisal = field(repr=False)
    units: pd.DataFrame  # habitat units, one row a season
    shares: pd.DataFrame  # the same for each proposal alone, with its name under `proposal`
    classes: pd.DataFrame  # hectares of every class, the whole site
    classes_by_zone: pd.DataFrame  # empty where the site has no zones
    moves: pd.DataFrame  # hectares that cross a class, with a column `kind`
    causes: pd.DataFrame
    ways: pd.DataFrame  # with a column `season`
    nearest: pd.DataFrame  # columns season, metres, hectares; NaN where no way leads to good habitat
    targets: pd.DataFrame  # target years; columns season, project ("with", "without"), year, hectares, index, units
    years: pd.DataFrame  # columns season, net_annual_units, net_annual_spared: of a mean year of the period [ha]
    zone_years: pd.DataFrame  # columns zone, season, net_annual_units; empty where the site has no zones
    period: float  # of analysis [year]
    construction: float  # of the works [year]
    recovery: float | None  # years to recover; None: it never does
    conditions: tuple[Finding, ...]
    conditions_title: str
    unread: tuple[str, ...]  # what is proposed and no layer of the profile looks at, in words
    presence: Presence | None  # None where the site has no file of sightings
    remarks: tuple[str, ...]


def account_of(
    appraisal: Appraisal,
    conditions: Conditions,
    *,
    period: float = PERIOD,
    construction: float | None = None,
    recovery: float | None = None,
) -> Account:
    """All that an appraisal has to say.

    Parameters
    ----------
    appraisal : Appraisal
    conditions : Conditions
        The rules that the proposals are held against.
    period : float
        Period of analysis. [year]
    construction : float, optional
        Length of the works; by default one year. [year]
    recovery : float, optional
        Years from the end of the works until the place is what it was. Without it the place never recovers. [year]
    """
    before, after = appraisal.before, appraisal.together
    zones = site_zones(before)
    features = [feature for proposal in appraisal.proposals for feature in proposal.features]
    construction = LEAST_CONSTRUCTION if construction is None else construction
    units = unit_changes(before.assessment, after.assessment)
    table = site_presence(before)
    whole = shapely.union_all([feature.shape for feature in features])
    classes_by_zone = pd.DataFrame() if zones is None else class_changes(before.assessment, after.assessment, zones)
    course = {"construction": construction, "recovery": recovery, "period": period}
    targets, years = _years(units, before, course)
    moves = pd.concat(
        [crossings(before.assessment, after.assessment, kind).assign(kind=kind) for kind in ("suitability", "threat")],
        ignore_index=True,
    )
    return Account(
        appraisal=appraisal,
        units=units,
        shares=pd.concat(
            [unit_changes(before.assessment, one.assessment).assign(proposal=one.name) for one in appraisal.alone],
            ignore_index=True,
        ),
        classes=class_changes(before.assessment, after.assessment),
        classes_by_zone=classes_by_zone,
        moves=_in_order(moves, units["season"], "kind"),
        causes=_in_order(causes(before, after), units["season"]),
        ways=_ways(before, after.site_map),
        nearest=_nearest(after.site_map, whole),
        targets=targets,
        years=years,
        zone_years=_zone_years(classes_by_zone, course),
        period=period,
        construction=construction,
        recovery=recovery,
        conditions=tuple(findings(conditions, features, before, after.site_map)),
        conditions_title=conditions.title,
        unread=_unread(before, after.site_map),
        presence=None if table is None else presence_near(whole, table),
        remarks=tuple(remark for proposal in appraisal.proposals for remark in proposal.remarks),
    )


def sentences(account: Account) -> list[str]:
    """The account in plain words, the most telling first."""
    said = []
    proposals = account.appraisal.proposals
    names = proposals[0].name if len(proposals) == 1 else f"this set of {len(proposals)} proposals"
    for row in account.units.itertuples():
        season = f"In the {row.season} season" if row.season else "Over the year"
        said.append(
            f"{season} {names} {_took(row.units_change, row.units_before)} of the site's {row.units_before:,.0f} "
            f"habitat units; of the {row.spared_before:,.0f} that threat leaves, it "
            f"{_took(row.spared_change, row.spared_before)}."
        )
    lost = account.moves.query("kind == 'suitability' and class_before == 'good habitat'")
    for season, part in lost.groupby("season", sort=False):
        when = f" in the {season} season" if season else ""
        said.append(f"{part['hectares'].sum():,.1f} ha of good habitat become something less{when}.")
    feared = account.moves.query("kind == 'threat' and class_after == 'high threat'")
    for season, part in feared.groupby("season", sort=False):
        when = f" in the {season} season" if season else ""
        said.append(f"{part['hectares'].sum():,.1f} ha of water come under high threat{when}.")
    worst = account.causes[account.causes["spared_change"] < 0]
    if len(worst):
        first = worst.sort_values("spared_change", kind="stable").iloc[0]
        when = f", most in the {first.season} season" if first.season else ""
        said.append(
            f"What does it most is {first.label}{when}: alone it takes {-first.spared_change:,.1f} habitat units."
        )
    barred = account.ways[account.ways["state"].isin(["longer", "closed"])]
    if len(barred):
        said.append(
            f"{len(barred)} ways from good habitat to fresh water get longer or close, for "
            f"{barred['hectares'].sum():,.0f} ha of it."
        )
    if account.unread:
        said.append(
            f"The profile does not look at {' nor at '.join(account.unread)}: whatever is proposed of it, no number "
            "here counts it."
        )
    broken = [finding for finding in account.conditions if finding.met is False]
    unknown = [finding for finding in account.conditions if finding.met is None and finding.form != "told"]
    said.append(
        f"Of the standing conditions ({account.conditions_title}), {len(broken)} are not met and {len(unknown)} cannot "
        "be told from the files of the site."
    )
    return said


def account_text(account: Account) -> str:
    """The account as plain text: the sentences, the tables, and the conditions that are not met."""
    lines = [f"{proposal.name}: {len(proposal.features)} features" for proposal in account.appraisal.proposals]
    lines += ["", *sentences(account), ""]
    for title, table in (
        ("Habitat units", account.units),
        ("Each proposal alone", account.shares if len(account.appraisal.alone) > 1 else account.shares.iloc[:0]),
        ("What does it", account.causes),
        ("Cells that cross a class", account.moves),
        ("Ways to fresh water that change", account.ways[account.ways["state"] != "as before"]),
        (f"Net habitat units a year over {account.period:g} years", account.years),
    ):
        if len(table):
            lines += [title, table.to_string(index=False, float_format="{:,.2f}".format), ""]
    lines += [str(finding) for finding in account.conditions if finding.met is not True]
    if account.presence is not None:
        lines += ["", str(account.presence)]
    lines += [f"Note: {remark}" for remark in account.remarks]
    lines += ["", "Screening-level evidence: local law and licensed practice decide."]
    return "\n".join(lines)


def _took(change: float, before: float) -> str:
    if not before > 0 or abs(change) < 1e-9 * before:
        return "changes none"
    word = "takes" if change < 0 else "adds"
    return f"{word} {abs(change):,.1f} ({100 * abs(change) / before:.2g} %)"


def _ways(before: SiteMap, after: SiteMap) -> pd.DataFrame:
    parts = []
    classes = before.assessment["suitability_class"]
    for season in classes["season"].values if "season" in classes.dims else [""]:
        chosen = classes.sel(season=season) if season else classes
        found = ways_to_fresh_water(before.derivation, after.derivation, chosen)
        parts.append(found.assign(season=str(season)))
    return pd.concat(parts, ignore_index=True)


def _nearest(after: SiteMap, whole: shapely.Geometry) -> pd.DataFrame:
    footprint = gpd.GeoSeries([whole], crs=after.inputs.site.grid.crs)
    classes = after.assessment["suitability_class"]
    rows = []
    for season in classes["season"].values if "season" in classes.dims else [""]:
        found = nearest_good_habitat(after.derivation, classes.sel(season=season) if season else classes, footprint)
        rows.append((str(season), *(found or (float("nan"), float("nan")))))
    return pd.DataFrame(rows, columns=["season", "metres", "hectares"])


def _years(units: pd.DataFrame, before: SiteMap, course: dict) -> tuple[pd.DataFrame, pd.DataFrame]:
    """Target years and net units of a mean year of each season, the area of the site's water taken as it is."""
    targets, net = [], []
    is_known = before.assessment["suitability"].notnull()
    is_known = is_known.any("season") if "season" in is_known.dims else is_known
    hectares = float(is_known.sum()) * before.inputs.site.grid.cell_hectares
    for row in units.itertuples():
        found = {"season": row.season}
        for name in ("units", "spared"):
            totals = (getattr(row, f"{name}_before"), getattr(row, f"{name}_after"))
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


def _zone_years(classes: pd.DataFrame, course: dict) -> pd.DataFrame:
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


def _courses(before: float, after: float, hectares: float, course: dict) -> tuple[list[TargetYear], list[TargetYear]]:
    """Target years without and with the project, from habitat units before and after."""
    states = [(hectares, total / hectares if hectares else 0.0) for total in (before, after)]
    return unchanged_years(*states[0], period=course["period"]), recovery_years(*states, **course)


def _in_order(table: pd.DataFrame, seasons: pd.Series, *first: str) -> pd.DataFrame:
    """Rows in the order of the site's seasons, within each as they were."""
    number = {season: place for place, season in enumerate(seasons)}
    keyed = table.assign(_place=table["season"].map(number))
    return keyed.sort_values([*first, "_place"], kind="stable", ignore_index=True).drop(columns="_place")


def _unread(before: SiteMap, after: SiteMap) -> tuple[str, ...]:
    """What the proposal adds to the site and no layer asks for, in the words of `layers.feeds`."""
    known = {entry.name for entry in before.inputs.site.files}
    added = (entry.feeds for entry in after.inputs.site.files if entry.name not in known)
    asked = set().union(*(after.derivation.trace(name).feeds for name in after.derivation.made))
    return tuple(dict.fromkeys(FEEDS[feed].label for feed in added if feed not in asked))
