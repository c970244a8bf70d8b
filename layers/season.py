"""Values of dated station records, season by season."""

from __future__ import annotations

from collections.abc import Mapping
from typing import TYPE_CHECKING

import numpy as np

from layers.units import DAYS_A_YEAR

if TYPE_CHECKING:
    import geopandas as gpd

    from layers.site import Site

WHOLE_YEAR = "whole year"  # name of the column of means of all records
OWN_SPREAD = 5  # months from which on a station's own spread is taken


def station_means(tables: list[gpd.GeoDataFrame], site: Site, seasons: tuple[str | None, ...]) -> gpd.GeoDataFrame:
    """Mean value of each station in each season.

    Parameters
    ----------
    tables : list of GeoDataFrame
        Columns station, time (datetime64 or NaT), value; points in the grid's projection. Stations without a
        name are told apart by their place.
    site : Site
        Whose months make up the seasons.
    seasons : tuple of str or None
        None takes every record.

    Returns
    -------
    GeoDataFrame
        One row a station, in the order of their names: columns station, one for each of `seasons` (`WHOLE_YEAR` for
        None), geometry. NaN
        where a station has no record in that season. Months are averaged first, so a season sampled more often
        in one year or month does not lean towards it.
    """
    import geopandas as gpd
    import pandas as pd

    places, monthly, crs = _monthly(tables, site, seasons)
    means = pd.DataFrame({"station": places.index})
    for season in seasons:
        means[season or WHOLE_YEAR] = monthly[season].groupby(level="name").mean().reindex(places.index).to_numpy()
    return gpd.GeoDataFrame(means, geometry=gpd.GeoSeries(places.to_numpy(), crs=crs))


def station_mean_errors(
    tables: list[gpd.GeoDataFrame], site: Site, seasons: tuple[str | None, ...]
) -> np.ndarray | None:
    """Standard errors of the means that `station_means` gives; arguments as there.

    Returns
    -------
    (k, n) float, or None
        For each of the k seasons and n stations; NaN where there is no mean. None where no station has been sampled
        in two months of a season, so that nothing tells how much its months differ.

    Notes
    -----
    Standard deviation of the months over the root of their number. A station with fewer than `OWN_SPREAD` months
    takes the standard deviation pooled over all stations. Months are taken to be independent of each other.
    """
    places, monthly, _ = _monthly(tables, site, seasons)
    errors = []
    for season in seasons:
        groups = monthly[season].groupby(level="name")
        counts, spread = groups.size().reindex(places.index, fill_value=0), groups.std().reindex(places.index)
        degrees = (counts - 1).clip(lower=0)
        if not degrees.sum():
            return None
        pooled = float(np.sqrt((degrees * spread.fillna(0) ** 2).sum() / degrees.sum()))
        own = spread.where(counts >= OWN_SPREAD, pooled)
        errors.append((own / np.sqrt(counts.where(counts > 0))).to_numpy())
    return np.array(errors)


def _monthly(tables: list[gpd.GeoDataFrame], site: Site, seasons: tuple[str | None, ...]):
    """Place of each station, and for each season its monthly means by station and month."""
    import pandas as pd

    records = pd.concat(tables, ignore_index=True)
    records = records[records["value"].notna()]
    names = records["station"].mask(records["station"] == "", records.geometry.to_wkt())
    places = records.groupby(names)["geometry"].first()
    dated = records["time"].notna().all()
    months = records["time"].dt.to_period("M") if dated else pd.Series(0, index=records.index)
    monthly = {}
    for season in seasons:
        chosen = records if season is None else records[records["time"].dt.month.isin(site.seasons[season])]
        by = [names[chosen.index].rename("name"), months[chosen.index].rename("month")]
        monthly[season] = chosen.groupby(by)["value"].mean()
    return places, monthly, records.crs


def year_of(date: str) -> float:
    """Year, with its fraction, of the last day that the date of an entry names.

    Examples
    --------
    >>> year_of("1998"), year_of("2015/2022-07")
    (1999.0, 2022.5833333333333)
    """
    parts = [int(part) for part in date.split("/")[-1].split("-")]
    if len(parts) == 3:
        return parts[0] + (parts[1] - 1) / 12 + (parts[2] - 1) / DAYS_A_YEAR
    return parts[0] + (parts[1] / 12 if len(parts) == 2 else 1.0)


def season_days(seasons: Mapping[str, tuple[int, ...]], season: str | None) -> float:
    """Length of a season, or of the year where `season` is None. [day]

    Examples
    --------
    >>> season_days({"wet": (1, 2, 3), "dry": (4, 5, 6, 7, 8, 9, 10, 11, 12)}, "wet")
    90.25
    """
    from layers.seasonal_runoff import share_of_year

    return DAYS_A_YEAR * (share_of_year(seasons[season]) if season else 1.0)
