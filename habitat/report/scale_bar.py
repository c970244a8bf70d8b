"""The scale bar and the arrow to the north of a printed map."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

from habitat.colours import INK, PAGE

if TYPE_CHECKING:
    from matplotlib.axes import Axes

_SEGMENTS = 4


def round_length(longest: float) -> float:
    """The longest of 1, 2 or 5 times a power of ten that is not longer than `longest`. [m]

    Examples
    --------
    >>> round_length(7_300), round_length(2_000), round_length(19)
    (5000.0, 2000.0, 10.0)
    """
    power = 10.0 ** math.floor(math.log10(longest))
    # just below a power of ten its logarithm rounds up: look one step further down
    return max(step * power for step in (0.5, 1, 2, 5) if step * power <= longest)


def draw_scale_bar(axes: Axes, x: float, y: float, metres: float, metres_a_pixel: float) -> None:
    """A bar of `metres`, alternately filled, with its upper left corner at (x, y) of axes in pixels."""
    from matplotlib.patches import Rectangle

    length, height = metres / metres_a_pixel, 11
    for segment in range(_SEGMENTS):
        start = x + segment * length / _SEGMENTS
        fill = INK if segment % 2 == 0 else PAGE
        axes.add_patch(Rectangle((start, y), length / _SEGMENTS, height, facecolor=fill, edgecolor=INK, linewidth=0.8))
    unit, size = ("km", 1000) if metres >= 1000 else ("m", 1)
    for share in (0, 0.5, 1):
        text = f"{metres * share / size:g}" + (f" {unit}" if share == 1 else "")
        axes.text(x + share * length, y + height + 6, text, ha="center", va="top", fontsize=8, color=INK)


def draw_north_arrow(axes: Axes, x: float, y: float) -> None:
    """An arrow to grid north whose foot stands at (x, y) of axes in pixels, counted downwards."""
    from matplotlib.patches import Polygon

    for side, fill in ((-1, INK), (1, PAGE)):
        half = [(x, y - 52), (x + 15 * side, y), (x, y - 12)]
        axes.add_patch(Polygon(half, closed=True, facecolor=fill, edgecolor=INK, linewidth=0.8, joinstyle="miter"))
    axes.text(x, y - 58, "N", ha="center", va="bottom", fontsize=10, fontweight="bold", color=INK)
