"""Shapes as they come from a vector file: of the kind that is needed, valid, and where the site is."""

from __future__ import annotations

import geopandas
import shapely

from layers.fault import Fault
from layers.grid import Grid
from layers.place import slipped
from layers.plausibility import counted

PLURALS = {"Point": "points", "LineString": "lines", "Polygon": "polygons"}


def note_faulty_shapes(
    frame: geopandas.GeoDataFrame, name: str, kinds: frozenset[str], faults: list[Fault], noun: str
) -> None:
    shapes = frame.geometry
    empty = (shapes.isna() | shapes.is_empty).to_numpy()
    if empty.any():
        faults.append(
            Fault(
                f"{name}, {noun} {frame.index[empty][0]}",
                f"{counted(int(empty.sum()), noun)} {'has' if empty.sum() == 1 else 'have'} no geometry.",
                "Draw it, or remove it." if empty.sum() == 1 else "Draw them, or remove them.",
            )
        )
    solid = shapes[~empty]
    found = solid.geom_type.str.removeprefix("Multi").replace("LinearRing", "LineString").value_counts()
    wanted = " or ".join(PLURALS[kind] for kind in PLURALS if kind in kinds)
    unwanted = found[[kind for kind in found.index if kind not in kinds]]
    if len(unwanted):
        held = " and ".join(f"{count:,} {_named(kind, count)}" for kind, count in found.items())
        faults.append(
            Fault(
                name,
                f"the file holds {held}, and {wanted} are needed here.",
                f"Keep only {wanted} in the file.",
            )
        )
    invalid = solid[~solid.is_valid]
    if len(invalid):
        reason, _, where = shapely.is_valid_reason(invalid.iloc[0]).partition("[")
        at = f" at {where.rstrip(']')}" if where else ""
        others = f" ({len(invalid):,} {noun}s are not valid)" if len(invalid) > 1 else ""
        faults.append(
            Fault(
                f"{name}, {noun} {invalid.index[0]}",
                f"the geometry is not valid: {reason.strip()}{at}{others}.",
                "Mend it in a GIS, which can mostly do so by itself.",
            )
        )


def note_outside(
    frame: geopandas.GeoDataFrame,
    projected: geopandas.GeoDataFrame,
    name: str,
    grid: Grid,
    faults: list[Fault],
    remarks: list[str],
    noun: str,
) -> None:
    """Note features that lie outside the site: a fault if all do or a slip explains it, else a remark."""
    outside = ~projected.geometry.intersects(shapely.box(*grid.bounds)).to_numpy()
    if not outside.any():
        return
    count = int(outside.sum())
    if (projected.geom_type == "Point").all():
        apart = frame.geometry[outside]
        explained = slipped(apart.x.to_numpy(), apart.y.to_numpy(), frame.crs, grid)
        if explained:
            slip, those = explained
            count = int(those.sum())
            rows = f" ({', '.join(str(row) for row in apart.index[those][:3])})" if count > 1 else ""
            faults.append(
                Fault(
                    f"{name}, {noun} {apart.index[those][0]}",
                    f"{slip.found} in {counted(count, noun)}{rows}: with that mended, it would lie in the site.",
                    slip.remedy,
                )
            )
            return
    if outside.all():
        faults.append(
            Fault(
                name,
                f"none of the {counted(len(frame), noun)} lies in the site, though their extent overlaps it.",
                "Check the coordinates, or remove the table.",
            )
        )
    else:
        remarks.append(
            f"{name}: {count:,} of {counted(len(frame), noun)} {'lies' if count == 1 else 'lie'} outside the site."
        )


def _named(kind: str, count: int) -> str:
    plural = PLURALS.get(kind, kind)
    return plural.removesuffix("s") if count == 1 and kind in PLURALS else plural
