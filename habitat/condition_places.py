"""Whether one feature of a proposal keeps a standing condition: where it is, when it works, how it is made.

Each check returns whether the condition is met (None: cannot be told), what was found and what is needed, as sentences;
or nothing at all where the condition does not concern the feature.
"""

from __future__ import annotations

from calendar import month_name
from collections.abc import Callable
from typing import TYPE_CHECKING

import numpy as np
import shapely

from habitat.condition_ground import Ground, cells_touched, ground_of, layer_of
from habitat.proposal_kinds import KINDS
from layers.distance import NOTHING
from layers.quantity import LAND
from layers.recipes.works import levels_of_works

if TYPE_CHECKING:
    import xarray as xr

    from habitat.conditions_schema import (
        ClosedSeasonTable,
        DistanceTable,
        KeelTable,
        OpeningTable,
        RuleTable,
        ZoneTable,
    )
    from habitat.proposal_feature import Feature
    from habitat.site_map import SiteMap

SINGLE = 1e-5  # a depth in single precision is no surer than this [m]

Answer = tuple[bool | None, str, str]


def keeps_its_distance(rule: DistanceTable, feature: Feature, site_map: SiteMap, after: SiteMap | None) -> Answer:
    """Whether a feature is far enough from something that is on the map now, edge to edge.

    What is on file as shapes is measured to exactly; a raster, and good habitat, to the edges of its cells.
    """
    needed = f"at least {rule.least_m:,.10g} m from {_words(rule.to)}."
    ground = ground_of(rule.to, feature.shape, rule.least_m, site_map)
    if ground is None:
        return None, f"the site has nothing on file about {_words(rule.to)}.", needed
    nearest = _distance(feature.shape, ground.there)
    if nearest < rule.least_m - NOTHING:
        return False, f"it is {_metres(nearest)} from {_words(rule.to)}.", needed
    return _beyond_doubt(rule, feature.shape, ground, nearest, site_map, needed)


def _beyond_doubt(
    rule: DistanceTable, shape: shapely.Geometry, ground: Ground, nearest: float, site_map: SiteMap, needed: str
) -> Answer:
    gap = _distance(shape, ground.unknown)
    if gap < rule.least_m - NOTHING:
        return None, f"{_metres(gap)} away there are no data, and {_words(rule.to)} may be there.", needed
    west, south, east, north = site_map.inputs.site.grid.bounds
    left, low, right, high = shape.bounds
    edge = max(min(left - west, low - south, east - right, north - high), 0.0)
    if edge < rule.least_m - NOTHING:
        return None, f"none is nearer on the map, but the map ends {_metres(edge)} away.", needed
    if nearest == np.inf:
        return True, f"no {_words(rule.to)} lies so near on the map.", needed
    return True, f"it is {_metres(nearest)} from {_words(rule.to)}.", needed


def works_in_open_months(rule: ClosedSeasonTable, feature: Feature, site_map: SiteMap, after: SiteMap | None) -> Answer:
    """Whether the season of a feature lies outside the closed months; no season means all the year."""
    needed = f"no work in {_months(rule.months)}."
    said = KINDS[feature.kind].attribute("season") is not None
    season = feature.attributes.get("season")
    if season is None and not said:
        return None, "the drawing does not say when it is built.", needed
    seasons = site_map.inputs.site.seasons
    if season is not None and season not in seasons:
        return None, f'"{season}" is not a season of the site, so its months are not known.', needed
    months = range(1, 13) if season is None else seasons[season]
    closed = [month for month in rule.months if month in months]
    when = "all the year" if season is None else f'in the season "{season}"'
    if closed:
        return False, f"it works {when}, and of that {_months(closed)} {_are(closed)} closed.", needed
    return True, f"it works {when}.", needed


def keeps_animals_out_of_openings(
    rule: OpeningTable, feature: Feature, site_map: SiteMap, after: SiteMap | None
) -> Answer | None:
    """Whether an opening is too narrow or too wide to catch an animal, or else barred.

    Looks at the columns `opening_m` and, for the gap between bars, `bars_m`.
    """
    opening, gap = (_number(feature, column) for column in ("opening_m", "bars_m"))
    needed = (
        f"bars at most {rule.bars_m:g} m apart in every culvert, pipe or other opening of "
        f"{rule.from_m:g} to {rule.to_m:g} m."
    )
    if opening is None:
        return None, "the drawing gives no width of an opening (opening_m); if it has none, this asks nothing.", needed
    if not rule.from_m <= opening <= rule.to_m:
        return True, f"its opening is {opening:g} m.", needed
    if gap is None:
        return None, f"its opening is {opening:g} m, and the drawing does not say whether it is barred.", needed
    return gap <= rule.bars_m, f"its opening is {opening:g} m, with bars {gap:g} m apart.", needed


