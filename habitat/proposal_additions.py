"""What each feature of a proposal adds to the files of a site, as if what is proposed stood in them."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace
from pathlib import Path

import geopandas as gpd
import numpy as np
import shapely

from habitat.proposal_check import cover_codes
from habitat.proposal_feature import Feature, Proposal
from habitat.proposal_footing import dug_part, require_water, said_of_ground, with_opening
from habitat.proposal_works import work_table
from layers.feeds import FEEDS
from layers.inputs import Inputs
from layers.scenario import Addition
from layers.site import FileEntry

LOADS = {"n_kg_year": "nitrogen", "p_kg_year": "phosphorus", "s_kg_year": "sediment"}
PLANTS = ("seagrass", "mangrove")
# numbers of the site file without which the engine makes nothing of a feed
_MIXING = ("mixing.dispersion", "mixing.least_depth")
_NEEDS = {
    "dredge_work": _MIXING,
    "nitrogen_load": (*_MIXING, "mixing.nitrogen_loss", "background.nitrogen"),
    "phosphorus_load": (*_MIXING, "mixing.phosphorus_loss", "background.phosphorus"),
    "sediment_load": (*_MIXING, "mixing.sediment_settling", "background.suspended_solids"),
    "vessel_route": ("reach.vessels",),
}
_MIXED = ("dredge_work", "nitrogen_load", "phosphorus_load", "sediment_load")
# feeds of which a file without a season counts for nothing beside files of seasons
_BY_SEASON = ("dredging", "landing", "vessel_route")


@dataclass(frozen=True, kw_only=True)
class _Part:
    """One thing that a feature feeds."""

    feature: Feature
    feeds: str
    what: str  # for the name of its entry
    features: gpd.GeoDataFrame
    keys: dict[str, str]
    season: str | None = None


def additions_of(proposal: Proposal, inputs: Inputs) -> tuple[list[Addition], dict[str, str]]:
    """What a proposal adds to a site, and the digest of what each addition comes from.

    Returns
    -------
    additions, digests
        As `layers.scenario.derive_after` takes them. Entries are named after their feature and what it changes, such
        as "marina.gpkg: dredged area 1, bed". What plants lose under a footprint comes after all that is planted.

    Raises
    ------
    ProposalError
        If an outfall is not near the water, or no water lies in a dredged area, with the proposal in place.
    """
    parts = [part for part in _parts(proposal, inputs) if not _lacking(part.feeds, inputs)]
    additions = [_addition(part, proposal) for part in parts]
    require_water(proposal, inputs, additions, [one.label for one in proposal.features if _is_mixed(one, parts)])
    return additions, {addition.entry.name: proposal.digest for addition in additions}


def remarks_of(proposal: Proposal, inputs: Inputs) -> tuple[str, ...]:
    """What a person should know of what the site can show of a proposal, a sentence each."""
    remarks = [said for feature in proposal.features for said in said_of_ground(feature, inputs)]
    for part in _parts(proposal, inputs):
        lacking = _lacking(part.feeds, inputs)
        if lacking:
            remarks.append(
                f"{part.feature.title}: nothing is worked out of its {part.what}, as the site file lacks "
                f"{', '.join(lacking)}."
            )
    for feature in proposal.of_kind("structure"):
        if feature.get("bars") == "no":
            remarks.append(
                f"{feature.title}: it does not bar the water, so it changes nothing on the map. Draw what it clears, "
                "and where boats lie, as features of their own."
            )
        elif 0 < feature.get("opening_m", 0.0) < inputs.site.grid.cell:
            remarks.append(
                f"{feature.title}: its opening of {feature.get('opening_m'):g} m is narrower than a cell of "
                f"{inputs.site.grid.cell:g} m, so the map shows it closed: it bars all water and every animal there."
            )
    remarks += _said_of_boats(proposal)
    for feature in (one for plant in PLANTS for one in proposal.of_kind(f"{plant} planted")):
        grown = f"in {feature.get('years'):g} years" if feature.get("years") else "nobody says when"
        remarks.append(f"{feature.title}: the map shows it grown, which it is {grown}; till then it is not there.")
    for plant in PLANTS:
        if not inputs.having(plant):
            remarks += [
                f"{feature.title}: the site has no map of {plant}, so nothing is taken from it."
                for feature in proposal.of_kind(f"{plant} cleared")
            ]
    return tuple(dict.fromkeys(remarks))


def _said_of_boats(proposal: Proposal) -> list[str]:
    """Trips of moorings that no route of the proposal carries, which then are in no number."""
    trips, carried = (
        sum(feature.get("trips_day") for feature in proposal.of_kind(kind)) for kind in ("moorings", "vessel route")
    )
    if trips <= carried:
        return []
    berths = sum(feature.get("berths") for feature in proposal.of_kind("moorings"))
    return [
        f"moorings: {trips:g} trips a day start or end at {berths:g} berths, and the vessel routes drawn carry "
        f"{carried:g}. What is on no route is in no number: draw the way of these boats."
    ]


def _parts(proposal: Proposal, inputs: Inputs) -> Iterator[_Part]:
    """All that the features feed: first what is built and planted, then the plants that footprints take."""
    for feature in proposal.features:
        yield from _of_feature(feature, proposal, inputs)
    for feature in proposal.features:
        if feature.kind in ("dredged area", "land claim"):
            for plant in PLANTS:
                if inputs.having(plant) or proposal.of_kind(f"{plant} planted"):
                    yield _plants(feature, plant, 0.0, inputs)


def _of_feature(feature: Feature, proposal: Proposal, inputs: Inputs) -> Iterator[_Part]:
    def part(feeds: str, what: str, columns: dict, keys: dict | None = None, shape=None, season=None) -> _Part:
        table = _table(feature.shape if shape is None else shape, columns, inputs)
        return _Part(feature=feature, feeds=feeds, what=what, features=table, keys=keys or {}, season=season)

    if feature.kind == "dredged area":
        depth, dug = feature.get("depth_m"), dug_part(feature, inputs)
        if not dug.is_empty:
            keys = {"column": "depth_m", "units": "m", "positive": "down", "datum": bed_datum(inputs)}
            yield part("bed_change", "bed", {"depth_m": depth, "value": depth}, keys, dug)
        works = work_table(feature, _entry_name(feature, proposal), inputs.site.grid.crs)
        yield replace(part("dredge_work", "plume", {}), features=works)
        yield from _of_seasons(part("dredging", "footprint", {"name": feature.label}), inputs, feature.get("season"))
    elif feature.kind == "land claim":
        yield part("land_change", "land", {"name": feature.label})
    elif feature.kind == "structure" and feature.get("bars") == "yes":
        yield part(
            "land_change",
            "bar",
            {"name": feature.label},
            shape=with_opening(feature.shape, feature.get("opening_m", 0.0), inputs.site.grid.cell),
        )
    elif feature.kind == "outfall":
        for column, substance in LOADS.items():
            if feature.get(column) is not None:
                columns = {column: feature.get(column), "value": feature.get(column)}
                keys = {"column": column, "units": "kg/year"}
                yield part(f"{substance}_load", substance, columns, keys, season=feature.get("season"))
    elif feature.kind == "land use":
        code = float(cover_codes(inputs)[feature.get("cover")])
        yield part("land_cover_change", "land cover", {"code": code, "value": code}, {"column": "code", "units": "1"})
    elif feature.kind == "moorings":
        yield from _of_seasons(part("landing", "landing", {"name": feature.label}), inputs)
    elif feature.kind == "vessel route":
        columns = {column: feature.get(column) for column in ("trips_day", "draft_m")}
        keys = {"column": "trips_day", "units": "1/day", "draft": "draft_m"}
        route = part("vessel_route", "traffic", columns | {"value": feature.get("trips_day")}, keys)
        yield from _of_seasons(route, inputs)
    else:
        plant, _, done = feature.kind.partition(" ")
        if done == "planted":
            yield _plants(feature, plant, feature.get("share"), inputs)
        elif done == "cleared" and (inputs.having(plant) or proposal.of_kind(f"{plant} planted")):
            yield _plants(feature, plant, 0.0, inputs)


def _plants(feature: Feature, plant: str, share: float, inputs: Inputs) -> _Part:
    table = _table(feature.shape, {"share": share, "value": share}, inputs)
    keys = {"column": "share", "units": "1"}
    return _Part(feature=feature, feeds=f"{plant}_change", what=plant, features=table, keys=keys)


def _of_seasons(part: _Part, inputs: Inputs, season: str | None = None) -> Iterator[_Part]:
    """The part once or, where the site's own files differ by season, once for each season it is there."""
    if not any(entry.season for entry in inputs.having(part.feeds)):
        yield part
        return
    for one in (season,) if season else inputs.site.seasons:
        yield replace(part, season=one, what=f"{part.what}, {one}")


