"""Points and doubt: what was measured where, the map made from it, and how far that map may be off."""

from __future__ import annotations

from functools import partial

import holoviews as hv
import numpy as np
import panel as pn
import xarray as xr
from markupsafe import Markup

from habitat.view import maps, theme
from habitat.view.chain import Chain
from habitat.view.chain_words import method_in
from habitat.view.legends import layer_legend
from habitat.view.map_cards import MapTable, map_card
from habitat.view.measured import Measured, station_marks, station_names, survey_dots
from habitat.view.session import Picture, Session
from habitat.view.words import measure
from layers.quantity import LAYERS

NO_ERROR = (
    "No standard error: nobody has stated one for these values, and none was found from them. The map may be off by "
    "any amount."
)
MEANING = (
    "If the standard error is honest, the truth lies within it about two times in three, and within twice that "
    "nineteen times in twenty."
)


def doubt_part(chain: Chain, session: Session, table: MapTable) -> list[object]:
    """The choice of what was measured, and its two maps; a note where the site holds no points."""
    if not chain.measured:
        note = (
            "<h2>Points and doubt</h2><p>No soundings and no stations lie in this site's files: every layer comes from "
        )
        return [theme.card(theme.text(Markup(note + "a raster or from shapes, and carries no standard error.</p>")))]
    options = {_title(chain.layers[name]): name for name in chain.measured}
    choice = pn.widgets.Select(
        name="What was measured",
        options=options,
        value=next(iter(options.values())),
        stylesheets=[theme.WIDGET_CSS],
        sizing_mode="stretch_width",
        margin=0,
    )
    chosen = hv.streams.Params(choice, ["value"], rename={"value": "name"})
    follows = hv.streams.Params(session, ["picture"])

    def marks(filled: bool) -> tuple[hv.DynamicMap, ...]:
        return tuple(
            hv.DynamicMap(partial(draw, chain), streams=[follows, chosen])
            for draw in (_dots, partial(_discs, filled), _labels)
        )

    value = map_card(
        "The map and its points",
        "Soundings and stations where they are, over the map made from them.",
        table.map(partial(_value_map, chain), choices=(chosen,), over=marks(True)),
        pn.bind(lambda name: layer_legend(chain.layers[name]) + points_legend(chain.measured[name]), choice),
        pn.bind(lambda picture, name: value_words(chain, name, picture.season), session.param.picture, choice),
    )
    error = map_card(
        "Its standard error",
        "Dark is where the map is least to be trusted.",
        table.map(partial(_error_map, chain), choices=(chosen,), over=marks(False)),
        pn.bind(lambda name: layer_legend(error_layer(chain, name, None)), choice),
        pn.bind(lambda picture, name: error_words(chain, name, picture.season), session.param.picture, choice),
    )
    head = Markup(
        "<h2>Points and doubt</h2><p>A map between points is a judgement. Here are the points, and how sure the map "
        "is.</p>"
    )
    return [
        theme.grid(theme.text(head), choice, least=300, align="end"),
        theme.grid(value, error, least=420),
    ]


def points_legend(measured: Measured) -> Markup:
    """What the marks on the map stand for."""
    if not measured.is_soundings:
        words = "station, filled with the colour of its own mean"
        key = Markup('<span><i class="swatch" style="border-radius:50%;border-width:2px"></i>{}</span>').format(words)
        return Markup('<div class="keys">{}</div>').format(key)
    keys = Markup("").join(
        Markup(
            '<span><i class="swatch" style="border-radius:50%;width:9px;height:9px;vertical-align:0;background:{}"></i>'
            "{:,} soundings of {}</span>"
        ).format(colour, count, file)
        for file, (colour, count) in measured.surveys.items()
    )
    thinned = f"<span>one in {measured.thinned} is drawn</span>" if measured.thinned > 1 else ""
    return Markup('<div class="keys">{}{}</div>').format(keys, Markup(thinned))


def error_layer(chain: Chain, name: str, season: str | None) -> xr.DataArray:
    """The standard error of a layer; no data everywhere where there is none."""
    found = chain.layer(f"{name}_error", season)
    return chain.site_map.inputs.site.grid.blank(LAYERS[f"{name}_error"]) if found is None else found


def value_words(chain: Chain, name: str, season: str | None) -> Markup:
    """How the map was made from the points."""
    return Markup('<p class="quiet">Made by: {}.</p>').format(method_of(chain, name, season))


def error_words(chain: Chain, name: str, season: str | None) -> Markup:
    """What the error means, and how honest it is; or that there is none."""
    if chain.layer(f"{name}_error", season) is None:
        return Markup("<p>{}</p>").format(NO_ERROR)
    values = chain.layer(f"{name}_error", season).to_numpy()
    known, unit = values[~np.isnan(values)], chain.layers[name].attrs.get("units", "1")
    here = (
        "No cell has one. "
        if not known.size
        else f"Here it runs from {measure(float(known.min()), unit)} to {measure(float(known.max()), unit)}, "
        f"mean {measure(float(known.mean(dtype=np.float64)), unit)}. "
    )
    return Markup('<p>{}{}</p><p class="quiet">How honest: {}.</p>').format(
        here, MEANING, method_of(chain, f"{name}_error", season)
    )


def method_of(chain: Chain, name: str, season: str | None) -> str:
    """How a layer of the chain was made in a season."""
    layer = chain.layers[name]
    seasons = tuple(str(one) for one in layer["season"].values) if "season" in layer.dims else ()
    return method_in(layer, seasons, season)


def _title(layer: xr.DataArray) -> str:
    label = layer.attrs["long_name"]
    return label[0].upper() + label[1:]


def _value_map(chain: Chain, picture: Picture, name: str, x_range=None, y_range=None) -> hv.Image:
    return maps.layer_map(chain.layer(name, picture.season), x_range, y_range)


def _error_map(chain: Chain, picture: Picture, name: str, x_range=None, y_range=None) -> hv.Image:
    return maps.layer_map(error_layer(chain, name, picture.season), x_range, y_range)


def _dots(chain: Chain, picture: Picture, name: str) -> hv.Points:
    return survey_dots(chain.measured[name])


def _discs(filled: bool, chain: Chain, picture: Picture, name: str) -> hv.Points:
    return station_marks(chain.measured[name], picture.season, filled=filled)


def _labels(chain: Chain, picture: Picture, name: str) -> hv.Labels:
    return station_names(chain.measured[name])
