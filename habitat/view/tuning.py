"""The scientist's page: curves dragged over the water they are about, and a profile that says why it was changed."""

from __future__ import annotations

from dataclasses import replace

import holoviews as hv
import panel as pn
import xarray as xr
from markupsafe import Markup

from habitat.profile_edit import part_of
from habitat.site_map import SiteMap
from habitat.view import flips, maps, theme
from habitat.view.controls import season_select
from habitat.view.curve_editor import CurveEditor
from habitat.view.curve_sketch import SKETCH_CSS, curve_sketch
from habitat.view.difference import difference_scale
from habitat.view.frame import whole_page
from habitat.view.legends import score_legend, suitability_legend, threat_legend
from habitat.view.map_cards import MapTable, map_card
from habitat.view.overview import first_view
from habitat.view.session import Picture
from habitat.view.spread import curve_sentence
from habitat.view.tuning_controls import LOOK, part_fields, part_select, rule_fields, step_buttons, weight_input
from habitat.view.tuning_file import reason_fields, save_form
from habitat.view.tuning_second import comparison_table, load_form
from habitat.view.tuning_session import Sight, Tuning

LEAD = (
    "Drag a point of a curve, or type it: the whole site is scored again, and what changes class is shown and counted."
)
KINDS = {"Suitability": "suitability", "Threat": "threat"}
TABLE_CSS = """
.wide { overflow-x: auto; }
.wide td, .wide th { min-width: 7em; }
.live span { display: inline-block; margin-right: 1.4em; }
td { overflow-wrap: anywhere; }
"""
HINT = Markup(
    "<p class='quiet'>Bars: how the values lie over the water (thin outline: the other season). Dotted: the curve as "
    "published; dashed: the second profile. Drag a point, or type its numbers below.</p>"
)


def tuning_page() -> pn.Column:
    """The whole page about the opened site."""
    return whole_page("tuning", LEAD, _body)


def _body(site_map: SiteMap) -> list[object]:
    start = replace(first_view(site_map), shown="suitability", part=site_map.profile.factors[0].name)
    session = Tuning(site_map, start)
    table = MapTable(session)
    session.in_view = lambda: (table.in_view.x_range, table.in_view.y_range)
    season = season_select(session)
    shown = pn.widgets.Select(name="Maps of", options=KINDS, value="suitability", **LOOK)
    shown.param.watch(lambda event: session.choose(shown=event.new), "value")
    editor = CurveEditor(session)
    in_hand = theme.card(
        theme.text(Markup("<h2>The curve in hand</h2>")),
        part_select(session),
        editor.pane,
        theme.text(pn.bind(lambda _: sentence_in_hand(session), session.param.history)),
        theme.text(HINT),
        part_fields(session),
        gap=12,
    )
    live = theme.card(
        theme.grid(*([season] if season else []), shown, step_buttons(session), least=240, gap=14, align="end"),
        theme.text(pn.bind(live_words, session.param.sight), css=TABLE_CSS),
    )
    legend = pn.bind(score_words, session.param.picture, session.param.shown)
    score = map_card(
        "The map now",
        "With the profile as it stands on this page.",
        table.map(draw_score, follows=("sight", "shown")),
        legend,
        Markup(""),
    )
    flipped = map_card(
        "Cells that change class",
        "Against the profile as published.",
        table.map(draw_flips, follows=("sight", "shown")),
        pn.bind(flips.flip_legend, session.param.shown),
        Markup(""),
    )
    hectares = theme.card(
        theme.text(Markup("<h2>Hectares by class</h2>")),
        theme.text(pn.bind(hectares_words, session.param.sight), css=TABLE_CSS),
    )
    combine = theme.card(theme.text(Markup("<h2>How they are combined and cut</h2>")), *rule_fields(session), gap=12)
    save = theme.card(
        theme.text(
            Markup(
                "<h2>Say why, and save</h2><p>Each changed number goes into the file with what it was, your reason, "
                "your name and the date.</p>"
            )
        ),
        reason_fields(session),
        *save_form(session),
        gap=12,
    )
    load = theme.card(theme.text(Markup("<h2>Load, or lay a second profile beside</h2>")), *load_form(session), gap=12)
    return [
        live,
        theme.grid(theme.stack(in_hand, hectares, combine), theme.stack(score, flipped), least=420, align="start"),
        theme.text(Markup("<h2>All curves and weights</h2>")),
        theme.grid(*(_sketch_card(session, part.name) for part in _parts(site_map)), least=250, align="stretch"),
        theme.grid(save, load, least=420, align="start"),
        _second(session, table),
        table.thinning_note(),
    ]


def sentence_in_hand(session: Tuning) -> Markup:
    """What the curve in hand means for this site."""
    part = part_of(session.view.profile, session.view.part)
    return Markup("<p><strong>{}</strong></p>").format(curve_sentence(part, session.spread(part.layer)))


def live_words(sight: Sight) -> Markup:
    """Hectares that change class; about, while a hand moves."""
    return flips.flip_sentence(sight.published, sight.now, about=sight.is_rough)


