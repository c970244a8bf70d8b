"""The printed maps of a folder of results: suitability, threat, concern and what limits, a sheet for each season."""

from __future__ import annotations

from collections.abc import Iterable
from pathlib import Path
from typing import TYPE_CHECKING

from habitat.report.print_map import Imprint, map_figure, write_png
from habitat.report.rasters import by_season, file_stem
from habitat.site_zones import site_zones
from layers.provenance import joined

if TYPE_CHECKING:
    import xarray as xr

    from habitat.site_map import SiteMap
    from layers.site import FileEntry

TITLES = {
    "suitability": "Habitat suitability",
    "threat": "Combined threat",
    "concern": "Where habitat and threat meet",
    "limiting_factor": "What limits the habitat most",
}


def write_maps(folder: Path, found: SiteMap, *, date: str) -> None:
    """Write a sheet for each composite and season."""
    folder.mkdir()
    imprint = imprint_of(found, date=date)
    zones = site_zones(found)
    breaks = {"suitability": found.profile.suitability_breaks, "threat": found.profile.threat_breaks}
    for name, title in TITLES.items():
        shown = _limits(found.assessment) if name == "limiting_factor" else found.assessment[name]
        for season, layer in by_season(shown):
            lacking = _lacking(found.assessment, name)
            figure = map_figure(
                layer,
                title=title,
                imprint=imprint,
                surface=found.layers["surface"],
                lacking=lacking.sel(season=season) if season else lacking,
                breaks=breaks.get(name, ()),
                zones=zones,
            )
            write_png(figure, folder / f"{file_stem(name, season)}.png")


def imprint_of(found: SiteMap, *, date: str) -> Imprint:
    """What every sheet of the site says."""
    site = found.inputs.site
    used = used_entries(found)
    return Imprint(
        site=site.title,
        author=site.author,
        invented=site.invented,
        profile=found.profile.title,
        vertical_datum=joined(entry.datum for entry in site.feeding("bed_elevation")),
        sources=joined(f"{entry.source} ({entry.licence}; {entry.credit})" for entry in used),
        data_dates=_span(entry.date for entry in used),
        printed=date,
    )


def used_entries(found: SiteMap) -> list[FileEntry]:
    """Entries of the site file whose files went into a layer."""
    names = {name for layer in found.layers.data_vars.values() for name in layer.attrs.get("files", "").split("; ")}
    return [entry for entry in found.inputs.site.files if entry.path.name in names and not entry.sensitive]


def _limits(assessment: xr.Dataset) -> xr.DataArray:
    """The limiting factor, with a class of its own for cells where nothing limits: they are not missing."""
    limits = assessment["limiting_factor"]
    ideal = (limits == 0) & assessment["suitability"].notnull()
    if not ideal.any():
        return limits
    code = len(limits.attrs["flag_meanings"].split())
    shown = limits.where(~ideal, code).astype("uint8")
    meanings = f"{limits.attrs['flag_meanings']} nothing:_all_are_ideal"
    return shown.assign_attrs(limits.attrs, flag_meanings=meanings)


def _lacking(assessment: xr.Dataset, name: str) -> xr.DataArray:
    if name == "threat":
        return assessment["missing_pressures"]
    if name == "concern":
        return assessment["missing_factors"] + assessment["missing_pressures"]
    return assessment["missing_factors"]


def _span(dates: Iterable[str | None]) -> str:
    """All dates where there are few, the first and last where there are many or some are spans ("2014/2021").

    Examples
    --------
    >>> _span(["2021-03", None, "2020"]), _span(["2014/2021", "2021-06"])
    ('2020, 2021-03', '2014 to 2021-06')
    """
    stated = [date for date in dates if date]
    ordered = sorted({end for date in stated for end in date.split("/")})
    is_list = len(ordered) < 4 and not any("/" in date for date in stated)
    return ", ".join(ordered) if is_list else f"{ordered[0]} to {ordered[-1]}"
