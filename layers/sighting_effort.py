"""How long each piece of water was searched for animals: looking and seeing none counts, not looking does not."""

from __future__ import annotations

from collections.abc import Iterable
from typing import TYPE_CHECKING

import numpy as np

from layers.fault import Fault, LayerError
from layers.feeds import EFFORT
from layers.quantity import Quantity

if TYPE_CHECKING:
    import geopandas as gpd
    import xarray as xr

    from layers.grid import Grid
    from layers.inputs import Inputs
    from layers.site import FileEntry, Site

SEARCHED = Quantity(name="searched", label="share of the cell that was searched", units="1", plausible=(0, 1))


def read_tracks(
    entry: FileEntry, site: Site, faults: list[Fault], *, remarks: list[str] | None = None
) -> gpd.GeoDataFrame | None:
    """Lines along which people looked for animals.

    Returns
    -------
    GeoDataFrame or None
        Columns date (datetime64), month, hours [hour], half_width (to each side of the line that was searched) [m] and
        geometry in the grid's CRS. The file calls them date, hours and half_width_m, or `columns` of the site file says
        how. None if a fault was found.
    """
    import geopandas as gpd
    import pandas as pd

    from layers.column import faulty_rows, is_nothing, numbers, times
    from layers.source import is_table
    from layers.table import has_columns
    from layers.vector import read_features

    before = len(faults)
    table = read_features(entry, site, faults, kinds=frozenset({"LineString"}), remarks=remarks)
    if table is None:
        return None
    names = {"date": entry.columns.get("date") or entry.time or "date"}
    names |= {term: entry.columns.get(term, term) for term in ("hours", "half_width_m")}
    if not has_columns(table, {f"columns.{term}": name for term, name in names.items()}, entry, faults):
        return None
    noun = "row" if is_table(entry.path) else "feature"
    text = pd.DataFrame(
        {
            name: table[name].map(lambda given: "" if is_nothing(given) else str(given).strip()).astype(object)
            for name in names.values()
        }
    )
    moments = times(text, names["date"], entry, faults)
    hours, half_width = (numbers(text, names[term], entry, faults) for term in ("hours", "half_width_m"))
    for term, values, found in (
        ("hours", hours, "hold no time above 0 hours"),
        ("half_width_m", half_width, "hold no width above 0 m"),
    ):
        wrong = ~np.isnan(values) & ~((values > 0) & np.isfinite(values))
        faulty_rows(table, names[term], wrong, found, "Correct it, or remove the line.", entry, faults, noun=noun)
    if len(faults) > before:
        return None
    return gpd.GeoDataFrame(
        {"date": moments, "month": pd.DatetimeIndex(moments).month, "hours": hours, "half_width": half_width},
        index=table.index,
        geometry=table.geometry,
        crs=table.crs,
    )


def search_effort(tracks: gpd.GeoDataFrame, grid: Grid, *, months: Iterable[int] | None = None) -> xr.DataArray:
    """Hours that each cell was searched.

    Parameters
    ----------
    tracks : GeoDataFrame
        From `read_tracks`, in the CRS of `grid`.
    months : of int, optional
        Only tracks of these months of the year.

    Returns
    -------
    (y, x) float32
        0 where nobody looked. The hours of a track are spread evenly over its strip, so that the cells of a strip
        within the grid add up to the hours of the track. [hour]

    Notes
    -----
    A strip is all ground within the half-width of the line, cut square at its ends. Animals are taken to be as easy to
    see all over it.
    """
    hours = np.zeros(grid.shape)
    for track, shape in _strips(tracks, months):
        window, share = _share_in(shape, grid)
        hours[window] += track.hours * share * grid.cell**2 / shape.area
    return grid.label(hours.astype(np.float32), EFFORT)


def searched_share(tracks: gpd.GeoDataFrame, grid: Grid, *, months: Iterable[int] | None = None) -> xr.DataArray:
    """Share of each cell in the strip of some track, 0 where nobody looked; arguments as of `search_effort`. [1]"""
    import geopandas as gpd

    from layers.alignment import cover_fraction

    strips = gpd.GeoSeries([shape for _, shape in _strips(tracks, months)], crs=tracks.crs)
    return grid.label(cover_fraction(strips, grid), SEARCHED)


def site_effort(
    inputs: Inputs, grid: Grid, seasons: Iterable[str | None] = (None,)
) -> dict[str | None, xr.DataArray] | None:
    """Hours that each cell of a site was searched, season by season (None: the whole year).

    Returns
    -------
    dict of (y, x) float32, or None
        The hours of its tracks and of its rasters of hours together; None where it has neither. [hour]

    Raises
    ------
    LayerError
        If hours are wanted by season and a raster of hours names none.
    """
    lines, rasters = inputs.having("survey_track"), inputs.having("survey_effort")
    if not lines and not rasters:
        return None
    seasons = tuple(seasons)
    faults = [
        Fault(f"files.{entry.name}", "it does not say in which season its hours were.", "Add `season`.")
        for entry in rasters
        if entry.season is None and any(seasons)
    ]
    if faults:
        raise LayerError(inputs.site.path.name, faults)
    months, effort = inputs.site.seasons, {}
    for season in seasons:
        hours = np.zeros(grid.shape)
        for entry in lines:
            tracks = inputs.features[entry.name]
            hours += search_effort(tracks, grid, months=months[season] if season else None).to_numpy()
        for entry in rasters:
            if season in (None, entry.season):
                hours += np.nan_to_num(inputs.rasters[entry.name].to_numpy())  # where nobody noted hours, none count
        effort[season] = grid.label(hours.astype(np.float32), EFFORT)
    return effort


def _strips(tracks: gpd.GeoDataFrame, months: Iterable[int] | None):
    chosen = tracks if months is None else tracks[tracks["month"].isin(list(months))]
    for track in chosen.itertuples():
        yield track, track.geometry.buffer(track.half_width, cap_style="flat", join_style="mitre")


def _share_in(shape, grid: Grid) -> tuple[tuple[slice, slice], np.ndarray]:
    """The window of the grid about a shape, and the share of each of its cells within the shape."""
    import geopandas as gpd

    from layers.alignment import cover_fraction

    west, south, east, north = shape.bounds
    (left, top), (right, bottom) = ~grid.transform * (west, north), ~grid.transform * (east, south)
    rows, columns = (
        slice(int(np.clip(np.floor(low), 0, size)), int(np.clip(np.ceil(high), 0, size)))
        for low, high, size in ((top, bottom, grid.shape[0]), (left, right, grid.shape[1]))
    )
    if rows.start >= rows.stop or columns.start >= columns.stop:
        return (rows, columns), np.zeros((max(rows.stop - rows.start, 0), max(columns.stop - columns.start, 0)))
    return (rows, columns), cover_fraction(gpd.GeoSeries([shape]), grid.window(rows, columns)).astype(np.float64)
