"""Drawing a proposal on a map, shape by shape. What is drawn stays on the page until it is taken home as a file."""

from __future__ import annotations

import io
from dataclasses import dataclass
from functools import partial

import holoviews as hv
import numpy as np
import panel as pn
import shapely
from markupsafe import Markup

from habitat.colours import INK
from habitat.proposal import proposal_of_features
from habitat.proposal_kinds import KINDS, LINE, POINT, POLYGON
from habitat.variant import table_of
from habitat.view import maps, theme
from habitat.view.appraise_forms import with_planted
from habitat.view.bench import Bench, weighed
from habitat.view.desk import Desk
from habitat.view.difference import PEN, outline_parts
from habitat.view.fields import LOOK, explained, field_of, said_in
from layers.step import OnStep, ignore

# axes of their own: the window of the drawing stands still while the other maps are zoomed
DRAW_AXES = hv.Dimension("drawn_easting", unit="m"), hv.Dimension("drawn_northing", unit="m")
NAME = "drawing"
GESTURES = {
    POLYGON: "Press the mouse on the map and hold it for a second until the first corner appears. Then click each "
    "further corner. Press and hold again on the last corner to close the shape. Drag a closed shape to move it.",
    LINE: "Press the mouse on the map and hold it for a second until the line begins. Then click along its way. Press "
    "and hold again at its end. Drag a finished line to move it.",
    POINT: "Click the place on the map; another click moves it.",
}
WHEN = {"as soon as the mouse is released": True, "when I press Appraise the drawing": False}
NOTHING_DRAWN = "Nothing is drawn yet. Draw a shape on the map first: press and hold to begin, click corner by corner."


@dataclass(frozen=True, kw_only=True)
class Drawn:
    """One shape that was drawn, with what was said of it."""

    said: dict[str, object]  # its kind and attributes
    shape: shapely.Geometry  # in the grid's projection


def with_shape(drawing: tuple[Drawn, ...], said: dict[str, object], shape: shapely.Geometry | None) -> tuple:
    """The drawing with one more shape; the same where none is whole yet."""
    return drawing if shape is None else (*drawing, Drawn(said=said, shape=shape))


def drawing_weighed(desk: Desk, drawing: tuple[Drawn, ...], bench: Bench, on_step: OnStep = ignore) -> Bench:
    """A bench with what was drawn as its proposal, together with what is approved.

    Raises
    ------
    ValueError
        If nothing is drawn; a ProposalError with all that is wrong with it.
    """
    if not drawing:
        raise ValueError(NOTHING_DRAWN)
    inputs = desk.site_map.inputs
    proposal = proposal_of_features(NAME, table_of([(one.said, one.shape) for one in drawing], inputs), inputs)
    return bench.begun(weighed(desk.site_map, proposal, bench.approved, on_step=on_step))


def drawing_planted(desk: Desk, drawing: tuple[Drawn, ...], bench: Bench, on_step: OnStep = ignore) -> Bench:
    """A bench with the variant in view and what was drawn planted beside it.

    Raises
    ------
    ValueError
        If nothing is drawn, or something that is not planted.
    """
    if not drawing:
        raise ValueError(NOTHING_DRAWN)
    inputs = desk.site_map.inputs
    drawn = proposal_of_features(NAME, table_of([(one.said, one.shape) for one in drawing], inputs), inputs)
    return with_planted(desk, drawn.features, bench, on_step)


def drawing_file(desk: Desk, drawing: tuple[Drawn, ...]) -> io.BytesIO:
    """The drawing as GeoJSON in longitude and latitude, to be loaded again or handed on.

    Raises
    ------
    ValueError
        If nothing is drawn.
    """
    if not drawing:
        raise ValueError(NOTHING_DRAWN)
    table = table_of([(one.said, one.shape) for one in drawing], desk.site_map.inputs)
    return io.BytesIO(table.to_crs(4326).to_json(drop_id=True, indent=1).encode())


def draw_form(desk: Desk, glance: object) -> list[object]:
    """A map to draw on, `glance` under it, the kind of what is drawn, its attributes, what is done with the shape."""
    return Board(desk, glance).parts


