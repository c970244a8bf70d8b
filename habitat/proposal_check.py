"""What has to be true of each feature of a proposal: its kind, its shape, its place and what is said of it."""

from __future__ import annotations

from collections.abc import Mapping

import geopandas as gpd
import numpy as np
import pandas as pd
import shapely

from habitat.proposal_feature import Feature, Value, with_article
from habitat.proposal_file import OF_FORMATS, PLACE, SLIP
from habitat.proposal_kinds import (
    COMMON,
    KINDS,
    LINE,
    NO,
    POINT,
    POLYGON,
    YES,
    Attribute,
    Kind,
    kind_called,
    nearest_kind,
)
from habitat.proposal_works import check_work
from layers.column import is_nothing
from layers.fault import Fault
from layers.grid import Grid
from layers.inputs import Inputs

DRAWN = {POINT: "a point", LINE: "a line", POLYGON: "a polygon"}
_SAID_YES_NO = {"true": YES, "1": YES, "y": YES, "false": NO, "0": NO, "n": NO, "1.0": YES, "0.0": NO}
A_TRACE = 1e-6  # share outside the site from which on it is told: less is rounding of a projection


def checked_features(
    frame: gpd.GeoDataFrame, name: str, inputs: Inputs, faults: list[Fault], remarks: list[str]
) -> tuple[Feature, ...]:
    """The features of a table in the grid's projection; those with a fault are left out, and the fault is added."""
    if "kind" not in frame.columns:
        found = "there is no column `kind`, which says what each feature is."
        faults.append(Fault(name, found, f"Add it. Known kinds: {', '.join(KINDS)}."))
        return ()
    features, count, kinds = [], dict.fromkeys(KINDS, 0), set()
    for (_, row), shape in zip(frame.iterrows(), frame.geometry.array, strict=True):  # a row holds NaN for no shape
        place = row[PLACE]
        kind = _kind(row["kind"], place, faults)
        if kind is None:
            continue
        kinds.add(kind.name)
        count[kind.name] += 1
        before = len(faults)
        if shape is not None and shape.geom_type == "MultiPoint" and len(shape.geoms) == 1:
            shape = shape.geoms[0]
        _check_shape(shape, kind, place, inputs, faults, row.get(SLIP))
        attributes = _attributes(row, kind, place, inputs, faults)
        if len(faults) == before:
            number = count[kind.name]
            features.append(Feature(kind=kind.name, number=number, shape=shape, attributes=attributes))
    remarks += _unused(frame, kinds, name)
    remarks += [said for feature in features if (said := _said_outside(feature, inputs))]
    return tuple(features)


def cover_codes(inputs: Inputs) -> dict[str, int]:
    """Code of each label of the site's table of covers; empty for a site without a map of land cover."""
    entries = inputs.having("cover_table")
    if not entries or not inputs.having("land_cover") or inputs.site.catchment is None:
        return {}
    table = inputs.tables[entries[0].name]
    return {str(label).strip(): int(code) for code, label in zip(table["code"], table["label"], strict=True)}


def share_outside(feature: Feature, inputs: Inputs) -> float:
    """Share of a feature's area, length or points that lies outside the grid on which it has an effect. [1]"""
    box, shape = shapely.box(*_grid_of(feature.kind, inputs).bounds), feature.shape
    if shape.geom_type.endswith("Point"):
        points = shapely.get_parts([shape])
        return float(1 - shapely.intersects(points, box).mean())
    size = shapely.area if shape.area > 0 else shapely.length
    return float(size(shape.difference(box)) / size(shape))


def _kind(given: object, place: str, faults: list[Fault]) -> Kind | None:
    place = f"{place}, column kind"
    if is_nothing(given):
        faults.append(Fault(place, "it holds nothing.", f"Write what this is. Known kinds: {', '.join(KINDS)}."))
        return None
    kind = kind_called(str(given))
    if kind is None:
        near = nearest_kind(str(given))
        hint = f'Did you mean "{near.name}"? ' if near else ""
        found = f'"{given}" is not a kind of feature that is known.'
        faults.append(Fault(place, found, f"{hint}Known kinds: {', '.join(KINDS)}."))
    return kind


