"""A map on the page: heading, picture, legend, and the same in words."""

from __future__ import annotations

from collections.abc import Callable
from functools import partial

import holoviews as hv
import panel as pn
from markupsafe import Markup

from habitat.view import maps, theme
from habitat.view.areas import zones_of
from habitat.view.legends import LEGEND_CSS
from habitat.view.session import Picture, Session
from habitat.view.window import MOST_CELLS, window
from layers.grid import Grid
from layers.shore import land_outline


class MapTable:
    """The maps of one page: they share the window in view, the pointer and the chosen place."""

    def __init__(self, session: Session, *, with_zones: bool = True):
        self.session = session
        self.grid = session.site_map.inputs.site.grid
        self.in_view = hv.streams.RangeXY()
        self._backdrop = maps.ground(self.grid)
        self._land = maps.land(land_shapes(session), self.grid)
        zones = zones_of(session.site_map) if with_zones else None
        self._zones = maps.outlines(None if zones is None else zones.geometry, self.grid)

    def map(
        self,
        draw: Callable[..., hv.Image],
        *,
        follows: tuple[str, ...] = ("picture",),
        score: str | None = None,
        choices: tuple[hv.streams.Stream, ...] = (),
        over: tuple[hv.core.ViewableElement, ...] = (),
    ) -> pn.pane.HoloViews:
        """A live map: `draw(x_range=..., y_range=..., **what it follows)` gives its picture.

        On the map of a `score`, cells that were scored without all their parts are dotted. `choices` are streams the
        picture follows besides the session, and `over` is drawn over picture and land.
        """
        streams = [hv.streams.Params(self.session, list(follows)), *choices, self.in_view]
        picture = hv.DynamicMap(draw, streams=streams)
        ring = hv.DynamicMap(maps.mark, streams=[hv.streams.Params(self.session, ["place"])])
        hv.streams.Tap(source=picture).add_subscriber(partial(choose_place, self.session))
        hv.streams.PointerXY(source=picture).add_subscriber(partial(point_at, self.session))
        layers = self._backdrop * picture
        if score is not None:
            dots = partial(lacking_of, score)
            layers = layers * hv.DynamicMap(dots, streams=[hv.streams.Params(self.session, ["picture"])])
        layers = layers * self._land * self._zones
        for element in over:
            layers = layers * element
        overlay = maps.framed(layers * ring, self.grid)
        return pn.pane.HoloViews(overlay, sizing_mode="stretch_width", margin=0, min_height=200)

    def thinning_note(self) -> pn.widgets.StaticText:
        """Says so while the maps draw fewer cells than there are."""
        note = pn.bind(partial(thinning_sentence, self.grid), self.in_view.param.x_range, self.in_view.param.y_range)
        piece = theme.text(note)
        piece.visible = pn.bind(bool, note)
        return piece


def map_card(title: object, about: str, picture: object, legend: object, words: object, *, css: str = "") -> pn.Column:
    """Heading, map, legend and the same in words; `css` is the style of this card alone."""
    head = Markup('<h2>{}</h2><p class="quiet">{}</p>').format(title, about)
    return theme.card(theme.text(head), picture, theme.text(legend, css=LEGEND_CSS), theme.text(words), css=css)


def thinning_sentence(grid: Grid, x_range: tuple | None, y_range: tuple | None) -> str:
    """What the reader should know of a thinned picture; empty where every cell is drawn."""
    view = window(grid, x_range, y_range)
    if view is None or not view.is_thinned:
        return ""
    return (
        f"The maps show blocks of {view.step} by {view.step} cells, at most {MOST_CELLS} a side; zoom in to see every "
        "cell. A block of the threat map takes its worst cell. All numbers come from every cell."
    )


def picture_of(name: str, picture: Picture, x_range=None, y_range=None) -> hv.Image:
    """Map of one named layer of the picture."""
    return maps.layer_map(picture.layer(name), x_range, y_range)


def lacking_of(score: str, picture: Picture) -> hv.Points:
    """Dots over the cells of a score that lack a part of it."""
    missing = picture.layer("missing_pressures" if score == "threat" else "missing_factors")
    if score == "concern":
        missing = missing + picture.layer("missing_pressures")
        missing.attrs = {}
    return maps.lacking(missing, picture.layer(score))


def shown_picture(picture: Picture, shown: str, x_range=None, y_range=None) -> hv.Image:
    """Map of the layer the visitor chose."""
    return maps.layer_map(picture.layer(shown), x_range, y_range)


def choose_place(session: Session, x: float | None, y: float | None) -> None:
    """Choose the cell that was clicked, if it lies in the site."""
    if x is not None and session.site_map.inputs.site.grid.cell_at(x, y) is not None:
        session.choose(place=(round(float(x)), round(float(y))))


def point_at(session: Session, x: float | None, y: float | None) -> None:
    """Remember what is under the pointer."""
    session.pointed = None if x is None or y is None else (float(x), float(y))


def land_shapes(session: Session) -> object:
    """Land as the site decides it: the polygons that decide, else the outline of the cells that are land."""
    return land_outline(session.site_map.inputs, session.site_map.layers["surface"])
