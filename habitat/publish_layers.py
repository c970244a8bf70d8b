"""What a map may show of layers that are sensitive: blocks wide enough to hide a record, or nothing.

A class map that rests on a sensitive file, or on sightings, is told by blocks: squares of cells, each as wide as the
step of the released coordinates at least and, where sightings went into the map, so wide that it holds the minimum of
records or none. The class of a block is the commonest of its water; a block of which less than half is known is not
known. So no boundary of classes is left but the sides of blocks and the shore, which is on every chart.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from layers.fault import Fault, RecordError

if TYPE_CHECKING:
    import geopandas as gpd
    import xarray as xr

    from habitat.publish_rules import PublishingRules
    from habitat.site_map import SiteMap

PLAIN = "No layer that is marked sensitive went into these maps, and no layer is published, only classes."
METRES_A_DEGREE = 111_320.0  # along the equator of WGS 84
_CLASSES = {"suitability_class": "the map of habitat", "threat_class": "the map of threat", "concern": "their meeting"}
_WIDEST = 1 << 12  # cells a side of a block


def sensitive_layers(found: SiteMap) -> tuple[str, ...]:
    """Layers that rest on files marked sensitive, or on sightings, however far back."""
    files = found.inputs.site.files
    return _resting_on(found, {entry.name for entry in files if entry.sensitive or entry.feeds == "sighting"})


def public_classes(
    found: SiteMap, seen: gpd.GeoDataFrame | None, rules: PublishingRules
) -> tuple[xr.Dataset, frozenset[str], str]:
    """The class maps as they may be shown.

    Parameters
    ----------
    found : SiteMap
    seen : GeoDataFrame of points, optional
        Every record of the site's files of sightings.
    rules : PublishingRules

    Returns
    -------
    Dataset
        `suitability_class`, `threat_class` and `concern`, and what `habitat.zones.hectares_by_class` needs besides;
        a map that rests on a sensitive layer is told by blocks.
    frozenset of str
        Maps that may not be shown at all.
    str
        What was done, for the README.

    Raises
    ------
    RecordError
        If no map is left, or the shore itself rests on a sensitive file.
    """
    secret = set(sensitive_layers(found))
    resting = _maps_resting_on(found, secret)
    if not resting:
        return found.assessment, frozenset(), PLAIN
    if "surface" in secret:
        remedy = "Let another file decide what is water ([water] of the site file)."
        raise RecordError("public folder", [Fault("surface", "the shore rests on a file marked sensitive.", remedy)])
    of_sightings = set(
        _resting_on(found, {entry.name for entry in found.inputs.site.files if entry.feeds == "sighting"})
    )
    sizes, dropped = {}, set()
    for name, layers in resting.items():
        size = _cells_a_side(found, seen if of_sightings & layers else None, rules)
        if size is None:
            dropped.add(name)
        else:
            sizes[name] = size
    if len(dropped) == len(_CLASSES):
        remedy = "Map the site without the files marked sensitive, or name a category that may be told."
        raise RecordError("public folder", [Fault("maps", "none of them may be shown.", remedy)])
    return _coarse(found.assessment, sizes), frozenset(dropped), _told(found, resting, sizes, dropped)


def block_size(x: np.ndarray, y: np.ndarray, corner: tuple[float, float], cell: float, minimum: int) -> int:
    """Cells a side of the smallest blocks, doubled from 1, of which each holds no record or at least `minimum`.

    Parameters
    ----------
    x, y : (n,) arrays
        Places of the records. [m]
    corner : (west, north)
        Where the blocks start. [m]

    Raises
    ------
    ValueError
        If there are records, and fewer than `minimum` of them: no block can hide them.

    Examples
    --------
    >>> block_size(np.array([10.0, 110.0]), np.array([-10.0, -10.0]), (0.0, 0.0), 100.0, 2)
    2
    """
    if 0 < len(x) < minimum:
        raise ValueError("sensitive records: there are fewer than the minimum. Leave the layer out.")
    size = 1
    while size < _WIDEST:
        side = size * cell
        blocks = np.column_stack([np.floor((x - corner[0]) / side), np.floor((corner[1] - y) / side)])
        if not len(x) or np.unique(blocks, axis=0, return_counts=True)[1].min() >= minimum:
            break
        size *= 2
    return size


def block_classes(codes: np.ndarray, water: np.ndarray, size: int) -> np.ndarray:
    """Classes told by blocks of `size` by `size` cells: the commonest code of a block, in all cells of its water.

    Parameters
    ----------
    codes : (rows, columns) array of uint8
        0 is no data.
    water : (rows, columns) array of bool
        Cells that count; all others get 0.

    Returns
    -------
    (rows, columns) array of uint8
        0 in a block of which less than half of the water is known. Of two codes that are as common, the higher.
    """
    owner = _owners(codes.shape, size)
    most = int(codes.max(initial=0)) + 1
    known = water & (codes > 0)
    counts = np.zeros((owner.max() + 1, most), np.int64)
    np.add.at(counts, (owner[known], codes[known]), 1)
    commonest = most - 1 - counts[:, ::-1].argmax(axis=1)
    is_known = 2 * counts.sum(axis=1) >= np.bincount(owner[water], minlength=len(counts))
    told = np.where(is_known & (counts.sum(axis=1) > 0), commonest, 0)
    return np.where(water, told[owner], 0).astype(codes.dtype)


def block_means(layer: xr.DataArray, size: int) -> xr.DataArray:
    """A layer whose cells hold the mean of their block of `size` by `size` cells; NaN stays where it was.

    Where a block has no value at all it stays NaN; labels and grid are those of `layer`.
    """
    values = layer.to_numpy()
    owner = _owners(values.shape[-2:], size)
    flat = values.reshape(-1, *values.shape[-2:])
    made = np.full_like(flat, np.nan)
    for season, one in enumerate(flat):
        known = ~np.isnan(one)
        total = np.bincount(owner[known], one[known], owner.max() + 1)
        count = np.bincount(owner[known], minlength=owner.max() + 1)
        with np.errstate(invalid="ignore"):
            made[season] = np.where(known, (total / count)[owner], np.nan)
    return layer.copy(data=made.reshape(values.shape))


def _owners(shape: tuple[int, int], size: int) -> np.ndarray:
    """Number of the block of each cell."""
    rows, columns = (np.arange(count) // size for count in shape)
    return rows[:, None] * (columns[-1] + 1) + columns


def _resting_on(found: SiteMap, entries: set[str]) -> tuple[str, ...]:
    """Layers made from files of these entries, also through other layers; a feed that was asked for counts whole."""
    chosen = [entry for entry in found.inputs.site.files if entry.name in entries]
    files, feeds = {entry.path.name for entry in chosen}, {entry.feeds for entry in chosen}
    return tuple(
        str(name)
        for name, layer in found.layers.data_vars.items()
        if files & set(str(layer.attrs.get("files", "")).split("; ")) or feeds & found.derivation.trace(str(name)).feeds
    )


def _maps_resting_on(found: SiteMap, secret: set[str]) -> dict[str, set[str]]:
    """The class maps that rest on sensitive layers, each with those layers."""
    shore = secret & {"surface"}
    needs = secret & {factor.layer for factor in found.profile.factors} | shore
    presses = secret & {pressure.layer for pressure in found.profile.pressures} | shore
    told = {"suitability_class": needs, "threat_class": presses, "concern": needs | presses}
    return {name: layers for name, layers in told.items() if layers}


def _cells_a_side(found: SiteMap, seen: gpd.GeoDataFrame | None, rules: PublishingRules) -> int | None:
    """Of the blocks; None where no block may be told."""
    strictest = rules.category_of("")
    if not strictest.degrees:
        return None
    grid = found.inputs.site.grid
    least = int(np.ceil(strictest.degrees * METRES_A_DEGREE / grid.cell))
    if seen is None or seen.empty:
        return least
    points = seen[~(seen.geometry.isna() | seen.geometry.is_empty)].to_crs(grid.crs).geometry
    west, _, _, north = grid.bounds
    if 0 < len(points) < rules.minimum_count:
        return None
    # from the least size on, so that a doubled block is never cut by the first ones
    side = grid.cell * least
    doubled = block_size(points.x.to_numpy(), points.y.to_numpy(), (west, north), side, rules.minimum_count)
    return least * doubled


def _coarse(assessment: xr.Dataset, sizes: dict[str, int]) -> xr.Dataset:
    lacking = (assessment["missing_factors"] > 0) | (assessment["missing_pressures"] > 0)
    water = (assessment["suitability_class"] > 0) | lacking | assessment["suitability"].notnull()
    kept = assessment[[*_CLASSES, "suitability", "missing_factors", "missing_pressures"]].copy()
    for name, size in sizes.items():
        layer, wet = kept[name], water.broadcast_like(kept[name]).transpose(*kept[name].dims).to_numpy()
        shape = layer.shape[-2:]
        parts = zip(layer.to_numpy().reshape(-1, *shape), wet.reshape(-1, *shape), strict=True)
        made = np.stack([block_classes(codes, inside, size) for codes, inside in parts]).reshape(layer.shape)
        side = f"blocks of {size} by {size} cells: the commonest class of each"
        kept[name] = layer.copy(data=made).assign_attrs(comment=side)
    # what hectares are counted on: water, and no score finer than a block
    kept["suitability"] = kept["suitability"].copy(data=np.where(water, 0, np.nan).astype(np.float32))
    for name in ("missing_factors", "missing_pressures"):
        kept[name] = kept[name].copy(data=water.to_numpy().astype(kept[name].dtype))
    return kept


def _told(found: SiteMap, resting: dict[str, set[str]], sizes: dict[str, int], dropped: set[str]) -> str:
    cell = found.inputs.site.grid.cell
    said = [
        f"{_CLASSES[name]} is told by blocks of {size * cell / 1000:g} km, the commonest class of each, because it "
        f"rests on what is not for everybody ({', '.join(sorted(layer.replace('_', ' ') for layer in resting[name]))})"
        for name, size in sizes.items()
    ]
    said += [
        f"{_CLASSES[name]} is left out, because no block is wide enough to hide a record"
        for name in _CLASSES
        if name in dropped
    ]
    whole = "; ".join(said)
    return f"{whole[0].upper()}{whole[1:]}. No layer is published, only classes. Habitat units are left out."
