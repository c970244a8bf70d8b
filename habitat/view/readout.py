"""Every value at one cell, in a strip that follows the pointer."""

from __future__ import annotations

from markupsafe import Markup

from habitat.colours import MUTED_INK
from habitat.result import CONCERN_CLASSES
from habitat.view.session import Picture
from habitat.view.theme import LINE
from habitat.view.words import measure
from layers.grid import Grid

READOUT_CSS = f"""
:host {{ position: sticky; bottom: 0; z-index: 20; }}
.strip {{ background: #fff; border: 1px solid {LINE}; border-radius: 12px; padding: 8px 16px;
  box-shadow: 0 -2px 14px #1d25291a; display: flex; flex-wrap: wrap; gap: 0 18px; font-size: 0.84rem;
  font-variant-numeric: tabular-nums; min-height: 4.3em; align-content: center; }}
.strip span {{ white-space: nowrap; }} .strip i {{ font-style: normal; color: {MUTED_INK}; }}
/* there is no pointer to follow on a small touch screen */
@media (max-width: 700px) {{ .strip {{ display: none; }} }}
"""


def values_at(picture: Picture, place: tuple[float, float] | None) -> list[tuple[str, str]]:
    """Label and value of everything known at a point: scores first, then every layer with its unit.

    Parameters
    ----------
    picture : Picture
        What the maps draw from.
    place : pair of float, or None
        Easting and northing. [m]

    Returns
    -------
    list of (label, value)
        Empty outside the site. The values are those of the full grid, whatever the map has thinned.
    """
    cell = None if place is None else Grid.of(picture.assessment).cell_at(*place)
    if cell is None:
        return []
    concern = int(picture.layer("concern").to_numpy()[cell])
    pairs = [("place", f"{place[0]:,.0f} E, {place[1]:,.0f} N")]
    pairs += [(name, measure(float(picture.layer(name).to_numpy()[cell]))) for name in ("suitability", "threat")]
    pairs += [("read together", CONCERN_CLASSES[concern])]
    return pairs + [_layer_value(picture.layer(name), cell) for name in picture.layers.data_vars]


def readout(picture: Picture, place: tuple[float, float] | None) -> Markup:
    """The strip itself; says what to do while the pointer is elsewhere."""
    pairs = values_at(picture, place)
    if not pairs:
        hint = "Point at a map to read every value there; click to take the place apart."
        return Markup('<div class="strip"><i>{}</i></div>').format(hint)
    parts = (Markup("<span><i>{}</i> {}</span>").format(label, value) for label, value in pairs)
    return Markup('<div class="strip">{}</div>').format(Markup("").join(parts))


def _layer_value(layer: object, cell: tuple[int, int]) -> tuple[str, str]:
    value = layer.to_numpy()[cell]
    if "flag_meanings" in layer.attrs:
        meanings = layer.attrs["flag_meanings"].split()
        return "surface", meanings[int(value)].replace("_", " ")
    reach = layer.attrs.get("reach")
    is_distance = layer.name.endswith("_distance") and reach is not None
    return (
        layer.name.replace("_", " "),
        measure(float(value), layer.attrs.get("units", "1"), float(reach) if is_distance else None),
    )
