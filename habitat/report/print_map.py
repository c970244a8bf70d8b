"""One map on one sheet: title, legend, scale, north, projection, dates, sources, author and caution.

The sheet is a landscape A4 page at 150 dots an inch. It says what is not known as plainly as what is: missing
cells are hatched, incompletely scored ones dotted, and it never shows where an animal was seen.
"""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from textwrap import shorten, wrap
from typing import TYPE_CHECKING

import numpy as np

from habitat.colours import ALERT, INK, MUTED_INK, PAGE, class_colours, scale_of
from habitat.report.legend import (
    draw_class_legend,
    draw_common_entries,
    draw_concern_legend,
    draw_note,
    draw_scale_legend,
)
from habitat.report.picture import Size, map_picture
from habitat.report.scale_bar import draw_north_arrow, draw_scale_bar, round_length
from habitat.result import SUITABILITY_CLASSES, THREAT_CLASSES
from layers.atomic import whole_file
from layers.grid import Grid
from layers.quantity import LAYERS

if TYPE_CHECKING:
    import geopandas as gpd
    import xarray as xr
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

CAUTION = "Screening-level evidence; local law and licensed practice decide."
INVENTED = "INVENTED SITE - not a real place"
NO_SIGHTINGS = "Places where animals were seen are not shown; absence of sightings is not absence of animals."
UNCERTAINTY = "Errors of the data are not drawn: near a class limit, read either class."

_DOTS = 150  # an inch
_WIDTH, _HEIGHT = 1754, 1240  # A4 landscape [pixel]
_MARGIN, _PANEL = 48, 448
_LEFT = 84  # of the map: room for the northings
_ROOM = _WIDTH - _LEFT - 2 * _MARGIN - _PANEL  # width of the map's room
_TOP, _BOTTOM = 132, 168  # of the map's room, from the edges of the sheet


@dataclass(frozen=True, kw_only=True)
class Imprint:
    """What every sheet of a site says beside its map."""

    site: str
    author: str
    invented: bool
    profile: str
    vertical_datum: str  # "" where no file states one
    sources: str  # sources, licences and credits of the data, in one paragraph
    data_dates: str
    printed: str  # date of print


def map_figure(
    layer: xr.DataArray,
    *,
    title: str,
    imprint: Imprint,
    surface: xr.DataArray,
    lacking: xr.DataArray | None = None,
    breaks: tuple[float, ...] = (),
    zones: gpd.GeoDataFrame | None = None,
) -> Figure:
    """The sheet of one layer in one season.

    Parameters
    ----------
    layer : DataArray (y, x)
        A score, a layer or a layer of codes; its name picks its colours.
    title : str
        What the map shows; the season is added where the layer has one.
    imprint : Imprint
        What the sheet says on the site.
    surface : DataArray (y, x)
        Codes of land, intertidal and water.
    lacking : DataArray (y, x), optional
        How many factors or pressures a cell was scored without: cells above 0 are dotted.
    breaks : tuple of float, optional
        Limits of the classes of the profile.
    zones : GeoDataFrame, optional
        Polygons to outline, named by a column `name`.
    """
    from matplotlib.figure import Figure

    grid = Grid.of(layer)
    size = Size.fitting(grid.shape, height=_HEIGHT - _TOP - _BOTTOM, width=_ROOM)
    look = _look(layer)
    is_there = layer.notnull().values if layer.dtype.kind == "f" else layer.values > 0
    lacks = None if lacking is None else (lacking.values > 0) & is_there
    picture = map_picture(layer.values, look, size, surface=surface.values, lacking=lacks)
    season = f", {layer['season'].item()} season" if "season" in layer.coords else ""

    figure = Figure(figsize=(_WIDTH / _DOTS, _HEIGHT / _DOTS), dpi=_DOTS, facecolor=PAGE)
    sheet = _axes(figure, 0, 0, _WIDTH, _HEIGHT)
    _draw_head(sheet, f"{title}{season}", imprint)
    _draw_map(figure, picture, size, grid, zones)
    panel = _axes(figure, _WIDTH - _MARGIN - _PANEL, _TOP, _PANEL, _HEIGHT - _TOP - _BOTTOM)
    y = _draw_legend(panel, layer, look, breaks)
    lacking_words = _lacking_words(layer) if lacks is not None and lacks.any() else None
    y = draw_common_entries(panel, y + 6, lacking=lacking_words, zones=zones is not None)
    _draw_measures(panel, y + 20, grid, size, imprint)
    _draw_foot(sheet, imprint)
    return figure


