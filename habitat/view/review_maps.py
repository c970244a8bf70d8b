"""The maps of a review: recorded, rebuilt and their difference beside each other, and classes divided by a slider."""

from __future__ import annotations

from functools import partial

import holoviews as hv
import numpy as np
import panel as pn
from markupsafe import Markup

from habitat.colours import INK, PAGE
from habitat.view import maps, swipe, theme
from habitat.view.controls import season_select
from habitat.view.difference import PEN
from habitat.view.fields import LOOK
from habitat.view.legends import LEGEND_CSS, class_legend, layer_legend, score_legend
from habitat.view.map_cards import MapTable, map_card
from habitat.view.review_pairs import Pair, Pairs
from habitat.view.session import Picture, Session
from layers.grid import Grid

FOLLOWS = ("picture", "shown")
MOST_MARKS = 400  # cells that are ringed one by one; more of them are seen without
NOT_KEPT = "The record keeps no cells of it, only their digest: there is nothing to lay beside the map made again."
APART = Markup(
    "<h2>What differs, and where</h2><p>The same window of three maps. Every cell that differs is ringed while they "
    "are few; the worst has a ring of its own. Click a cell to follow it back to its files.</p>"
)
DIVIDED = Markup(
    "<h2>Classes, divided</h2><p>Left of the divide the map shows the classes as recorded, right of it as they were "
    "made again.</p>"
)


def apart_card(pairs: Pairs, session: Session, table: MapTable) -> pn.Column:
    """The three maps with the choice of what they show, and how many cells differ, by how much and where."""
    shown = pn.widgets.Select(name="Layer or score", groups=pairs.choices(), value=session.view.shown, **LOOK)
    shown.param.watch(lambda event: session.choose(shown=event.new), "value")
    season = season_select(session)
    keys = pn.bind(partial(legend, pairs), session.param.picture, session.param.shown)
    changed = pn.bind(partial(change_legend, pairs), session.param.picture, session.param.shown)
    said = pn.bind(partial(apart_words, pairs), session.param.picture, session.param.shown)
    marks = hv.DynamicMap(partial(marked, pairs), streams=[hv.streams.Params(session, list(FOLLOWS))])
    drawn = {
        side: table.map(partial(side_map, pairs, side), follows=FOLLOWS, over=(marks,) if side == "change" else ())
        for side in ("recorded", "rebuilt", "change")
    }
    row = theme.grid(
        map_card("Recorded", "As the record keeps it.", drawn["recorded"], keys, Markup("")),
        map_card("Made again", "From the files and numbers.", drawn["rebuilt"], keys, Markup("")),
        map_card("Difference", "Made again less recorded.", drawn["change"], changed, Markup("")),
        least=300,
    )
    controls = theme.grid(shown, *([season] if season else []), least=240, gap=14)
    return theme.stack(theme.card(theme.text(APART), controls, theme.text(said)), row, gap=14)


def divided_card(pairs: Pairs, session: Session, table: MapTable) -> pn.Column | None:
    """A map of classes with a divide; None where the record keeps no such map."""
    choices = pairs.classes()
    if not choices:
        return None
    what = pn.widgets.Select(name="Classes of", options=choices, **LOOK)
    slider = pn.widgets.FloatSlider(
        name="Divide: recorded to its left, made again to its right",
        start=0.0,
        end=1.0,
        step=0.02,
        value=0.5,
        show_value=False,
        **LOOK,
    )
    divide = hv.streams.Params(slider, ["value"], rename={"value": "divide"})
    kind = hv.streams.Params(what, ["value"], rename={"value": "kind"})
    line = hv.DynamicMap(partial(swipe.divide_line, table.grid), streams=[divide, table.in_view])
    drawn = table.map(partial(divided_map, pairs), choices=(divide, kind), over=(line,))
    keys = theme.text(pn.bind(partial(legend, pairs), session.param.picture, what), css=LEGEND_CSS)
    side = theme.stack(what, slider, keys, gap=14)
    return theme.card(theme.text(DIVIDED), theme.grid(drawn, side, least=340, gap=24, align="start"))


def side_map(pairs: Pairs, side: str, picture: Picture, shown: str, x_range=None, y_range=None) -> hv.Image:
    """The map of one side: "recorded", "rebuilt" or "change"; where the record keeps no cells, of nothing."""
    pair = pairs.pair(shown, picture.season)
    if pair is None:
        layer = _of_season(pairs, shown, picture)
        layer = layer if side == "rebuilt" else layer.copy(data=np.zeros_like(layer.to_numpy()) + _nothing(layer))
        return maps.layer_map(layer, x_range, y_range)
    if side != "change":
        return maps.layer_map(getattr(pair, side), x_range, y_range)
    if pair.is_codes:
        return maps.class_map(pair.change, x_range, y_range)
    return maps.score_map(pair.change, x_range, y_range, scale=pair.scale)


