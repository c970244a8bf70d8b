"""The forms of the planner's page: load a proposal, draw one, take an empty template home, make a variant."""

from __future__ import annotations

import io
import tempfile
from dataclasses import replace
from functools import partial
from pathlib import Path

import holoviews as hv
import numpy as np
import panel as pn
import shapely
from markupsafe import Markup

from habitat.colours import INK
from habitat.proposal import proposal_of_features, read_proposal
from habitat.proposal_check import cover_codes
from habitat.proposal_kinds import KINDS, LINE, POINT, POLYGON, Attribute
from habitat.proposal_template import template_text
from habitat.variant import ALL_YEAR, Variation, table_of, varied
from habitat.view import maps, theme
from habitat.view.bench import Bench, Desk, Drawn, weighed
from layers.dredging import loss_fractions

LOOK = {"stylesheets": [theme.WIDGET_CSS], "sizing_mode": "stretch_width", "margin": 0}
LARGEST = "50MB"
# axes of their own: the window of the drawing stands still while the other maps are zoomed
DRAW_AXES = hv.Dimension("drawn_easting", unit="m"), hv.Dimension("drawn_northing", unit="m")
GESTURES = {
    POLYGON: "Press and hold in the map until a corner appears, then click each further corner. Press and hold again, "
    "or press Esc, to close the shape.",
    LINE: "Press and hold in the map until the line begins, then click along its way. Press and hold again, or press "
    "Esc, to end it.",
    POINT: "Click the place in the map; a further click moves it.",
}


def loaded(files: dict[str, bytes | str], desk: Desk, bench: Bench) -> Bench:
    """A bench with the proposal of an uploaded file."""
    name, held = next(reversed(files.items()))
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / Path(name.replace("\\", "/")).name
        path.write_bytes(held.encode() if isinstance(held, str) else held)
        proposal = read_proposal(path, desk.site_map.inputs)
    return bench.begun(weighed(desk.site_map, proposal))


def with_drawn(bench: Bench, said: dict[str, object], shape: shapely.Geometry | None) -> Bench:
    """A bench with one more shape of the drawing."""
    if shape is None:
        raise ValueError("Nothing is drawn yet. Draw the shape on the map, then add it.")
    return replace(bench, drawing=(*bench.drawing, Drawn(said=said, shape=shape)))


def drawing_weighed(desk: Desk, bench: Bench) -> Bench:
    """A bench with what was drawn as its proposal."""
    table = table_of([(one.said, one.shape) for one in bench.drawing], desk.site_map.inputs)
    proposal = proposal_of_features("drawing", table, desk.site_map.inputs)
    return bench.begun(weighed(desk.site_map, proposal))


def with_variation(desk: Desk, variation: Variation, bench: Bench) -> Bench:
    """A bench with a variant of the proposal as it was given."""
    if bench.first is None:
        raise ValueError("There is no proposal yet. Load or draw one first.")
    return bench.with_variant(weighed(desk.site_map, varied(bench.first, variation, desk.site_map.inputs)))


def load_form(desk: Desk) -> list[object]:
    """A field for a file, and the template of each kind."""
    field = pn.widgets.FileDropper(name="Proposal file", multiple=False, max_file_size=LARGEST, **LOOK)

    def load(event: object) -> None:
        if event.new:
            desk.do("reading the file and making the site again with it", partial(loaded, dict(event.new), desk))

    field.param.watch(load, "value", onlychanged=False)
    kind = pn.widgets.Select(name="Template of a kind", options=list(KINDS), **LOOK)
    template = pn.widgets.FileDownload(
        callback=lambda: io.StringIO(template_text(kind.value, desk.site_map.inputs)),
        filename=pn.bind(lambda name: f"{name.replace(' ', '_')}.geojson", kind),
        label="Take the template home (GeoJSON)",
        embed=False,
        auto=True,
        **LOOK,
    )
    return [field, theme.grid(kind, template, least=220, gap=12, align="end")]


def draw_form(desk: Desk) -> list[object]:
    """A map to draw on, the kind of what is drawn and its attributes."""
    kind = pn.widgets.Select(name="What is drawn", options=list(KINDS), **LOOK)
    form = theme.grid(least=200, gap=12, align="end")
    holder = {"stream": None, "shape": None, "fields": {}}
    pane = pn.pane.HoloViews(sizing_mode="stretch_width", margin=0, min_height=200)

    def lay_out(*_: object) -> None:
        chosen = KINDS[kind.value]
        holder["fields"] = {one.column: field_of(one, desk) for one in chosen.attributes}
        form.objects = list(holder["fields"].values())
        overlay, holder["stream"] = drawing_map(desk, chosen.drawn_as[0])
        holder["shape"] = chosen.drawn_as[0]
        pane.object = overlay

    def add(_: object) -> None:
        said = {"kind": kind.value}
        said |= {column: one.value for column, one in holder["fields"].items() if one.value not in (None, "")}
        shape = drawn_shape(holder["stream"], holder["shape"])
        desk.do("adding the shape", lambda bench: with_drawn(bench, said, shape))
        lay_out()

    kind.param.watch(lay_out, "value")
    lay_out()
    adding = pn.widgets.Button(name="Add this shape", **LOOK)
    adding.on_click(add)
    weighing = pn.widgets.Button(name="Appraise the drawing", button_type="primary", **LOOK)
    weighing.on_click(lambda _: desk.do("making the site again with the drawing", partial(drawing_weighed, desk)))
    hint = pn.bind(lambda name: Markup("<p>{}</p>").format(GESTURES[KINDS[name].drawn_as[0]]), kind)
    listed = pn.bind(lambda bench: drawing_words(bench), desk.param.bench)
    return [kind, theme.text(hint), pane, form, theme.grid(adding, weighing, least=170, gap=12), theme.text(listed)]


