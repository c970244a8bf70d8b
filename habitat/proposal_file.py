"""The features of a proposal's file, of any format and in any number of layers, in the projection of the site."""

from __future__ import annotations

import warnings
import zipfile
from pathlib import Path

import geopandas as gpd
import numpy as np
import pandas as pd
import shapely

from layers.fault import Fault
from layers.place import elsewhere, misplacement, slipped
from layers.site import Site

LARGEST = 200_000_000  # bytes
MOST_VERTICES = 100_000
PLACE = "where it stands"  # column that says where in the file a feature stands
SLIP = "likely slip"  # column with what to do about coordinates that lie outside, where a slip explains them
ARCHIVES, IN_ARCHIVES = (".zip", ".kmz"), (".shp", ".gpkg", ".geojson", ".json", ".kml", ".fgb", ".gml")
UNKNOWN = "the file cannot be opened: it is cut short, damaged, or of an unknown format."
EXPORT = "Export it as GeoPackage, GeoJSON, KML or a zipped shapefile."
# columns that the reader of KML adds by itself
_OF_KML = ("id", "description", "timestamp", "begin", "end", "altitudemode", "tessellate", "extrude", "visibility")
OF_FORMATS = frozenset({*_OF_KML, "draworder", "icon", "snippet", "fid"})


def read_frame(path: Path, site: Site, faults: list[Fault]) -> gpd.GeoDataFrame | None:
    """All features of the file at `path`, in the grid's projection; None with a fault.

    Returns
    -------
    GeoDataFrame or None
        The columns of the file in small letters and `place`, which names the feature for a person; index from 1.
    """
    fault = unfit(path)
    if fault:
        faults.append(fault)
        return None
    frames = _layers(path, faults)
    if not frames:
        return None
    several = len(frames) > 1
    for name, frame in frames:
        layer = f', layer "{name}"' if several else ""
        frame[PLACE] = [f"{path.name}{layer}, feature {number}" for number in range(1, len(frame) + 1)]
    projected = [projected_frame(frame, path.name, site, faults) for _, frame in frames]
    if any(frame is None for frame in projected):
        return None
    whole = pd.concat(projected, ignore_index=True)
    whole.index = np.arange(1, len(whole) + 1)
    return whole


def projected_frame(frame: gpd.GeoDataFrame, name: str, site: Site, faults: list[Fault]) -> gpd.GeoDataFrame | None:
    """A table of features in the grid's projection, heights dropped; None with a fault where it lies elsewhere."""
    frame = _in_small_letters(frame.set_geometry(shapely.force_2d(frame.geometry.array), crs=frame.crs))
    vertices = int(shapely.get_num_coordinates(frame.geometry.array).sum())
    if vertices > MOST_VERTICES:
        found = f"the shapes have {vertices:,} vertices, and {MOST_VERTICES:,} are the most that are taken."
        faults.append(Fault(name, found, "Simplify the outlines, for example to 1 m; a drawing needs no more."))
        return None
    if frame.crs is None:
        found = "the file does not say in which CRS its coordinates are."
        faults.append(
            Fault(name, found, "Set it in a GIS and export the file again, or send it as GeoJSON in degrees.")
        )
        return None
    if np.isfinite(frame.total_bounds).all():
        grids = [site.grid] + ([site.catchment.grid] if site.catchment else [])
        bounds = tuple(frame.total_bounds)
        misplaced = [misplacement(name, bounds, frame.crs, grid) for grid in grids]
        # where nothing explains it, how far each feature lies outside is told with the others of its faults
        if all(misplaced) and misplaced[0] != elsewhere(name, bounds, frame.crs, site.grid):
            faults.append(misplaced[0])
            return None
    projected = frame.to_crs(site.grid.crs)
    projected[SLIP] = _slips(frame, projected, site)
    return projected


def _slips(frame: gpd.GeoDataFrame, projected: gpd.GeoDataFrame, site: Site) -> list[str | None]:
    """What would bring each feature that lies outside into the site, by its first vertex; None elsewhere."""
    box = shapely.box(*site.grid.bounds)
    slips = []
    for shape, there in zip(frame.geometry, projected.geometry, strict=True):
        if shape is None or shape.is_empty or there.intersects(box):
            slips.append(None)
            continue
        x, y = shapely.get_coordinates(shape)[:1].T
        explained = slipped(x, y, frame.crs, site.grid)
        told = f"It seems that {explained[0].found}: with that mended, it would lie in the site." if explained else None
        slips.append(told)
    return slips


