"""The public version of a map: classes, areas, coarse sightings and a page in plain words, checked before it appears.

The folder is written whole or not at all; its last step reads every byte of it, and a sighting that is still there
to be found stops the publication.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
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

CLASSES = {
    "suitability_class": "Classes of habitat",
    "threat_class": "Classes of threat",
    "concern": "Where habitat and threat meet",
}
PLAIN = "No layer that is marked sensitive went into these maps, and no layer is published, only classes."


@dataclass(frozen=True, kw_only=True)
class _Job:
    found: SiteMap
    rules: PublishingRules
    date: str
    classes: xr.Dataset
    hectares: pd.DataFrame
    occurrences: pd.DataFrame | None
    told: str


def publish(
    found: SiteMap,
    out: str | Path,
    rules: PublishingRules,
    *,
    date: str,
    key: bytes | None = None,
    former: pd.DataFrame | None = None,
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
    on_step : callable
        Told of each step before it starts.

    Returns
    -------
    str
        What became of the sightings, in a sentence.

    Raises
    ------
    RecordError
        If the folder cannot be made, a sensitive layer went into the map, or a file still gives a sighting away.
    """
    from habitat.publish_layers import sensitive_layers
    from habitat.zones import hectares_by_class

    secret = sensitive_layers(found)
    if secret:
        where = ", ".join(secret)
        remedy = "Map the site again with that file coarsened (habitat.publish_layers.block_means) or left out."
        raise RecordError(Path(out).name, [Fault(where, "it was made from a file marked sensitive.", remedy)])
    seen = all_sightings(found)
    occurrences, told = _told(found, seen, rules, key, former)
    job = _Job(
        found=found,
        rules=rules,
        date=date,
        classes=found.assessment[list(CLASSES)],
        hectares=hectares_by_class(found.assessment),
        occurrences=occurrences,
        told=told,
    )
    with whole_folder(out) as unfinished:
        for number, (label, write) in enumerate(_PARTS, start=1):
            on_step(Step(number, len(_PARTS) + 1, f"writing {label}"))
            write(unfinished, job)
        on_step(Step(len(_PARTS) + 1, len(_PARTS) + 1, "reading every byte for places of sightings"))
        require_clean(unfinished, found, seen, rules)
    return told


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


def require_clean(folder: Path, found: SiteMap, seen: gpd.GeoDataFrame | None, rules: PublishingRules) -> None:
    """Refuse a folder in which a sighting can be found more exactly than the rules allow.

    Raises
    ------
    RecordError
        Naming files and forms, never a place.
    """
    from habitat.leak_check import leaks, searched_places

    if seen is None or seen.empty:
        return
    grid = found.inputs.site.grid
    allowed = rules.categories[rules.category].degrees or 1.0
    known = seen[~(seen.geometry.isna() | seen.geometry.is_empty)]
    told = leaks(folder, searched_places(known, allowed=allowed, crs=grid.crs, grid=grid))
    if told:
        forms = dict.fromkeys((leak.where, leak.form) for leak in told)
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


def _write_maps(folder: Path, job: _Job) -> None:
    from habitat.report.print_map import map_figure, write_png
    from habitat.report.rasters import by_season, file_stem
    from habitat.report.sheets import imprint_of

    (folder / "maps").mkdir()
    imprint = imprint_of(job.found, date=job.date)
    for name, title in CLASSES.items():
        for season, layer in by_season(job.classes[name]):
            figure = map_figure(layer, title=title, imprint=imprint, surface=job.found.layers["surface"])
            write_png(figure, folder / "maps" / f"{file_stem(name, season)}.png")


def _write_rasters(folder: Path, job: _Job) -> None:
    from habitat.colours import class_colours
    from habitat.report.rasters import by_season, file_stem
    from layers.geotiff import write_geotiff

    (folder / "rasters").mkdir()
    for name in CLASSES:
        for season, layer in by_season(job.classes[name]):
            path = folder / "rasters" / f"{file_stem(name, season)}.tif"
            write_geotiff(layer, path, colours=class_colours(name), tags={"site": job.found.inputs.site.title})


def _write_data(folder: Path, job: _Job) -> None:
    from habitat import result
    from habitat.report.account import site_attributes
    from habitat.report.rasters import by_season, file_stem
    from habitat.report.tables import class_polygons
    from layers.export import write_geopackage, write_netcdf

    write_netcdf(job.classes, folder / "classes.nc", attributes=site_attributes(job.found))
    names = (result.SUITABILITY_CLASSES, result.THREAT_CLASSES, result.CONCERN_CLASSES)
    tables = {
        file_stem(name, season): class_polygons(layer, words)
        for name, words in zip(CLASSES, names, strict=True)
        for season, layer in by_season(job.classes[name])
    }
    tables = {name: table for name, table in tables.items() if len(table)}
    if tables:
        write_geopackage(tables, folder / "classes.gpkg", descriptions=dict.fromkeys(tables, job.told))


def _write_tables(folder: Path, job: _Job) -> None:
    from habitat.site_zones import site_zones
    from habitat.zones import hectares_by_class
    from layers.export import write_table

    write_table(job.hectares, folder / "hectares_by_class.csv")
    zones = site_zones(job.found)
    if zones is not None:
        write_table(hectares_by_class(job.found.assessment, zones=zones), folder / "hectares_by_zone.csv")
    if job.occurrences is not None:
        write_table(job.occurrences, folder / "occurrences.csv")


def _write_words(folder: Path, job: _Job) -> None:
    from habitat.publish_words import briefing_of, readme_of
    from habitat.report.briefing import briefing_pdf

    words = briefing_of(job.found, job.rules, job.hectares, date=job.date, told=job.told)
    # three classes stay apart in a grey print; nine do not
    picture = sorted((folder / "maps").glob("suitability_class*.png"))[0]
    (folder / "briefing.pdf").write_bytes(briefing_pdf(words, picture, date=job.date))
    readme = readme_of(job.found, job.rules, date=job.date, told=job.told, coarse=PLAIN)
    (folder / "README.txt").write_text(readme, encoding="utf-8")


_PARTS: tuple[tuple[str, Callable[[Path, _Job], None]], ...] = (
    ("maps", _write_maps),
    ("rasters", _write_rasters),
    ("NetCDF and GeoPackage", _write_data),
    ("tables", _write_tables),
    ("the page and the README", _write_words),
)
