"""The five steps as cards: a map, its legend and this site's own numbers, each leading to the next."""

from __future__ import annotations

from collections.abc import Callable
from functools import partial

import holoviews as hv
import panel as pn
from markupsafe import Markup

from habitat.colours import INK, MUTED_INK
from habitat.view import catchment_maps, chain_words, maps, theme
from habitat.view.chain import Chain
from habitat.view.legends import class_legend, layer_legend, score_legend
from habitat.view.map_cards import MapTable, choose_place, map_card
from habitat.view.session import Picture, Session

# an arrow in the gap after a card: to the right or down, as the next card lies
_ARROW_CSS = f"""
:host {{ position: relative; overflow: visible; }}
:host::after {{ position: absolute; z-index: 5; display: grid; place-items: center; width: 34px; height: 34px;
  border-radius: 50%; background: {theme.ACCENT}; color: #fff; font: 600 18px/1 system-ui, sans-serif;
  box-shadow: 0 0 0 4px {theme.PAPER}; content: "{{narrow}}" / ""; left: calc(50% - 17px); bottom: -28px; }}
@media (min-width: 1000px) {{ :host::after {{ content: "{{wide}}" / ""; {{place}} }} }}
"""
_RIGHT = "left: auto; right: -28px; bottom: auto; top: 46%;"
_ROW_CSS = """
:host {{ display: grid !important; grid-template-columns: minmax(0, 1fr); gap: 22px; align-items: stretch; }}
:host > * {{ min-width: 0; height: auto; align-self: stretch; }}
.scroll-button {{ display: none; }}
@media (min-width: 1000px) {{ :host {{ grid-template-columns: repeat({columns}, minmax(0, 1fr)); }} }}
"""
CIRCLE_CSS = f"""
.circles {{ display: flex; gap: 6px 18px; flex-wrap: wrap; align-items: center; font-size: 0.82rem;
  color: {MUTED_INK}; margin-top: 8px; }}
.circles span {{ display: inline-flex; align-items: center; gap: 7px; white-space: nowrap; }}
.circles i {{ display: inline-block; border-radius: 50%; border: 1.1px solid {INK}; box-sizing: border-box; }}
"""
_TOGGLE_CSS = f"""
.bk-btn {{ border-radius: 0 !important; border: 1px solid {theme.ACCENT} !important; background: #fff !important;
  color: {theme.ACCENT} !important; box-shadow: none !important; min-height: 38px; }}
.bk-btn:first-child {{ border-radius: 8px 0 0 8px !important; }}
.bk-btn:last-child {{ border-radius: 0 8px 8px 0 !important; }}
.bk-btn:only-child {{ border-radius: 8px !important; }}
.bk-btn.bk-active {{ background: {theme.ACCENT} !important; color: #fff !important; }}
"""
STEPS = (
    ("Land cover of the catchment", "What grows and stands on the land that drains here. Dots are the outlets."),
    ("Load of nitrogen", "What a hectare sends off in a year, and what each outlet brings."),
    ("Plume", "Nitrogen of the sea and of the outlets, mixed."),
    ("Light", "What is left of the light for plants."),
    ("Forage", "Seagrass that the light can keep."),
)


def chain_cards(chain: Chain, session: Session, table: MapTable) -> list[object]:
    """The cards of the five steps in two rows: on land, and in the water."""
    return [
        _row(_cover_card(chain, session), _load_card(chain, session, table)),
        _row(
            _plume_card(chain, session, table), _light_card(chain, session, table), _forage_card(chain, session, table)
        ),
    ]


def step_title(number: int) -> Markup:
    """Number and name of a step."""
    return Markup('<span class="step">{}</span> {}').format(number, STEPS[number - 1][0])


def circle_legend(chain: Chain) -> Markup:
    """Circles of round loads beside their sizes."""
    largest = largest_load(chain)
    if not largest > 0:
        return Markup("")
    top = float(f"{largest:.1g}")
    colour = f"{catchment_maps.CIRCLE}{round(255 * catchment_maps.CIRCLE_ALPHA):02x}"
    parts = Markup("").join(
        Markup('<span><i style="width:{0:.0f}px;height:{0:.0f}px;background:{1}"></i>{2}</span>').format(
            float(catchment_maps.diameter(load, largest)), colour, chain_words.tonnes(load)
        )
        for load in (top, top / 4, top / 20)
    )
    return Markup('<div class="circles">{}<span>a year</span></div>').format(parts)


def largest_load(chain: Chain) -> float:
    """The largest load of an outlet in any season, so that circles of all seasons can be compared. [t/year]"""
    return max((float(table["tonnes"].max()) for table in chain.loads.values() if len(table)), default=0.0)


def layer_of(chain: Chain, name: str, picture: Picture, x_range=None, y_range=None) -> hv.Image:
    """Map of a layer of the chain in the season of the picture."""
    return maps.layer_map(chain.layer(name, picture.season), x_range, y_range)


def chosen_layer(chain: Chain, picture: Picture, name: str, x_range=None, y_range=None) -> hv.Image:
    """Map of the layer that a control names."""
    return layer_of(chain, name, picture, x_range, y_range)


def circles_of(chain: Chain, axes: tuple, by_load: bool, picture: Picture) -> hv.Points:
    """The outlets in the season of the picture."""
    return catchment_maps.circles(chain.loads_in(picture.season), largest_load(chain), axes, by_load=by_load)


def _row(*cards: object) -> pn.Column:
    css = _ROW_CSS.format(columns=len(cards))
    return pn.Column(*cards, stylesheets=[css], sizing_mode="stretch_width", margin=0)


