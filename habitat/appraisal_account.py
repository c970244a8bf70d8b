"""All that an appraisal has to say, worked out once: what the page, the report and the command line show."""

from __future__ import annotations

import math
from dataclasses import dataclass, field
from typing import TYPE_CHECKING

import geopandas as gpd
import pandas as pd
import shapely

from habitat.appraisal_tables import causes, class_changes, crossings, unit_changes
from habitat.appraisal_years import Course, year_tables, zone_years
from habitat.conditions import Conditions, Finding, findings
from habitat.presence import Presence, presence_near, site_presence
from habitat.site_zones import site_zones
from habitat.ways import nearest_good_habitat, ways_to_fresh_water
from layers.feeds import FEEDS

if TYPE_CHECKING:
    from habitat.appraisal import Appraisal
    from habitat.proposal import Feature
    from habitat.site_map import SiteMap

PERIOD = 50.0  # of analysis [year]; a convention, from memory: that of the agencies which made the interval formula
LEAST_CONSTRUCTION = 1.0  # years; expert judgement
_CELLS_OF_A_CHANNEL = 3  # across a strip, of which at least one then lies wholly in it


@dataclass(frozen=True, kw_only=True)
class Account:
    """The tables and sentences of an appraisal. Tables are those of `habitat.appraisal_tables` and `habitat.ways`."""

    appraisal: Appraisal = field(repr=False)
    units: pd.DataFrame  # habitat units, one row a season; what threat leaves is NaN where no cell has a threat
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

    @property
    def knows_threat(self) -> bool:
        """Whether any cell has a threat, so that it can be told what threat leaves."""
        return bool(self.units["spared_before"].notna().any())


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
    knows_threat = bool(before.assessment["threat"].notnull().any())
    units = _told(unit_changes(before.assessment, after.assessment), knows_threat)
    table = site_presence(before)
    whole = shapely.union_all([feature.shape for feature in features])
    classes_by_zone = pd.DataFrame() if zones is None else class_changes(before.assessment, after.assessment, zones)
    course = Course(construction=construction, recovery=recovery, period=period)
    targets, years = year_tables(units, before, course)
    moves = pd.concat(
        [crossings(before.assessment, after.assessment, kind).assign(kind=kind) for kind in ("suitability", "threat")],
        ignore_index=True,
    )
    return Account(
        appraisal=appraisal,
        units=units,
        shares=pd.concat(
            [
                _told(unit_changes(before.assessment, one.assessment), knows_threat).assign(proposal=one.name)
                for one in appraisal.alone
            ],
            ignore_index=True,
        ),
        classes=class_changes(before.assessment, after.assessment),
        classes_by_zone=classes_by_zone,
        moves=_in_order(moves, units["season"], "kind"),
        causes=_in_order(_told(causes(before, after), knows_threat), units["season"]),
        ways=_ways(before, after.site_map),
        nearest=_nearest(after.site_map, whole),
        targets=targets,
        years=years,
        zone_years=zone_years(classes_by_zone, course),
        period=period,
        construction=construction,
        recovery=recovery,
        conditions=tuple(findings(conditions, features, before, after.site_map)),
        conditions_title=conditions.title,
        unread=_unread(before, after.site_map),
        presence=None if table is None else presence_near(whole, table),
        remarks=(
            *(remark for proposal in appraisal.proposals for remark in proposal.remarks),
            *_narrow(features, before.inputs.site.grid.cell),
        ),
    )


def sentences(account: Account) -> list[str]:
    """The account in plain words, the most telling first."""
    said = []
    proposals = account.appraisal.proposals
    names = proposals[0].name if len(proposals) == 1 else f"this set of {len(proposals)} proposals"
    for row in account.units.itertuples():
        season = f"In the {row.season} season" if row.season else "Over the year"
        whole = f"{season} {names} {_took(row.units_change, row.units_before)} of the site's {row.units_before:,.0f} "
        left = (
            "what threat leaves of them cannot be told, as no cell has a threat: pressures that the profile asks for "
            "are on no file"
            if math.isnan(row.spared_before)
            else f"of the {row.spared_before:,.0f} that threat leaves, it {_took(row.spared_change, row.spared_before)}"
        )
        said.append(f"{whole}habitat units; {left}.")
    for query, what in (
        ("kind == 'suitability' and class_before == 'good habitat'", "of good habitat become something less"),
        ("kind == 'threat' and class_after == 'high threat'", "of water come under high threat"),
    ):
        sums = account.moves.query(query).groupby("season", sort=False)["hectares"].sum()
        parts = [f"{hectares:,.1f} ha{f' ({season} season)' if season else ''}" for season, hectares in sums.items()]
        if parts:
            said.append(f"{' and '.join(parts)} {what}.")
    column, worst = losses(account)
    if len(worst):
        first = worst.iloc[0]
        when = f", most in the {first.season} season" if first.season else ""
        said.append(f"What does it most is {first.label}{when}: alone it takes {-first[column]:,.1f} habitat units.")
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


def losses(account: Account) -> tuple[str, pd.DataFrame]:
    """What takes habitat, the most first: the column that says how much, and those rows of the causes.

    The column is what threat leaves or, where no threat is known, the habitat units themselves.
    """
    is_known = account.units["spared_before"].notna().any()
    column = "spared_change" if is_known else "units_change"
    worst = account.causes[account.causes[column] < 0]
    return column, worst.sort_values(column, kind="stable")


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


def _told(table: pd.DataFrame, knows_threat: bool) -> pd.DataFrame:
    """The table with what threat leaves blanked where no cell has a threat: not known is not nothing."""
    if knows_threat:
        return table
    return table.assign(**{column: math.nan for column in table.columns if column.startswith("spared_")})


def _took(change: float, before: float) -> str:
    if not before > 0 or abs(change) < 1e-9 * before:
        return "changes none"
    word, percent = "takes" if change < 0 else "adds", 100 * abs(change) / before
    amount = f"{abs(change):,.1f}" if abs(change) >= 0.05 else "less than 0.1"
    return f"{word} {amount} ({f'{percent:.2g}' if percent >= 0.01 else 'less than 0.01'} %)"


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


def _narrow(features: list[Feature], cell: float) -> list[str]:
    """Dredged areas that are not much wider than a cell, and what that does to the numbers."""
    said = []
    for feature in features:
        if feature.kind != "dredged area":
            continue
        # of the rectangle that has its area and its outline
        half = feature.shape.length / 2
        width = (half - math.sqrt(max(half**2 - 4 * feature.shape.area, 0))) / 2
        if width < _CELLS_OF_A_CHANNEL * cell:
            said.append(
                f"{feature.title}: it is about {width:,.0f} m wide, and a cell {cell:g} m. The volume dug is on the "
                "map, but a depth there is the mean of a cell that lies partly beside it, and so are the scores; only "
                "the water under a keel is that of the depth dug to. Appraise it on smaller cells."
            )
    return said


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
