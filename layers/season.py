"""Values of dated station records, season by season."""

from __future__ import annotations

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    import geopandas as gpd

    from layers.site import Site


def station_means(tables: list[gpd.GeoDataFrame], site: Site, season: str | None) -> gpd.GeoDataFrame:
    """Mean value of each station over the records of one season.

    Parameters
    ----------
    tables : list of GeoDataFrame
        Columns station, time (datetime64 or NaT), value; points in the grid's projection.
    site : Site
        Whose months make up the season.
    season : str or None
        None takes every record.

    Returns
    -------
    GeoDataFrame
        One row a station, in the order of their names: columns station, value, records, geometry. Months are
        averaged first, so a season sampled more often in one year or month does not lean towards it.
    """
    import geopandas as gpd
    import pandas as pd

    records = pd.concat(tables, ignore_index=True)
    records = records[records["value"].notna()]
    if season is not None:
        records = records[records["time"].dt.month.isin(site.seasons[season])]
    dated = records["time"].notna().all() and len(records) > 0
    month = records["time"].dt.to_period("M") if dated else pd.Series(0, index=records.index)
    monthly = records.groupby([records["station"], month.rename("month")])["value"].mean()
    by_station = records.groupby("station")
    places = by_station["geometry"].first()
    means = pd.DataFrame(
        {
            "station": places.index,
            "value": monthly.groupby(level="station").mean().to_numpy(),
            "records": by_station.size().to_numpy(),
        }
    )
    return gpd.GeoDataFrame(means, geometry=gpd.GeoSeries(places.to_numpy(), crs=records.crs))