def _card(number: int, picture: object, legend: object, words: object) -> pn.Column:
    css = ""
    if number < len(STEPS):
        is_last_on_land = number == 2
        css = (
            _ARROW_CSS.replace("{narrow}", "↓")
            .replace("{wide}", "↓" if is_last_on_land else "→")
            .replace("{place}", "" if is_last_on_land else _RIGHT)
        )
    return map_card(step_title(number), STEPS[number - 1][1], picture, legend, words, css=css)


def _absent(number: int, chain: Chain, layer: str) -> pn.Column:
    note = Markup("<p>{}</p>").format(chain_words.absence_sentence(chain, layer))
    return _card(number, theme.text(note), Markup(""), Markup(""))


def _said(sentence: Callable[[Chain, str | None], str], chain: Chain, session: Session) -> object:
    return pn.bind(lambda picture: Markup("<p>{}</p>").format(sentence(chain, picture.season)), session.param.picture)


def _cover_card(chain: Chain, session: Session) -> pn.Column:
    if chain.land is None:
        return _absent(1, chain, "catchment")
    land = chain.land
    picture = _land_pane(chain, session, partial(catchment_maps.cover_map, land), by_load=False)
    legend = class_legend(land.cover, land.colours, with_land=False) + _water_key()
    return _card(1, picture, legend, Markup("<p>{}</p>").format(chain_words.cover_sentence(chain)))


def _load_card(chain: Chain, session: Session, table: MapTable) -> pn.Column:
    if not chain.loads:
        return _absent(2, chain, "loads")
    if chain.land is not None and chain.land.nitrogen is not None:
        picture = _land_pane(chain, session, partial(catchment_maps.yield_map, chain.land), by_load=True)
        legend = score_legend(chain.land.nitrogen, scale=catchment_maps.YIELD_SCALE, with_land=False) + _water_key()
    else:
        surface = chain.site_map.layers["surface"]
        circles = partial(circles_of, chain, maps.AXES, True)
        over = hv.DynamicMap(circles, streams=[hv.streams.Params(session, ["picture"])])
        picture = table.map(partial(_surface_map, surface), over=(over,))
        legend = class_legend(surface)
    words = _said(chain_words.load_sentence, chain, session)
    return _card(
        2, picture, Markup("<style>{}</style>").format(Markup(CIRCLE_CSS)) + circle_legend(chain) + legend, words
    )


def _plume_card(chain: Chain, session: Session, table: MapTable) -> pn.Column:
    name = "nitrogen_concentration"
    if name not in chain.layers:
        return _absent(3, chain, name)
    picture = table.map(partial(layer_of, chain, name))
    return _card(3, picture, layer_legend(chain.layers[name]), _said(chain_words.plume_sentence, chain, session))


def _light_card(chain: Chain, session: Session, table: MapTable) -> pn.Column:
    names = {"Light at the bed": "bed_light", "Attenuation": "attenuation"}
    names = {label: name for label, name in names.items() if name in chain.layers}
    if not names:
        return _absent(4, chain, "bed_light")
    choice = pn.widgets.RadioButtonGroup(
        options=names,
        value=next(iter(names.values())),
        stylesheets=[theme.WIDGET_CSS, _TOGGLE_CSS],
        sizing_mode="stretch_width",
        margin=0,
    )
    chosen = hv.streams.Params(choice, ["value"], rename={"value": "name"})
    picture = table.map(partial(chosen_layer, chain), choices=(chosen,))
    legend = pn.bind(lambda name: layer_legend(chain.layers[name]), choice)
    sentences = {"bed_light": chain_words.light_sentence, "attenuation": chain_words.attenuation_sentence}

    def words(picture: Picture, name: str) -> Markup:
        return Markup("<p>{}</p>").format(sentences[name](chain, picture.season))

    return _card(4, theme.stack(picture, choice, gap=10), legend, pn.bind(words, session.param.picture, choice))


def _forage_card(chain: Chain, session: Session, table: MapTable) -> pn.Column:
    if "forage" not in chain.layers:
        return _absent(5, chain, "forage")
    picture = table.map(partial(layer_of, chain, "forage"))
    return _card(5, picture, layer_legend(chain.layers["forage"]), _said(chain_words.forage_sentence, chain, session))


def _surface_map(surface: object, picture: Picture, x_range=None, y_range=None) -> hv.Image:
    return maps.class_map(surface, x_range, y_range)


def _water_key() -> Markup:
    return Markup(
        '<div class="keys"><span><i class="swatch" style="background:{}"></i>water of the site</span>'
        "<span>dashed: what drains to the outlets</span></div>"
    ).format(catchment_maps.WATER)


def _land_pane(chain: Chain, session: Session, draw: Callable[..., hv.Image], *, by_load: bool) -> pn.pane.HoloViews:
    """A live map on the catchment's grid; those of one page share their window."""
    land, axes = chain.land, catchment_maps.AXES
    picture = hv.DynamicMap(draw, streams=[hv.streams.RangeXY()])
    hv.streams.Tap(source=picture).add_subscriber(partial(choose_place, session))
    follows = [hv.streams.Params(session, ["picture"])]
    layers = maps.ground(land.grid, axes) * picture * catchment_maps.waters(land) * catchment_maps.divide(land)
    if chain.loads:
        layers = layers * hv.DynamicMap(partial(circles_of, chain, axes, by_load), streams=follows)
    ring = hv.DynamicMap(partial(maps.mark, axes=axes), streams=[hv.streams.Params(session, ["place"])])
    overlay = maps.framed(layers * ring, land.grid)
    return pn.pane.HoloViews(overlay, sizing_mode="stretch_width", margin=0, min_height=200)
