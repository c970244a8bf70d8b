"""The files of a public folder: class maps as pictures, rasters and polygons, their areas, and the words."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    import pandas as pd
    import xarray as xr

    from habitat.publish_rules import PublishingRules
    from habitat.site_map import SiteMap

CLASSES = {
    "suitability_class": "Classes of habitat",
    "threat_class": "Classes of threat",
    "concern": "Where habitat and threat meet",
}
_KINDS = {"suitability_class": "suitability", "threat_class": "threat", "concern": "concern"}


@dataclass(frozen=True, kw_only=True)
class Job:
    """What is published: the maps as they may be shown, their areas, and what became of the rest."""

    found: SiteMap
    rules: PublishingRules
    date: str
    classes: xr.Dataset  # what `hectares_by_class` takes
    dropped: frozenset[str]  # maps that are not shown
    hectares: pd.DataFrame
    occurrences: pd.DataFrame | None
    told: str  # of the sightings
    coarse: str  # of sensitive layers

    @property
    def shown(self) -> tuple[str, ...]:
        """Names of the maps that are shown."""
        return tuple(name for name in CLASSES if name not in self.dropped)

    def told_hectares(self, table: pd.DataFrame) -> pd.DataFrame:
        """Rows of the maps that are shown; no habitat units where a map is coarse, for they are of exact scores."""
        shown = table[table["kind"].isin([_KINDS[name] for name in self.shown])]
        is_coarse = self.classes is not self.found.assessment
        return shown.drop(columns="habitat_units") if is_coarse else shown


def _write_maps(folder: Path, job: Job) -> None:
    from habitat.report.print_map import map_figure, write_png
    from habitat.report.rasters import by_season, file_stem
    from habitat.report.sheets import imprint_of

    (folder / "maps").mkdir()
    imprint = imprint_of(job.found, date=job.date)
    for name in job.shown:
        for season, layer in by_season(job.classes[name]):
            figure = map_figure(layer, title=CLASSES[name], imprint=imprint, surface=job.found.layers["surface"])
            write_png(figure, folder / "maps" / f"{file_stem(name, season)}.png")


def _write_rasters(folder: Path, job: Job) -> None:
    from habitat.colours import class_colours
    from habitat.report.rasters import by_season, file_stem
    from layers.geotiff import write_geotiff

    (folder / "rasters").mkdir()
    for name in job.shown:
        for season, layer in by_season(job.classes[name]):
            path = folder / "rasters" / f"{file_stem(name, season)}.tif"
            write_geotiff(layer, path, colours=class_colours(name), tags={"site": job.found.inputs.site.title})


def _write_data(folder: Path, job: Job) -> None:
    from habitat import result
    from habitat.report.account import site_attributes
    from habitat.report.rasters import by_season, file_stem
    from habitat.report.tables import class_polygons
    from layers.export import write_geopackage, write_netcdf

    shown = job.classes[list(job.shown)]
    shown["spatial_ref"] = shown["spatial_ref"].assign_attrs(long_name="coordinate reference system")
    write_netcdf(shown, folder / "classes.nc", attributes=site_attributes(job.found))
    classes = (result.SUITABILITY_CLASSES, result.THREAT_CLASSES, result.CONCERN_CLASSES)
    tables = {
        file_stem(name, season): class_polygons(layer, words)
        for name, words in zip(CLASSES, classes, strict=True)
        if name in job.shown
        for season, layer in by_season(job.classes[name])
    }
    tables = {name: table for name, table in tables.items() if len(table)}
    if tables:
        write_geopackage(tables, folder / "classes.gpkg", descriptions=dict.fromkeys(tables, job.told))


def _write_tables(folder: Path, job: Job) -> None:
    from habitat.site_zones import site_zones
    from habitat.zones import hectares_by_class
    from layers.export import write_table

    write_table(job.hectares, folder / "hectares_by_class.csv")
    is_secret = any(entry.sensitive for entry in job.found.inputs.site.feeding("zone"))
    zones = None if is_secret else site_zones(job.found)
    if zones is not None:
        write_table(job.told_hectares(hectares_by_class(job.classes, zones=zones)), folder / "hectares_by_zone.csv")
    if job.occurrences is not None:
        write_table(job.occurrences, folder / "occurrences.csv")


def _write_words(folder: Path, job: Job) -> None:
    from habitat.publish_words import briefing_of, readme_of
    from habitat.report.briefing import briefing_pdf

    words = briefing_of(job.found, job.rules, job.hectares, date=job.date, told=job.told)
    # three classes stay apart in a grey print; nine do not
    picture = next(iter(sorted(folder.glob(f"maps/{job.shown[0]}*.png"))))
    (folder / "briefing.pdf").write_bytes(briefing_pdf(words, picture, date=job.date))
    readme = readme_of(job.found, job.rules, date=job.date, told=job.told, coarse=job.coarse)
    (folder / "README.txt").write_text(readme, encoding="utf-8")


def _write_seal(folder: Path, job: Job) -> None:
    from habitat.publish_seal import seal_publication
    from habitat.publish_words import credits_of
    from habitat.report.rasters import by_season, file_stem

    site = job.found.inputs.site
    names = ("on_seeing_an_animal", "on_seeing_an_offence", "who_decides", "licence")
    seal_publication(
        folder,
        {
            "title": site.title,
            "author": site.author or "",
            "date": job.date,
            "invented": site.invented,
            "cell": float(site.grid.cell),
            "sightings": job.told,
            "coarse": job.coarse,
            "words": {name: job.rules.words.get(name, "") for name in names},
            "credits": credits_of(job.found),
            "maps": [
                {
                    "name": name,
                    "season": season or "",
                    "picture": f"maps/{file_stem(name, season)}.png",
                    "classes": _class_rows(job.hectares, _KINDS[name], season or ""),
                }
                for name in job.shown
                for season, _ in by_season(job.classes[name])
            ],
        },
    )


def _class_rows(hectares: pd.DataFrame, kind: str, season: str) -> list[dict[str, Any]]:
    own = hectares[(hectares["kind"] == kind) & (hectares["season"] == season)]
    return [
        {"words": row["class"], "hectares": float(row["hectares"]), "share": float(row["share"])}
        for _, row in own.iterrows()
        if row["share"] == row["share"]
    ]


PARTS: tuple[tuple[str, Callable[[Path, Job], None]], ...] = (
    ("maps", _write_maps),
    ("rasters", _write_rasters),
    ("NetCDF and GeoPackage", _write_data),
    ("tables", _write_tables),
    ("the page and the README", _write_words),
    ("what it says of itself, with digests", _write_seal),
)
