"""What `record.toml` says of a map: its inputs, the steps that made each layer, its results, the software."""

from __future__ import annotations

import platform
import tomllib
from collections.abc import Iterable, Mapping
from importlib.metadata import PackageNotFoundError, version
from pathlib import Path
from typing import TYPE_CHECKING

from habitat.record_cells import cells_digest
from habitat.record_members import digest_of
from habitat.record_schema import GridCells, GridTable, InputTable, PartTable, StepTable
from layers import __version__
from layers.fault import Fault, RecordError
from layers.feeds import FEEDS
from layers.inputs import file_digest
from layers.quantity import LAYERS

if TYPE_CHECKING:
    import xarray as xr

    from habitat.site_map import SiteMap
    from layers.derivation import Derivation
    from layers.site import FileEntry

LARGEST_INPUT = 50_000_000  # bytes; a larger file is named with its digest and left out
SENSITIVE = "sensitive"
_LIBRARIES = (
    *("numpy", "scipy", "numba", "llvmlite", "xarray", "pandas", "geopandas", "shapely", "rasterio", "pyproj"),
    *("pyogrio", "affine", "odc-geo", "gsw", "gstools", "pyflwdir", "utide", "dask", "pydantic", "tomlkit"),
)
# what formats keep beside the file that is named: the parts of a shapefile, georeference, statistics, masks
_OF_SHAPEFILE = (".shx", ".dbf", ".prj", ".cpg")
_BESIDE = (".tfw", ".wld", ".prj", ".hdr", ".aux")
_AFTER = (".aux.xml", ".msk", ".ovr")
_POINTING = (".vrt", ".mbtiles", ".wms", ".wmts")  # formats that name other files or addresses


def software() -> dict[str, str]:
    """Versions of this project, of Python, of the libraries and of those in C that they bring along."""
    import pyproj
    import rasterio
    import shapely

    found = {"shallows": __version__, "python": platform.python_version()}
    for name in _LIBRARIES:
        try:
            found[name] = version(name)
        except PackageNotFoundError:
            continue
    geos = ".".join(map(str, shapely.geos_version))
    return {**found, "GDAL": rasterio.__gdal_version__, "PROJ": pyproj.proj_version_str, "GEOS": geos}


def machine() -> dict[str, str]:
    """The family of the processor and the system: what compiled arithmetic may depend on."""
    import llvmlite.binding

    return {
        "family": platform.machine(),
        "processor": llvmlite.binding.get_host_cpu_name(),
        "system": platform.system(),
    }


def grid_table(found: SiteMap) -> GridTable:
    """The grid of a map."""
    grid = found.inputs.site.grid
    return GridTable(
        crs=grid.crs.to_string(),
        bounds=[float(edge) for edge in grid.bounds],
        cell=float(grid.cell),
        rows=grid.shape[0],
        columns=grid.shape[1],
        seasons=list(found.inputs.site.seasons),
    )


def input_tables(found: SiteMap, *, largest: int = LARGEST_INPUT) -> list[InputTable]:
    """Every entry of the site file, with the digest of its file and whether it goes into the record.

    Raises
    ------
    RecordError
        If a file is not what it was when the map was made.
    """
    folder = found.inputs.site.path.parent
    own = _own_entries(found)
    # where animals were seen is withheld whatever the site file says
    secret = {entry.path for entry in own if entry.sensitive or FEEDS[entry.feeds].sensitive}
    tables, changed = [], []
    for entry in own:
        if not entry.path.exists() or file_digest(entry.path) != found.inputs.digests[entry.name]:
            said = "it was changed or moved since it was read, so the record would not be of this map."
            changed.append(Fault(entry.path.name, said, "Make the map again."))
            continue
        parts = [
            PartTable(file=part.relative_to(folder).as_posix(), bytes=part.stat().st_size, sha256=digest_of(part))
            for part in companions(entry.path)
        ]
        tables.append(
            InputTable(
                name=entry.name,
                file=entry.path.relative_to(folder).as_posix(),
                feeds=entry.feeds,
                sensitive=entry.path in secret,
                withheld=_why_withheld(entry, parts, entry.path in secret, largest),
                source=entry.source,
                licence=entry.licence,
                credit=entry.credit,
                date=entry.date or "",
                sha256=found.inputs.digests[entry.name],
                parts=parts,
            )
        )
    if changed:
        raise RecordError("record", changed)
    return tables


def companions(path: Path) -> list[Path]:
    """A file and those that its format keeps beside it; all files of a data set that is a folder."""
    if path.is_dir():
        return sorted(part for part in path.rglob("*") if part.is_file() and not part.is_symlink())
    beside = _OF_SHAPEFILE if path.suffix.lower() == ".shp" else _BESIDE
    names = [*(path.with_suffix(suffix) for suffix in beside), *(path.with_name(path.name + end) for end in _AFTER)]
    return [path, *(name for name in names if name.is_file() and name != path)]


def step_tables(derivation: Derivation, rasters: Mapping[str, str], only: Iterable[str]) -> list[StepTable]:
    """How each layer was made, those it was made from before it.

    Parameters
    ----------
    rasters : mapping of str
        Member that holds the cells of a layer, by its name.
    only : names of layers
        Those to tell of: looking at a map may have made others since.
    """
    made, chosen = derivation.made, set(only)
    return [_step(derivation, name, made[name], rasters) for name in in_order(derivation) if name in chosen]


def in_order(derivation: Derivation) -> list[str]:
    """Names of the layers made, each after all that it is made from."""
    made, order = derivation.made, {}

    def visit(name: str) -> None:
        if name not in order:
            for parent in made:
                if parent != name and parent in derivation.trace(name).layers:
                    visit(parent)
            order[name] = None

    for name in made:
        visit(name)
    return list(order)


def result_tables(assessment: xr.Dataset, rasters: Mapping[str, str]) -> list[GridCells]:
    """Every variable of an assessment with the digest of its cells."""
    return [GridCells(**_cells(name, layer, rasters)) for name, layer in assessment.data_vars.items()]


def _own_entries(found: SiteMap) -> list[FileEntry]:
    """The entries of the site file, without those that proposals have put beside them."""
    named = tomllib.loads(found.inputs.site.path.read_text(encoding="utf-8-sig"))["files"]
    return [entry for entry in found.inputs.site.files if entry.name in named]


def _step(derivation: Derivation, name: str, layer: xr.DataArray, rasters: Mapping[str, str]) -> StepTable:
    trace = derivation.trace(name)
    return StepTable(
        **_cells(name, layer, rasters),
        function=layer.attrs["function"],
        method=layer.attrs.get("method", ""),
        units=LAYERS[name].units,
        numbers=[f"{key} = {shown}" for key, shown in sorted(trace.numbers.items())],
        feeds=sorted(trace.feeds),
        files=[file for file in layer.attrs.get("files", "").split("; ") if file],
        parents=sorted(trace.layers & set(derivation.made)),
    )


def _cells(name: str, layer: xr.DataArray, rasters: Mapping[str, str]) -> dict:
    return {
        "name": name,
        "type": layer.dtype.name,
        "shape": list(layer.shape),
        "sha256": cells_digest(layer),
        "raster": rasters.get(name, ""),
    }


def _why_withheld(entry: FileEntry, parts: list[PartTable], is_secret: bool, largest: int) -> str:
    if is_secret:
        return SENSITIVE
    if entry.path.suffix.lower() in _POINTING:
        return "it points to other files"
    size = sum(part.bytes for part in parts)
    return f"larger than {largest:,} bytes" if size > largest else ""
