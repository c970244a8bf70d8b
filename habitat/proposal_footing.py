"""What is on the ground where a feature of a proposal is drawn: its bed, its water, and the cells it fills."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np
import shapely
import shapely.ops

from habitat.proposal_feature import Feature, Proposal
from layers.ashore import shore_distance
from layers.fault import Fault, LayerError, ProposalError
from layers.grid import Grid
from layers.inputs import Inputs

if TYPE_CHECKING:
    from layers.scenario import Addition

HALF = 0.5  # of a cell: from there on a cell is what most of it is
MARGIN = 1.01  # of a cell: a strip as wide as that fills half of a cell in each row or column it runs through
DOUBTFUL = 2.0  # times the volume that bed and depth give, or one over it


def bars_here(shape: shapely.Geometry, cell: float) -> shapely.Geometry:
    """A structure as wide as it must be for cells of that size to show that it bars the water. [m]

    Notes
    -----
    A cell is land where half of it is. A structure narrower than a cell may fill half of none and would let
    everything through; its outline is moved outwards by half of what it lacks to a cell's width. Its own width is that
    of the rectangle with its area and perimeter, which a strip with bends nearly is.

    Examples
    --------
    >>> mole = shapely.box(0, 0, 500, 10)
    >>> round(width_of(bars_here(mole, 50.0)), 1), bars_here(mole, 5.0) is mole
    (50.5, True)
    """
    lacking = MARGIN * cell - width_of(shape)
    return shape if lacking <= 0 else shape.buffer(lacking / 2, cap_style="square", join_style="mitre")


def with_opening(shape: shapely.Geometry, opening: float, cell: float) -> shapely.Geometry:
    """A structure as `bars_here` draws it, with an opening in its middle if that is at least a cell wide. [m]

    The middle is that of a line, or of the long axis of an area's smallest rectangle. A narrower opening is left out:
    cells of that size show the structure closed.

    Examples
    --------
    >>> mole = shapely.LineString([(0, 0), (500, 0)])
    >>> [len(shapely.get_parts([with_opening(mole, opening, 50.0)])) for opening in (20, 80)]
    [1, 2]
    """
    barred = bars_here(shape, cell)
    if opening < cell:
        return barred
    axis = _axis(max(shapely.get_parts([shape]), key=lambda part: (part.area, part.length)))
    half = min(max(opening, MARGIN * cell), axis.length) / 2
    middle = shapely.ops.substring(axis, axis.length / 2 - half, axis.length / 2 + half)
    return barred.difference(middle.buffer(width_of(barred) + cell, cap_style="flat"))


def _axis(shape: shapely.Geometry) -> shapely.LineString:
    """A line itself; of an area the line between the middles of the short sides of its smallest rectangle."""
    if not shape.area:
        return shape
    corners = shapely.get_coordinates(shapely.minimum_rotated_rectangle(shape))[:4]
    if np.hypot(*(corners[1] - corners[0])) > np.hypot(*(corners[2] - corners[1])):
        corners = np.roll(corners, -1, axis=0)
    return shapely.LineString([(corners[0] + corners[1]) / 2, (corners[2] + corners[3]) / 2])


def width_of(shape: shapely.Geometry) -> float:
    """Short side of the rectangle that has a shape's area and perimeter; 0 for a line. [m]

    Examples
    --------
    >>> width_of(shapely.box(0, 0, 300, 20))
    20.0
    """
    area, half = shape.area, shape.length / 2
    if not area:
        return 0.0
    under = half**2 / 4 - area
    return float(half / 2 - np.sqrt(under)) if under > 0 else float(np.sqrt(area))


def dug_part(feature: Feature, inputs: Inputs) -> shapely.Geometry:
    """A dredged area without the cells whose bed is that deep already, which digging would not fill."""
    from layers.shore import cells_outlined

    window, share, bed = _bed_under(feature, inputs)
    if bed is None:
        return feature.shape
    deep = (share > 0) & (bed <= -feature.get("depth_m"))
    if not deep.any():
        return feature.shape
    left = feature.shape.difference(cells_outlined(deep, window).union_all())
    kept = [part for part in shapely.get_parts([left]) if part.area > 0]
    return shapely.union_all(kept) if kept else shapely.Polygon()


def depth_for_share(feature: Feature, share: float, inputs: Inputs) -> float:
    """Depth to which a dredged area is dug where only a share of its volume is taken. [m]

    The volume is that between the bed of the site and the depth, over the cells of the area; found by halving, to a
    millimetre.

    Raises
    ------
    ValueError
        If the site has no raster of its bed there, or nothing is above the depth that could be left.
    """
    depth = float(feature.get("depth_m"))
    _, part, bed = _bed_under(feature, inputs)
    known = None if bed is None else np.isfinite(bed) & (part > 0)
    if known is None or not known.any() or not _dug(part[known], bed[known], depth) > 0:
        raise ValueError(f"{feature.title}: the bed of the site does not tell what volume is dug. Change its size.")
    part, bed = part[known], bed[known]
    wanted = share * _dug(part, bed, depth)
    least, most = -float(bed.max()), depth
    while most - least > 1e-3:
        middle = (least + most) / 2
        least, most = (middle, most) if _dug(part, bed, middle) < wanted else (least, middle)
    return round(most, 3)


def said_of_ground(feature: Feature, inputs: Inputs) -> list[str]:
    """What a person should know of where a feature is drawn, a sentence each."""
    grid = inputs.site.grid
    if feature.kind == "dredged area":
        return _said_of_bed(feature, inputs)
    if feature.kind == "structure" and feature.get("bars") == "yes" and width_of(feature.shape) < grid.cell:
        width = width_of(feature.shape)
        own = f"it is about {width:.0f} m wide" if width else "it is drawn as a line"
        return [f"{feature.title}: {own}, and the map shows it {grid.cell:g} m wide, the size of a cell."]
    on = inputs.site.catchment.grid if feature.kind == "land use" and inputs.site.catchment else grid
    if feature.kind in ("land claim", "land use") and not (_shares(feature.shape, on)[1] >= HALF).any():
        return [f"{feature.title}: it fills half of no cell of {on.cell:g} m, so the map does not change."]
    return []


def require_water(proposal: Proposal, inputs: Inputs, additions: list[Addition], labels: list[str]) -> None:
    """Pass a proposal whose outfalls and dredged areas of these labels have water, with the proposal in place.

    Raises
    ------
    ProposalError
        With a fault for each that has none.
    """
    changes = [addition for addition in additions if addition.entry.feeds in ("bed_change", "land_change")]
    within = shore_distance(inputs.site)
    if inputs.having("land_cover"):
        within = max(within, inputs.site.catchment.grid.cell)  # as far as the engine takes an outlet to the water
    faults = []
    for feature in proposal.features:
        if feature.label not in labels:
            continue
        is_pipe = feature.kind == "outfall"
        window = _window(feature.shape, inputs.site.grid, within if is_pipe else 0.0)
        water = None if window is None else _water_in(window, inputs, changes)
        place = f"{proposal.name}, {feature.label}"
        if is_pipe and (water is None or not _reaches_water(feature, water, _grid_in(window, inputs), within)):
            remedy = "Move it to the water it drains to."
            faults.append(Fault(place, f"no water lies within {within:g} m of it.", remedy))
        elif not is_pipe and (
            water is None or not (_shares(feature.shape, _grid_in(window, inputs))[1][water] > 0).any()
        ):
            remedy = "Dig deeper, draw it where there is water, or make it at least a cell wide."
            faults.append(Fault(place, "no water lies in it, also once it is dug.", remedy))
    if faults:
        raise ProposalError(proposal.name, faults)


def _reaches_water(feature: Feature, water: np.ndarray, grid: Grid, within: float) -> bool:
    from layers.starts import start_at

    points = shapely.get_coordinates(feature.shape)
    return all(start_at(x, y, water, grid, within) is not None for x, y in points)


def _water_in(window: tuple[slice, slice], inputs: Inputs, changes: list[Addition]) -> np.ndarray | None:
    """Where there is water at some stage of the tide in a window of the grid; None if there is none."""
    from layers.derivation import Derivation, Settings
    from layers.recipe import RECIPES
    from layers.scenario import with_additions

    beds = {entry.name for entry in inputs.having("bed_elevation")}
    rasters = {name: layer[window] for name, layer in inputs.rasters.items() if name in beds}
    there = replace(inputs, site=replace(inputs.site, grid=inputs.site.grid.window(*window)), rasters=rasters)
    digests = {addition.entry.name: "" for addition in changes}
    try:
        return Derivation(with_additions(there, changes, digests), Settings(wanted=()), RECIPES).is_swum
    except LayerError:  # no cell of the window is water
        return None


def _window(shape: shapely.Geometry, grid: Grid, margin: float) -> tuple[slice, slice] | None:
    """Rows and columns of the grid about a shape; None where it lies outside."""
    west, south, east, north = shape.bounds
    far = int(np.ceil(margin / grid.cell)) + 2
    left, top = ~grid.transform * (west, north)
    right, bottom = ~grid.transform * (east, south)
    spans = ((top, bottom, grid.shape[0]), (left, right, grid.shape[1]))
    ends = [(max(int(a) - far, 0), min(int(np.ceil(b)) + far, count)) for a, b, count in spans]
    return None if any(a >= b for a, b in ends) else tuple(slice(a, b) for a, b in ends)


def _grid_in(window: tuple[slice, slice], inputs: Inputs) -> Grid:
    return inputs.site.grid.window(*window)


def _shares(shape: shapely.Geometry, grid: Grid) -> tuple[tuple[slice, slice] | None, np.ndarray]:
    """A window of the grid about an area, and the share of each of its cells that lies in it."""
    import geopandas as gpd

    from layers.alignment import cover_fraction

    window = _window(shape, grid, 0.0)
    if window is None:
        return None, np.zeros((0, 0))
    return window, cover_fraction(gpd.GeoSeries([shape], crs=grid.crs), grid.window(*window))


def _bed_under(feature: Feature, inputs: Inputs) -> tuple[Grid, np.ndarray, np.ndarray | None]:
    """A window of the grid, the share of its cells in a dredged area, and the bed there; None without a raster. [m]"""
    window, share = _shares(feature.shape, inputs.site.grid)
    entries = inputs.having("bed_elevation")
    if window is None or not entries:
        return inputs.site.grid, share, None
    return _grid_in(window, inputs), share, inputs.rasters[entries[0].name].to_numpy()[window]


def _said_of_bed(feature: Feature, inputs: Inputs) -> list[str]:
    grid, share, bed = _bed_under(feature, inputs)
    if bed is None:
        return []
    depth, said = feature.get("depth_m"), []
    known = np.isfinite(bed) & (share > 0)
    dug = _dug(share[known], bed[known], depth) * grid.cell**2
    deep = share[known & (bed <= -depth)].sum() / max(share[known].sum(), 1e-12)
    if deep > 0:
        said.append(f"{feature.title}: {100 * deep:.0f} % of it is at least {depth:g} m deep already and stays so.")
    stated = feature.get("volume_m3")
    if known.any() and not dug / DOUBTFUL <= stated <= dug * DOUBTFUL:
        said.append(
            f"{feature.title}: {stated:,.0f} m3 are stated, and from the bed of the site down to {depth:g} m it is "
            f"{dug:,.0f} m3. Correct the one or the other, or know why they differ."
        )
    return said


def _dug(share: np.ndarray, bed: np.ndarray, depth: float) -> float:
    """Volume above a depth over cells that lie in an area by these shares, for a square metre of cell. [m]"""
    return float((share * np.maximum(bed + depth, 0.0)).sum())