def write_png(figure: Figure, path: str | Path, *, replace: bool = False) -> None:
    """Write a sheet as PNG; the same sheet gives the same bytes.

    Raises
    ------
    RecordError
        If the file exists and is not to be replaced.
    """
    from matplotlib.backends.backend_agg import FigureCanvasAgg

    with whole_file(path, replace=replace) as unfinished:
        # a strong compression takes longer than drawing the sheet
        FigureCanvasAgg(figure).print_png(unfinished, metadata={"Software": None}, pil_kwargs={"compress_level": 3})


def _look(layer: xr.DataArray):
    if layer.dtype.kind == "f":
        return scale_of(layer.name)
    words = layer.attrs.get("flag_meanings", "").split()
    return class_colours(layer.name, len(words) - 1 if words else None)


def _draw_head(sheet: Axes, title: str, imprint: Imprint) -> None:
    sheet.text(_MARGIN, 40, title[:1].upper() + title[1:], va="top", fontsize=17, fontweight="bold", color=INK)
    below = f"{imprint.site}. Profile: {imprint.profile}."
    sheet.text(_MARGIN, 88, shorten(below, 120), va="top", fontsize=10, color=MUTED_INK)
    if imprint.invented:
        box = {"facecolor": ALERT, "edgecolor": "none", "boxstyle": "square,pad=0.55"}
        place = (_WIDTH - _MARGIN - 12, 56)
        sheet.text(*place, INVENTED, ha="right", va="center", fontsize=11, fontweight="bold", color=PAGE, bbox=box)


