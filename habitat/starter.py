"""A commented site to start from, and the invented one to learn on."""

from __future__ import annotations

import math
from pathlib import Path

from habitat.site_map import PROFILE_FILE
from layers.fault import Fault, RecordError
from layers.site import SITE_FILE
from layers.step import OnStep, ignore

_HERE = Path(__file__).parent
_OPEN_GRID = """# crs = "EPSG:32755"           # a projection in metres, for example the UTM zone
# west = 500000
# south = 7180000
# east = 520000
# north = 7200000
# cell = 50                     # side of a cell, m"""


def write_starter(
    folder: Path, *, profile: str = "marine_seagrass_grazer", around: Path | None = None, cell: float | None = None
) -> tuple[Path, Path]:
    """Write `site.toml` and `profile.toml` into `folder`, to be filled in.

    Parameters
    ----------
    folder : path
        Made if it is not there; its other files are left alone.
    profile : str
        Name of the shipped profile to copy.
    around : path, optional
        A raster or vector file whose extent the grid takes, in the UTM zone of its middle.
    cell : float, optional
        Side of a cell, needed with `around`. [m]

    Raises
    ------
    RecordError
        If either file is there already, a file stands where the folder would, or no grid can be laid around a file.
    ProfileError
        If no profile of that name is shipped.
    """
    from habitat.profile import read_profile, shipped_profiles

    written = folder / SITE_FILE, folder / PROFILE_FILE
    faults = [
        Fault(path.name, "the file is there already.", "Choose another folder, or move the file away.")
        for path in written
        if path.exists()
    ]
    faults += [
        Fault(str(part), "a file has this name.", "Choose another folder.")
        for part in (folder, *folder.parents)
        if part.exists() and not part.is_dir()
    ]
    if cell is not None and around is None:
        remedy = "Name it with --around, or write the cell into the site file."
        faults.append(Fault("--cell", "there is no file to lay a grid around.", remedy))
    shipped = shipped_profiles()
    if profile not in shipped:
        faults.append(Fault("--profile", f'"{profile}" is not shipped.', f"Known: {', '.join(shipped)}."))
    grid = _OPEN_GRID if around is None else _grid_around(around, cell, faults)
    if faults:
        raise RecordError(str(folder), faults)
    folder.mkdir(parents=True, exist_ok=True)
    title = folder.resolve().name.replace("_", " ").replace('"', "").capitalize()
    template = (_HERE / "starter_site.toml").read_text(encoding="utf-8")
    written[0].write_text(template.format(title=title, grid=grid), encoding="utf-8")
    written[1].write_text(read_profile(profile).text, encoding="utf-8")
    return written


def write_invented_site(folder: Path, *, cell: float = 40.0, on_step: OnStep = ignore) -> Path:
    """Write the invented site and the profile to read it with; returns the path of its site file."""
    from habitat.profile import read_profile
    from layers.demo import write_demo

    path = write_demo(folder, cell=cell, on_step=on_step)
    (path.parent / PROFILE_FILE).write_text(read_profile("marine_seagrass_grazer").text, encoding="utf-8")
    return path


def _grid_around(file: Path, cell: float | None, faults: list[Fault]) -> str:
    if cell is None or not cell > 0:
        faults.append(Fault("--cell", "no cell size is given.", "Give the side of a cell in metres, above 0."))
        return ""
    outline = _outline(file, faults)
    if outline is None:
        return ""
    zone = outline.estimate_utm_crs()
    west, south, east, north = outline.to_crs(zone).total_bounds
    west, south = (math.floor(edge / cell) * cell for edge in (west, south))
    east, north = (math.ceil(edge / cell) * cell for edge in (east, north))
    return "\n".join(
        [
            f'crs = "{zone.to_string()}"            # {zone.name}',
            *(
                f"{name} = {edge:.10g}"
                for name, edge in zip("west south east north".split(), (west, south, east, north), strict=True)
            ),
            f"cell = {cell:g}                       # side of a cell, m",
        ]
    )


def _outline(file: Path, faults: list[Fault]):
    import geopandas as gpd
    import pyogrio
    import rasterio
    from shapely.geometry import box

    from layers.feeds import is_raster
    from layers.source import is_table

    if not file.exists():
        faults.append(Fault("--around", f'there is no file "{file}".', "Correct the name."))
        return None
    if is_table(file):
        faults.append(Fault("--around", f'"{file.name}" is a table.', "Give a raster or a vector file."))
        return None
    try:
        if is_raster(file.suffix):
            with rasterio.open(file) as source:
                bounds, crs = source.bounds, source.crs
        else:
            about = pyogrio.read_info(file, force_total_bounds=True)
            bounds, crs = about["total_bounds"], about["crs"]
    except (rasterio.errors.RasterioIOError, pyogrio.errors.DataSourceError):
        faults.append(Fault("--around", f'"{file.name}" cannot be read.', "Give a raster or a vector file."))
        return None
    if crs is None:
        faults.append(Fault("--around", f'"{file.name}" has no CRS.', "Assign its CRS in a GIS first."))
        return None
    # many points on the edges, for a straight edge in degrees is a curve in metres
    return gpd.GeoSeries([box(*bounds).segmentize(max(bounds[2] - bounds[0], bounds[3] - bounds[1]) / 50)], crs=crs)
