"""One map with a divide: the site before to its left, with the variant in view to its right.

What is proposed can be dragged on it. The outline follows the pointer in the browser; when the mouse is released the
server is told how far it went.
"""

from __future__ import annotations

from collections.abc import Callable
from functools import partial

import holoviews as hv
import numpy as np
import shapely
import xarray as xr

from habitat.colours import INK
from habitat.variant import Variation
from habitat.view import maps
from habitat.view.bench import Bench
from habitat.view.difference import PEN, new_land, outline_parts, side_of
from habitat.view.session import Picture
from habitat.view.window import Range
from layers.grid import Grid

STEP = 10.0  # a drag is taken to the nearest of these: a planner does not mean the single metre [m]
REACH = 0.02  # how far off the outline it can still be taken hold of, of the width in view
TAG = "can be dragged"

# JavaScript of the map: the outline goes with the pointer; a drag that begins elsewhere shifts the view
_DRAG = """
const [x, y] = [cb_obj.x, cb_obj.y];
const span = figure.x_range.end - figure.x_range.start;
if (cb_obj.event_name == 'panstart') {
  const xs = source.data.xs.flatMap(line => [...line]), ys = source.data.ys.flatMap(line => [...line]);
  const most = span * reach;
  const hit = xs.length > 0 && x > Math.min(...xs) - most && x < Math.max(...xs) + most
    && y > Math.min(...ys) - most && y < Math.max(...ys) + most;
  figure.held = {x, y, hit, xs: source.data.xs.map(line => [...line]), ys: source.data.ys.map(line => [...line]),
    left: figure.x_range.start, right: figure.x_range.end, low: figure.y_range.start, high: figure.y_range.end};
} else if (figure.held && (figure.held.hit || cb_obj.event_name == 'pan')) {
  const held = figure.held;
  if (held.hit) {
    source.data = {...source.data, xs: held.xs.map(line => line.map(at => at + x - held.x)),
      ys: held.ys.map(line => line.map(at => at + y - held.y))};
  } else {
    const [dx, dy] = [cb_obj.delta_x / figure.inner_width, cb_obj.delta_y / figure.inner_height];
    const [wide, tall] = [held.right - held.left, held.high - held.low];
    figure.x_range.setv({start: held.left - dx * wide, end: held.right - dx * wide});
    figure.y_range.setv({start: held.low + dy * tall, end: held.high + dy * tall});
  }
}
if (cb_obj.event_name == 'panend') figure.held = null;
"""


def divide_at(divide: float, grid: Grid, x_range: Range = None) -> float:
    """Easting of the divide, for a share of the width in view. [m]

    Examples
    --------
    >>> divide_at(0.25, None, (1000.0, 3000.0))
    1500.0
    """
    west, east = (maps.view_bounds(grid)[0], maps.view_bounds(grid)[2]) if x_range is None else x_range
    return float(west + divide * (east - west))


def divided(before: xr.DataArray, after: xr.DataArray, at: float) -> xr.DataArray:
    """`before` west of the divide, `after` east of it. (y, x)"""
    # cell by cell where no data stays no data on its own side
    mixed = xr.where(before["x"] < at, before, after).transpose(*before.dims)
    mixed.attrs, mixed.name = before.attrs, before.name
    mixed.coords["spatial_ref"] = before["spatial_ref"]
    return mixed


def swipe_map(
    bench: Bench, picture: Picture, shown: str, divide: float, x_range: Range = None, y_range: Range = None
) -> hv.Image:
    """Map of a score: before to the left of the divide, after to its right."""
    before = picture.layer(shown)
    if bench.account is None:
        return maps.score_map(before, x_range, y_range)
    at = divide_at(divide, Grid.of(before), x_range)
    return maps.score_map(divided(before, side_of(bench.account, "after", shown, picture.season), at), x_range, y_range)


