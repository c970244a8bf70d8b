"""The public version of a map: classes, areas, coarse sightings and a page in plain words, checked before it appears.

The folder is written whole or not at all; its last step reads every byte of it, and a sighting that is still there
to be found stops the publication.
"""

from __future__ import annotations

import dataclasses
from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np

from layers.atomic import whole_folder
from layers.fault import Fault, RecordError
from layers.step import OnStep, Step, ignore

if TYPE_CHECKING:
    import geopandas as gpd
    import pandas as pd
    import xarray as xr

    from habitat.publish_rules import PublishingRules
    from habitat.site_map import SiteMap
    from layers.site import FileEntry


def publish(
    found: SiteMap,
    out: str | Path,
    rules: PublishingRules,
    *,
    date: str,
    key: bytes | None = None,
    former: pd.DataFrame | None = None,
    replace: bool = False,
    on_step: OnStep = ignore,
) -> str:
    """Write the public folder of a map.

    Parameters
    ----------
    found : SiteMap
    out : path
        Folder to make.
    rules : PublishingRules
    date : str
        ISO date that the page and the maps bear.
    key : bytes, optional
        Secret of the pseudonyms, see `habitat.generalise.generalised`.
    former : DataFrame, optional
        Table of sightings that was published last.
    replace : bool
        Whether an earlier publication may be replaced; nothing else is ever deleted.
    on_step : callable
        Told of each step before it starts.

    Returns
    -------
    str
        What became of the sightings and, where there are any, of sensitive layers, in sentences.

    Raises
    ------
    RecordError
        If the folder cannot be made or replaced, the rules allow no map, or a file still gives a sighting away.
    """
    from habitat.publish_files import PARTS, Job
    from habitat.publish_layers import PLAIN, public_classes
    from habitat.publish_seal import require_place
    from habitat.zones import hectares_by_class

    require_place(out, replace=replace)
    seen = all_sightings(found)
    classes, dropped, coarse = public_classes(found, seen, rules)
    occurrences, told = _told(found, seen, rules, key, former)
    job = Job(
        found=found,
        rules=rules,
        date=date,
        classes=classes,
        dropped=dropped,
        hectares=hectares_by_class(classes),
        occurrences=occurrences,
        told=told,
        coarse=coarse,
    )
    job = dataclasses.replace(job, hectares=job.told_hectares(job.hectares))
    with whole_folder(out, replace=replace) as unfinished:
        for number, (label, write) in enumerate(PARTS, start=1):
            on_step(Step(number, len(PARTS) + 1, f"writing {label}"))
            write(unfinished, job)
        on_step(Step(len(PARTS) + 1, len(PARTS) + 1, "reading every byte for places of sightings"))
        require_clean(unfinished, found, seen, rules, occurrences)
    return told if coarse == PLAIN else f"{told} {coarse}"


def all_sightings(found: SiteMap) -> gpd.GeoDataFrame | None:
    """Every record of the site's files of sightings under Darwin Core names; None where it has none."""
    import pandas as pd

    tables = [_named(found.inputs.features[entry.name], entry) for entry in found.inputs.having("sighting")]
    if not tables:
        return None
    records = pd.concat(tables, ignore_index=True)
    named = records.rename(columns={"uncertainty": "coordinateUncertaintyInMeters", "count": "individualCount"})
    named["eventDate"] = named["date"].dt.strftime("%Y-%m-%d").fillna("")
    return named.assign(occurrenceStatus=np.where(named["seen"], "detected", "notDetected"))


