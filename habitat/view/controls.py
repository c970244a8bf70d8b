"""The controls of a page: each has a visible label, is reached by keyboard, and changes the view in one line."""

from __future__ import annotations

from collections.abc import Sequence

import panel as pn

from habitat.result import SUITABILITY, THREAT
from habitat.view import theme
from habitat.view.session import Picture, Session

_LOOK = {"stylesheets": [theme.WIDGET_CSS], "sizing_mode": "stretch_width", "margin": 0}


def season_select(session: Session, seasons: Sequence[str] | None = None) -> pn.widgets.Select | None:
    """Choice of season, by default of those of the assessment; None where there are none."""
    if seasons is None:
        scored = session.site_map.assessment.coords.get("season")
        seasons = () if scored is None else scored.values
    if not len(seasons):
        return None
    options = {f"{str(name).capitalize()} season": str(name) for name in seasons}
    select = pn.widgets.Select(name="Season", options=options, value=session.view.season, **_LOOK)
    select.param.watch(lambda event: session.choose(season=event.new), "value")
    return select


def layer_select(session: Session) -> pn.widgets.Select:
    """Choice of the one layer, index or exposure of the detail map."""
    select = pn.widgets.Select(
        name="Layer to show", groups=layer_choices(session.picture), value=session.view.shown, **_LOOK
    )
    select.param.watch(lambda event: session.choose(shown=event.new), "value")
    return select


def place_inputs(session: Session) -> pn.Column:
    """Easting and northing of the chosen cell, to choose one without a mouse."""
    grid = session.site_map.inputs.site.grid
    (west, south, east, north), look = grid.bounds, {"step": grid.cell, "format": "0", **_LOOK}
    x, y = session.view.place or ((west + east) / 2, (south + north) / 2)
    easting = pn.widgets.FloatInput(name="Easting of the place, m", value=x, start=west, end=east, **look)
    northing = pn.widgets.FloatInput(name="Northing of the place, m", value=y, start=south, end=north, **look)
    # the part that was not typed comes from the session: the two fields never disagree half-way
    easting.param.watch(lambda event: session.choose(place=(event.new, session.place[1])), "value")
    northing.param.watch(lambda event: session.choose(place=(session.place[0], event.new)), "value")
    session.param.watch(lambda event: easting.param.update(value=event.new[0]), "place")
    session.param.watch(lambda event: northing.param.update(value=event.new[1]), "place")
    return theme.grid(easting, northing, least=130, gap=12)


def layer_choices(picture: Picture) -> dict[str, dict[str, str]]:
    """Everything that can be drawn, by kind: label to name."""
    kinds: dict[str, dict[str, str]] = {
        "Layers of the site": {},
        "How well each need is met": {},
        "How far each pressure reaches": {},
        "The whole": {},
    }
    for name, layer in picture.layers.data_vars.items():
        kinds["Layers of the site"][_label(layer)] = name
    for name, layer in picture.assessment.data_vars.items():
        if name.startswith("index_"):
            kinds["How well each need is met"][_label(layer)] = name
        elif name.startswith("exposure_"):
            kinds["How far each pressure reaches"][_label(layer)] = name
        elif name in (SUITABILITY.name, THREAT.name, "limiting_factor"):
            kinds["The whole"][_label(layer)] = name
    return {kind: choices for kind, choices in kinds.items() if choices}


def _label(layer: object) -> str:
    label = layer.attrs["long_name"]
    return label[0].upper() + label[1:]
