"""Everything the files of a site hold, read onto its grid and into its projection.

All files are looked at before anything is refused, so a person mends a site in one round.
"""

from __future__ import annotations

import hashlib
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import TYPE_CHECKING

from layers.fault import Fault, LayerError
from layers.feeds import FEEDS
from layers.site import FileEntry, Site, parse_site, site_path
from layers.step import OnStep, Step, ignore

if TYPE_CHECKING:
    import geopandas as gpd
    import pandas as pd
    import xarray as xr


@dataclass(frozen=True, kw_only=True)
class Inputs:
    """The content of a site's files, each under the name of its entry."""

    site: Site
    rasters: dict[str, xr.DataArray]  # on the site's grid
    features: dict[str, gpd.GeoDataFrame]  # in the grid's projection
    tables: dict[str, pd.DataFrame]  # series and plain tables
    remarks: tuple[str, ...]  # what a person should know and need not mend
    digests: dict[str, str] = field(repr=False)  # SHA-256 of each file

    def having(self, feeds: str) -> tuple[FileEntry, ...]:
        """The entries that feed `feeds`."""
        return self.site.feeding(feeds)


def read_inputs(place: str | Path, *, cell: float | None = None, on_step: OnStep = ignore) -> Inputs:
    """All that the site at `place` holds.

    Parameters
    ----------
    place : path
        A site file or the folder it lies in.
    cell : float, optional
        Size of the grid's cells instead of the site file's. [m]
    on_step : callable
        Told of each file before it is read.

    Raises
    ------
    LayerError
        With every fault of the site file and of every file it names.
    """
    path = site_path(place)
    faults: list[Fault] = []
    remarks: list[str] = []
    site = parse_site(path, faults, cell=cell)
    if site is None:
        raise LayerError(path.name, faults)
    rasters, features, tables, digests = {}, {}, {}, {}
    for number, entry in enumerate(site.files, start=1):
        on_step(Step(number, len(site.files), f"reading {entry.path.name}"))
        shelf, content = _read(entry, site, faults, remarks)
        if content is not None:
            {"raster": rasters, "features": features, "table": tables}[shelf][entry.name] = content
            digests[entry.name] = file_digest(entry.path)
    if faults:
        raise LayerError(path.name, faults)
    return Inputs(site=site, rasters=rasters, features=features, tables=tables, remarks=tuple(remarks), digests=digests)


def file_digest(path: Path) -> str:
    """SHA-256 of a file's bytes, in hexadecimal digits; of all the files of a data set that is a folder."""
    if path.is_dir():
        digests = [
            f"{part.relative_to(path)} {file_digest(part)}" for part in sorted(path.rglob("*")) if part.is_file()
        ]
        return hashlib.sha256("\n".join(digests).encode()).hexdigest()
    with path.open("rb") as stream:
        return hashlib.file_digest(stream, "sha256").hexdigest()


def _read(entry: FileEntry, site: Site, faults: list[Fault], remarks: list[str]) -> tuple[str, object]:
    # readers bring GDAL with them: imported only when a file is really read
    from layers.raster import read_raster
    from layers.stations import read_points, read_series, read_soundings
    from layers.tide import read_tide
    from layers.vector import read_features
    from layers.wind import read_wind

    feed = FEEDS[entry.feeds]
    if feed.on == "catchment":
        if site.catchment is None:
            return "raster", None  # a fault of the site file, told there
        site = replace(site, grid=site.catchment.grid)
    if entry.is_raster:
        return "raster", read_raster(entry, site, feed.quantity, faults, default_rule=feed.rule, remarks=remarks)
    if feed.forms == ("series",):
        return "table", read_series(entry, site, feed.quantity, faults, remarks=remarks)
    if feed.name == "tide":
        return "table", read_tide(entry, faults, remarks)
    if feed.name == "wind":
        return "table", read_wind(entry, faults)
    if feed.name in ("cover_table", "soil_table"):
        from layers.code_table import read_cover_table, read_soil_table

        return "table", (read_cover_table if feed.name == "cover_table" else read_soil_table)(entry, site, faults)
    if feed.name in ("conductivity", "specific_conductance"):
        from layers.conductivity import read_conductivity, read_specific_conductance

        read = read_conductivity if feed.name == "conductivity" else read_specific_conductance
        return "features", read(entry, site, faults, remarks)
    if feed.name == "vessel_fix":
        from layers.fix_table import read_fixes

        return "features", read_fixes(entry, site, faults, remarks)
    if feed.name == "sighting":
        from layers.sightings import read_sightings

        return "features", read_sightings(entry, site, faults, remarks=remarks)
    if feed.name == "survey_track":
        from layers.sighting_effort import read_tracks

        return "features", read_tracks(entry, site, faults, remarks=remarks)
    if feed.name == "sounding":
        return "features", read_soundings(entry, site, faults, remarks=remarks)
    if feed.quantity is not None and "points" in feed.forms:
        points = read_points(entry, site, feed.quantity, faults, remarks=remarks)
        if feed.name == "salinity" and points is not None:
            from layers.conductivity import remark_salinities

            remark_salinities(points, entry, remarks)
        return "features", points
    kinds = {"points": "Point", "lines": "LineString", "polygons": "Polygon"}
    wanted = frozenset(kinds[form] for form in feed.forms if form in kinds)
    table = read_features(entry, site, faults, kinds=wanted, quantity=feed.quantity, remarks=remarks)
    if feed.name == "dredge_work" and table is not None:
        from layers.dredge_work import works_of

        works_of(table, entry, site, faults)  # its attributes are looked at in the same round as all else
    if entry.draft is not None and table is not None:
        from layers.draft import check_drafts

        check_drafts(table, entry, faults)
    return "features", table