def _table(shape: shapely.Geometry, columns: dict, inputs: Inputs) -> gpd.GeoDataFrame:
    held = {column: [value] for column, value in columns.items()}
    return gpd.GeoDataFrame(held, geometry=[shape], index=np.array([1]), crs=inputs.site.grid.crs)


def _addition(part: _Part, proposal: Proposal) -> Addition:
    entry = FileEntry(
        name=f"{_entry_name(part.feature, proposal)}, {part.what}",
        feeds=part.feeds,
        path=proposal.path or Path(proposal.name),
        source=f'{part.feature.label} of the proposal "{proposal.name}"',
        licence="that of the proposal",
        credit="whoever made the proposal",
        season=part.season,
        sensitive=FEEDS[part.feeds].sensitive,
        **part.keys,
    )
    return Addition(entry=entry, features=part.features)


def _entry_name(feature: Feature, proposal: Proposal) -> str:
    return f"{proposal.name}: {feature.label}"


def _lacking(feeds: str, inputs: Inputs) -> list[str]:
    """What the site file would have to hold for a feed to come to anything."""
    site = inputs.site
    held = {*site.amounts, *(f"reach.{name}" for name in site.reach)}
    lacking = [key for key in _NEEDS.get(feeds, ()) if key not in held]
    if feeds in _MIXED and not (inputs.having("bed_elevation") or inputs.having("sounding")):
        lacking.append("a bed")
    return lacking


def _is_mixed(feature: Feature, parts: list[_Part]) -> bool:
    return any(part.feature is feature and part.feeds in _MIXED for part in parts)


def bed_datum(inputs: Inputs) -> str | None:
    """The datum of the site's bed, from which depths of a proposal are counted; None where it has none."""
    entries = inputs.having("bed_elevation") or inputs.having("sounding")
    return max(entries, key=lambda entry: entry.date or "").datum if entries else None