def require_clean(
    folder: Path,
    found: SiteMap,
    seen: gpd.GeoDataFrame | None,
    rules: PublishingRules,
    told: pd.DataFrame | None = None,
) -> None:
    """Refuse a folder in which a sighting can be found more exactly than the rules allow for its species.

    `told` is the table of sightings that is published: a square that it names for one species is no leak of another.

    Raises
    ------
    RecordError
        Naming files and forms, never a place.
    """
    from habitat.darwin_core import plain_name
    from habitat.leak_check import leaks, searched_places

    if seen is None or seen.empty:
        return
    grid = found.inputs.site.grid
    known = seen[~(seen.geometry.isna() | seen.geometry.is_empty)]
    names = known["scientificName"] if "scientificName" in known else [""] * len(known)
    steps = np.array([rules.category_of(plain_name(name)).degrees or 1.0 for name in names])
    squares = () if told is None else told[["decimalLongitude", "decimalLatitude"]].drop_duplicates().to_numpy()
    places = [
        one
        for step in np.unique(steps)
        for one in searched_places(
            known[steps == step], allowed=float(step), crs=grid.crs, grid=grid, told=np.reshape(squares, (-1, 2))
        )
    ]
    found_there = leaks(folder, tuple(places))
    if found_there:
        forms = dict.fromkeys((leak.where, leak.form) for leak in found_there)
        remedy = "Nothing was published. Find out how it came there."
        raise RecordError(
            "public folder", [Fault(where, f"a sighting can be found in it: {form}.", remedy) for where, form in forms]
        )


def _named(table: gpd.GeoDataFrame, entry: FileEntry) -> gpd.GeoDataFrame:
    """Records with name and basis, which the reader of sightings leaves in the file; "" where it is not a table."""
    from layers.sighting_columns import texts
    from layers.source import is_table
    from layers.table import read_rows

    rows = read_rows(entry, []) if is_table(entry.path) and entry.path.is_file() else None
    if rows is None:
        return table.assign(scientificName="", basisOfRecord="")
    terms = ("scientificName", "basisOfRecord")
    return table.assign(**{term: table["row"].map(texts(rows, term, entry)).fillna("") for term in terms})


def _told(
    found: SiteMap,
    seen: gpd.GeoDataFrame | None,
    rules: PublishingRules,
    key: bytes | None,
    former: pd.DataFrame | None,
) -> tuple[pd.DataFrame | None, str]:
    from habitat.generalise import generalised
    from habitat.presence import NOT_ABSENCE
    from layers.provenance import joined

    if seen is None:
        return None, f"No sightings are held with this map. {NOT_ABSENCE}"
    try:
        table = generalised(seen, rules, key=key, water=_water(found.layers["surface"]), former=former)
    except RecordError as problem:
        if problem.faults[0].place == "sightings.herd":
            return None, f"All sightings are withheld, for the animals' safety. {NOT_ABSENCE}"
        raise
    if table.empty:
        return None, f"All sightings are withheld: no area holds enough of them to tell. {NOT_ABSENCE}"
    if not rules.words.get("licence"):
        table["license"] = joined(entry.licence for entry in found.inputs.having("sighting"))
    steps = ", ".join(f"{step:g}" for step in sorted(set(table["coordinatePrecision"])))
    return table, (
        f"Sightings are told by squares of {steps} degree, and only where a square holds at least "
        f"{rules.minimum_count} records. Exact places, hours, names and remarks are withheld. {NOT_ABSENCE}"
    )


def _water(surface: xr.DataArray) -> Callable[[float, float, float], float]:
    """Hectares of water in a released cell."""
    from pyproj import Transformer

    from layers.grid import Grid
    from layers.quantity import INTERTIDAL, WATER

    grid = Grid.of(surface)
    rows, columns = np.nonzero(np.isin(surface.to_numpy(), (INTERTIDAL, WATER)))
    back = Transformer.from_crs(grid.crs, 4326, always_xy=True)
    longitude, latitude = back.transform(np.asarray(grid.x)[columns], np.asarray(grid.y)[rows])

    def hectares(east: float, north: float, step: float) -> float:
        inside = (abs(longitude - east) <= step / 2) & (abs(latitude - north) <= step / 2)
        return float(inside.sum()) * grid.cell_hectares

    return hectares
