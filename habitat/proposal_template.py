"""An example of each kind of feature as a GeoJSON file to fill in, drawn in the middle of the site."""

from __future__ import annotations

import json
from pathlib import Path

import shapely
from shapely.affinity import translate

from habitat.proposal_check import cover_codes
from habitat.proposal_kinds import COMMON, KINDS, LINE, POINT, POLYGON, Attribute, Kind, kind_called, nearest_kind
from layers.atomic import whole_file
from layers.dredging import loss_fractions
from layers.fault import Fault, RecordError
from layers.grid import Grid
from layers.inputs import Inputs

SIZE = 4  # of the example across [cells]
_DECIMALS = 7  # of a degree: a centimetre
_WITH_A_SOURCE = ("loss_share", "loss_src", "measure", "left_share", "left_src")


def template_text(kind: str, inputs: Inputs) -> str:
    """GeoJSON of one feature of a kind, with an example for each attribute and a word of help.

    Parameters
    ----------
    kind : str
        A name of `habitat.proposal_kinds.KINDS`, or one it also goes by.
    inputs : Inputs
        The site: the feature lies in the middle of its grid (of the catchment's, for a land use) or where water is
        nearest to that, and seasons and covers are its own.

    Returns
    -------
    str
        In longitude and latitude, as the standard of GeoJSON asks. Attributes that may be left out hold an example
        too, apart from those that need a source beside them (null).

    Raises
    ------
    ValueError
        If there is no such kind.
    """
    chosen = kind_called(kind)
    if chosen is None:
        near = nearest_kind(kind)
        hint = f'Did you mean "{near.name}"? ' if near else ""
        raise ValueError(f'"{kind}" is not a kind of feature. {hint}Known kinds: {", ".join(KINDS)}.')
    properties = {"kind": chosen.name, "name": f"example of {chosen.name}", "note": chosen.about}
    properties |= {one.column: _example(one, inputs) for one in chosen.attributes}
    properties["_help"] = _help(chosen, inputs)
    shape = _in_degrees(_drawn(chosen, inputs), inputs.site.grid)
    feature = {"type": "Feature", "properties": properties, "geometry": json.loads(shapely.to_geojson(shape))}
    return json.dumps({"type": "FeatureCollection", "features": [feature]}, indent=2, ensure_ascii=False) + "\n"


def write_template(kind: str, path: str | Path, inputs: Inputs) -> None:
    """Write `template_text` to a new file, whole or not at all.

    Raises
    ------
    RecordError
        If the file exists, its folder does not, or its name does not end in .geojson or .json.
    ValueError
        If there is no such kind.
    """
    path = Path(path)
    text = template_text(kind, inputs)
    if path.suffix.lower() not in (".geojson", ".json"):
        fault = Fault(path.name, "a template is written as GeoJSON.", "Give it a name that ends in .geojson.")
        raise RecordError(path.name, [fault])
    with whole_file(path) as unfinished:
        unfinished.write_text(text, encoding="utf-8")


def _example(attribute: Attribute, inputs: Inputs) -> float | str | None:
    if attribute.column == "season":
        return next(iter(inputs.site.seasons), None)
    if attribute.column == "cover":
        return next(iter(cover_codes(inputs)), None)
    return None if attribute.column in _WITH_A_SOURCE else attribute.example


def _help(kind: Kind, inputs: Inputs) -> str:
    """What each attribute means, with its unit and whether it may be left out."""
    lines = [kind.about]
    for one in (*kind.attributes, *COMMON):
        choices = {
            "season": tuple(inputs.site.seasons),
            "cover": tuple(cover_codes(inputs)),
            "equipment": tuple(loss_fractions()),
        }.get(one.column, one.words)
        wanted = f": {one.wanted}" if one.is_number else f": {', '.join(choices)}" if choices else ""
        example = f", such as {one.example!r}" if one.column in _WITH_A_SOURCE else ""
        lines.append(f"{one.column} ({'needed' if one.required else 'may be left out'}): {one.means}{wanted}{example}.")
    return " ".join(lines)


def _drawn(kind: Kind, inputs: Inputs) -> shapely.Geometry:
    """The example, in the grid's projection."""
    on_land = kind.name == "land use" and inputs.site.catchment is not None
    grid = inputs.site.catchment.grid if on_land else inputs.site.grid
    west, south, east, north = grid.bounds
    x, y = (west + east) / 2, (south + north) / 2
    half = grid.cell * min(SIZE, *grid.shape) / 2
    shapes = {
        POINT: shapely.Point(0, 0),
        LINE: shapely.LineString([(-half, 0), (half, 0)]),
        POLYGON: shapely.box(-half, -half / 2, half, half / 2),
    }
    shape = translate(shapes[kind.drawn_as[0]], x, y)
    return shape if on_land else _over_water(shape, inputs)


def _over_water(shape: shapely.Geometry, inputs: Inputs) -> shapely.Geometry:
    """The shape with its middle in the water cell that is nearest to where it lies."""
    import numpy as np

    from layers.derivation import Derivation, Settings
    from layers.recipe import RECIPES

    grid = inputs.site.grid
    rows, columns = np.nonzero(Derivation(inputs, Settings(wanted=()), RECIPES).is_swum)
    x, y = grid.x[columns] - shape.centroid.x, grid.y[rows] - shape.centroid.y
    nearest = int(np.argmin(x**2 + y**2))
    return translate(shape, x[nearest], y[nearest])


def _in_degrees(shape: shapely.Geometry, grid: Grid) -> shapely.Geometry:
    import geopandas as gpd

    degrees = gpd.GeoSeries([shape], crs=grid.crs).to_crs(4326)
    return shapely.set_precision(degrees.iloc[0], 10.0**-_DECIMALS, mode="pointwise")
