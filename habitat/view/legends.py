"""Legends in words and swatches beside the maps, so that they can be read aloud and at any width."""

from __future__ import annotations

from collections.abc import Sequence

import xarray as xr
from markupsafe import Markup

from habitat.colours import INK, MUTED_INK, Scale, class_colours, scale_of
from habitat.result import SUITABILITY_CLASSES, THREAT_CLASSES
from habitat.view.session import Picture
from habitat.view.words import unit_sign

LEGEND_CSS = f"""
.ramp {{ height: 14px; border-radius: 4px; position: relative; border: 1px solid {MUTED_INK}; }}
.ramp i {{ position: absolute; top: -3px; bottom: -3px; width: 2px; background: {INK}; }}
.ticks {{ position: relative; height: 1.35em; font-size: 0.8rem; color: {MUTED_INK}; margin-top: 4px; }}
.ticks span {{ position: absolute; transform: translateX(-50%); white-space: nowrap; }}
.ticks span.first {{ transform: none; left: 0; }} .ticks span.last {{ transform: none; right: 0; }}
.keys {{ display: flex; flex-wrap: wrap; gap: 2px 14px; font-size: 0.82rem; color: {MUTED_INK}; margin-top: 4px; }}
.keys span {{ overflow-wrap: anywhere; }}
.swatch {{ display: inline-block; width: 15px; height: 15px; border-radius: 3px; border: 1px solid {MUTED_INK};
  vertical-align: -3px; margin-right: 5px; }}
.dots {{ background: radial-gradient({INK} 1px, transparent 1.2px) 0 0 / 5px 5px; }}
.square {{ display: grid; grid-template-columns: auto repeat(3, minmax(46px, 1fr)); gap: 3px; font-size: 0.8rem;
  align-items: center; color: {MUTED_INK}; max-width: 330px; }}
.square b {{ height: 26px; border-radius: 3px; border: 1px solid {MUTED_INK}; }}
.square span {{ text-align: center; }} .square span.row {{ text-align: right; padding-right: 6px; }}
"""

_NO_DATA = '<span><i class="swatch hatch"></i>no data</span>'
_OUTSIDE = Markup(f'<div class="keys">{_NO_DATA}<span><i class="swatch land"></i>land</span></div>')
_OUTSIDE_ON_LAND = Markup(f'<div class="keys">{_NO_DATA}</div>')
_DOTTED = Markup('<div class="keys"><span><i class="swatch dots"></i>scored without all its parts</span></div>')


def score_legend(
    layer: xr.DataArray,
    breaks: Sequence[float] = (),
    classes: Sequence[str] = (),
    *,
    scale: Scale | None = None,
    with_land: bool = True,
) -> Markup:
    """Legend of a layer of numbers: its colours, its ends with their unit and, where it is cut, its classes.

    Parameters
    ----------
    layer : DataArray
        Its name, label and unit are used.
    breaks : sequence of float
        Where classes part.
    classes : sequence of str
        What the classes are called, from low to high; one more than `breaks`.
    scale : Scale, optional
        Instead of the one of its name.
    with_land : bool
        Whether the map draws land apart from its layer.
    """
    scale = scale or scale_of(layer.name)
    unit = unit_sign(layer.attrs.get("units", "1"))
    shades = ", ".join(scale.colours[:: max(1, len(scale.colours) // 16)] + scale.colours[-1:])
    places = [(value, 100 * (value - scale.low) / (scale.high - scale.low)) for value in breaks]
    marks = Markup("").join(Markup('<i style="left:{:.1f}%"></i>').format(at) for _, at in places)
    # a distance or a load goes on beyond the last colour; a share of one does not
    end = f"{scale.high:,g}{'' if scale.high == 1 else '+'} {unit}".strip()
    ticks = [
        Markup('<span class="first">{:,g}</span>').format(scale.low),
        *(Markup('<span style="left:{:.1f}%">{:g}</span>').format(at, value) for value, at in places),
        Markup('<span class="last">{}</span>').format(end),
    ]
    return Markup(
        '<div role="img" aria-label="{label}: pale is {low:g}, dark is {end}">'
        '<div class="ramp" style="background:linear-gradient(to right, {shades})">{marks}</div>'
        '<div class="ticks">{ticks}</div></div>{words}{outside}'
    ).format(
        label=layer.attrs["long_name"],
        low=scale.low,
        end=end,
        shades=shades,
        marks=marks,
        ticks=Markup("").join(ticks),
        words=_class_words(breaks, classes),
        outside=_OUTSIDE if with_land else _OUTSIDE_ON_LAND,
    )


def suitability_legend(picture: Picture) -> Markup:
    """Legend of suitability with the classes of the profile."""
    return (
        score_legend(picture.layer("suitability"), picture.profile.suitability_breaks, SUITABILITY_CLASSES[1:])
        + _DOTTED
    )


def threat_legend(picture: Picture) -> Markup:
    """Legend of threat with the classes of the profile."""
    return score_legend(picture.layer("threat"), picture.profile.threat_breaks, THREAT_CLASSES[1:]) + _DOTTED


def class_legend(layer: xr.DataArray, colours: dict[int, str] | None = None, *, with_land: bool = True) -> Markup:
    """Legend of a layer of codes: a swatch and a word for each."""
    meanings = [word.replace("_", " ") for word in layer.attrs["flag_meanings"].split()]
    colours = colours or class_colours(layer.name, len(meanings) - 1)
    swatches = Markup("").join(
        Markup('<span><i class="swatch" style="background:{}"></i>{}</span>').format(colours[code], word)
        for code, word in enumerate(meanings)
        if code in colours
    )
    return Markup('<div class="keys">{}</div>{}').format(swatches, _OUTSIDE if with_land else _OUTSIDE_ON_LAND)


def layer_legend(layer: xr.DataArray) -> Markup:
    """Legend of any layer."""
    return class_legend(layer) if "flag_meanings" in layer.attrs else score_legend(layer)


def concern_legend() -> Markup:
    """The square of suitability and threat: rows are habitat, columns are threat."""
    colours = class_colours("concern")
    cells = []
    for habitat in (3, 2, 1):
        cells.append(Markup('<span class="row">{}</span>').format(SUITABILITY_CLASSES[habitat]))
        for threat in (1, 2, 3):
            code = 1 + 3 * (habitat - 1) + (threat - 1)
            title = f"{SUITABILITY_CLASSES[habitat]}, {THREAT_CLASSES[threat]}"
            cells.append(
                Markup('<b role="img" aria-label="{0}" title="{0}" style="background:{1}"></b>').format(
                    title, colours[code]
                )
            )
    heads = Markup("").join(Markup("<span>{}</span>").format(word) for word in THREAT_CLASSES[1:])
    return Markup('<div class="square">{}<span></span>{}</div>{}').format(
        Markup("").join(cells), heads, _OUTSIDE + _DOTTED
    )


def _class_words(breaks: Sequence[float], classes: Sequence[str]) -> Markup:
    if not classes:
        return Markup("")
    spans = [f"{classes[0]} below {breaks[0]:g}"]
    spans += [f"{word} from {edge:g}" for edge, word in zip(breaks, classes[1:], strict=True)]
    return Markup('<div class="keys">{}</div>').format(
        Markup("").join(Markup("<span>{}</span>").format(word) for word in spans)
    )