def unfit(path: Path) -> Fault | None:
    """The fault of a file that is not to be opened at all, such as one above `LARGEST`; None of any other."""
    if not path.exists():
        return Fault(path.name, "there is no such file.", "Correct the name.")
    if path.is_dir():
        return Fault(path.name, "this is a folder.", "Name a file in it.")
    size = path.stat().st_size
    if size == 0:
        return Fault(path.name, "the file is empty (0 bytes).", "Copy or export it again.")
    unpacked = size
    if zipfile.is_zipfile(path):
        with zipfile.ZipFile(path) as archive:
            unpacked = max(size, sum(member.file_size for member in archive.infolist()))
    if unpacked > LARGEST:
        found = f"the file is {unpacked / 1e6:,.0f} MB large, and {LARGEST / 1e6:,.0f} MB are the most that is read."
        return Fault(path.name, found, "Keep only the features of the proposal in it.")
    return None


def _layers(path: Path, faults: list[Fault]) -> list[tuple[str, gpd.GeoDataFrame]]:
    """The layers that have geometry and features, each whole and under its name; none with a fault."""
    import pyogrio
    from pyogrio.errors import DataLayerError, DataSourceError, FeatureError, FieldError, GeometryError

    failures = (DataSourceError, DataLayerError, FeatureError, FieldError, GeometryError, RuntimeError, ValueError)
    sources = _sources(path, faults)
    if not sources:
        return []
    names, frames = [], []
    with warnings.catch_warnings(record=True) as said:
        warnings.simplefilter("always")
        try:
            for source in sources:
                names += [(source, str(name)) for name, shape in pyogrio.list_layers(source) if shape is not None]
        except failures:
            faults.append(Fault(path.name, UNKNOWN, EXPORT))
            return []
        try:
            for source, name in names:
                frame = pyogrio.read_dataframe(source, layer=name)
                expected = pyogrio.read_info(source, layer=name, force_feature_count=True)["features"]
                if expected != len(frame):
                    raise ValueError("features are missing")
                if isinstance(frame, gpd.GeoDataFrame) and len(frame):
                    frames.append((name, frame))
        except failures:
            faults.append(_damaged(path))
            return []
    if any("corrupt" in str(line.message) or "malformed" in str(line.message) for line in said):
        faults.append(_damaged(path))
        return []
    if not names:
        faults.append(Fault(path.name, "no layer of the file has geometry.", "Export a layer that was drawn."))
    elif not frames:
        faults.append(Fault(path.name, "the file holds no features.", "Draw what is proposed, and export it again."))
    return frames


def _sources(path: Path, faults: list[Fault]) -> list[str]:
    """What to open: the file itself, or each vector file in an archive, in any folder of it; none with a fault."""
    if path.suffix.lower() not in ARCHIVES:
        beside = [one.name.casefold() for one in path.parent.iterdir()] if path.suffix.lower() == ".shp" else []
        return _whole_shapefiles(path.name, [path.name], beside, faults) and [str(path)]
    if not zipfile.is_zipfile(path):
        faults.append(Fault(path.name, UNKNOWN, EXPORT))
        return []
    with zipfile.ZipFile(path) as archive:
        every = [name for name in archive.namelist() if not name.startswith("__MACOSX") and "/._" not in f"/{name}"]
    members = sorted(name for name in every if Path(name).suffix.lower() in IN_ARCHIVES)
    if not members:
        held = ", ".join(every[:5]) or "nothing"
        faults.append(Fault(path.name, f"the archive holds no vector file; it holds {held}.", EXPORT))
    whole = _whole_shapefiles(path.name, members, [name.casefold() for name in every], faults)
    return [f"/vsizip/{path}/{member}" for member in whole]


def _whole_shapefiles(name: str, members: list[str], every: list[str], faults: list[Fault]) -> list[str]:
    """`members`, or none with a fault for each shapefile that lacks one of its files."""
    before = len(faults)
    for member in (one for one in members if one.lower().endswith(".shp")):
        lacking = [ending for ending in (".shx", ".dbf") if member[:-4].casefold() + ending not in every]
        if lacking:
            found = f"the shapefile {Path(member).name} lacks its {' and '.join(lacking)}."
            faults.append(Fault(name, found, "Send all its files, best as one zip."))
    return members if len(faults) == before else []


def _damaged(path: Path) -> Fault:
    found = "the file opens, but its features cannot all be read: it is cut short or damaged."
    return Fault(path.name, found, "Copy or export it again.")


def _in_small_letters(frame: gpd.GeoDataFrame) -> gpd.GeoDataFrame:
    """`frame` with its columns in small letters, the first of those that then are the same, and its shapes last."""
    shapes = frame.geometry
    columns = {}
    for column in frame.columns:
        if column != frame.geometry.name:
            columns.setdefault(str(column).strip().casefold(), frame[column].astype(object))
    columns.pop("geometry", None)
    return gpd.GeoDataFrame(columns, geometry=shapes, crs=frame.crs)
