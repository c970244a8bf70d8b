"""Values of dated station records, season by season."""

from __future__ import annotations

from collections.abc import Mapping
from typing import TYPE_CHECKING

from layers.units import DAYS_A_YEAR

if TYPE_CHECKING:
    import geopandas as gpd

    from layers.site import Site


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
        One row a station, in the order of their names: columns station, one for each of `seasons`, geometry. NaN
        where a station has no record in that season. Months are averaged first, so a season sampled more often
        in one year or month does not lean towards it.
    """
    import geopandas as gpd
    import pandas as pd

    records = pd.concat(tables, ignore_index=True)
    records = records[records["value"].notna()]
    names = records["station"].mask(records["station"] == "", records.geometry.to_wkt())
    places = records.groupby(names)["geometry"].first()
    dated = records["time"].notna().all()
    months = records["time"].dt.to_period("M") if dated else pd.Series(0, index=records.index)
    means = pd.DataFrame({"station": places.index})
    for season in seasons:
        chosen = records if season is None else records[records["time"].dt.month.isin(site.seasons[season])]
        monthly = chosen.groupby([names[chosen.index].rename("name"), months[chosen.index].rename("month")])[
            "value"
        ].mean()
        means[season] = monthly.groupby(level="name").mean().reindex(places.index).to_numpy()
    return gpd.GeoDataFrame(means, geometry=gpd.GeoSeries(places.to_numpy(), crs=records.crs))


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
    91.3125
    """
    return DAYS_A_YEAR * (len(seasons[season]) / 12 if season else 1.0)
