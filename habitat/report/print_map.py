"""One map on one sheet: title, legend, scale, north, projection, dates, sources, author and caution.

The sheet is an A4 page at 150 dots an inch, upright for a tall site. It says what is not known as plainly as what
is: missing cells are hatched, incompletely scored ones dotted, and it never shows where an animal was seen.
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
_MARGIN, _PANEL = 48, 448
_LEFT = 84  # of the map: room for the northings
_TOP, _BOTTOM = 132, 168  # of the map's room, from the edges of the sheet


@dataclass(frozen=True)
class _Paper:
    """A4, one way or the other. [pixel]"""

    width: int
    height: int

    @property
    def room(self) -> tuple[int, int]:
        """Width and height of the room for the map."""
        return self.width - _LEFT - 2 * _MARGIN - _PANEL, self.height - _TOP - _BOTTOM

    def box(self, x: float, y: float, width: float, height: float) -> tuple[float, float, float, float]:
        """A rectangle counted from the upper left corner, as matplotlib wants it."""
        return x / self.width, 1 - (y + height) / self.height, width / self.width, height / self.height


_LANDSCAPE, _PORTRAIT = _Paper(1754, 1240), _Paper(1240, 1754)
_TALL = 1.3  # rows over columns from which on a sheet stands upright


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
    paper = _PORTRAIT if grid.shape[0] > _TALL * grid.shape[1] else _LANDSCAPE
    width, height = paper.room
    size = Size.fitting(grid.shape, height=height, width=width)
    look = _look(layer)
    is_there = layer.notnull().values if layer.dtype.kind == "f" else layer.values > 0
    lacks = None if lacking is None else (lacking.values > 0) & is_there
    picture = map_picture(layer.values, look, size, surface=surface.values, lacking=lacks)
    season = f", {layer['season'].item()} season" if "season" in layer.coords else ""

    figure = Figure(figsize=(paper.width / _DOTS, paper.height / _DOTS), dpi=_DOTS, facecolor=PAGE)
    sheet = _axes(figure, paper, 0, 0, paper.width, paper.height)
    _draw_head(sheet, paper, f"{title}{season}", imprint)
    _draw_map(figure, paper, picture, size, grid, zones)
    panel = _axes(figure, paper, paper.width - _MARGIN - _PANEL, _TOP, _PANEL, height)
    y = _draw_legend(panel, layer, look, breaks)
    lacking_words = _lacking_words(layer) if lacks is not None and lacks.any() else None
    y = draw_common_entries(panel, y + 6, lacking=lacking_words, zones=zones is not None)
    _draw_measures(panel, y + 20, grid, size, imprint)
    _draw_foot(sheet, paper, imprint)
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


def _draw_head(sheet: Axes, paper: _Paper, title: str, imprint: Imprint) -> None:
    sheet.text(_MARGIN, 40, title[:1].upper() + title[1:], va="top", fontsize=17, fontweight="bold", color=INK)
    below = f"{imprint.site}. Profile: {imprint.profile}."
    sheet.text(_MARGIN, 88, shorten(below, 120), va="top", fontsize=10, color=MUTED_INK)
    if imprint.invented:
        box = {"facecolor": ALERT, "edgecolor": "none", "boxstyle": "square,pad=0.55"}
        place = (paper.width - _MARGIN - 12, 56)
        sheet.text(*place, INVENTED, ha="right", va="center", fontsize=11, fontweight="bold", color=PAGE, bbox=box)


def _draw_map(
    figure: Figure, paper: _Paper, picture: np.ndarray, size: Size, grid: Grid, zones: gpd.GeoDataFrame | None
) -> None:
    west, south, east, north = grid.bounds
    axes = figure.add_axes(paper.box(_LEFT + (paper.room[0] - size.width) // 2, _TOP, size.width, size.height))
    axes.imshow(picture, extent=(west, east, south, north), interpolation="none", aspect="auto", origin="upper")
    if zones is not None:
        _draw_zones(axes, zones)
    axes.set(xlim=(west, east), ylim=(south, north))
    axes.tick_params(labelsize=7, colors=MUTED_INK, length=4, width=0.6, pad=3)
    axes.set_xticks(_round_places(west, east, size.width), minor=False)
    axes.set_yticks(_round_places(south, north, size.height), minor=False)
    for axis in (axes.xaxis, axes.yaxis):
        axis.set_major_formatter(lambda value, _: f"{value:,.0f}".replace(",", "\u202f"))
    for label in axes.get_yticklabels():
        label.set(rotation=90, va="center")
    for spine in axes.spines.values():
        spine.set(color=INK, linewidth=0.8)


def _round_places(low: float, high: float, pixels: int) -> np.ndarray:
    """Round numbers between two ends, and clear of them so that no label touches a corner."""
    labels = max(1, min(4, pixels // 150))
    step = round_length((high - low) / labels)
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
        f"Printed: {imprint.printed}. Author: {imprint.author or 'not stated'}.",
        UNCERTAINTY,
    ]
    y += 108
    for fact in facts:
        y = draw_note(panel, y, fact) - 4


def _draw_foot(sheet: Axes, paper: _Paper, imprint: Imprint) -> None:
    y = paper.height - _BOTTOM + 62
    is_wide = paper.width > paper.height
    sheet.plot([_MARGIN, paper.width - _MARGIN], [y - 12] * 2, color=MUTED_INK, linewidth=0.6)
    sheet.text(_MARGIN, y, CAUTION, va="top", fontsize=8.5, fontweight="bold", color=INK)
    if is_wide:
        sheet.text(paper.width - _MARGIN, y, NO_SIGHTINGS, ha="right", va="top", fontsize=7.5, color=INK)
    else:
        y += 22
        sheet.text(_MARGIN, y, NO_SIGHTINGS, va="top", fontsize=7.5, color=INK)
    line = 205 if is_wide else 140
    lines = wrap(f"Data: {imprint.sources}", line)
    if len(lines) > 3:
        lines = [*lines[:2], shorten(" ".join(lines[2:]), line - 55, placeholder=" ... (all in README.txt)")]
    sheet.text(_MARGIN, y + 26, "\n".join(lines), va="top", fontsize=7, color=MUTED_INK, linespacing=1.3)


def _axes(figure: Figure, paper: _Paper, x: float, y: float, width: float, height: float) -> Axes:
    """Axes without a frame, in pixels counted from their upper left corner."""
    axes = figure.add_axes(paper.box(x, y, width, height))
    axes.set(xlim=(0, width), ylim=(height, 0))
    axes.set_axis_off()
    return axes
