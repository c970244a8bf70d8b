"""A data file as the site file names it: is it there, and what kind of file is it?"""

from __future__ import annotations

import warnings
from pathlib import Path

from layers.fault import Fault
from layers.site import FileEntry, Site

TABLE_ENDINGS = (".csv", ".txt", ".tsv")


def key(entry: FileEntry, name: str) -> str:
    """Where a key of an entry stands in the site file, such as `files.bed.units`."""
    return f"files.{entry.name}.{name}"


def absence(entry: FileEntry, site: Site | None = None) -> Fault | None:
    """The fault of a file that is not there, is a folder or holds nothing; None where all is well."""
    shown = shown_path(entry, site)
    if not entry.path.exists():
        near = sorted(p.name for p in entry.path.parent.glob("*") if p.suffix == entry.path.suffix)[:5]
        there = f" Files of that kind there: {', '.join(near)}." if near else ""
        return Fault(key(entry, "file"), f'there is no file "{shown}".', f"Correct the name or add the file.{there}")
    if entry.path.is_dir() and entry.path.suffix.lower() not in (".gdb", ".zarr"):
        return Fault(key(entry, "file"), f'"{shown}" is a folder.', "Name a file in it.")
    if entry.path.is_file() and entry.path.stat().st_size == 0:
        return Fault(entry.path.name, "the file is empty (0 bytes).", "Copy or export it again.")
    return None


def shown_path(entry: FileEntry, site: Site | None) -> str:
    """The path relative to the site's folder where it lies in it, else the file's name."""
    folder = entry.path.parent if site is None else site.path.parent
    return entry.path.relative_to(folder).as_posix() if entry.path.is_relative_to(folder) else str(entry.path)


def is_table(path: Path) -> bool:
    """True for a text table by its ending."""
    return path.suffix.lower() in TABLE_ENDINGS


def kind(path: Path) -> str | None:
    """ "raster", "vector", "table", or None where nothing can open the file."""
    import pyogrio
    import rasterio

    if is_table(path):
        return "table"
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")  # here only the kind is asked; the readers look at warnings
        try:
            with rasterio.open(path) as raster:
                if raster.count or raster.subdatasets:
                    return "raster"
        except rasterio.errors.RasterioIOError:
            pass
        try:
            return "vector" if len(pyogrio.list_layers(path)) else None
        except pyogrio.errors.DataSourceError:
            return None