def _draw_map(figure: Figure, picture: np.ndarray, size: Size, grid: Grid, zones: gpd.GeoDataFrame | None) -> None:
    west, south, east, north = grid.bounds
    axes = figure.add_axes(_box(_LEFT + (_ROOM - size.width) // 2, _TOP, size.width, size.height))
    axes.imshow(picture, extent=(west, east, south, north), interpolation="none", aspect="auto", origin="upper")
    if zones is not None:
        _draw_zones(axes, zones)
    axes.set(xlim=(west, east), ylim=(south, north))
    axes.tick_params(labelsize=7, colors=MUTED_INK, length=4, width=0.6, pad=3)
    axes.set_xticks(_round_places(west, east), minor=False)
    axes.set_yticks(_round_places(south, north), minor=False)
    for axis in (axes.xaxis, axes.yaxis):
        axis.set_major_formatter(lambda value, _: f"{value:,.0f}".replace(",", "\u202f"))
    for label in axes.get_yticklabels():
        label.set(rotation=90, va="center")
    for spine in axes.spines.values():
        spine.set(color=INK, linewidth=0.8)


def _round_places(low: float, high: float) -> np.ndarray:
    """Round numbers between two ends, and clear of them so that no label touches a corner."""
    step = round_length((high - low) / 4)
    places = np.arange(np.ceil(low / step), np.floor(high / step) + 1) * step
    return places[(places > low + 0.05 * (high - low)) & (places < high - 0.05 * (high - low))]


def _draw_zones(axes: Axes, zones: gpd.GeoDataFrame) -> None:
    from matplotlib.collections import LineCollection
    from matplotlib.patheffects import withStroke
    from shapely import get_coordinates, get_parts, line_merge, union_all

    # an edge shared by two zones is drawn once: two rows of dashes make a solid line
    edges = get_parts(line_merge(union_all(zones.boundary.to_numpy())))
    rings = [get_coordinates(edge) for edge in edges]
    axes.add_collection(LineCollection(rings, colors=PAGE, linewidths=3))
    axes.add_collection(LineCollection(rings, colors=INK, linewidths=1.6, linestyles=[(0, (5, 2))]))
    halo = [withStroke(linewidth=3, foreground=PAGE)]
    for name, place in zip(zones["name"], zones.representative_point(), strict=True):
        axes.text(place.x, place.y, name, ha="center", fontsize=8, color=INK, path_effects=halo, clip_on=True)


def _draw_legend(panel: Axes, layer: xr.DataArray, look, breaks: tuple[float, ...]) -> float:
    label = layer.attrs["long_name"]
    y = draw_note(panel, 0, label[:1].upper() + label[1:], size=10, color=INK) + 4
    if layer.name == "concern":
        return draw_concern_legend(panel, y, look, SUITABILITY_CLASSES[1:], THREAT_CLASSES[1:])
    if layer.dtype.kind == "f":
        words = {"suitability": SUITABILITY_CLASSES, "threat": THREAT_CLASSES}.get(layer.name)
        classes = words[1:] if words and breaks else ()
        saturates = layer.name in LAYERS and LAYERS[layer.name].saturates
        reach = float(layer.attrs["reach"]) if saturates and "reach" in layer.attrs else None
        return draw_scale_legend(panel, y, look, layer.attrs["units"], breaks=breaks, classes=classes, reach=reach)
    return draw_class_legend(panel, y, look, _class_names(layer))


def _class_names(layer: xr.DataArray) -> dict[int, str]:
    """Name of each code: its meaning, or the number itself where the layer counts."""
    if "flag_meanings" not in layer.attrs:
        return {code: f"{code}" for code in range(256)}
    return dict(enumerate(word.replace("_", " ") for word in layer.attrs["flag_meanings"].split()))


def _lacking_words(layer: xr.DataArray) -> str:
    parts = {"threat": "pressures", "concern": "factors or pressures"}.get(layer.name, "factors")
    return f"scored without all its {parts}"


def _draw_measures(panel: Axes, y: float, grid: Grid, size: Size, imprint: Imprint) -> None:
    metres_a_pixel = (grid.bounds[2] - grid.bounds[0]) / size.width
    length = round_length(min(_PANEL - 150, size.width) * metres_a_pixel)
    draw_scale_bar(panel, 14, y + 34, length, metres_a_pixel)
    draw_north_arrow(panel, _PANEL - 40, y + 72)
    code = grid.crs.to_epsg()
    facts = [
        f"Projection: {grid.crs.name}{f' (EPSG:{code})' if code else ''}; grid north; cells of {grid.cell:g} m.",
        f"Vertical datum: {imprint.vertical_datum or 'not stated in the site file'}.",
        f"Data of: {imprint.data_dates or 'no date stated'}.",
        f"Printed: {imprint.printed}. Author: {imprint.author}.",
        UNCERTAINTY,
    ]
    y += 108
    for fact in facts:
        y = draw_note(panel, y, fact) - 4


def _draw_foot(sheet: Axes, imprint: Imprint) -> None:
    y = _HEIGHT - _BOTTOM + 62
    sheet.plot([_MARGIN, _WIDTH - _MARGIN], [y - 12] * 2, color=MUTED_INK, linewidth=0.6)
    sheet.text(_MARGIN, y, CAUTION, va="top", fontsize=8.5, fontweight="bold", color=INK)
    sheet.text(_WIDTH - _MARGIN, y, NO_SIGHTINGS, ha="right", va="top", fontsize=7.5, color=INK)
    lines = wrap(f"Data: {imprint.sources}", 205)
    if len(lines) > 3:
        lines = [*lines[:2], shorten(" ".join(lines[2:]), 150, placeholder=" ... (all in README.txt)")]
    sheet.text(_MARGIN, y + 26, "\n".join(lines), va="top", fontsize=7, color=MUTED_INK, linespacing=1.3)


def _axes(figure: Figure, x: float, y: float, width: float, height: float) -> Axes:
    """Axes without a frame, in pixels counted from their upper left corner."""
    axes = figure.add_axes(_box(x, y, width, height))
    axes.set(xlim=(0, width), ylim=(height, 0))
    axes.set_axis_off()
    return axes


def _box(x: float, y: float, width: float, height: float) -> tuple[float, float, float, float]:
    return x / _WIDTH, 1 - (y + height) / _HEIGHT, width / _WIDTH, height / _HEIGHT