def leaves_water_under_the_keel(rule: KeelTable, feature: Feature, site_map: SiteMap, after: SiteMap | None) -> Answer:
    """Whether the least water along the way at mean low water, less the draft, is enough, or the speed is low.

    The depth is that after the works where they are known. In the drawing of an area that is dug it is the depth dug
    to, where that is more than the depth of the cell: of a cut that is narrower than a cell, the cell holds the mean of
    cut and flat. Land under the line counts nowhere: it ends at a quay.
    """
    slow = "" if rule.slow_kn is None else f", or no more than {rule.slow_kn:g} knots where there is less"
    needed = f"at least {rule.clearance_m:g} m of water under the keel at mean low water{slow}."
    speed = _number(feature, "speed_kn")
    if rule.slow_kn is not None and speed is not None and speed <= rule.slow_kn:
        return True, f"its speed is {speed:g} knots.", needed
    draft = _number(feature, "draft_m")
    if draft is None:
        return None, "the drawing gives no draft (draft_m).", needed
    place = site_map if after is None else after
    depth = layer_of(place, "low_water_depth")
    if depth is None:
        return None, "nothing says how deep the water is at mean low water.", needed
    left = _along(feature.shape, place, depth) - draft
    known = left[~np.isnan(left)]
    if known.size and known.min() < rule.clearance_m - SINGLE:
        return False, f"at a draft of {draft:g} m it leaves {_down(known.min())} m at the shallowest place.", needed
    if known.size < left.size or not known.size:
        return None, "the depth is not known all along the way.", needed
    return True, f"at a draft of {draft:g} m it leaves {_down(known.min())} m at the shallowest place.", needed


def stays_out_of_zones(rule: ZoneTable, feature: Feature, site_map: SiteMap, after: SiteMap | None) -> Answer:
    """Whether a feature lies outside zones that are closed to its kind; lying along the edge of one is outside."""
    needed = f"no {KINDS[feature.kind].plural} in {_list(rule.zones)}."
    inside, unknown = [], []
    for name in rule.zones:
        ground = ground_of(f"zone {name}", feature.shape, 0.0, site_map)
        if ground is None:
            unknown.append(name)
        elif any(feature.shape.intersects(zone) and not feature.shape.touches(zone) for zone in ground.there):
            inside.append(name)
    if inside:
        return False, f"it lies in {_list(inside)}.", needed
    if unknown:
        return None, f"the site has no zone {_list(unknown)} on file.", needed
    return True, "it lies outside.", needed


CHECKS_OF_FEATURES: dict[str, Callable[[RuleTable, Feature, SiteMap, SiteMap | None], Answer | None]] = {
    "distance": keeps_its_distance,
    "closed_season": works_in_open_months,
    "opening": keeps_animals_out_of_openings,
    "keel": leaves_water_under_the_keel,
    "zone": stays_out_of_zones,
}


def _along(shape: shapely.Geometry, place: SiteMap, depth: xr.DataArray) -> np.ndarray:
    """Depths at low water in the cells under a shape, in an area that is dug those it is dug to if deeper. [m]"""
    made, grid = place.derivation, place.inputs.site.grid
    wet = layer_of(place, "surface").to_numpy() != LAND
    parts, rest = [], shape
    for area, level in reversed(levels_of_works(made)):
        parts.append((rest.intersection(area), level))
        rest = rest.difference(area)
    found = []
    for season in [str(name) for name in depth["season"].values] if "season" in depth.dims else [None]:
        levels = made.levels(season)
        low_water = None if levels is None else levels.datums.mean_low_water
        cells = depth.to_numpy() if season is None else depth.sel(season=season).to_numpy()
        for part, level in ((part, level) for part, level in (*parts, (rest, None)) if not part.is_empty):
            under = cells[cells_touched(part, grid) & wet]
            found.append(under if level is None or low_water is None else np.fmax(under, low_water - level))
    return np.concatenate([np.empty(0), *found])


def _distance(shape: shapely.Geometry, others: np.ndarray) -> float:
    return float(shapely.distance(shape, others).min()) if len(others) else np.inf


def _number(feature: Feature, column: str) -> float | None:
    value = feature.attributes.get(column)
    return None if value is None or isinstance(value, str) or value != value else float(value)


def _metres(distance: float) -> str:
    """A distance in whole metres, rounded down: 99.9 m is not the 100 m that are needed, and must not read so."""
    return f"{np.floor(distance + NOTHING):,.0f} m"


def _down(depth: float) -> str:
    """A depth in centimetres, rounded down for the same reason."""
    return f"{np.floor(100 * (depth + SINGLE)) / 100:.2f}"


def _words(to: str) -> str:
    return to.replace("_", " ")


def _months(months: list[int]) -> str:
    return _list([month_name[month] for month in months])


def _are(months: list[int]) -> str:
    return "is" if len(months) == 1 else "are"


def _list(words: list[str]) -> str:
    return words[0] if len(words) == 1 else f"{', '.join(words[:-1])} and {words[-1]}"
