"""What a proposal changes, on maps: after less before, the footprint, and water that became land.

Warm colours are for the worse, cool ones for the better, whether that is less suitability or more threat.
"""

from __future__ import annotations

from collections.abc import Sequence
from functools import cache

import holoviews as hv
import numpy as np
import shapely
import xarray as xr
from markupsafe import Markup

from habitat.appraisal_account import Account
from habitat.colours import INK, LAND, Scale
from habitat.proposal import Feature
from habitat.view import maps
from habitat.view.bench import Bench
from habitat.view.legends import score_legend
from habitat.view.session import Picture
from layers.grid import Grid
from layers.quantity import LAND as LAND_CODE

PEN = "#b4420c"  # of what is drawn or dragged
RANGE = 0.5  # differences beyond it take the colour of its ends
# equally dark ends that differ in yellow and blue, which all but the rarest eyes tell apart
WORSE, MIDDLE, BETTER = (
    ("#7a3300", "#cf7a2c", "#f0c795"),
    "#f4f3f1",
    ("#a9cbe6", "#4a8fc7", "#0a4a80"),
)


@cache
def difference_scale(kind: str) -> Scale:
    """Colours of a difference of "suitability" or "threat", from a fall to a rise."""
    knots = np.array([_bytes(colour) for colour in (*WORSE, MIDDLE, *BETTER)], float)
    at = np.linspace(0, len(knots) - 1, 255)
    mixed = np.stack([np.interp(at, np.arange(len(knots)), channel) for channel in knots.T], axis=-1)
    colours = tuple("#" + bytes(colour).hex() for colour in np.rint(mixed).astype(np.uint8))
    return Scale(name="difference", colours=colours[::-1] if kind == "threat" else colours, low=-RANGE, high=RANGE)


def difference(account: Account, kind: str, season: str | None) -> xr.DataArray:
    """After less before, NaN where one of them is not known. (y, x)"""
    before, after = (side_of(account, when, kind, season) for when in ("before", "after"))
    changed = (after - before).rename(kind)
    changed.attrs = {"long_name": f"change of {kind}", "units": "1"}
    changed.coords["spatial_ref"] = before["spatial_ref"]
    return changed


def side_of(account: Account, when: str, kind: str, season: str | None) -> xr.DataArray:
    """A score "before" or "after". (y, x)"""
    appraisal = account.appraisal
    assessment = appraisal.before.assessment if when == "before" else appraisal.together.assessment
    return assessment[kind].sel(season=season) if "season" in assessment[kind].dims else assessment[kind]


def after_map(bench: Bench, picture: Picture, shown: str, x_range=None, y_range=None) -> hv.Image:
    """Map of a score with the variant in view; as it is where there is none."""
    if bench.account is None:
        return maps.score_map(picture.layer(shown), x_range, y_range)
    return maps.score_map(side_of(bench.account, "after", shown, picture.season), x_range, y_range)


def difference_map(bench: Bench, picture: Picture, shown: str, x_range=None, y_range=None) -> hv.Image:
    """Map of what the variant in view changes."""
    if bench.account is None:
        layer = picture.layer(shown)
        changed = (layer - layer).rename(shown)
        changed.attrs = {"long_name": f"change of {shown}", "units": "1"}
    else:
        changed = difference(bench.account, shown, picture.season)
    return maps.score_map(changed, x_range, y_range, scale=difference_scale(shown))


def footprint(bench: Bench, grid: Grid) -> hv.Contours:
    """Outlines of the features of the variant in view; points as small rings."""
    features = [] if bench.first is None else bench.account.appraisal.proposals[0].features
    return _outlined(features, grid).opts(line_dash="solid")


def approved_footprint(bench: Bench, grid: Grid) -> hv.Contours:
    """Outlines of what is approved already."""
    features = [feature for proposal in bench.approved for feature in proposal.features]
    return _outlined(features, grid).opts(line_dash="dotted")


def _outlined(features: Sequence[Feature], grid: Grid) -> hv.Contours:
    parts = [part for feature in features for part in outline_parts(feature.shape, grid.cell)]
    return hv.Contours(
        [{maps.EAST.name: line[:, 0], maps.NORTH.name: line[:, 1]} for line in parts], list(maps.AXES)
    ).opts(color=INK, line_width=2, apply_ranges=False)


def new_land(bench: Bench, grid: Grid, west: float | None = None) -> hv.Polygons:
    """Water that became land with the variant in view, in the colour of land; only what lies east of `west`. [m]"""
    shapes = None
    if bench.account is not None:
        import geopandas as gpd

        before = bench.account.appraisal.before.layers["surface"].to_numpy()
        after = bench.account.appraisal.together.layers["surface"].to_numpy()
        rows, columns = np.nonzero((after == LAND_CODE) & (before != LAND_CODE))
        x, y, half = grid.x[columns], grid.y[rows], grid.cell / 2
        cells = shapely.union_all(shapely.box(x - half, y - half, x + half, y + half))
        if west is not None:
            cells = cells.intersection(shapely.box(west, grid.bounds[1], max(west, grid.bounds[2]), grid.bounds[3]))
        shapes = gpd.GeoSeries([cells], crs=grid.crs)
    return maps.shapes_within(shapes, grid).opts(color=LAND, line_width=0, apply_ranges=False)


def difference_legend(shown: str) -> Markup:
    """Legend of the difference."""
    layer = xr.DataArray(0.0, name=shown, attrs={"long_name": f"change of {shown}", "units": "1"})
    worse = "less suitable" if shown == "suitability" else "more threat"
    better = "more suitable" if shown == "suitability" else "less threat"
    words = Markup(
        '<div class="keys"><span>orange: {}</span><span>blue: {}</span><span>outline: what is proposed</span></div>'
    ).format(worse, better)
    return score_legend(layer, (0.0,), scale=difference_scale(shown)) + words


def outline_parts(shape: shapely.Geometry, cell: float) -> list[np.ndarray]:
    """Vertices of the borders, the lines, or a ring around a point."""
    ringed = shape.buffer(1.5 * cell) if shape.geom_type in ("Point", "MultiPoint") else shape
    border = ringed.boundary if ringed.area > 0 else ringed
    return [shapely.get_coordinates(part) for part in shapely.get_parts(border) if part.length > 0]


def _bytes(colour: str) -> list[int]:
    return list(bytes.fromhex(colour.removeprefix("#")))