def _check_shape(
    shape: shapely.Geometry | None, kind: Kind, place: str, inputs: Inputs, faults: list[Fault], slip: object
) -> None:
    if shape is None or shape.is_empty:
        faults.append(Fault(place, "it has no geometry.", "Draw it, or remove it."))
        return
    drawn = shape.geom_type.removeprefix("Multi").replace("LinearRing", LINE)
    if drawn not in kind.drawn_as:
        wanted = " or ".join(DRAWN[form] for form in kind.drawn_as)
        verb = "are" if kind.name == "moorings" else "is"
        found = f"{with_article(kind)} {verb} drawn as {wanted}, and this is {DRAWN.get(drawn, f'a {drawn}')}."
        faults.append(Fault(place, found, f"Draw it as {wanted}."))
        return
    if kind.name == "outfall" and shape.geom_type == "MultiPoint":
        found = f"an outfall is one point, and this holds {len(shape.geoms):,}."
        faults.append(Fault(place, found, "Make each a feature of its own, with its own load."))
        return
    if not np.isfinite(shape.bounds).all():
        found = "its coordinates cannot be brought into the projection of the site."
        faults.append(Fault(place, found, _remedy_of_place(slip)))
        return
    grid = _grid_of(kind.name, inputs)
    apart = shape.distance(shapely.box(*grid.bounds))
    if apart > 0 or not shape.intersects(shapely.box(*grid.bounds)):
        found = (
            f"it lies {apart:,.0f} m outside the site."
            if apart < 1e5
            else f"it lies {apart / 1000:,.0f} km outside the site."
        )
        faults.append(Fault(place, found, _remedy_of_place(slip)))
    if not shape.is_valid:
        faults.append(_crossing(shape, place, inputs.site.grid))


def _remedy_of_place(slip: object) -> str:
    if is_nothing(slip):
        return "Check its coordinates and their CRS, or remove it."
    return str(slip)


def _crossing(shape: shapely.Geometry, place: str, grid: Grid) -> Fault:
    from pyproj import Transformer

    reason, _, where = shapely.is_valid_reason(shape).partition("[")
    found = "its outline crosses itself" if "ntersection" in reason else f"its shape is not valid: {reason.strip()}"
    if where:
        x, y = (float(word) for word in where.rstrip("]").split()[:2])
        longitude, latitude = Transformer.from_crs(grid.crs, 4326, always_xy=True).transform(x, y)
        found += f" at x {x:.0f}, y {y:.0f} (longitude {longitude:.5f}, latitude {latitude:.5f})"
    return Fault(place, f"{found}.", "Draw it again there, or mend it in a GIS, which can mostly do so by itself.")


def _attributes(row: pd.Series, kind: Kind, place: str, inputs: Inputs, faults: list[Fault]) -> dict[str, Value]:
    """What is said of a feature, checked; what is missing or faulty is absent."""
    found: dict[str, Value] = {}
    given = {one.column: row.get(one.column) for one in (*kind.attributes, *COMMON)}
    for attribute in (*kind.attributes, *COMMON):
        column, value = attribute.column, given[attribute.column]
        if is_nothing(value):
            if attribute.required and column not in ("equipment", "cover"):
                said = f"nothing is given for the {attribute.means}."
                faults.append(Fault(f"{place}, column {column}", said, f"Give {attribute.wanted}."))
            continue
        read = (
            _number(value, attribute, place, faults) if attribute.is_number else _text(value, attribute, place, faults)
        )
        if read is not None:
            found[column] = read
    if "season" in found:
        found["season"] = _season(str(found["season"]), place, inputs, faults)
    if kind.attribute("cover"):
        found["cover"] = _cover(found.get("cover"), place, inputs, faults)
    if kind.name == "dredged area":
        found = check_work(found, given, place, inputs.site, faults)
    return {column: value for column, value in found.items() if value is not None}


