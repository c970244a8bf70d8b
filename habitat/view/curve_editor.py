"""The curve in hand: drawn over the water it is about, its points dragged with the mouse or a finger.

A drag is worked in the browser, which keeps every point between its neighbours, and told to the server a few times a
second and once at the end.
"""

from __future__ import annotations

import panel as pn
from bokeh.events import Pan, PanEnd, PanStart
from bokeh.models import ColumnDataSource, CustomJS, Range1d
from bokeh.plotting import figure

from habitat.colours import INK, MUTED_INK, scale_of
from habitat.curve import CategoryCurve
from habitat.pressure import Fade
from habitat.profile import Factor
from habitat.profile_edit import curve_of, handles, part_of, value_limits, value_step, with_handles
from habitat.view.curve_sketch import curve_line
from habitat.view.spread import axis_of
from habitat.view.tuning_session import Tuning
from habitat.view.words import unit_sign
from layers.quantity import LAYERS

EVERY = 150  # between two messages of a drag [ms]

_TAKE = """
const d = hand.data, wide = fig.inner_width / (fig.x_range.end - fig.x_range.start)
const tall = fig.inner_height / (fig.y_range.end - fig.y_range.start)
hand._k = null; let least = 34
for (let k = 0; k < d.x.length; k++) {
  const away = Math.hypot((d.x[k] - cb_obj.x) * wide, (d.y[k] - cb_obj.y) * tall)
  if (away < least) { least = away; hand._k = k }
}
hand._sent = 0
"""
_MOVE = """
const k = hand._k
if (k == null) return
const d = {}
for (const name of Object.keys(hand.data)) d[name] = Array.from(hand.data[name])
const tidy = (value, step) => Number((Math.round(value / step) * step).toPrecision(10))
const n = d.x.length, step = d.step[k]
if (d.along[k]) {
  const low = Math.max(d.least[k], k > 0 ? d.x[k - 1] + step : -Infinity)
  const high = Math.min(d.most[k], k < n - 1 ? d.x[k + 1] - step : Infinity)
  if (low <= high) d.x[k] = Math.min(Math.max(tidy(cb_obj.x, step), low), high)
}
if (d.up[k]) d.y[k] = Math.min(Math.max(tidy(cb_obj.y, 0.01), 0), 1)
const ends = line.data.x, left = ends[0], right = ends[ends.length - 1]
if (d.kind[0] == 'points') {
  const first = Math.min(fig.x_range.start, d.x[0]), last = Math.max(fig.x_range.end, d.x[n - 1])
  line.data = {x: [first, ...d.x, last], y: [d.y[0], ...d.y, d.y[n - 1]]}
} else if (d.kind[0] != 'codes') {
  const x = [0], y = [1]
  for (let i = 0; i <= 40; i++) {
    const t = i / 40
    x.push(d.x[0] + t * (d.x[1] - d.x[0]))
    y.push(d.kind[0] == 'linear' ? 1 - t : d.kind[0] == 'exponential' ? Math.pow(0.05, t) : Math.exp(-9 * t * t / 2))
  }
  line.data = {x: [...x, d.x[1], Math.max(d.x[1], fig.x_range.end)], y: [...y, 0, 0]}
}
const now = Date.now()
d.done = d.done.map(() => 0)
if (now - hand._sent > every) { hand._sent = now; hand.data = d }
else { Object.assign(hand.data, d); hand.change.emit() }
"""
_LEAVE = """
if (hand._k == null) return
hand._k = null
hand.data = {...hand.data, done: Array.from(hand.data.done).map(() => 1)}
"""


