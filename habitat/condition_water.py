"""Whether a whole proposal keeps a standing condition: how much seagrass it takes, how far it clouds the water.

The answers are those of `habitat.condition_places`.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import TYPE_CHECKING

import numpy as np
import shapely

from habitat.condition_ground import layer_of
from layers.quantity import LAND

if TYPE_CHECKING:
    import xarray as xr

    from habitat.condition_places import Answer
    from habitat.conditions_schema import RuleTable, SeagrassLossTable, TurbidityTable
    from habitat.proposal_feature import Feature
    from habitat.site_map import SiteMap

_NO_AFTER = "the site with the proposal was not worked out."


def keeps_the_seagrass(
    rule: SeagrassLossTable, features: Sequence[Feature], site_map: SiteMap, after: SiteMap | None
) -> Answer:
    """Whether the share of the mapped seagrass that is lost is small enough, in the worst season.

    Cells that lose are added up; cells that gain pay for none of it: what is planted is an offset, and stands last in
    the order avoid, reduce, restore, offset. Where seagrass was and nobody knows what is left, both ends are told.
    """
    what = "seagrass" if rule.of == "seagrass_cover" else "seagrass that the light can keep"
    needed = f"at most {_percent(rule.largest_share)} of the {what} of the site lost."
    if after is None:
        return None, _NO_AFTER, needed
    before_cover, after_cover = layer_of(site_map, rule.of), layer_of(after, rule.of)
    if before_cover is None or after_cover is None:
        return None, f"the site has no map of the {what}.", needed
    is_land = layer_of(after, "surface").to_numpy() == LAND
    low, high = _shares_lost(before_cover.to_numpy(), after_cover.to_numpy(), is_land)
    if np.isnan(low):
        return None, f"no {what} is mapped.", needed
    if low > rule.largest_share:
        return False, f"{_percent(low)} is lost.", needed
    if high > rule.largest_share:
        return None, f"from {_percent(low)} to {_percent(high)} is lost: part of the map has no data.", needed
    return True, f"{_percent(high)} is lost.", needed


def keeps_the_water_clear(
    rule: TurbidityTable, features: Sequence[Feature], site_map: SiteMap, after: SiteMap | None
) -> Answer:
    """Whether what dredging adds to the water stays under a limit of turbidity, away from the works.

    Turbidity (NTU) is how light scatters, solids (mg/L) are what weighs; the two go together only in one water, by a
    factor measured there. Without the factor nothing can be told.
    """
    away = f" beyond {rule.beyond_m:,.0f} m from the works" if rule.beyond_m else ""
    needed = f"at most {rule.limit_ntu:g} NTU above background{away}."
    if after is None:
        return None, _NO_AFTER, needed
    plume = layer_of(after, "dredge_plume")
    if plume is None:
        return None, "no plume could be worked out for the works.", needed
    added = _added_solids(plume.to_numpy(), layer_of(site_map, "dredge_plume"))
    grid = after.inputs.site.grid
    counted = layer_of(after, "surface").to_numpy() != LAND
    # a cell is away from the works as soon as any part of it may be: half a diagonal nearer
    reach = rule.beyond_m - grid.cell / np.sqrt(2)
    if reach > 0:
        works = shapely.union_all([feature.shape for feature in features])
        shapely.prepare(works)
        counted &= ~shapely.dwithin(works, shapely.points(*np.meshgrid(grid.x, grid.y)), reach)
    values = added[..., counted]
    known = values[~np.isnan(values)]
    if not known.size:
        return None, f"nothing is known of the water{away}.", needed
    most = float(known.max())
    solids = f"dredging adds up to {most:.3g} mg/L of solids{away}"
    if rule.ntu_per_mg_l is None:
        said = f"{solids}; NTU are not mg/L, and no factor measured in this water is given (ntu_per_mg_l)."
        return None, said, needed
    cloud = most * rule.ntu_per_mg_l
    found = f"{solids}, {cloud:.3g} NTU at {rule.ntu_per_mg_l:g} NTU for each mg/L ({rule.factor_source})."
    if cloud > rule.limit_ntu:
        return False, found, needed
    if known.size < values.size:
        return None, f"{found} Part of the water has no data.", needed
    return True, found, needed


CHECKS_OF_THE_WHOLE: dict[str, Callable[[RuleTable, Sequence[Feature], SiteMap, SiteMap | None], Answer]] = {
    "seagrass_loss": keeps_the_seagrass,
    "turbidity": keeps_the_water_clear,
}


def _shares_lost(before: np.ndarray, after: np.ndarray, is_land: np.ndarray) -> tuple[float, float]:
    """Least and greatest share of the cover that may be lost, in the worst season; NaN where there was none."""
    was, left = np.nan_to_num(before.astype(np.float64)), np.where(is_land, 0.0, after.astype(np.float64))
    whole, ends = np.atleast_1d(was.sum(axis=(-2, -1))), []
    for unknown in (was, 0.0):  # all of it left, none of it left
        lost = np.clip(was - np.where(np.isnan(left), unknown, left), 0, None).sum(axis=(-2, -1))
        shares = np.divide(lost, whole, out=np.full(np.broadcast(lost, whole).shape, np.nan), where=whole > 0)
        ends.append(float(np.nanmax(shares)) if np.isfinite(shares).any() else float("nan"))
    return ends[0], ends[1]


def _added_solids(after: np.ndarray, before: xr.DataArray | None) -> np.ndarray:
    """What is added to the solids of the works that are there already. [mg/L]"""
    return np.asarray(after, np.float64) - (0.0 if before is None else before.to_numpy())


def _percent(share: float) -> str:
    return f"{100 * share:.4g} %"