def hectares_words(sight: Sight) -> Markup:
    """Hectares of each class as published and now."""
    note = "<p class='quiet'>While you drag: from the cells the map draws.</p>" if sight.is_rough else ""
    return flips.classes_table(sight.published, sight.now) + Markup(note)


def score_words(picture: Picture, shown: str) -> Markup:
    """Legend of the score in view."""
    return suitability_legend(picture) if shown == "suitability" else threat_legend(picture)


def draw_score(sight: Sight, shown: str, x_range=None, y_range=None) -> hv.Image:
    """Map of the score in view."""
    return maps.score_map(sight.now.layer(shown), x_range, y_range)


def draw_flips(sight: Sight, shown: str, x_range=None, y_range=None) -> hv.Image:
    """Map of the cells that change class; in a block of many cells a change is never hidden."""
    return _flip_map(flips.flips(sight.published, sight.now, shown), x_range, y_range)


def _flip_map(flipped: xr.DataArray, x_range, y_range) -> hv.Image:
    colours = tuple(flips.FLIP_COLOURS[code] for code in (flips.SAME, flips.BETTER, flips.WORSE))
    scale = maps.Scale(name="threat", colours=colours, low=0.5, high=3.5)
    return maps.score_map(flipped, x_range, y_range, scale=scale).opts(hover_tooltips=[])


def _sketch_card(session: Tuning, name: str) -> pn.Column:
    def drawn(_) -> Markup:
        part, published = part_of(session.view.profile, name), part_of(session.site_map.profile, name)
        spread = session.spread(part.layer)
        kind = "need" if hasattr(part, "curve") else "pressure"
        return Markup("<h3>{} <span class='quiet'>{}</span></h3>{}<p class='quiet'>{}</p>").format(
            part.label.capitalize(), kind, curve_sketch(part, spread, published), curve_sentence(part, spread)
        )

    label = part_of(session.view.profile, name).label
    button = pn.widgets.Button(name=f"Take {label} in hand", **LOOK)
    button.on_click(lambda _: session.choose(part=name))
    return theme.card(
        theme.text(pn.bind(drawn, session.param.history), css=SKETCH_CSS),
        weight_input(session, name, f"Weight of {label}"),
        button,
        gap=10,
    )


def _second(session: Tuning, table: MapTable) -> pn.Column:
    """Two profiles side by side, once there is a second one."""
    place = theme.stack()
    is_built: list[bool] = []

    def lay_out(event) -> None:
        if event.new is None:
            place.objects, _ = [], is_built.clear()
        elif not is_built:
            is_built.append(True)
            place.objects = _second_cards(session, table)

    session.param.watch(lay_out, "other")
    return place


def _second_cards(session: Tuning, table: MapTable) -> list[object]:
    def draw_other(other, picture, shown, x_range=None, y_range=None) -> hv.Image:
        return maps.score_map((session.other_picture() or picture).layer(shown), x_range, y_range)

    def draw_difference(other, picture, shown, x_range=None, y_range=None) -> hv.Image:
        second = session.other_picture() or picture
        changed = second.layer(shown).copy(data=second.layer(shown).to_numpy() - picture.layer(shown).to_numpy())
        changed.attrs = {"long_name": f"difference of {shown}", "units": "1"}
        return maps.score_map(changed, x_range, y_range, scale=difference_scale(shown))

    def difference_words(shown: str) -> Markup:
        layer = xr.DataArray(0.0, name=shown, attrs={"long_name": f"difference of {shown}", "units": "1"})
        worse = "less suitable" if shown == "suitability" else "more threat"
        words = Markup('<div class="keys"><span>orange: {} by the second profile; blue: the other way</span></div>')
        return score_legend(layer, (0.0,), scale=difference_scale(shown)) + words.format(worse)

    def told(other, picture, shown) -> Markup:
        second = session.other_picture()
        if second is None:
            return Markup("")
        heads = (f"now: {picture.profile.title}", f"second: {second.profile.title}")
        return flips.crossing_table(picture, second, shown, heads)

    def compared(other, picture) -> Markup:
        return Markup("") if other is None else comparison_table(picture.profile, other.profile)

    follows = ("other", "picture", "shown")
    both = [session.param[name] for name in follows]
    return [
        theme.text(Markup("<h2>Two profiles side by side</h2>")),
        theme.grid(
            map_card(
                "By the second profile", "", table.map(draw_other, follows=follows),
                pn.bind(score_words, session.param.picture, session.param.shown), Markup(""),
            ),
            map_card(
                "Difference", "The second profile less the one on this page.",
                table.map(draw_difference, follows=follows), pn.bind(difference_words, session.param.shown), Markup(""),
            ),
            least=420,
        ),
        theme.card(
            theme.text(Markup("<h2>How far they agree</h2>")), theme.text(pn.bind(told, *both), css=TABLE_CSS)
        ),
        theme.card(
            theme.text(Markup("<h2>Where the profiles differ</h2>")),
            theme.text(pn.bind(compared, *both[:2]), css=TABLE_CSS),
        ),
    ]  # fmt: skip


def _parts(site_map: SiteMap) -> tuple:
    return (*site_map.profile.factors, *site_map.profile.pressures)
