"""The maps of an appraisal: one with a divide, on which the proposal is dragged, and before, after, difference."""

from __future__ import annotations

from functools import partial

import holoviews as hv
import panel as pn
from markupsafe import Markup

from habitat.view import difference, swipe, theme
from habitat.view.appraise_forms import with_variation
from habitat.view.controls import season_select
from habitat.view.desk import Desk
from habitat.view.fields import LOOK
from habitat.view.legends import LEGEND_CSS, suitability_legend, threat_legend
from habitat.view.map_cards import MapTable, map_card, shown_picture
from habitat.view.session import Picture, Session

KINDS_SHOWN = {"Suitability": "suitability", "Threat": "threat"}
FOLLOWS = ("picture", "shown")
HOW = Markup(
    "<h2>Before and after on one map</h2>"
    "<p>Left of the divide the map shows the site as it is, right of it the site with the variant in view. "
    "<strong>Drag the orange outline</strong> to move what is proposed: when you let go, the moved variant is "
    "worked out and set beside the others. Drag elsewhere to shift the view.</p>"
)


def map_parts(desk: Desk, session: Session) -> list[pn.Column]:
    """The divided map with its controls, and the three maps beside each other."""
    table = MapTable(session, with_zones=False)
    return [_swipe_card(desk, session, table), theme.grid(*_three(desk, session, table), least=300)]


def moved_by_hand(desk: Desk, east: float, north: float) -> None:
    """Make the variant that lies so far from the one in view. [m]"""
    if desk.bench.trial is not None:
        wish = swipe.further(desk.bench.trial.variation, east, north)
        desk.do("what the moved variant does", partial(with_variation, desk, wish), live=True)


def flipped(divide: float) -> float:
    """The whole map of the other side."""
    return 0.0 if divide > 0.5 else 1.0


def _swipe_card(desk: Desk, session: Session, table: MapTable) -> pn.Column:
    slider = pn.widgets.FloatSlider(
        name="Divide: before to its left, after to its right",
        start=0.0,
        end=1.0,
        step=0.02,
        value=0.5,
        show_value=False,
        **LOOK,
    )
    flip = pn.widgets.Button(name="Flip between before and after", **LOOK)
    flip.on_click(lambda _: slider.param.update(value=flipped(slider.value)))
    bench = hv.streams.Params(desk, ["bench"])
    divide = hv.streams.Params(slider, ["value"], rename={"value": "divide"})
    grid = table.grid
    land = hv.DynamicMap(partial(swipe.land_of_swipe, grid), streams=[bench, divide, table.in_view])
    line = hv.DynamicMap(partial(swipe.divide_line, grid), streams=[divide, table.in_view])
    approved = hv.DynamicMap(partial(difference.approved_footprint, grid=grid), streams=[bench])
    tried = hv.streams.Params(desk, ["bench", "failed"])
    outline = hv.DynamicMap(partial(swipe.movable, grid, partial(moved_by_hand, desk)), streams=[tried])
    drawn = table.map(swipe.swipe_map, follows=FOLLOWS, choices=(bench, divide), over=(land, line, approved, outline))
    # a drag belongs to the outline
    drawn.object = drawn.object.opts(hv.opts.Overlay(active_tools=["wheel_zoom"]))
    season = season_select(session)
    shown = pn.widgets.Select(name="Map of", options=KINDS_SHOWN, value=session.view.shown, **LOOK)
    shown.param.watch(lambda event: session.choose(shown=event.new), "value")
    keys = theme.text(pn.bind(legend, session.param.picture, session.param.shown), css=LEGEND_CSS)
    side = theme.stack(*([season] if season else []), shown, slider, flip, keys, gap=14)
    return theme.card(theme.text(HOW), theme.grid(drawn, side, least=340, gap=24, align="start"))


def _three(desk: Desk, session: Session, table: MapTable) -> list[pn.Column]:
    bench = hv.streams.Params(desk, ["bench"])
    outline = hv.DynamicMap(partial(difference.footprint, grid=table.grid), streams=[bench])
    approved = hv.DynamicMap(partial(difference.approved_footprint, grid=table.grid), streams=[bench])
    claimed = hv.DynamicMap(partial(difference.new_land, grid=table.grid), streams=[bench])
    keys = pn.bind(legend, session.param.picture, session.param.shown)
    changed = pn.bind(difference.difference_legend, session.param.shown)
    after = table.map(difference.after_map, follows=FOLLOWS, choices=(bench,), over=(claimed, approved, outline))
    between = table.map(difference.difference_map, follows=FOLLOWS, choices=(bench,), over=(claimed, approved, outline))
    before = table.map(shown_picture, follows=FOLLOWS, over=(outline,))
    return [
        map_card("Before", "The site as it is.", before, keys, Markup("")),
        map_card("After", "With the variant in view.", after, keys, Markup("")),
        map_card("Difference", "After less before.", between, changed, Markup("")),
    ]


def legend(picture: Picture, shown: str) -> Markup:
    """Legend of the chosen score."""
    return suitability_legend(picture) if shown == "suitability" else threat_legend(picture)