def divided_map(pairs: Pairs, picture: Picture, divide: float, kind: str, x_range=None, y_range=None) -> hv.Image:
    """Classes as recorded to the left of the divide, as made again to its right."""
    pair = pairs.pair(kind, picture.season)
    at = swipe.divide_at(divide, Grid.of(pair.rebuilt), x_range)
    return maps.class_map(swipe.divided(pair.recorded, pair.rebuilt, at), x_range, y_range)


def marked(pairs: Pairs, picture: Picture, shown: str) -> hv.Overlay:
    """Rings around the cells that differ, while they are few, and around the worst."""
    pair = pairs.pair(shown, picture.season)
    rows, columns = (np.zeros(0, int),) * 2 if pair is None else np.nonzero(pair.apart)
    grid = pairs.made.found.inputs.site.grid
    many = len(rows) > MOST_MARKS
    places = [] if many else list(zip(grid.x[columns], grid.y[rows], strict=True))
    worst = [] if pair is None or pair.difference is None else [(pair.difference.easting, pair.difference.northing)]
    look = {"apply_ranges": False, "fill_alpha": 0}
    ringed = hv.Points(places, [maps.EAST, maps.NORTH]).opts(size=7, line_color=INK, line_width=1, **look)
    halo = hv.Points(worst, [maps.EAST, maps.NORTH]).opts(size=19, line_color=PAGE, line_width=5, **look)
    return (
        ringed * halo * hv.Points(worst, [maps.EAST, maps.NORTH]).opts(size=19, line_color=PEN, line_width=2.5, **look)
    )


def apart_words(pairs: Pairs, picture: Picture, shown: str) -> Markup:
    """How many cells of the layer in view differ, the worst, and where."""
    pair = pairs.pair(shown, picture.season)
    when = f" in the {picture.season} season" if "season" in pairs.rebuilt(shown).dims else ""
    if pair is None:
        return Markup('<p role="status">{}</p>').format(NOT_KEPT)
    if pair.difference is None:
        return Markup('<p role="status"><strong>{}</strong></p>').format(f"Every cell{when} is the same, to the bit.")
    found = pair.difference
    one_sided = f" {found.one_sided:,} have data on one side only." if found.one_sided else ""
    return Markup('<p role="status"><strong>{} of {} cells differ{}.</strong>{} The worst: {}.</p>').format(
        f"{found.count:,}", f"{found.of:,}", when, one_sided, worst_words(pair)
    )


def worst_words(pair: Pair) -> str:
    """The worst cell with both its values."""
    found = pair.difference
    return (
        f"row {found.row}, column {found.column} (easting {found.easting:.0f}, northing {found.northing:.0f}), "
        f"{value_words(pair, found.recorded)} recorded, {value_words(pair, found.found)} now"
    )


def value_words(pair: Pair, value: float) -> str:
    """A value to the digits in which two of them can differ; of classes, the word."""
    if pair.is_codes and value == value:
        return pair.rebuilt.attrs["flag_meanings"].split()[int(value)].replace("_", " ")
    unit = pair.rebuilt.attrs.get("units", "1")
    return "no data" if value != value else f"{value:.7g}{'' if unit == '1' else f' {unit}'}"


def legend(pairs: Pairs, picture: Picture, shown: str) -> Markup:
    """Legend of the layer in view."""
    return layer_legend(_of_season(pairs, shown, picture))


def change_legend(pairs: Pairs, picture: Picture, shown: str) -> Markup:
    """Legend of the difference."""
    pair = pairs.pair(shown, picture.season)
    rings = Markup(
        '<div class="keys"><span>small rings: cells that differ</span><span>orange ring: the worst</span></div>'
    )
    if pair is None:
        return Markup("")
    if pair.is_codes:
        said = Markup('<div class="keys"><span>drawn where the class is another, in the colour it has now</span></div>')
        return class_legend(pair.rebuilt) + said + rings
    return score_legend(pair.change, (0.0,), scale=pair.scale) + rings


def _of_season(pairs: Pairs, key: str, picture: Picture):
    layer = pairs.rebuilt(key)
    return layer.sel(season=picture.season) if "season" in layer.dims else layer


def _nothing(layer) -> float | int:
    return np.float32(np.nan) if layer.dtype.kind == "f" else layer.dtype.type(0)
