"""The account of a map: a README for people, and what every file says of the whole.

Neither holds a clock or a path of the machine: the same site and profile give the same account.
"""

from __future__ import annotations

from textwrap import fill
from typing import TYPE_CHECKING

from habitat.record_file import RECORD_FILE
from layers import __version__

if TYPE_CHECKING:
    from habitat.site_map import SiteMap

CAUTION = (
    "Screening-level evidence; local law and licensed practice decide. A class is a reading of the data below by the "
    "profile in this folder, not a measurement. No data means no data: it is neither poor habitat nor safe water. "
    "Absence of sightings is not absence of animals, and no file here shows where animals were seen."
)
RECORD = (
    RECORD_FILE,
    "The sealed record: inputs, profile, versions of the software, digests of files and cells, and what is needed to "
    "make all this again (`shallows reproduce`) or to hold another beside it (`shallows compare`).",
)
_CONTENTS = (
    ("maps/", "Sheets to print: suitability, threat, where the two meet, and what limits the habitat."),
    (
        "rasters/",
        "Cloud-optimised GeoTIFFs: scores and classes here, each factor's index and each pressure's exposure in "
        "parts/, the layers they come from in layers/. Scores are rounded to 12 bits of mantissa (four digits). "
        "Colours of classes are inside; those of numbers lie beside, as .sld and .qml styles.",
    ),
    ("results.nc", "All of that in one NetCDF file after the CF conventions, unrounded."),
    ("zones.gpkg", "GeoPackage: the site's zones with their hectares, and the classes of concern as polygons."),
    ("tables/hectares_by_class.csv", "Area and habitat units (suitability times area) of each class."),
    ("tables/hectares_by_zone.csv", "The same in each zone, where the site has zones."),
    ("tables/layers.csv", "What each layer holds, how it was made and from which files."),
    ("tables/outlet_loads.csv", "Runoff and loads at the outlets of the catchment with the published range, if any."),
    ("tables/pressures.csv", "Pressures in order of the habitat they weigh on."),
    ("site.toml, profile.toml", "The site file, copied, and the profile the map was made with."),
    RECORD,
)


def readme_text(found: SiteMap) -> str:
    """What is what, what to mind, and whose data it is."""
    site, profile = found.inputs.site, found.profile
    grid = site.grid
    lines = [site.title, "=" * len(site.title), ""]
    if site.invented:
        lines += ["INVENTED SITE - not a real place.", ""]
    author = site.author or "an author not named"
    of_whom = f'Maps of habitat and threat, by {author}, with the profile "{profile.title}" ({profile.source}).'
    lines += [
        fill(of_whom, 100),
        fill(f"{grid.shape[0]} x {grid.shape[1]} cells of {grid.cell:g} m, {grid.crs.name}.", 100),
        "",
        fill(CAUTION, 100),
        "",
        "What is what",
        "------------",
        *(_paragraph(name, words) for name, words in _CONTENTS),
        "",
        "What to mind",
        "------------",
        *(fill(f"- {remark}", 100, subsequent_indent="  ") for remark in _remarks(found)),
        "",
        "Data, licences and credits",
        "--------------------------",
    ]
    for entry in site.files:
        withheld = " Its records are withheld." if entry.sensitive else ""
        date = f", {entry.date}" if entry.date else ""
        words = f"{entry.source}{date}. Licence: {entry.licence}. Credit: {entry.credit}.{withheld}"
        lines.append(_paragraph(entry.path.name, words))
    return "\n".join(lines) + "\n"


def site_attributes(found: SiteMap) -> dict[str, str]:
    """What a file of all layers says of the whole, under the names CF recommends."""
    site = found.inputs.site
    files = [entry for entry in site.files if not entry.sensitive]
    attributes = {
        "title": f"{site.title}: habitat suitability and threat",
        "institution": site.author,
        "source": "; ".join(dict.fromkeys(entry.source for entry in files)),
        "history": f"Derived from {', '.join(entry.path.name for entry in files)} by Shallows {__version__}",
        "references": f"Profile: {found.profile.title}. {found.profile.source}",
        "comment": ("INVENTED SITE - not a real place. " if site.invented else "") + CAUTION,
        "licence": "; ".join(dict.fromkeys(f"{entry.licence} ({entry.credit})" for entry in files)),
    }
    return attributes


def _remarks(found: SiteMap) -> list[str]:
    """What a person should know; a remark on a sensitive file could give a place away."""
    secret = [entry.path.name for entry in found.inputs.site.files if entry.sensitive]
    said = [*found.inputs.remarks, *found.disagreements]
    open_ones = [remark for remark in said if not any(name in remark for name in secret)]
    if len(open_ones) < len(said):
        open_ones.append(f"{len(said) - len(open_ones)} remarks on sensitive files are shown by `shallows check` only.")
    return open_ones or ["No remark was made on the data."]


def _paragraph(name: str, words: str) -> str:
    return f"{name}\n{fill(words, 100, initial_indent='    ', subsequent_indent='    ')}"