def _number(given: object, attribute: Attribute, place: str, faults: list[Fault]) -> float | None:
    place = f"{place}, column {attribute.column}"
    try:
        value = float("nan") if isinstance(given, (bool, np.bool_)) else float(given)
    except (TypeError, ValueError):
        value = float("nan")
    least, most = attribute.bounds
    if value != value:
        faults.append(Fault(place, f'it holds "{given}", which is not a number.', f"Give {attribute.wanted}."))
    elif not ((least < value if attribute.above else least <= value) and value <= most):
        advice = " It is a share of 1: 30 % is 0.3." if attribute.units == "1" and value > 1 else ""
        faults.append(Fault(place, f"it holds {value:g}.", f"Give {attribute.wanted}.{advice}"))
    else:
        return value
    return None


def _text(given: object, attribute: Attribute, place: str, faults: list[Fault]) -> str | None:
    text = f"{given:g}" if isinstance(given, (float, np.floating)) else str(given).strip()
    if not attribute.words:
        return text
    word = _SAID_YES_NO.get(text.casefold(), text.casefold())
    if word in attribute.words:
        return word
    faults.append(Fault(f"{place}, column {attribute.column}", f'it holds "{text}".', f"Write {attribute.wanted}."))
    return None


def _season(word: str, place: str, inputs: Inputs, faults: list[Fault]) -> str | None:
    named = {season.casefold(): season for season in inputs.site.seasons}
    if word.casefold() in named:
        return named[word.casefold()]
    known = ", ".join(inputs.site.seasons) or "none; add a table [seasons] to the site file"
    faults.append(
        Fault(f"{place}, column season", f'"{word}" is not a season of the site.', f"Known seasons: {known}.")
    )
    return None


def _cover(word: Value | None, place: str, inputs: Inputs, faults: list[Fault]) -> str | None:
    codes = cover_codes(inputs)
    if not codes:
        found = "the site has no map of land cover, so that no change of land use can be followed."
        faults.append(Fault(place, found, "Leave it out, or add the land cover of the catchment to the site file."))
        return None
    named = {label.casefold(): label for label in codes} | {str(code): label for label, code in codes.items()}
    known = ", ".join(f"{label} ({code})" for label, code in codes.items())
    place = f"{place}, column cover"
    if word is None:
        faults.append(Fault(place, "nothing is given for the new cover.", f"Write one of: {known}."))
    elif str(word).casefold() in named:
        return named[str(word).casefold()]
    else:
        faults.append(Fault(place, f'"{word}" is not in the site\'s table of covers.', f"Write one of: {known}."))
    return None


def _grid_of(kind: str, inputs: Inputs) -> Grid:
    """The grid on which a feature has an effect."""
    catchment = inputs.site.catchment
    return catchment.grid if kind == "land use" and catchment is not None else inputs.site.grid


def _said_outside(feature: Feature, inputs: Inputs) -> str | None:
    share = share_outside(feature, inputs)
    if share < A_TRACE or feature.shape.geom_type.endswith("Point"):
        return None
    is_area = feature.shape.area > 0
    beyond = share * (feature.shape.area if is_area else feature.shape.length)
    amount = f"{beyond / 10_000:,.2f} ha" if is_area else f"{beyond:,.0f} m"
    where = "the grid of the catchment" if feature.kind == "land use" else "the site"
    return f"{feature.title}: {100 * share:.0f} % of it ({amount}) lies outside {where} and is not counted."


def _unused(frame: gpd.GeoDataFrame, kinds: set[str], name: str) -> list[str]:
    known: Mapping = {one.column for kind in kinds for one in (*KINDS[kind].attributes, *COMMON)}
    passed = {"kind", PLACE, SLIP, frame.geometry.name, *known, *OF_FORMATS}
    unused = [column for column in frame.columns if column not in passed and not column.startswith("_")]
    return [f"{name}: nothing is made of the columns {', '.join(unused)}."] if unused else []