class Board:
    """The drawing map and its form; redrawn for each shape, so that a drawing can always be begun anew."""

    def __init__(self, desk: Desk, glance: object):
        self.desk = desk
        self.kind = pn.widgets.Select(name="What is drawn", options=list(KINDS), **LOOK)
        self.live = pn.widgets.Select(name="Show what it does", options=WHEN, value=True, **LOOK)
        self.needed, self.optional = (theme.grid(least=135, gap=12, align="end") for _ in range(2))
        self.more = pn.widgets.Toggle(name="More fields, which may be left empty", value=False, **LOOK)
        self.pane = pn.pane.HoloViews(sizing_mode="stretch_width", margin=0, min_height=200)
        self.lay_out()
        self.kind.param.watch(lambda _: self.lay_out(), "value")
        self.more.param.watch(lambda _: self._fold(), "value")
        buttons = (
            ("Keep it and draw another", self.keep, "default"),
            ("Undo the last shape", self.undo, "default"),
            ("Clear the drawing", self.clear, "default"),
            ("Appraise the drawing", self.weigh, "primary"),
            ("Plant it beside the variant in view", self.plant, "default"),
        )
        made = [pn.widgets.Button(name=name, button_type=look, **LOOK) for name, _, look in buttons]
        for button, (_, act, _) in zip(made, buttons, strict=True):
            button.on_click(lambda _, act=act: act())
        home = pn.widgets.FileDownload(
            label="Take the drawing home (GeoJSON)",
            filename="drawing.geojson",
            callback=lambda: drawing_file(desk, self.whole()),
            embed=False,
            auto=True,
            **LOOK,
        )
        self.parts = [
            self.kind,
            theme.text(pn.bind(gesture_words, self.kind)),
            self.pane,
            glance,
            self.needed,
            self.more,
            self.optional,
            theme.text(pn.bind(lambda name: explained(KINDS[name]), self.kind), css=DETAILS_CSS),
            self.live,
            theme.grid(*made, home, least=150, gap=10),
            theme.text(pn.bind(drawing_words, desk.param.drawing)),
        ]

    def lay_out(self) -> None:
        """An empty map and the fields of the chosen kind."""
        kind = KINDS[self.kind.value]
        inputs = self.desk.site_map.inputs
        self.fields = {one.column: field_of(one, inputs) for one in kind.attributes}
        self.needed.objects = [self.fields[one.column] for one in kind.attributes if one.required]
        for one in self.fields.values():
            one.param.watch(lambda _: self._follow(), "value")
        self._fold()
        self.clean()

    def clean(self) -> None:
        """The map without a shape in progress; shapes that are kept are outlined."""
        overlay, self.stream = drawing_map(self.desk, KINDS[self.kind.value].drawn_as[0])
        self.stream.add_subscriber(lambda **_: self._follow())
        self.pane.object = overlay

    def whole(self) -> tuple[Drawn, ...]:
        """All shapes that are kept, and the one on the map."""
        kind = KINDS[self.kind.value]
        return with_shape(self.desk.drawing, said_in(kind, self.fields), drawn_shape(self.stream, kind.drawn_as[0]))

    def keep(self) -> None:
        """Keep the shape on the map and make room for another."""
        whole = self.whole()
        if len(whole) == len(self.desk.drawing):
            self.desk.refuse(NOTHING_DRAWN)
            return
        self.desk.drawing = whole
        self.clean()

    def undo(self) -> None:
        """Take away the shape on the map, or else the one that was kept last."""
        if len(self.whole()) == len(self.desk.drawing):
            self.desk.drawing = self.desk.drawing[:-1]
        self.clean()

    def clear(self) -> None:
        """Take away all shapes."""
        self.desk.drawing = ()
        self.clean()

    def weigh(self, *, live: bool = False) -> None:
        """What the whole drawing does."""
        self.desk.do("what the drawing does", partial(drawing_weighed, self.desk, self.whole()), live=live)

    def plant(self) -> None:
        """What the variant in view does with the drawing planted beside it."""
        self.desk.do("what planting does", partial(drawing_planted, self.desk, self.whole()))

    def _follow(self) -> None:
        if self.live.value and len(self.whole()) > len(self.desk.drawing) and may_follow(self.desk.bench):
            self.weigh(live=True)

    def _fold(self) -> None:
        may_be_left_out = [self.fields[one.column] for one in KINDS[self.kind.value].attributes if not one.required]
        self.more.visible = bool(may_be_left_out)
        self.optional.objects = may_be_left_out if self.more.value else []


