"""Values of dated station records, season by season."""

from __future__ import annotations

from typing import TYPE_CHECKING

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
