"""Maps of doubt: the likeliest class with its confidence, the chance of a class, and how far the score may be off."""

from __future__ import annotations

from dataclasses import replace

import holoviews as hv
import numpy as np
import xarray as xr
from markupsafe import Markup

from habitat.colours import INK, PAGE, Scale, class_colours, scale_of
from habitat.result import SUITABILITY_CLASS, SUITABILITY_CLASSES
from habitat.view import maps
from habitat.view.legends import class_legend, score_legend
from habitat.view.session import Picture
from habitat.view.trust_findings import Findings
from habitat.view.window import Range, nearest, window
from layers.grid import Grid
from layers.quantity import Quantity, describe

SURE, UNSURE = 0.9, 0.6  # of ten draws nine, or not even six, agree on the class (our choice)
ROUNDED = 1e-6  # a share that is stored as float32 may be so far off: 0.9 of the draws must count as nine in ten
BANDS = ("9 in 10 or more", "6 to 9 in 10", "under 6 in 10")  # how many draws agree, from sure to unsure
DOTS = {1: 2.4, 2: 5.5}  # size of a dot in each band but the first [pixel]
DOTS_A_SIDE = 48
CHANCES = {"Good habitat": "chance_good", "Fair or good habitat": "chance_fair_or_better"}
CHANCE_SCALE: Scale = replace(scale_of("wet_time"), name="chance")
SPREAD_SCALE: Scale = replace(scale_of("salinity_error"), name="spread", low=0.0, high=0.6)
SPREAD = Quantity(
    name="suitability_range", label="range of nine draws in ten of habitat suitability", units="1", plausible=(0, 1)
)
_COLOURS = class_colours(SUITABILITY_CLASS.name, 3)
# the same dots in the legend: edge of the ink and of the pale ring about it [pixel]
_LEGEND_DOTS = {1: (1.1, 1.7), 2: (2.4, 3.1)}


def in_season(layer: xr.DataArray, season: str | None) -> xr.DataArray:
    """A layer of the doubt in one season. (y, x)"""
    return layer.sel(season=season) if "season" in layer.dims and season else layer


def range_width(cells: xr.Dataset) -> xr.DataArray:
    """How wide the range is that nine draws in ten of the score of a cell lie in. [1]"""
    width = cells["suitability_quantile_95"] - cells["suitability_quantile_5"]
    return describe(width.assign_coords(spatial_ref=cells["spatial_ref"]), SPREAD)


def bands_of(confidence: np.ndarray) -> np.ndarray:
    """0 sure, 1 in between, 2 unsure, by how many draws agree; -1 without a score.

    Examples
    --------
    >>> bands_of(np.array([1.0, 0.9, 0.7, 0.6, 0.5, np.nan])).tolist()
    [0, 0, 1, 1, 2, -1]
    """
    confidence = np.asarray(confidence, np.float64) + ROUNDED
    bands = (confidence < SURE).astype(int) + (confidence < UNSURE)
    return np.where(np.isnan(confidence), -1, bands)


def likeliest_map(findings: Findings, picture: Picture, x_range: Range = None, y_range: Range = None) -> hv.Image:
    """The class that most draws agree on."""
    layer = in_season(findings.doubt.found.cells["likeliest_class"], picture.season)
    return maps.class_map(layer, x_range, y_range, colours=_COLOURS)


def doubt_dots(findings: Findings, picture: Picture, x_range: Range = None, y_range: Range = None) -> hv.Points:
    """Dots over what is not sure, the larger the less draws agree; evenly spread over what is in view."""
    layer = in_season(findings.doubt.found.cells["confidence"], picture.season)
    grid = Grid.of(layer)
    view = window(grid, x_range, y_range, most=DOTS_A_SIDE)
    x, y, sizes = np.empty(0), np.empty(0), np.empty(0)
    if view is not None:
        bands = bands_of(nearest(layer.to_numpy(), view))
        west, _, _, north = view.bounds
        side = grid.cell * view.step
        row, column = np.nonzero(bands > 0)
        x, y = west + (column + 0.5) * side, north - (row + 0.5) * side
        sizes = np.array([DOTS[band] for band in bands[row, column]], float)
    return hv.Points((x, y, sizes), list(maps.AXES), "size").opts(
        size="size", color=INK, line_color=PAGE, line_width=0.6, apply_ranges=False, default_tools=[], tools=[]
    )


def chance_map(
    findings: Findings, picture: Picture, chance: str, x_range: Range = None, y_range: Range = None
) -> hv.Image:
    """The share of the draws in which a cell is of a class, or of it or better."""
    layer = in_season(findings.doubt.found.cells[chance], picture.season)
    return maps.score_map(layer, x_range, y_range, scale=CHANCE_SCALE)


def spread_map(findings: Findings, picture: Picture, x_range: Range = None, y_range: Range = None) -> hv.Image:
    """How wide the range of nine draws in ten is."""
    layer = in_season(range_width(findings.doubt.found.cells), picture.season)
    return maps.score_map(layer, x_range, y_range, scale=SPREAD_SCALE)


def confidence_legend(findings: Findings) -> Markup:
    """The square of class and confidence: rows are classes, columns how many draws agree."""
    cells = []
    for code in (3, 2, 1):
        name = SUITABILITY_CLASSES[code]
        cells.append(Markup('<span class="row">{}</span>').format(name))
        for band, words in enumerate(BANDS):
            cells.append(
                Markup('<b role="img" aria-label="{0}" title="{0}" style="background:{1}{2}"></b>').format(
                    f"{name}, {words} draws agree", _dots_of(band), _COLOURS[code]
                )
            )
    heads = Markup("").join(Markup("<span>{}</span>").format(words) for words in BANDS)
    # a code that no cell has: the square shows the classes, and only what lies outside of them is wanted
    outside = class_legend(findings.doubt.found.cells["likeliest_class"], {len(SUITABILITY_CLASSES): INK})
    return Markup('<div class="square">{}<span class="row">draws that agree</span>{}</div>{}').format(
        Markup("").join(cells), heads, outside
    )


def chance_legend(findings: Findings, chance: str) -> Markup:
    """From no chance to certain."""
    return score_legend(findings.doubt.found.cells[chance], scale=CHANCE_SCALE)


def spread_legend(findings: Findings) -> Markup:
    """From narrow to wide."""
    return score_legend(range_width(findings.doubt.found.cells), scale=SPREAD_SCALE)


def _dots_of(band: int) -> str:
    if band not in _LEGEND_DOTS:
        return ""
    ink, ring = _LEGEND_DOTS[band]
    stops = f"{INK} {ink}px, {PAGE} {ink + 0.2}px {ring}px, transparent {ring + 0.2}px"
    return f"radial-gradient({stops}) 0 0 / 10px 10px, "
