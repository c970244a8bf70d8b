"""The legend of a printed map: its scale with units and class limits, its classes, or the square of concern."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from textwrap import wrap
from typing import TYPE_CHECKING

import numpy as np

from habitat.colours import INK, MUTED_INK, NO_DATA, Scale, rgb
from habitat.report.picture import Size, dotted, hatched, lined

if TYPE_CHECKING:
    from matplotlib.axes import Axes

_SWATCH = Size(height=24, width=38)
_BAR_HEIGHT = 26
_LINE = 34  # from one swatch to the next [pixel]
_SHOWN_UNITS = {"1": "", "degree_Celsius": "°C", "km/km2/day": "km/km²/day"}


def draw_scale_legend(
    axes: Axes,
    y: float,
    scale: Scale,
    units: str,
    *,
    breaks: Sequence[float] = (),
    classes: Sequence[str] = (),
    reach: float | None = None,
) -> float:
    """A bar of the scale, with the limits of classes under it.

    Parameters
    ----------
    axes : Axes
        In pixels, counted downwards.
    y : float
        Where to start.
    scale : Scale
        What to draw.
    units : str
        Of the layer.
    breaks, classes : sequence, optional
        Limits of the profile's classes and the classes' names, one more than limits.
    reach : float, optional
        Value that means "this far or farther".

    Returns
    -------
    float
        Where the next thing may start.
    """
    width = _panel_width(axes) - 12
    bar = np.stack([rgb(colour) for colour in scale.colours])[None]
    _image(axes, bar, 6, y, width, _BAR_HEIGHT)
    shown = _SHOWN_UNITS.get(units, units)

    def place(value: float) -> float:
        return 6 + width * (value - scale.low) / (scale.high - scale.low)

    ticks = list(np.linspace(scale.low, scale.high, 6)) if not breaks else [scale.low, *breaks, scale.high]
    for tick in ticks:
        axes.plot([place(tick)] * 2, [y + _BAR_HEIGHT, y + _BAR_HEIGHT + 7], color=INK, linewidth=0.8)
        axes.text(place(tick), y + _BAR_HEIGHT + 10, f"{tick:g}", ha="center", va="top", fontsize=8, color=INK)
    for limit in breaks:
        axes.plot([place(limit)] * 2, [y - 5, y + _BAR_HEIGHT + 7], color=INK, linewidth=1.4)
    y += _BAR_HEIGHT + 34
    if classes:
        limits = [scale.low, *breaks, scale.high]
        for word, low, high in zip(classes, limits[:-1], limits[1:], strict=True):
            axes.text(place((low + high) / 2), y, word, ha="center", va="top", fontsize=7.5, color=INK)
        y += 26
    notes = [f"Unit: {shown}." if shown else "Index from 0 to 1, without unit."]
    notes.append(
        "Continuous scale of fixed range" + ("; its marks are the class limits of the profile." if breaks else ".")
    )
    if (scale.low, scale.high) != (0, 1):
        notes.append("Values beyond its ends are drawn as the ends.")
    if reach is not None:
        notes.append(f"A value of {reach:g} {shown} means that far or farther.")
    return draw_note(axes, y, " ".join(notes))


def draw_class_legend(axes: Axes, y: float, colours: Mapping[int, str], names: Mapping[int, str]) -> float:
    """A swatch and a name for each class; gives where the next thing may start."""
    for code, colour in colours.items():
        y = _entry(axes, y, np.broadcast_to(rgb(colour), (_SWATCH.height, _SWATCH.width, 3)), names[code])
    return y


def draw_concern_legend(
    axes: Axes, y: float, colours: Mapping[int, str], habitat: Sequence[str], threat: Sequence[str]
) -> float:
    """The square of concern: threat to the right, suitability upwards; gives where the next thing may start."""
    side, left = 74, 140
    for code, colour in colours.items():
        row, column = divmod(code - 1, 3)
        top = y + (2 - row) * side
        _image(axes, np.broadcast_to(rgb(colour), (2, 2, 3)), left + column * side, top, side, side)
    for row, word in enumerate(habitat):
        axes.text(left - 8, y + (2.5 - row) * side, word, ha="right", va="center", fontsize=8, color=INK)
    y += 3 * side
    for column, word in enumerate(threat):
        text = word.replace(" ", "\n")
        axes.text(left + (column + 0.5) * side, y + 8, text, ha="center", va="top", fontsize=8, color=INK)
    return draw_note(axes, y + 56, "Suitability upwards, threat to the right; class limits of the profile.")


def draw_common_entries(axes: Axes, y: float, *, lacking: str | None, zones: bool) -> float:
    """Swatches of what every map may show beside its layer; gives where the next thing may start."""
    shape = (_SWATCH.height, _SWATCH.width)
    if lacking:
        pale = np.broadcast_to(rgb(NO_DATA), (*shape, 3))
        y = _entry(axes, y, dotted(pale, np.ones(shape, bool)), lacking)
    y = _entry(axes, y, hatched(_SWATCH), "no data (neither good nor safe)")
    y = _entry(axes, y, lined(_SWATCH), "land")
    if zones:
        axes.plot([6, 6 + _SWATCH.width], [y + _SWATCH.height / 2] * 2, color=INK, linewidth=1.6, linestyle=(0, (5, 2)))
        axes.text(18 + _SWATCH.width, y + _SWATCH.height / 2, "zone", va="center", fontsize=8.5, color=INK)
        y += _LINE
    return y


def draw_note(axes: Axes, y: float, text: str, *, size: float = 7.5, color: str = MUTED_INK) -> float:
    """Small print across the panel; gives where the next thing may start."""
    lines = wrap(text, int(_panel_width(axes) / (size * 1.09)))  # a letter is about half as wide as it is high
    axes.text(6, y, "\n".join(lines), ha="left", va="top", fontsize=size, color=color, linespacing=1.3)
    return y + len(lines) * size * 2.9 + 10


def _entry(axes: Axes, y: float, picture: np.ndarray, name: str) -> float:
    _image(axes, picture, 6, y, _SWATCH.width, _SWATCH.height)
    axes.text(18 + _SWATCH.width, y + _SWATCH.height / 2, name, va="center", fontsize=8.5, color=INK)
    return y + _LINE


def _image(axes: Axes, picture: np.ndarray, x: float, y: float, width: float, height: float) -> None:
    """A picture with an outline; the view of the axes stays as it was."""
    from matplotlib.patches import Rectangle

    limits = axes.get_xlim(), axes.get_ylim()
    axes.imshow(picture, extent=(x, x + width, y + height, y), interpolation="nearest", aspect="auto")
    axes.set(xlim=limits[0], ylim=limits[1])
    axes.add_patch(Rectangle((x, y), width, height, facecolor="none", edgecolor=INK, linewidth=0.8))


def _panel_width(axes: Axes) -> float:
    return axes.get_xlim()[1]
