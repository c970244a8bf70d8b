"""Vessel traffic from recorded positions: fixes of each vessel joined into tracks, and the density of these.

A fix is a position at a time, as transponders (AIS) and loggers give it. Only vessels that carry one are in such
a record: small boats mostly are not, and their traffic must come from counts along routes (`layers.vessels`).
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from layers.plausibility import counted

if TYPE_CHECKING:
    import geopandas as gpd
    import pandas as pd

    from layers.grid import Grid

COLUMNS = ("vessel", "time", "x", "y")
KNOT = 1852 / 3600  # [m/s], exact
FASTEST = 40.0  # m/s, 78 knots: a limit above it is in another unit
SHORTEST_RECORD = 1.0  # days


@dataclass(frozen=True, kw_only=True)
class Tracks:
    """Tracks of vessels, and what was left out of them."""

    lines: gpd.GeoSeries  # one for each unbroken stretch, in the order of vessel and time
    vessels: np.ndarray  # the vessel of each line, as text
    days: float  # that the record covers
    fixes: int  # all in the table
    repeated: int  # fixes that repeat one of the same vessel, time and place
    lone: int  # vessels with one fix
    long_gaps: int  # legs left out because they took too long
    too_fast: int  # legs left out because nothing goes so fast
    too_slow: int  # legs left out because the vessel lay still

    @property
    def said(self) -> str:
        """What was joined and what was left out, in a sentence without its full stop."""
        left_out = {
            f"{counted(self.lone, 'vessel')} of one fix": self.lone,
            f"{counted(self.repeated, 'position')} given twice": self.repeated,
            f"{counted(self.long_gaps, 'leg')} with too long a gap": self.long_gaps,
            f"{counted(self.too_fast, 'leg')} too fast to be true": self.too_fast,
            f"{counted(self.too_slow, 'leg')} too slow to be under way": self.too_slow,
        }
        told = [words for words, count in left_out.items() if count]
        joined = (
            f"{counted(self.fixes, 'position')} of {self.days:.4g} days joined into {counted(len(self.lines), 'track')}"
        )
        return joined + (f"; left out {', '.join(told)}" if told else "")


def tracks_of(
    fixes: pd.DataFrame,
    *,
    longest_gap: float,
    greatest_speed: float,
    least_speed: float = 0.0,
    days: float | None = None,
    crs: object = None,
) -> Tracks:
    """Tracks of vessels: their fixes joined in order of time, broken where a leg cannot be trusted.

    Parameters
    ----------
    fixes : DataFrame
        Columns vessel (any label), time (datetime), x and y (in the grid's projection, [m]); rows in any order.
    longest_gap : float
        Longest time between two fixes that are joined. [hour]
    greatest_speed : float
        Greatest speed of a leg that is believed. [m/s]
    least_speed : float
        Least speed of a leg that counts as travel. A vessel that lies moored wanders by the error of its fixes, which
        adds up to kilometres in a day: half a knot, 0.26 m/s, keeps most of that out (common practice). [m/s]
    days : float, optional
        Days that the record covers. By default from the first fix to the last, of all vessels together, which is too
        few where nothing passed at its beginning or end.
    crs
        Projection that the lines are to carry.

    Returns
    -------
    Tracks

    Raises
    ------
    ValueError
        If the table is empty, lacks a column or a value, or its coordinates are degrees; if a limit is not greater
        than 0, or not in its unit; if more than half of the legs are too fast; if no leg is left; or if `days` is less
        than the record, or not given for a record shorter than `SHORTEST_RECORD`.

    Notes
    -----
    A leg is the straight line between two fixes of a vessel that follow each other; its speed is its length over the
    time between them. A single wrong fix costs the two legs beside it, so traffic is rather missed than made up;
    so is what passed during long gaps. Straight legs cut the corners of a bend between fixes, over land too.

    Examples
    --------
    >>> import pandas as pd
    >>> hours = pd.to_datetime(["2021-03-01 10:00", "2021-03-01 10:10", "2021-03-01 10:20", "2021-03-03 09:00"])
    >>> fixes = pd.DataFrame({"vessel": "ferry", "time": hours, "x": [0.0, 3000, 6000, 0], "y": 500_000.0})
    >>> tracks = tracks_of(fixes, longest_gap=1, greatest_speed=20, days=7)
    >>> tracks.lines.length.to_list(), tracks.said
    ([6000.0], '4 positions of 7 days joined into 1 track; left out 1 leg with too long a gap')
    """
    import geopandas as gpd
    import shapely

    _check_limits(longest_gap, greatest_speed, least_speed)
    table, repeated = _sorted(fixes)
    vessel, moment = table["vessel"].to_numpy(), table["time"].to_numpy()
    place = table[["x", "y"]].to_numpy(float)
    same = vessel[1:] == vessel[:-1]
    seconds = np.diff(moment) / np.timedelta64(1, "s")
    metres = np.hypot(*np.diff(place, axis=0).T)
    with np.errstate(divide="ignore", invalid="ignore"):
        speed = metres / seconds  # infinite between two places at one time
    long_gap = same & (seconds > 3600 * longest_gap)
    too_fast = same & ~long_gap & (speed > greatest_speed)
    too_slow = same & ~long_gap & ~too_fast & (speed < least_speed)
    kept = same & ~long_gap & ~too_fast & ~too_slow
    _check_legs(kept, too_fast, long_gap, too_slow, speed, greatest_speed)
    starts = kept & ~np.concatenate([[False], kept[:-1]])
    ends = kept & ~np.concatenate([kept[1:], [False]])
    run = np.cumsum(starts) - 1
    point = np.concatenate([np.flatnonzero(kept), np.flatnonzero(ends) + 1])
    line = np.concatenate([run[kept], run[ends]])
    order = np.lexsort((point, line))
    _, count = np.unique(vessel, return_counts=True)
    return Tracks(
        lines=gpd.GeoSeries(shapely.linestrings(place[point[order]], indices=line[order]), crs=crs),
        vessels=vessel[:-1][starts],
        days=_days(moment, days),
        fixes=len(fixes),
        repeated=repeated,
        lone=int((count == 1).sum()),
        long_gaps=int(long_gap.sum()),
        too_fast=int(too_fast.sum()),
        too_slow=int(too_slow.sum()),
    )


def track_density(tracks: Tracks, grid: Grid, radius: float, *, workers: int | None = None) -> np.ndarray:
    """Length travelled per day within a circle round each cell's centre, per area of the circle, by recorded tracks.

    Parameters
    ----------
    tracks : Tracks
        In the grid's projection.
    grid, radius, workers
        As in `layers.vessels.vessel_density`.

    Returns
    -------
    (y, x) float32
        As from `layers.vessels.vessel_density`, so routes and tracks of different vessels may be added. [km/km2/day]

    Raises
    ------
    ValueError
        If no track comes within the radius of the grid, or `radius` is not greater than 0.
    """
    import shapely

    from layers.vessels import vessel_density

    west, south, east, north = grid.bounds
    near = shapely.box(west - radius, south - radius, east + radius, north + radius)
    if not tracks.lines.intersects(near).any():
        found = ", ".join(f"{value:,.0f}" for value in tracks.lines.total_bounds)
        raise ValueError(
            f"tracks: none comes within {radius:g} m of the grid. They lie within {found} m, the grid within "
            f"{west:,.0f}, {south:,.0f}, {east:,.0f}, {north:,.0f} m: bring the fixes into the grid's projection."
        )
    trips = np.full(len(tracks.lines), 1 / tracks.days)
    return vessel_density(tracks.lines, trips, grid, radius, workers=workers)


def _sorted(fixes: pd.DataFrame) -> tuple[pd.DataFrame, int]:
    """The fixes in order of vessel, time and place, each once; and how many are left out."""
    import pandas as pd

    absent = [column for column in COLUMNS if column not in fixes.columns]
    if absent:
        raise ValueError(f"fixes: no column {', '.join(absent)}. Needed are {', '.join(COLUMNS)}.")
    if fixes.empty:
        raise ValueError("fixes: the table is empty. A record without vessels is no proof that none passed.")
    if not pd.api.types.is_datetime64_any_dtype(fixes["time"]):
        raise ValueError(f"fixes: column time holds {fixes['time'].dtype}. Make it dates and times (datetime).")
    for column in ("x", "y"):
        if not pd.api.types.is_numeric_dtype(fixes[column]):
            raise ValueError(f"fixes: column {column} does not hold numbers. Give metres in the grid's projection.")
    for column in COLUMNS:
        values = fixes[column]
        wrong = values.isna() | (np.isinf(values.astype(float)) if column in "xy" else False)
        if wrong.any():
            raise ValueError(f"fixes: row {fixes.index[wrong][0]} has no {column}. Fill it in, or remove the row.")
    if (fixes["x"].abs() <= 360).all() and (fixes["y"].abs() <= 90).all():
        raise ValueError("fixes: x and y look like degrees. Bring them into the grid's projection, in metres.")
    table = fixes.loc[:, list(COLUMNS)].assign(vessel=fixes["vessel"].astype(str))
    if table["time"].dt.tz is not None:
        table["time"] = table["time"].dt.tz_convert("UTC").dt.tz_localize(None)
    once = table.drop_duplicates().sort_values(list(COLUMNS), kind="stable", ignore_index=True)
    return once, len(table) - len(once)


def _check_limits(longest_gap: float, greatest_speed: float, least_speed: float) -> None:
    if not 0 < longest_gap < np.inf:
        raise ValueError(f"longest gap: found {longest_gap:g} h. It must be greater than 0 and finite.")
    if not 0 < greatest_speed <= FASTEST:
        raise ValueError(
            f"greatest speed: found {greatest_speed:g} m/s, {greatest_speed / KNOT:.0f} knots. Give metres per second, "
            f"above 0 and at most {FASTEST:g}: 30 knots are {30 * KNOT:.1f} m/s."
        )
    if not 0 <= least_speed < greatest_speed:
        raise ValueError(
            f"least speed: found {least_speed:g} m/s. It must be 0 or more and less than the greatest, "
            f"{greatest_speed:g} m/s."
        )


def _check_legs(kept, too_fast, long_gap, too_slow, speed, greatest_speed) -> None:
    fast, rest = int(too_fast.sum()), int((kept | too_slow).sum())
    if fast > rest:
        middle = float(np.median(speed[too_fast | kept | too_slow]))
        raise ValueError(
            f"fixes: {fast:,} of {fast + rest:,} legs are faster than {greatest_speed:g} m/s (the middle one goes "
            f"{middle:.3g} m/s). Check that x and y are metres, that times are whole, and the unit of the limit."
        )
    if not kept.any():
        raise ValueError(
            f"fixes: no two fixes can be joined. Of the legs {int(long_gap.sum()):,} have too long a gap, {fast:,} are "
            f"too fast, and {int(too_slow.sum()):,} too slow. Are the limits in hours and metres per second?"
        )


def _days(moment: np.ndarray, stated: float | None) -> float:
    span = float((moment.max() - moment.min()) / np.timedelta64(1, "D"))
    if stated is None:
        if span < SHORTEST_RECORD:
            raise ValueError(
                f"days: the fixes span {24 * span:.1f} hours, too few to tell what a day brings. Say how many `days` "
                "the record covers."
            )
        return span
    if not (span <= stated < np.inf and stated > 0):
        raise ValueError(f"days: found {stated:g}, and the fixes span {span:.4g} days. Give at least that many.")
    return float(stated)
