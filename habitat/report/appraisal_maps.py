"""The maps of an appraisal: before, after and difference on sheets of their own, and all on one plate."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from textwrap import wrap
from typing import TYPE_CHECKING

import geopandas as gpd
import numpy as np

from habitat.colours import INK, MUTED_INK, PAGE, Scale, rgb, scale_of
from habitat.report.appraisal_change import (
    BECOMES_LAND,
    BECOMES_WATER,
    COLOURS,
    MORE_IS_BETTER,
    NAMES,
    SAME,
    change_codes,
    is_better,
)
from habitat.report.legend import draw_common_entries, draw_note, draw_scale_legend
from habitat.report.picture import Size, dotted, map_picture
from habitat.report.print_map import CAUTION, INVENTED, NO_SIGHTINGS, Imprint, map_figure, write_png
from habitat.report.rasters import by_season, file_stem
from habitat.report.scale_bar import draw_north_arrow, draw_scale_bar, round_length
from habitat.report.sheets import TITLES, imprint_of
from habitat.site_zones import site_zones
from layers.grid import Grid
from layers.quantity import LAND

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

    from habitat.appraisal_account import Account

FOLDER = "maps"
_DOTS = 150  # an inch
_WIDTH, _GAP, _HEAD, _LEGEND, _FOOT = 1080, 40, 92, 262, 100  # of a plate [pixel]
_MARGIN_OF_CLOSE_UP = 0.35  # of the footprint's longer side, on each side of it
_SMALLEST_CLOSE_UP = 40  # cells across
_WORSE, _BETTER = (1, 2, 3, 4, SAME), (9, 8, 7, 6, BECOMES_WATER, BECOMES_LAND)


@dataclass(frozen=True, kw_only=True)
class _Panel:
    title: str
    values: np.ndarray
    look: Scale | Mapping[int, str]
    surface: np.ndarray
    dots: np.ndarray | None
    grid: Grid


def plate_name(kind: str, season: str) -> str:
    """File of the plate of a kind ("suitability" or "threat") and season, from the folder of the report."""
    return f"{FOLDER}/{file_stem(kind, season)}.png"


def write_appraisal_maps(folder: Path, account: Account, *, date: str) -> None:
    """Write before, after and difference of suitability and threat in each season, and the plates of the report."""
    folder.mkdir()
    before, after = account.appraisal.before, account.appraisal.together.site_map
    imprint, zones = imprint_of(before, date=date), site_zones(before)
    footprint = footprint_of(account)
    breaks = {"suitability": before.profile.suitability_breaks, "threat": before.profile.threat_breaks}
    for kind, better in MORE_IS_BETTER.items():
        pairs = zip(by_season(before.assessment[kind]), by_season(after.assessment[kind]), strict=True)
        for (season, old), (_, new) in pairs:
            surfaces = [made.layers["surface"] for made in (before, after)]
            for when, layer, surface in zip(("before", "after"), (old, new), surfaces, strict=True):
                title = f"{TITLES[kind]} {when}"
                sheet = map_figure(
                    layer, title=title, imprint=imprint, surface=surface, breaks=breaks[kind], zones=zones
                )
                _outline(sheet.axes[1], footprint)
                _say_outline(sheet.axes[2])
                write_png(sheet, folder / f"{file_stem(kind, season)}_{when}.png")
            codes = change_codes(old, new, *surfaces, more_is_better=better)
            # only what is land before and after is land here: the rest is told as a change
            land = np.where(np.logical_and(*(one.to_numpy() == LAND for one in surfaces)), LAND, LAND + 1)
            grid = Grid.of(old)
            change = _Panel(
                title="Difference",
                values=codes,
                look=COLOURS,
                surface=land.astype(np.uint8),
                dots=is_better(codes),
                grid=grid,
            )
            named = f"{TITLES[kind]}{f', {season} season' if season else ''}"
            difference = _plate([change], f"{named}: difference", footprint, imprint, kind, ())
            write_png(difference, folder / f"{file_stem(kind, season)}_difference.png")
            panels = [
                _Panel(
                    title=word,
                    values=layer.to_numpy(),
                    look=scale_of(kind),
                    surface=surface.to_numpy(),
                    dots=None,
                    grid=grid,
                )
                for word, layer, surface in zip(("Before", "After"), (old, new), surfaces, strict=True)
            ]
            plate = [*panels, change, _close_up(change, footprint)]
            write_png(
                _plate(plate, named, footprint, imprint, kind, breaks[kind]), folder / f"{file_stem(kind, season)}.png"
            )


def footprint_of(account: Account) -> gpd.GeoSeries:
    """Shapes of all features of all proposals."""
    shapes = [feature.shape for proposal in account.appraisal.proposals for feature in proposal.features]
    return gpd.GeoSeries(shapes, crs=account.appraisal.before.inputs.site.grid.crs)


def _close_up(panel: _Panel, footprint: gpd.GeoSeries) -> _Panel:
    """The part of a panel around the footprint, as wide as it is long where the grid has room."""
    grid = panel.grid
    west, south, east, north = footprint.total_bounds
    side = max((east - west), (north - south)) * (1 + 2 * _MARGIN_OF_CLOSE_UP)
    cells = int(np.ceil(max(side / grid.cell, _SMALLEST_CLOSE_UP)))
    across, down = (west + east) / 2, (south + north) / 2
    column, row = (int(place) for place in ~grid.transform * (across, down))
    rows, columns = grid.shape
    height, width = min(cells, rows), min(cells, columns)
    first_row = int(np.clip(row - height // 2, 0, rows - height))
    first = int(np.clip(column - width // 2, 0, columns - width))
    window = slice(first_row, first_row + height), slice(first, first + width)
    return _Panel(
        title="Difference, close up",
        values=panel.values[window],
        look=panel.look,
        surface=panel.surface[window],
        dots=panel.dots[window],
        grid=grid.window(*window),
    )


def _plate(
    panels: Sequence[_Panel],
    title: str,
    footprint: gpd.GeoSeries,
    imprint: Imprint,
    kind: str,
    breaks: tuple[float, ...],
) -> Figure:
    from matplotlib.figure import Figure

    columns = 2 if len(panels) > 1 else 1
    width = (_WIDTH - (columns - 1) * _GAP) // columns
    sizes = [Size.fitting(panel.grid.shape, height=int(width * 1.25), width=width) for panel in panels]
    heights = [max(size.height for size in sizes[at : at + columns]) for at in range(0, len(panels), columns)]
    height = _HEAD + sum(heights) + (_GAP + 26) * len(heights) + _LEGEND + _FOOT
    figure = Figure(figsize=(_WIDTH / _DOTS, height / _DOTS), dpi=_DOTS, facecolor=PAGE)
    sheet = _axes(figure, 0, 0, _WIDTH, height, height)
    sheet.text(0, 6, title, va="top", fontsize=11.5, fontweight="bold", color=INK)
    where = f"{imprint.site}. {INVENTED}." if imprint.invented else f"{imprint.site}."
    sheet.text(0, 44, where, va="top", fontsize=8, color=MUTED_INK)
    y = _HEAD
    for row, tall in enumerate(heights):
        for column in range(columns):
            at = row * columns + column
            left = column * (width + _GAP)
            sheet.text(left, y, panels[at].title, va="top", fontsize=9, fontweight="bold", color=INK)
            _draw_panel(figure, panels[at], sizes[at], left, y + 26, height, footprint)
        y += tall + _GAP + 26
    first = panels[0].grid
    metres_a_pixel = (first.bounds[2] - first.bounds[0]) / sizes[0].width
    third = _WIDTH // 3
    for number, codes in enumerate((_WORSE, _BETTER)):
        legend = _axes(figure, number * third, y, third - 16, _LEGEND, height)
        below = _draw_swatches(legend, codes)
        if number == 0:
            draw_scale_bar(
                legend, 14, below + 14, round_length(min(200, sizes[0].width) * metres_a_pixel), metres_a_pixel
            )
            draw_north_arrow(legend, third - 70, below + 52)
        else:
            legend.plot([6, 44], [below + 12] * 2, color=INK, linewidth=2.2)
            legend.text(56, below + 12, "what is proposed", va="center", fontsize=8.5, color=INK)
    beside = _axes(figure, 2 * third, y, third, _LEGEND, height)
    below = 0.0
    if breaks:
        words = "Suitability: more is better." if kind == "suitability" else "Threat: more is worse."
        below = draw_note(beside, below, words, size=8, color=INK)
        below = draw_scale_legend(beside, below, scale_of(kind), "1", breaks=breaks)
    draw_common_entries(beside, below, lacking=None, zones=False)
    _draw_foot(sheet, height, first, imprint)
    return figure


def _draw_swatches(axes: Axes, codes: Sequence[int]) -> float:
    """Swatches of classes of change, dotted where the map is; gives where the next thing may start."""
    from matplotlib.patches import Rectangle

    for number, code in enumerate(codes):
        ground = np.broadcast_to(rgb(COLOURS[code]), (24, 38, 3))
        picture = dotted(ground, np.full((24, 38), bool(is_better(np.array([code]))[0])))
        y = number * 34
        axes.imshow(picture, extent=(6, 44, y + 24, y), interpolation="nearest", aspect="auto")
        axes.add_patch(Rectangle((6, y), 38, 24, facecolor="none", edgecolor=INK, linewidth=0.8))
        axes.text(56, y + 12, NAMES[code], va="center", fontsize=8.5, color=INK)
    axes.set(xlim=(0, axes.get_window_extent().width), ylim=(_LEGEND, 0))
    return 34.0 * len(codes)


def _draw_panel(
    figure: Figure, panel: _Panel, size: Size, left: int, top: int, height: int, footprint: gpd.GeoSeries
) -> None:
    west, south, east, north = panel.grid.bounds
    picture = map_picture(panel.values, panel.look, size, surface=panel.surface, lacking=panel.dots)
    axes = figure.add_axes((left / _WIDTH, 1 - (top + size.height) / height, size.width / _WIDTH, size.height / height))
    axes.imshow(picture, extent=(west, east, south, north), interpolation="none", aspect="auto", origin="upper")
    _outline(axes, footprint)
    axes.set(xlim=(west, east), ylim=(south, north), xticks=[], yticks=[])
    for spine in axes.spines.values():
        spine.set(color=INK, linewidth=0.8)


def _outline(axes: Axes, footprint: gpd.GeoSeries) -> None:
    """The shapes with a pale edge, so that they stand out from dark and from pale ground."""
    from matplotlib.collections import LineCollection
    from shapely import get_coordinates, get_parts

    limits = axes.get_xlim(), axes.get_ylim()
    for shape in footprint:
        if "Point" in shape.geom_type:
            x, y = get_coordinates(shape).T
            axes.plot(x, y, linestyle="", marker="o", markersize=6, markerfacecolor=PAGE, markeredgecolor=INK)
            continue
        edges = get_parts(shape.boundary if "Polygon" in shape.geom_type else shape)
        rings = [get_coordinates(edge) for edge in edges]
        axes.add_collection(LineCollection(rings, colors=PAGE, linewidths=2.4))
        axes.add_collection(LineCollection(rings, colors=INK, linewidths=1.2))
    axes.set(xlim=limits[0], ylim=limits[1])


def _say_outline(panel: Axes) -> None:
    """What the outline is, at the foot of the panel of a sheet."""
    y = panel.get_ylim()[0] - 24
    panel.plot([6, 44], [y] * 2, color=INK, linewidth=2.2)
    panel.text(56, y, "what is proposed (a ring where it is a point)", va="center", fontsize=8, color=INK)


def _draw_foot(sheet: Axes, height: int, grid: Grid, imprint: Imprint) -> None:
    code = grid.crs.to_epsg()
    facts = (
        f"{grid.crs.name}{f' (EPSG:{code})' if code else ''}, grid north, cells of {grid.cell:g} m; the bar is that of "
        f"the whole site. Vertical datum: {imprint.vertical_datum or 'not stated'}. Data of: "
        f"{imprint.data_dates or 'no date stated'}. Printed: {imprint.printed}. Profile: {imprint.profile}. "
        f"{CAUTION} {NO_SIGHTINGS}"
    )
    text = "\n".join(wrap(facts, 150))
    sheet.text(0, height - _FOOT + 8, text, va="top", fontsize=6.5, color=MUTED_INK, linespacing=1.35)


def _axes(figure: Figure, x: float, y: float, width: float, height: float, whole: float) -> Axes:
    """Axes without a frame, in pixels counted from their upper left corner."""
    axes = figure.add_axes((x / _WIDTH, 1 - (y + height) / whole, width / _WIDTH, height / whole))
    axes.set(xlim=(0, width), ylim=(height, 0))
    axes.set_axis_off()
    return axes
