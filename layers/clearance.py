"""Water between the keel of a vessel and the bed: how much, for what share of the time, and under which routes."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from layers.cellwise import Numeric, cellwise, refuse_outside
from layers.quantity import KEEL_CLEARANCE, Quantity, describe

if TYPE_CHECKING:
    import geopandas as gpd

    from layers.grid import Grid

CLEAR_TIME = Quantity(
    name="clear_time", label="share of the time with the least clearance under the keel", units="1", plausible=(0, 1)
)
_DRAFT_ADVICE = "A draft is the depth of the keel below the water, in metres."


def keel_clearance(bed: Numeric, level: Numeric, draft: Numeric) -> Numeric:
    """Water between the keel of a vessel that floats and the bed under it.

    Parameters
    ----------
    bed : float or array, any shape
        Bed elevation, positive up. [m]
    level : float or array, broadcast
        Water level above the datum of the bed, such as mean lower low water from `layers.tidal_datum`. [m]
    draft : float or array, broadcast
        Depth of the keel (or of the propeller, if that is lower) below the water, 0 or more. [m]

    Returns
    -------
    same kind and shape
        Negative where the vessel would be aground by so much; NaN where any is NaN (no data). [m]

    Raises
    ------
    ValueError
        If a draft is below 0.

    Notes
    -----
    level - bed - draft. How low a vessel squats under way, and its trim, belong in the draft.

    Examples
    --------
    >>> round(keel_clearance(bed=-2.0, level=-0.5, draft=1.1), 6)
    0.4
    """

    def clearance(bed, level, draft):
        refuse_outside(draft, "draft", "m", least=0, advice=_DRAFT_ADVICE)
        return level - bed - draft

    return describe(cellwise(clearance, bed, level, draft), KEEL_CLEARANCE)


def share_of_time_clear(bed: Numeric, levels: np.ndarray, draft: Numeric, least_clearance: float) -> Numeric:
    """Share of the time that a vessel has at least so much water under its keel.

    Parameters
    ----------
    bed : float or array, any shape
        Bed elevation, positive up. [m]
    levels : array, shape (n,)
        Water levels above the datum of the bed, equally spaced in time, in any order. [m]
    draft : float or array, broadcast
        Depth of the keel below the water, 0 or more. [m]
    least_clearance : float
        What must be left under the keel, 0 or more. [m]

    Returns
    -------
    same kind and shape as `bed`
        0 to 1; NaN where any is NaN (no data). [1]

    Raises
    ------
    ValueError
        If there is no level, one is not a number, or a draft or the least clearance is below 0.

    Notes
    -----
    Share of the levels with level - bed - draft >= least clearance. Conditions set on works in the water of the
    United States (seen for turtles and sawfish, for manatees from memory) let vessels run at no more than idle speed
    where less than 4 feet, 1.219 m, is left under the keel: an example of a least clearance, and a rule of one
    country. What counts where the map is made is for its profile or site to say.

    Examples
    --------
    >>> share_of_time_clear(-2.0, np.array([-0.5, 0.0, 0.5, 1.0]), draft=1.0, least_clearance=1.219)
    0.5
    """
    ordered = np.sort(np.asarray(levels, np.float64))
    if len(ordered) == 0 or not np.isfinite(ordered).all():
        raise ValueError("levels: at least one water level is needed, and every level must be a number.")
    refuse_outside(least_clearance, "least clearance", "m", least=0)
    if np.isnan(least_clearance):
        raise ValueError("least clearance: found nan. Give 0 or more metres.")

    def share(bed, draft):
        refuse_outside(draft, "draft", "m", least=0, advice=_DRAFT_ADVICE)
        needed = bed + draft + least_clearance
        clear = (len(ordered) - np.searchsorted(ordered, needed, side="left")) / len(ordered)
        return np.where(np.isnan(needed), np.nan, clear)

    return describe(cellwise(share, bed, draft), CLEAR_TIME)


def least_clearance_of_routes(
    lines: gpd.GeoSeries,
    drafts: np.ndarray,
    bed: np.ndarray,
    level: float,
    grid: Grid,
    radius: float,
    *,
    workers: int | None = None,
) -> np.ndarray:
    """Least clearance over each cell's bed of any vessel whose route passes near it.

    Parameters
    ----------
    lines : GeoSeries of n lines
        Routes, in the grid's CRS.
    drafts : (n,) float
        Deepest draft on each route, 0 or more. [m]
    bed : (y, x) float
        Bed elevation, positive up; NaN where not known. [m]
    level : float
        Water level above the datum of the bed. [m]
    grid : Grid
    radius : float
        How far from the drawn line a vessel may pass. [m]
    workers : int, optional
        Number of threads; by default one for each core. The result does not depend on it.

    Returns
    -------
    (y, x) float32
        NaN where no route passes nearer than the radius, or the bed is not known. Negative where the deepest of these
        vessels would be aground at this level: on land beside a route, and where boats must wait for the tide. [m]

    Raises
    ------
    ValueError
        If there is not one draft for each route, a draft is missing or below 0, `bed` is not of the grid, `level` is
        not a number, or `radius` is not greater than 0.

    Notes
    -----
    level - bed - draft of the deepest vessel within the radius: a vessel may be anywhere within it, so the cell's own
    bed counts, not that under the drawn line. Reach: the radius. The work is one measure of distance for each
    different draft, so tracks of many vessels are best put into classes of draft first, rounded up.

    Examples
    --------
    >>> import geopandas as gpd
    >>> from layers.grid import Grid
    >>> grid = Grid.from_bounds("EPSG:32745", 0, 0, 400, 100, cell=100)
    >>> routes = gpd.GeoSeries.from_wkt(["LINESTRING (0 0, 0 100)", "LINESTRING (100 0, 100 100)"])
    >>> bed = np.array([[-3.0, -3.0, -2.0, -2.0]])
    >>> least_clearance_of_routes(routes, [1.5, 0.5], bed, level=0.5, grid=grid, radius=160)
    array([[ 2.,  2.,  2., nan]], dtype=float32)
    """
    from layers.distance import straight_distance

    drafts, bed = np.asarray(drafts, np.float64), np.asarray(bed, np.float64)
    if len(drafts) != len(lines):
        raise ValueError(f"routes: found {len(lines)} routes and {len(drafts)} drafts. Give one for each.")
    wrong = np.flatnonzero(~(drafts >= 0) | np.isinf(drafts))
    if len(wrong):
        raise ValueError(f"routes: route {wrong[0]} has a draft of {drafts[wrong[0]]:g} m. {_DRAFT_ADVICE}")
    if bed.shape != grid.shape:
        raise ValueError(f"bed: found the shape {bed.shape}. It must be that of the grid, {grid.shape}.")
    if not np.isfinite(level):
        raise ValueError(f"level: found {level:g} m. A water level is needed.")
    if not 0 < radius < np.inf:
        raise ValueError(f"radius: found {radius:g} m. It must be greater than 0 and finite.")
    deepest = np.full(grid.shape, np.nan)
    for draft in np.unique(drafts):  # ascending, so that the deepest is written last
        near = straight_distance(lines[drafts == draft], grid, radius, workers=workers) < np.float32(radius)
        deepest[near] = draft
    return (level - bed - deepest).astype(np.float32)
