"""Maps: a labelled grid in, an element out. Titles, units and colours come from the grid; nothing is scored here.

No data is hatched grey, land is plain: neither can be taken for a low score. North is up.
"""

from __future__ import annotations

from functools import partial

import holoviews as hv
import numpy as np
import xarray as xr

from habitat.colours import INK, LAND, NO_DATA, NO_DATA_HATCH, PAGE, Scale, class_colours, scale_of
from habitat.view.window import Range, greatest, nearest, window
from habitat.view.words import unit_sign
from layers.grid import Grid

EAST, NORTH = AXES = hv.Dimension("easting", unit="m"), hv.Dimension("northing", unit="m")
_SCALE_BAR_LOOK = {
    "background_fill_alpha": 0.85,
    "border_line_color": None,
    "label_text_color": INK,
    "bar_line_color": INK,
    "padding": 6,
    "margin": 6,
}
_TOOLBAR_CSS = ":host { height: max-content !important; min-height: 124px; border-radius: 8px; margin: 6px; }"
DOTS_A_SIDE = 60  # dots along the longer side of a map where cells lack a part of their score
TALLEST, FLATTEST = 0.9, 2.0  # width over height between which a map is kept
_TOOLS = ["pan", "wheel_zoom", "zoom_in", "zoom_out", "reset"]


def score_map(
    layer: xr.DataArray,
    x_range: Range = None,
    y_range: Range = None,
    *,
    scale: Scale | None = None,
    axes: tuple[hv.Dimension, hv.Dimension] = AXES,
) -> hv.Image:
    """Picture of a layer of numbers in its own fixed colours.

    Parameters
    ----------
    layer : DataArray, (y, x)
        Suitability, threat, an index, an exposure or a layer of the site.
    x_range, y_range : pair of float, or None
        What the map shows. [m]
    scale : Scale, optional
        Instead of the one of its name.
    axes : pair of hv.Dimension
        Maps whose axes have the same names are zoomed together.

    Returns
    -------
    hv.Image
        At most `window.MOST_CELLS` blocks a side. NaN is drawn as nothing, so the hatch below shows through.
    """
    scale = scale or scale_of(layer.name)
    # the worst of a block stands for it: a narrow channel must not vanish from an overview
    thin = greatest if scale.name == "threat" else nearest
    label, unit = layer.attrs["long_name"], unit_sign(layer.attrs.get("units", "1"))
    picture = _image(layer, "value", x_range, y_range, thin, axes, (scale.low, scale.high))
    return picture.opts(
        cmap=list(scale.colours),
        clim=(scale.low, scale.high),
        hover_tooltips=[(label, f"@image{{0.00}} {unit}".rstrip())],
    )


def class_map(
    layer: xr.DataArray,
    x_range: Range = None,
    y_range: Range = None,
    *,
    colours: dict[int, str] | None = None,
    axes: tuple[hv.Dimension, hv.Dimension] = AXES,
) -> hv.Image:
    """Picture of a layer of codes, one colour a code; code 0 is no data and is drawn as nothing."""
    meanings = layer.attrs["flag_meanings"].split()
    colours = colours or class_colours(layer.name, len(meanings) - 1)
    codes = sorted(colours)
    limits = (codes[0] - 0.5, codes[-1] + 0.5)
    picture = _image(layer.where(layer > 0), "code", x_range, y_range, nearest, axes, limits)
    return picture.opts(cmap=[colours[code] for code in codes], clim=limits, hover_tooltips=[])


def layer_map(layer: xr.DataArray, x_range: Range = None, y_range: Range = None) -> hv.Image:
    """Picture of any layer: of codes where it has meanings, of numbers otherwise."""
    draw = class_map if "flag_meanings" in layer.attrs else score_map
    return draw(layer, x_range, y_range)


def ground(grid: Grid, axes: tuple[hv.Dimension, hv.Dimension] = AXES) -> hv.Rectangles:
    """The whole site as no data: what no layer covers stays hatched."""
    return hv.Rectangles([grid.bounds], [*axes, "east", "north"]).opts(
        color=NO_DATA, line_width=0, hooks=[_hatch], apply_ranges=False
    )


def land(shapes: object | None, grid: Grid) -> hv.Polygons:
    """The site's own land, cut to the grid.

    Parameters
    ----------
    shapes : geopandas.GeoSeries or None
        Land polygons in the grid's projection; None where the site has none.
    grid : Grid
        The site's grid. Details smaller than half a cell are not drawn.
    """
    return shapes_within(shapes, grid).opts(
        color=LAND, line_color=INK, line_width=0.6, line_alpha=0.55, apply_ranges=False
    )


def shapes_within(shapes: object | None, grid: Grid, axes: tuple[hv.Dimension, hv.Dimension] = AXES) -> hv.Polygons:
    """Polygons cut to the grid, without details smaller than half a cell."""
    parts = [] if shapes is None else _rings(shapes.clip_by_rect(*grid.bounds).simplify(grid.cell / 2), axes)
    return hv.Polygons(parts, list(axes))