class CurveEditor:
    """A chart of the part in hand of one session."""

    def __init__(self, session: Tuning):
        self.session = session
        self.hand, self.line, self.bars = (ColumnDataSource() for _ in range(3))
        self.seasons, self.published, self.second = (ColumnDataSource() for _ in range(3))
        self.figure = self._figure()
        self.show()
        self.hand.on_change("data", lambda attribute, old, new: self._moved(new))
        session.param.watch(lambda _: self.show(), ["history", "other"])
        drawn = pn.pane.Bokeh(self.figure, sizing_mode="stretch_width", margin=0)
        self.pane = pn.Column(drawn, sizing_mode="stretch_width", margin=0, css_classes=["chart"])

    def show(self) -> None:
        """Draw the part in hand as it is now."""
        session, view = self.session, self.session.view
        part = part_of(view.profile, view.part)
        spread = session.spread(part.layer)
        low, high = axis_of(part, spread)
        self.figure.x_range.update(start=low, end=high)
        unit = unit_sign(LAYERS[part.layer].units)
        self.figure.xaxis.axis_label = LAYERS[part.layer].label.capitalize() + (f", {unit}" if unit else "")
        is_factor = isinstance(part, Factor)
        self.figure.yaxis.axis_label = "Index" if is_factor else "Exposure"
        curve = curve_of(part)
        if isinstance(curve, CategoryCurve):
            names = {code: name.replace("_", " ") for code, name in enumerate(curve.categories)}
            self.figure.xaxis[0].update(ticker=list(names), major_label_overrides=names)
        else:
            from bokeh.models import BasicTicker

            self.figure.xaxis[0].update(ticker=BasicTicker(desired_num_ticks=5), major_label_overrides={})
        self.hand.data = self._hand_data(part)
        colour = scale_of("suitability" if is_factor else "threat").colour(0.8)
        pale = scale_of("suitability" if is_factor else "threat").colour(0.2)
        self._curve.glyph.line_color = colour
        self._points.glyph.fill_color = colour
        self._water.glyph.fill_color = pale
        self.line.data = _xy(curve_line(part, low, high))
        self.published.data = _xy(_line_in(session.site_map.profile, part, low, high))
        other = None if session.other is None else session.other.profile
        self.second.data = _xy(_line_in(other, part, low, high))
        edges, shares = spread.bars(low, high) if spread.is_known else ([0, 0], [0])
        top = max(max(shares), 1e-9) / 0.92
        self.bars.data = {"left": edges[:-1], "right": edges[1:], "top": [share / top for share in shares]}
        self.seasons.data = self._other_seasons(part, low, high, top)

    def _moved(self, data: dict) -> None:
        """A message of the browser: while it drags the maps alone follow, at the end the profile does."""
        if not len(data.get("x", ())) or not len(data["done"]) or data["done"][0] < 0:
            return
        name, reach = (
            self.session.view.part,
            self.session.reach(part_of(self.session.view.profile, self.session.view.part).layer),
        )
        points = tuple((float(x), float(y)) for x, y in zip(data["x"], data["y"], strict=True))

        def change(profile):
            return with_handles(profile, name, points, reach=reach)

        if data["done"][0]:
            self.session.tune(change)
            self.session.settle()
            self.show()
        else:
            self.session.follow_hand(change)

    def _hand_data(self, part) -> dict[str, list]:
        points, curve = handles(part), curve_of(part)
        kind = "codes" if isinstance(curve, CategoryCurve) else curve.shape if isinstance(curve, Fade) else "points"
        low, high = value_limits(part, self.session.reach(part.layer))
        count = len(points)
        return {
            "x": [point.value for point in points],
            "y": [point.index for point in points],
            "along": [int(point.moves_along) for point in points],
            "up": [int(point.moves_up) for point in points],
            "least": [low] * count,
            "most": [high] * count,
            "step": [value_step(part)] * count,
            "kind": [kind] * count,
            "done": [-1] * count,  # -1: drawn by the server, 0: under way, 1: let go
        }

    def _other_seasons(self, part, low: float, high: float, top: float) -> dict[str, list]:
        layers = self.session.site_map.layers
        if part.layer not in layers or "season" not in layers[part.layer].dims:
            return {"xs": [], "ys": []}
        xs, ys = [], []
        for season in map(str, layers["season"].values):
            if season != self.session.view.season:
                edges, shares = self.session.spread(part.layer, season).bars(low, high)
                xs.append([edge for edge in edges for _ in (0, 1)])
                ys.append([0, *(share / top for share in shares for _ in (0, 1)), 0])
        return {"xs": xs, "ys": ys}

    def _figure(self) -> figure:
        chart = figure(
            height=290, sizing_mode="stretch_width", tools="", toolbar_location=None, x_range=Range1d(0, 1),
            y_range=Range1d(-0.04, 1.06), outline_line_color=None, min_border_right=14,
        )  # fmt: skip
        self._water = chart.quad(
            left="left", right="right", top="top", bottom=0, source=self.bars, line_color="#ffffff", line_width=0.5
        )
        chart.multi_line("xs", "ys", source=self.seasons, line_color=MUTED_INK, line_width=1)
        chart.line("x", "y", source=self.published, line_color=INK, line_dash="dotted", line_width=1.6)
        chart.line("x", "y", source=self.second, line_color=INK, line_dash="dashed", line_width=2)
        self._curve = chart.line("x", "y", source=self.line, line_width=3)
        self._points = chart.scatter("x", "y", source=self.hand, size=16, line_color="#ffffff", line_width=2)
        chart.grid.grid_line_alpha = 0.35
        for axis in (*chart.xaxis, *chart.yaxis):
            axis.update(axis_label_text_font_style="normal", axis_label_text_color=INK, minor_tick_line_color=None)
        known = {"hand": self.hand, "line": self.line, "fig": chart}
        chart.js_on_event(PanStart, CustomJS(args=known, code=_TAKE))
        chart.js_on_event(Pan, CustomJS(args=known, code=f"const every = {EVERY}\n{_MOVE}"))
        chart.js_on_event(PanEnd, CustomJS(args=known, code=_LEAVE))
        return chart


def _line_in(profile, part, low: float, high: float):
    """The curve of the part of that name in another profile; nothing where it looks at another layer."""
    same = [] if profile is None else [one for one in (*profile.factors, *profile.pressures) if one.name == part.name]
    if not same or same[0].layer != part.layer:
        return [], []
    return curve_line(same[0], low, high)


def _xy(line) -> dict[str, list]:
    return {"x": list(line[0]), "y": list(line[1])}
