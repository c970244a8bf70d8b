"""Cells that change class between two readings of a site: on the map, in hectares and in words.

Three shades that are told apart in grey as well: unchanged is pale, better is of middle tone, worse is dark.
"""

from __future__ import annotations

import numpy as np
import pandas as pd
import xarray as xr
from markupsafe import Markup

from habitat.agreement import change_sentences, class_changes, map_disagreement
from habitat.result import SUITABILITY_CLASSES, THREAT_CLASSES
from habitat.view.session import Picture
from habitat.view.words import hectares, percent
from layers.grid import Grid

CLASSES = {"suitability": SUITABILITY_CLASSES, "threat": THREAT_CLASSES}
# in the order in which they stand for a block of cells: what changed for the worse is never hidden by what did not
SAME, BETTER, WORSE = 1, 2, 3
FLIP_COLOURS = {SAME: "#e9e6df", BETTER: "#5aa5d6", WORSE: "#7a2a10"}
FLIP_WORDS = {
    "suitability": {BETTER: "to a better class of habitat", WORSE: "to a poorer class of habitat"},
    "threat": {BETTER: "to a lower class of threat", WORSE: "to a higher class of threat"},
}


def flips(before: Picture, now: Picture, kind: str) -> xr.DataArray:
    """Which cells change class: `SAME`, `BETTER`, `WORSE`; NaN where one of the two has no class. (y, x)

    Parameters
    ----------
    before, now : Picture
        Of one grid and one season.
    kind : str
        "suitability" or "threat".
    """
    old, new = (picture.layer(f"{kind}_class") for picture in (before, now))
    first, second = (layer.to_numpy().astype(np.int8) for layer in (old, new))
    rise = np.sign(second - first) * (1 if kind == "suitability" else -1)
    codes = np.select([rise > 0, rise < 0], [BETTER, WORSE], SAME).astype(np.float32)
    codes[(first == 0) | (second == 0)] = np.nan
    flipped = old.copy(data=codes)
    meanings = "none unchanged better worse"
    return flipped.rename("flips").assign_attrs(long_name="change of class", flag_meanings=meanings)


def class_table(before: Picture, now: Picture, kind: str) -> pd.DataFrame:
    """Hectares from each class (row) to each class (column), no data last. [ha]"""
    layers = [picture.layer(f"{kind}_class") for picture in (before, now)]
    return class_changes(*layers, CLASSES[kind], cell_hectares=Grid.of(now.assessment).cell_hectares)


def moved(table: pd.DataFrame) -> tuple[float, float]:
    """Hectares that go up in class, and down, by a table of `class_table`. [ha]"""
    inner = table.to_numpy()[:-1, :-1]
    return float(np.triu(inner, 1).sum()), float(np.tril(inner, -1).sum())


def flip_sentence(before: Picture, now: Picture, *, about: bool = False) -> Markup:
    """How many hectares change class, up and down, of habitat and of threat; `about` of a thinned picture."""
    said = []
    for kind, noun in (("suitability", "habitat"), ("threat", "threat")):
        up, down = moved(class_table(before, now, kind))
        said.append(
            Markup(
                '<span>Class of {}: <strong class="figure">{}{} up</strong>, '
                '<strong class="figure">{}{} down</strong></span>'
            ).format(noun, *(part for area in (up, down) for part in ("about " * about, hectares(area))))
        )
    return Markup("<p aria-live='polite' class='live'>{}</p>").format(Markup(" ").join(said))


def classes_table(before: Picture, now: Picture, heads: tuple[str, str] = ("As published", "Now")) -> Markup:
    """Hectares of each class in both readings, and by how much they differ."""
    rows = []
    for kind in CLASSES:
        table = class_table(before, now, kind)
        was, is_now = table.sum(axis=1), table.sum(axis=0)
        for name in [*table.index[-2::-1], table.index[-1]]:
            change = is_now[name] - was[name]
            label = name if name != table.index[-1] else f"{name} on {'habitat' if kind == 'suitability' else kind}"
            if label == name or was[name] or is_now[name]:
                rows.append((label, hectares(was[name]), hectares(is_now[name]), _signed(change)))
    cells = Markup("").join(
        Markup("<tr><th scope='row'>{}</th>{}</tr>").format(
            row[0], Markup("").join(Markup("<td class='number'>{}</td>").format(part) for part in row[1:])
        )
        for row in rows
    )
    return Markup(
        "<table><thead><tr><th scope='col'>Class</th><th scope='col' class='number'>{}</th>"
        "<th scope='col' class='number'>{}</th><th scope='col' class='number'>Change</th></tr></thead>"
        "<tbody>{}</tbody></table>"
    ).format(*heads, cells)


def crossing_table(before: Picture, now: Picture, kind: str, heads: tuple[str, str]) -> Markup:
    """From which class to which, in hectares, with how far the two readings agree."""
    table = class_table(before, now, kind)
    names = list(table.index)
    top = Markup("").join(Markup("<th scope='col' class='number'>{}</th>").format(name) for name in names)
    rows = Markup("").join(
        Markup("<tr><th scope='row'>{}</th>{}</tr>").format(
            name,
            Markup("").join(Markup("<td class='number'>{}</td>").format(hectares(area)) for area in table.loc[name]),
        )
        for name in names
    )
    return Markup(
        "<p>{}</p><div class='wide'><table><thead><tr><th scope='col'>{} (rows), {} (columns)</th>{}</tr></thead>"
        "<tbody>{}</tbody></table></div>"
    ).format(agreement_sentence(table), *heads, top, rows)


def agreement_sentence(table: pd.DataFrame) -> str:
    """How far two readings agree, of a table of `class_table`."""
    found = map_disagreement(table)
    if np.isnan(found.total):
        return "The two readings give no cell a class in common, so they cannot be compared."
    return (
        f"They agree on {percent(1 - found.total)} of the water both give a class. {percent(found.quantity)} differs "
        f"in how much there is of a class, {percent(found.allocation)} only in where it lies. "
        + " ".join(change_sentences(table))
    )


def flip_legend(kind: str) -> Markup:
    """Legend of the map of flips."""
    words = {SAME: "same class", **FLIP_WORDS[kind]}
    swatches = Markup("").join(
        Markup('<span><i class="swatch" style="background:{}"></i>{}</span>').format(FLIP_COLOURS[code], words[code])
        for code in (BETTER, WORSE, SAME)
    )
    outside = Markup(
        '<span><i class="swatch hatch"></i>no class in one of the two</span>'
        '<span><i class="swatch land"></i>land</span>'
    )
    return Markup('<div class="keys">{}{}</div>').format(swatches, outside)


def _signed(area: float) -> str:
    return "0 ha" if area == 0 else f"{'+' if area > 0 else '−'}{hectares(abs(area))}"