def lacking(missing: xr.DataArray, score: xr.DataArray) -> hv.Points:
    """Dots, evenly spread, over the cells that were scored without all their factors or pressures.

    Parameters
    ----------
    missing : DataArray (y, x)
        How many are missing.
    score : DataArray (y, x)
        NaN, or 0 for classes, where there is no score.
    """
    scored = score.notnull() if score.dtype.kind == "f" else score > 0
    step = -(-max(missing.shape) // DOTS_A_SIDE)
    rows, columns = np.nonzero(((missing > 0) & scored).to_numpy()[step // 2 :: step, step // 2 :: step])
    x = missing["x"].to_numpy()[step // 2 :: step][columns]
    y = missing["y"].to_numpy()[step // 2 :: step][rows]
    return hv.Points((x, y), [EAST, NORTH]).opts(
        size=2.6, color=INK, line_color=PAGE, line_width=0.5, apply_ranges=False, default_tools=[], tools=[]
    )


def outlines(shapes: object | None, grid: Grid, axes: tuple[hv.Dimension, hv.Dimension] = AXES) -> hv.Contours:
    """Borders of the zones of a site, or of any other polygons."""
    parts = [] if shapes is None else _rings(shapes.clip_by_rect(*grid.bounds).simplify(grid.cell / 2), axes)
    return hv.Contours(parts, list(axes)).opts(color=INK, line_width=1.2, line_dash="dashed", apply_ranges=False)


def mark(place: tuple[float, float] | None, axes: tuple[hv.Dimension, hv.Dimension] = AXES) -> hv.Points:
    """A ring around the chosen place."""
    points = [] if place is None else [place]
    return hv.Points(points, list(axes)).opts(
        size=15, fill_alpha=0, line_color=INK, line_width=3, apply_ranges=False, hooks=[_halo]
    )


def view_bounds(grid: Grid) -> tuple[float, float, float, float]:
    """West, south, east, north of a map: the grid, with room beside a tall or a flat one. [m]"""
    west, south, east, north = grid.bounds
    width, height = east - west, north - south
    wider = max(0.0, TALLEST * height - width) / 2
    taller = max(0.0, width / FLATTEST - height) / 2
    return west - wider, south - taller, east + wider, north + taller


def framed(overlay: object, grid: Grid) -> object:
    """The overlay as a map: true to shape at any width, with a scale bar, kept within the site."""
    west, south, east, north = view_bounds(grid)
    return overlay.opts(
        hv.opts.Overlay(
            responsive="width",
            aspect=(east - west) / (north - south),
            xaxis=None,
            yaxis=None,
            xlim=(west, east),
            ylim=(south, north),
            show_title=False,
            show_frame=False,
            show_legend=False,
            margin=0,
            hooks=[_frame],
        ),
        hv.opts.Image(default_tools=_TOOLS, tools=["hover"], active_tools=["pan", "wheel_zoom"]),
        *(
            kind(default_tools=[], tools=[])
            for kind in (hv.opts.Rectangles, hv.opts.Polygons, hv.opts.Contours, hv.opts.Points, hv.opts.Labels)
        ),
    )


def _image(
    layer: xr.DataArray, name: str, x_range: Range, y_range: Range, thin, axes: tuple, limits: tuple
) -> hv.Image:
    grid = Grid.of(layer)
    view = window(grid, x_range, y_range)
    unit = unit_sign(layer.attrs.get("units", "1")) or None
    # with its range stated, the library does not go through the cells to find it
    value = hv.Dimension(name, label=layer.attrs["long_name"], unit=unit, range=limits)
    if view is None:
        blank = np.full((1, 1), np.nan, np.float32)
        return hv.Image(blank, list(axes), value, bounds=grid.bounds)
    cells = thin(layer.to_numpy(), view).astype(np.float32, copy=False)
    return hv.Image(cells, list(axes), value, bounds=view.bounds)


def _rings(shapes: object, axes: tuple) -> list[dict]:
    """Outer rings and holes of (multi)polygons, as HoloViews wants them."""
    polygons = shapes.explode(ignore_index=True)
    return [
        {
            axes[0].name: np.asarray(polygon.exterior.xy[0]),
            axes[1].name: np.asarray(polygon.exterior.xy[1]),
            "holes": [[np.column_stack(hole.xy) for hole in polygon.interiors]],
        }
        for polygon in polygons
        if polygon is not None and polygon.geom_type == "Polygon" and not polygon.is_empty
    ]


def _hatch(plot: object, element: object) -> None:
    plot.handles["glyph"].update(
        hatch_pattern="/", hatch_color=NO_DATA_HATCH, hatch_alpha=0.55, hatch_scale=7, hatch_weight=0.6
    )


def _halo(plot: object, element: object) -> None:
    plot.handles["glyph"].update(marker="circle_dot")


def _frame(plot: object, element: object) -> None:
    from bokeh.models import ResetTool, ScaleBar, ZoomInTool, ZoomOutTool

    figure = plot.state
    figure.toolbar_inner = True
    figure.toolbar.update(logo=None, stylesheets=[_TOOLBAR_CSS])
    for tool in figure.toolbar.tools:
        # dragging and the wheel need no button; what has a button is reached by keyboard
        tool.visible = isinstance(tool, ZoomInTool | ZoomOutTool | ResetTool)
    figure.update(min_border_left=0, min_border_right=0, min_border_top=0, min_border_bottom=0)
    figure.outline_line_color = None
    figure.background_fill_color = "#ffffff"
    bars = figure.select(ScaleBar)
    if not bars:
        bars = [ScaleBar(unit="m", location="bottom_left", **_SCALE_BAR_LOOK)]
        figure.add_layout(bars[0])
        # linked maps are given one shared range after they were drawn, and a scale bar must not keep the old one
        figure.on_change("x_range", partial(_measure_by, bars[0]))
    bars[0].range = figure.x_range


def _measure_by(bar: object, attribute: str, old: object, new: object) -> None:
    bar.range = new
