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
from habitat.report.appraisal_places import GAP, NAME, Box, arranged, close_ups
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
_WIDTH, _HEAD, _LEGEND, _FOOT = 1080, 92, 262, 100  # of a plate [pixel]
_TALLEST = 1410  # of a plate: what fits on a printed page in its full width [pixel]
_CLOSE_UP = "Close up: "
_WORSE, _BETTER = (1, 2, 3, 4, SAME), (9, 8, 7, 6, BECOMES_WATER, BECOMES_LAND)


@dataclass(frozen=True, kw_only=True)
class _Panel:
    title: str
    values: np.ndarray
    look: Scale | Mapping[int, str]
    surface: np.ndarray
    dots: np.ndarray | None
    grid: Grid
    is_close_up: bool = False


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
            closest = [
                _close_up(change, name, window) for name, window in close_ups(account, kind, season, surfaces[0])
            ]
            plate = _plate([*panels, change, *closest], named, footprint, imprint, kind, breaks[kind])
            write_png(plate, folder / f"{file_stem(kind, season)}.png")


def footprint_of(account: Account) -> gpd.GeoSeries:
    """Shapes of all features of all proposals."""
    shapes = [feature.shape for proposal in account.appraisal.proposals for feature in proposal.features]
    return gpd.GeoSeries(shapes, crs=account.appraisal.before.inputs.site.grid.crs)


def _close_up(panel: _Panel, name: str, window: tuple[slice, slice]) -> _Panel:
    """The part of a panel in a window."""
    return _Panel(
        title=f"{_CLOSE_UP}{name}" if name else "Difference, close up",
        values=panel.values[window],
        look=panel.look,
        surface=panel.surface[window],
        dots=panel.dots[window],
        grid=panel.grid.window(*window),
        is_close_up=True,
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

    room = _TALLEST - _HEAD - _LEGEND - _FOOT
    shapes = [panel.grid.shape for panel in panels]
    boxes = arranged(shapes, sum(not panel.is_close_up for panel in panels), width=_WIDTH, height=room)
    below = max(box.top + box.size.height for box in boxes) + GAP
    height = _HEAD + below + _LEGEND + _FOOT
    figure = Figure(figsize=(_WIDTH / _DOTS, height / _DOTS), dpi=_DOTS, facecolor=PAGE)
    sheet = _axes(figure, 0, 0, _WIDTH, height, height)
    sheet.text(0, 6, title, va="top", fontsize=11.5, fontweight="bold", color=INK)
    where = f"{imprint.site}. {INVENTED}." if imprint.invented else f"{imprint.site}."
    sheet.text(0, 44, where, va="top", fontsize=8, color=MUTED_INK)
    for panel, box in zip(panels, boxes, strict=True):
        most = box.width // 12  # letters
        shorter = panel.title.removeprefix(_CLOSE_UP)
        name = panel.title if len(panel.title) <= most else shorter
        name = name if len(name) <= most else f"{name[: most - 3]}..."
        sheet.text(box.left, _HEAD + box.top - NAME, name, va="top", fontsize=9, fontweight="bold", color=INK)
        _draw_panel(figure, panel, box, height, footprint)
    y, first = _HEAD + below, panels[0].grid
    metres_a_pixel = (first.bounds[2] - first.bounds[0]) / boxes[0].size.width
    third = _WIDTH // 3
    for number, codes in enumerate((_WORSE, _BETTER)):
        legend = _axes(figure, number * third, y, third - 16, _LEGEND, height)
        lowest = _draw_swatches(legend, codes)
        if number == 0:
            longest = min(200, boxes[0].size.width) * metres_a_pixel
            draw_scale_bar(legend, 14, lowest + 20, round_length(longest), metres_a_pixel)
            # beside the bar, whose last number is the last thing to its left
            draw_north_arrow(legend, third - 60, lowest + 84)
        else:
            legend.plot([6, 44], [lowest + 12] * 2, color=INK, linewidth=2.2)
            legend.text(56, lowest + 12, "what is proposed (ring: a point)", va="center", fontsize=8.5, color=INK)
    beside = _axes(figure, 2 * third, y, third, _LEGEND, height)
    lowest = 0.0
    if breaks:
        words = "Suitability: more is better." if kind == "suitability" else "Threat: more is worse."
        lowest = draw_note(beside, lowest, words, size=8, color=INK)
        lowest = draw_scale_legend(beside, lowest, scale_of(kind), "1", breaks=breaks)
    draw_common_entries(beside, lowest, lacking=None, zones=False)
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


def _draw_panel(figure: Figure, panel: _Panel, box: Box, height: int, footprint: gpd.GeoSeries) -> None:
    west, south, east, north = panel.grid.bounds
    picture = map_picture(panel.values, panel.look, box.size, surface=panel.surface, lacking=panel.dots)
    wide, tall = box.size.width, box.size.height
    place = (box.left / _WIDTH, 1 - (_HEAD + box.top + tall) / height, wide / _WIDTH, tall / height)
    axes = figure.add_axes(place)
    axes.imshow(picture, extent=(west, east, south, north), interpolation="none", aspect="auto", origin="upper")
    _outline(axes, footprint)
    axes.set(xlim=(west, east), ylim=(south, north), xticks=[], yticks=[])
    for spine in axes.spines.values():
        spine.set(color=INK, linewidth=0.8)
    if panel.is_close_up:
        _draw_bar_within(figure, place, box.size, (east - west) / wide)


def _draw_bar_within(figure: Figure, place: tuple[float, ...], size: Size, metres_a_pixel: float) -> None:
    """A bar in the corner of a close-up, whose scale is its own; on a ground that reads over any colour."""
    from matplotlib.patches import Rectangle

    metres = round_length(0.4 * size.width * metres_a_pixel)
    long, y = metres / metres_a_pixel, size.height - 18
    axes = figure.add_axes(place, facecolor="none")
    axes.set(xlim=(0, size.width), ylim=(size.height, 0))
    axes.set_axis_off()
    axes.add_patch(Rectangle((6, y - 28), max(long, 60) + 24, 40, facecolor=PAGE, edgecolor=INK, linewidth=0.6))
    axes.plot([18, 18, 18 + long, 18 + long], [y - 6, y, y, y - 6], color=INK, linewidth=1.6)
    words = f"{metres / 1000:g} km" if metres >= 1000 else f"{metres:g} m"
    axes.text(18, y - 7, words, va="bottom", fontsize=7.5, color=INK)


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
        f"{grid.crs.name}{f' (EPSG:{code})' if code else ''}, grid north, cells of {grid.cell:g} m; the bar below "
        f"the maps is that of the whole site. Vertical datum: {imprint.vertical_datum or 'not stated'}. Data of: "
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
