"""A small drawing of a curve over the values of the water, in the page's own text: sharp at any size."""

from __future__ import annotations

import numpy as np
from markupsafe import Markup

from habitat.colours import INK, MUTED_INK, scale_of
from habitat.curve import CategoryCurve
from habitat.pressure import Fade
from habitat.profile import Factor, Pressure
from habitat.profile_edit import curve_of, handles
from habitat.view.spread import Spread, axis_of
from habitat.view.words import unit_sign
from layers.quantity import LAYERS

WIDTH, HEIGHT = 260, 96
_FOOT = 18  # under the chart, for its numbers
SKETCH_CSS = f"""
svg {{ display: block; width: 100%; height: auto; }}
svg text {{ font: 11px system-ui, sans-serif; fill: {MUTED_INK}; }}
"""


def curve_line(part: Factor | Pressure, low: float, high: float) -> tuple[np.ndarray, np.ndarray]:
    """Points of the curve as a line from `low` to `high`; nothing for categories, which have no line between them."""
    curve = curve_of(part)
    if isinstance(curve, CategoryCurve):
        return np.empty(0), np.empty(0)
    if isinstance(curve, Fade):
        down = np.linspace(curve.full, curve.reach, 40, endpoint=False)
        values = np.array([min(low, curve.full), *down, curve.reach, curve.reach, max(high, curve.reach)])
        indices = np.array([1.0, *curve(down), curve(np.nextafter(curve.end, 0)), 0.0, 0.0])
        return values, indices
    values, indices = curve.values, curve.indices
    return (
        np.array([min(low, values[0]), *values, max(high, values[-1])]),
        np.array([indices[0], *indices, indices[-1]]),
    )


def curve_sketch(part: Factor | Pressure, spread: Spread, before: Factor | Pressure | None = None) -> Markup:
    """The curve over the bars of the water, with the ends of its axis; `before` is drawn dotted where it differs."""
    low, high = axis_of(part, spread)
    kind = "suitability" if isinstance(part, Factor) else "threat"
    line, bar = scale_of(kind).colour(0.75), scale_of(kind).colour(0.18)
    pieces = [_bars(spread, low, high, bar, isinstance(curve_of(part), CategoryCurve))]
    if before is not None and curve_of(before) != curve_of(part):
        pieces.append(_line(curve_line(before, low, high), low, high, MUTED_INK, "3 3"))
    pieces.append(_line(curve_line(part, low, high), low, high, line, ""))
    for point in handles(part):
        pieces.append(
            Markup('<circle cx="{:.1f}" cy="{:.1f}" r="3" fill="{}"/>').format(
                _x(point.value, low, high), _y(point.index), line
            )
        )
    base = HEIGHT - _FOOT
    pieces.append(Markup('<line x1="0" x2="{}" y1="{}" y2="{}" stroke="{}"/>').format(WIDTH, base, base, INK))
    unit = unit_sign(LAYERS[part.layer].units)
    if not isinstance(curve_of(part), CategoryCurve):
        pieces.append(Markup('<text x="0" y="{}">{}</text>').format(HEIGHT - 4, _figure(low)))
        end = f"{_figure(high)} {unit}".strip()
        pieces.append(Markup('<text x="{}" y="{}" text-anchor="end">{}</text>').format(WIDTH, HEIGHT - 4, end))
    return Markup('<svg viewBox="0 0 {} {}" role="img" aria-label="Curve of {}">{}</svg>').format(
        WIDTH, HEIGHT, part.label, Markup("").join(pieces)
    )


def _bars(spread: Spread, low: float, high: float, colour: str, is_coded: bool) -> Markup:
    if not spread.is_known:
        return Markup("")
    edges, shares = spread.bars(low, high)
    top = max(shares.max(), 1e-9)
    base = HEIGHT - _FOOT
    return Markup("").join(
        Markup('<rect x="{:.1f}" y="{:.1f}" width="{:.1f}" height="{:.1f}" fill="{}"/>').format(
            _x(left, low, high), base - tall, _x(right, low, high) - _x(left, low, high), tall, colour
        )
        for left, right, tall in zip(edges[:-1], edges[1:], shares / top * (base - 8), strict=True)
        if tall > 0
    )


def _line(points: tuple[np.ndarray, np.ndarray], low: float, high: float, colour: str, dash: str) -> Markup:
    path = " ".join(
        f"{_x(value, low, high):.1f},{_y(index):.1f}"
        for value, index in zip(*points, strict=True)
        if low <= value <= high
    )
    return Markup('<polyline points="{}" fill="none" stroke="{}" stroke-width="2" stroke-dasharray="{}"/>').format(
        path, colour, dash
    )


def _x(value: float, low: float, high: float) -> float:
    return WIDTH * (value - low) / (high - low)


def _y(index: float) -> float:
    return 6 + (1 - index) * (HEIGHT - _FOOT - 6)


def _figure(value: float) -> str:
    return f"{value:,.0f}" if abs(value) >= 10 else f"{value:.2g}"