def may_follow(bench: Bench) -> bool:
    """Whether a stroke on the map may replace what is on the bench: no loaded file, and no variant, is lost by one."""
    return bench.first is None or (bench.first.name == NAME and len(bench.trials) == 1)


def gesture_words(kind: str) -> Markup:
    """How this kind is drawn."""
    return Markup("<p>{}</p>").format(GESTURES[KINDS[kind].drawn_as[0]])


def drawing_words(drawing: tuple[Drawn, ...]) -> Markup:
    """What has been kept so far, and where it is."""
    said = ", ".join(str(one.said["kind"]) for one in drawing)
    kept = f"Kept so far: {said}." if said else "No shape is kept yet; the one on the map counts all the same."
    return Markup(
        '<p class="quiet">{} A drawing stays on this page and is in no link: take it home as GeoJSON to keep it or to '
        "hand it on.</p>"
    ).format(kept)


def drawing_map(desk: Desk, shape: str) -> tuple[hv.Overlay, hv.streams.Stream]:
    """A map to draw one kind of shape on, with the stream that holds what was drawn."""
    grid, axes = desk.site_map.inputs.site.grid, list(DRAW_AXES)
    ground = maps.class_map(desk.site_map.layers["surface"], axes=DRAW_AXES)
    lines = [part for one in desk.drawing for part in outline_parts(one.shape, grid.cell)]
    kept = hv.Contours([{axes[0].name: line[:, 0], axes[1].name: line[:, 1]} for line in lines], axes)
    kept = kept.opts(color=INK, line_width=2, apply_ranges=False)
    below = maps.ground(grid, DRAW_AXES) * ground * kept
    if shape == POINT:
        stream = hv.streams.Tap(source=ground, x=None, y=None)
        drawn = hv.DynamicMap(lambda x, y: maps.mark(None if x is None else (x, y), DRAW_AXES), streams=[stream])
        return maps.framed(below * drawn, grid), stream
    drawn = hv.Polygons([], axes) if shape == POLYGON else hv.Path([], axes)
    colours = {"fill_color": PEN, "fill_alpha": 0.35, "line_color": PEN} if shape == POLYGON else {"color": PEN}
    drawn = drawn.opts(**colours, line_width=3, apply_ranges=False)
    stream = hv.streams.PolyDraw(
        source=drawn, num_objects=1, drag=True, show_vertices=True, vertex_style={"size": 9, "color": PEN}
    )
    overlay = maps.framed(below * drawn, grid)
    return overlay.opts(hv.opts.Overlay(active_tools=["poly_draw", "wheel_zoom"])), stream


def drawn_shape(stream: hv.streams.Stream, shape: str) -> shapely.Geometry | None:
    """What was drawn, in the projection of the site; None where it is not yet a whole shape."""
    if shape == POINT:
        return None if stream.x is None else shapely.Point(float(stream.x), float(stream.y))
    data = stream.data or {}
    x, y = (
        next(iter(data.get(axis.name) or data.get(side) or []), [])
        for axis, side in zip(DRAW_AXES, ("xs", "ys"), strict=True)
    )
    points = np.column_stack([x, y]) if len(x) else np.empty((0, 2))
    if len(np.unique(points, axis=0)) < (3 if shape == POLYGON else 2):
        return None
    if shape == LINE:
        return shapely.LineString(points)
    return shapely.Polygon(points)  # as drawn: a border that crosses itself is told, not mended


DETAILS_CSS = "summary { cursor: pointer; font-size: 0.88rem; } li { font-size: 0.88rem; } ul { padding-left: 1.2em; }"
