"""The account of a map: a README for people, a record for machines, and what every file says of the whole.

Neither holds a clock or a path of the machine: the same site and profile give the same account.
"""

from __future__ import annotations

import hashlib
import json
import platform
from importlib.metadata import PackageNotFoundError, version
from pathlib import Path
from textwrap import fill
from typing import TYPE_CHECKING

import numpy as np

from layers import __version__

if TYPE_CHECKING:
    import xarray as xr

    from habitat.site_map import SiteMap

RECORD_FILE = "record.json"
CAUTION = (
    "Screening-level evidence; local law and licensed practice decide. A class is a reading of the data below by the "
    "profile in this folder, not a measurement. No data means no data: it is neither poor habitat nor safe water. "
    "Absence of sightings is not absence of animals, and no file here shows where animals were seen."
)
_LIBRARIES = (
    "numpy",
    "numba",
    "scipy",
    "gsw",
    "gstools",
    "pyflwdir",
    "utide",
    "xarray",
    "rasterio",
    "pyproj",
    "shapely",
    "geopandas",
    "pandas",
    "pyogrio",
    "h5netcdf",
    "h5py",
    "matplotlib",
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
    (RECORD_FILE, "Versions of the software and SHA-256 digests of every input, layer and file."),
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


def record_text(folder: Path, found: SiteMap) -> str:
    """The record of a folder that holds everything else already, as JSON.

    `layers` are digests of the values of each layer, as little-endian bytes in rows from the north-west corner,
    whatever file they are written to.
    """
    site = found.inputs.site
    record = {
        "format": 1,
        "title": site.title,
        "invented": site.invented,
        "software": {"shallows": __version__, "python": platform.python_version(), **_versions()},
        "machine": platform.machine(),
        "grid": {"crs": site.grid.crs.to_string(), "bounds": list(site.grid.bounds), "cell": site.grid.cell},
        "site": _file_digest(folder / "site.toml"),
        "profile": _file_digest(folder / "profile.toml"),
        "inputs": [
            {
                "name": entry.name,
                "file": entry.path.name,
                "feeds": entry.feeds,
                "sha256": found.inputs.digests[entry.name],
                "source": entry.source,
                "licence": entry.licence,
                "credit": entry.credit,
                "date": entry.date,
                "sensitive": entry.sensitive,
            }
            for entry in site.files
        ],
        "layers": {name: _cells_digest(layer) for name, layer in found.layers.data_vars.items()},
        "assessment": {name: _cells_digest(layer) for name, layer in found.assessment.data_vars.items()},
        "files": {
            path.relative_to(folder).as_posix(): _file_digest(path)
            for path in sorted(folder.rglob("*"))
            if path.is_file()
        },
    }
    return json.dumps(record, indent=2, ensure_ascii=False) + "\n"


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


def _versions() -> dict[str, str]:
    found = {}
    for name in _LIBRARIES:
        try:
            found[name] = version(name)
        except PackageNotFoundError:
            continue
    return found


def _file_digest(path: Path) -> str:
    with path.open("rb") as stream:
        return hashlib.file_digest(stream, "sha256").hexdigest()


def _cells_digest(layer: xr.DataArray) -> str:
    values = layer.to_numpy()
    # one bit pattern for no data, whatever arithmetic it came from
    values = np.where(np.isnan(values), np.float32(np.nan), values) if values.dtype.kind == "f" else values
    little = values.astype(values.dtype.newbyteorder("<"), copy=False)
    return hashlib.sha256(np.ascontiguousarray(little)).hexdigest()