def land_of_swipe(grid: Grid, bench: Bench, divide: float, x_range: Range = None, y_range: Range = None) -> hv.Polygons:
    """Water that became land, to the right of the divide."""
    return new_land(bench, grid, west=divide_at(divide, grid, x_range))


def divide_line(grid: Grid, divide: float, x_range: Range = None, y_range: Range = None) -> hv.Contours:
    """The divide, from edge to edge; none where one side has the whole map."""
    _, south, _, north = maps.view_bounds(grid)
    at, far = divide_at(divide, grid, x_range), 2 * (north - south)
    line = [] if divide in (0.0, 1.0) else [{maps.EAST.name: [at, at], maps.NORTH.name: [south - far, north + far]}]
    return hv.Contours(line, list(maps.AXES)).opts(color=INK, line_width=3, apply_ranges=False)


def movable(grid: Grid, moved: Callable[[float, float], None], bench: Bench, failed: int = 0) -> hv.Contours:
    """The outline of the variant in view, to be dragged; `moved(east, north)` is told how far it went. [m]

    It is drawn again, where it was, each time `failed` counts one more.
    """
    features = [] if bench.first is None else bench.account.appraisal.proposals[0].features
    lines = [part for feature in features for part in outline_parts(feature.shape, grid.cell)]
    held = [{maps.EAST.name: line[:, 0], maps.NORTH.name: line[:, 1]} for line in lines]
    return hv.Contours(held, list(maps.AXES)).opts(
        color=PEN, line_width=3, apply_ranges=False, hooks=[partial(_take_hold, moved)]
    )


def dragged(
    start: tuple[float, float], end: tuple[float, float], lines: list[np.ndarray], reach: float
) -> tuple[float, float] | None:
    """How far a shape was dragged to the east and the north; None where the drag began off it, or led nowhere. [m]

    Examples
    --------
    >>> square = np.array([[0, 0], [100, 0], [100, 100], [0, 100]])
    >>> dragged((50, 50), (352, 49), [square], 5.0), dragged((150, 50), (352, 49), [square], 5.0)
    ((300.0, 0.0), None)
    """
    if not lines:
        return None
    (west, south), (east, north) = (edge(np.concatenate(lines), axis=0) for edge in (np.min, np.max))
    if not shapely.box(west - reach, south - reach, east + reach, north + reach).contains(shapely.Point(start)):
        return None
    far = tuple(STEP * round((b - a) / STEP) + 0.0 for a, b in zip(start, end, strict=True))
    return far if any(far) else None


def further(variation: Variation, east: float, north: float) -> Variation:
    """The variation, moved so far from where it is."""
    from dataclasses import replace

    return replace(variation, east=variation.east + east, north=variation.north + north)


def _take_hold(moved: Callable[[float, float], None], plot: object, element: object) -> None:
    """Let the outline be dragged: in the browser as it goes, and on the server when it is let go."""
    from bokeh.events import PanEnd, PanStart
    from bokeh.models import CustomJS, PanTool

    figure = plot.state
    figure.toolbar.active_drag = None
    for tool in figure.select(PanTool):
        figure.toolbar.tools.remove(tool)
    if TAG in figure.tags:
        return
    figure.tags.append(TAG)
    source, begun = plot.handles["source"], {}
    follow = CustomJS(args={"source": source, "figure": figure, "reach": REACH}, code=_DRAG)
    for name in ("panstart", "pan", "panend"):
        figure.js_on_event(name, follow)

    def begin(event: PanStart) -> None:
        lines = zip(source.data["xs"], source.data["ys"], strict=True)
        begun.update(at=(event.x, event.y), lines=[np.column_stack([x, y]) for x, y in lines])

    def end(event: PanEnd) -> None:
        reach = REACH * (figure.x_range.end - figure.x_range.start)
        far = dragged(begun["at"], (event.x, event.y), begun["lines"], reach) if begun else None
        begun.clear()
        if far is not None:
            moved(*far)

    figure.on_event(PanStart, begin)
    figure.on_event(PanEnd, end)