def drawing_words(bench: Bench) -> Markup:
    """What has been drawn so far."""
    said = ", ".join(str(one.said["kind"]) for one in bench.drawing) or "nothing"
    return Markup('<p class="quiet">In the drawing so far: {}. It stays on this page and is in no link.</p>').format(
        said
    )


def drawing_map(desk: Desk, shape: str) -> tuple[hv.Overlay, hv.streams.Stream]:
    """A map to draw one kind of shape on, with the stream that holds what was drawn."""
    grid, axes = desk.site_map.inputs.site.grid, list(DRAW_AXES)
    surface = desk.site_map.layers["surface"]
    ground = maps.class_map(surface, axes=DRAW_AXES)
    if shape == POINT:
        stream = hv.streams.Tap(source=ground, x=None, y=None)
        drawn = hv.DynamicMap(lambda x, y: maps.mark(None if x is None else (x, y), DRAW_AXES), streams=[stream])
        return maps.framed(maps.ground(grid, DRAW_AXES) * ground * drawn, grid), stream
    drawn = hv.Polygons([], axes) if shape == POLYGON else hv.Path([], axes)
    drawn = drawn.opts(color="#e07b00" if shape == POLYGON else INK, line_width=2, apply_ranges=False)
    stream = hv.streams.PolyDraw(source=drawn, num_objects=1, show_vertices=True)
    overlay = maps.framed(maps.ground(grid, DRAW_AXES) * ground * drawn, grid)
    return overlay.opts(hv.opts.Overlay(active_tools=["poly_draw"])), stream


def drawn_shape(stream: hv.streams.Stream, shape: str) -> shapely.Geometry | None:
    """What was drawn, in the projection of the site; None where it is not yet a whole shape."""
    if shape == POINT:
        return None if stream.x is None else shapely.Point(float(stream.x), float(stream.y))
    data = stream.data or {}
    x, y = (
        next(iter(data.get(axis.name) or data.get(side) or []), [])
        for axis, side in zip(DRAW_AXES, ("xs", "ys"), strict=True)
    )
    vertices = np.unique(np.column_stack([x, y]), axis=0) if len(x) else np.empty((0, 2))
    if len(vertices) < (3 if shape == POLYGON else 2):
        return None
    points = np.column_stack([x, y])
    if shape == LINE:
        return shapely.LineString(points)
    area = shapely.make_valid(shapely.Polygon(points))
    return area if area.area > 0 else None


def field_of(attribute: Attribute, desk: Desk) -> pn.widgets.Widget:
    """A field for one attribute, with its unit in the label."""
    unit = f", {attribute.units}" if attribute.units not in ("", "1") else ""
    label = f"{attribute.means[0].upper()}{attribute.means[1:]}{unit}{'' if attribute.required else ' (optional)'}"
    inputs = desk.site_map.inputs
    choices = {
        "season": {ALL_YEAR: "", **{name: name for name in inputs.site.seasons}},
        "equipment": {name: name for name in loss_fractions()},
        "cover": {name: name for name in cover_codes(inputs)},
    }.get(attribute.column, {word: word for word in attribute.words})
    if choices:
        return pn.widgets.Select(name=label, options=choices, **LOOK)
    if attribute.is_number:
        least, most = attribute.bounds
        value = attribute.example if attribute.required else None
        return pn.widgets.FloatInput(name=label, value=value, start=least, end=most, **LOOK)
    return pn.widgets.TextInput(name=label, **LOOK)


def variant_form(desk: Desk) -> list[object]:
    """Fields of a variant and the button that makes it."""
    east = pn.widgets.FloatInput(name="Moved to the east, m", value=0.0, step=50, **LOOK)
    north = pn.widgets.FloatInput(name="Moved to the north, m", value=0.0, step=50, **LOOK)
    seasons = {"as it is": "", **{name: name for name in desk.site_map.inputs.site.seasons}, ALL_YEAR: ALL_YEAR}
    season = pn.widgets.Select(name="Season of the work", options=seasons, **LOOK)
    equipment = pn.widgets.Select(
        name="Equipment", options={"as it is": "", **{n: n for n in loss_fractions()}}, **LOOK
    )
    share = pn.widgets.FloatInput(name="Share of the size, %", value=100.0, start=1, end=100, step=10, **LOOK)
    making = pn.widgets.Button(name="Make this variant", button_type="primary", **LOOK)

    def make(_: object) -> None:
        wish = Variation(
            east=east.value or 0.0,
            north=north.value or 0.0,
            season=season.value,
            equipment=equipment.value,
            share=(share.value or 100.0) / 100,
        )
        desk.do("making the site again with the variant", partial(with_variation, desk, wish))

    making.on_click(make)
    return [theme.grid(east, north, season, equipment, share, making, least=170, gap=12, align="end")]
