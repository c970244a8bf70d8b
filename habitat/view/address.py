"""A view in the address of its page, so that it can be mailed, kept and cited."""

from __future__ import annotations

import math
from dataclasses import replace

import panel as pn

from habitat.site_map import SiteMap
from habitat.view.session import Session, View


def view_of_address(first: View, site_map: SiteMap) -> View:
    """The view the address of the page asks for; what it says wrongly, or not at all, is as in `first`."""
    location = pn.state.location
    return first if location is None else view_of_query(first, site_map, location.query_params)


def view_of_query(first: View, site_map: SiteMap, query: dict[str, object]) -> View:
    """`first` with the season, layer and place of a query, where the site has them.

    Parameters
    ----------
    first : View
        What is shown without a query.
    site_map : SiteMap
        The site on the page.
    query : dict
        `season`, `layer`, `easting`, `northing`; from a stranger, so nothing in it is trusted.
    """
    seasons = [] if "season" not in site_map.assessment.coords else site_map.assessment["season"].values.tolist()
    season, shown = str(query.get("season")), str(query.get("layer"))
    place = (query.get("easting"), query.get("northing"))
    is_place = all(isinstance(part, int | float) and math.isfinite(part) for part in place) and (
        site_map.inputs.site.grid.cell_at(*place) is not None
    )
    return replace(
        first,
        season=season if season in seasons else first.season,
        shown=shown if shown in {*site_map.layers.data_vars, *site_map.assessment.data_vars} else first.shown,
        place=place if is_place else first.place,
    )


def keep_address(session: Session) -> None:
    """Write every change of the view into the address of the page; nothing to do in JupyterLab."""
    location = pn.state.location
    if location is not None:
        session.param.watch(lambda event: location.update_query(**query_of_view(event.new.present)), "history")


def query_of_view(view: View) -> dict[str, object]:
    """The view as a query that `view_of_query` reads back."""
    easting, northing = view.place
    asked = {"season": view.season, "layer": view.shown, "easting": round(easting), "northing": round(northing)}
    return {key: value for key, value in asked.items() if value is not None}
