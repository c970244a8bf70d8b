"""Small real files of every format the readers take, and the entries of a site file that name them."""

from __future__ import annotations

import tomllib
import warnings
from pathlib import Path

import geopandas
import numpy as np
import rasterio
from affine import Affine
from rasterio.errors import NotGeoreferencedWarning

from layers.grid import Grid
from layers.site import FileEntry, Site

CRS = "EPSG:32745"
GRID = Grid.from_bounds(CRS, 500_000, 7_770_000, 500_200, 7_770_150, 50)  # 3 rows, 4 columns
WEST_OF_GREENWICH = Grid.from_bounds("EPSG:32617", 500_000, 3_000_000, 500_200, 3_000_150, 50)


def site_in(folder: Path, grid: Grid = GRID) -> Site:
    """A site whose file would lie in `folder`."""
    return Site(
        path=folder / "site.toml",
        title="Test",
        author="The testers",
        invented=True,
        grid=grid,
        seasons={},
        decided_by=None,
        datums={},
        files=(),
        reach={},
        amounts={},
        open_edges=(),
        catchment=None,
    )


def entry_for(path: Path, **keys: object) -> FileEntry:
    """The table `[files.data]` that names `path`."""
    known = {"name": "data", "feeds": "bed_elevation", "source": "made up", "licence": "CC0-1.0", "credit": "nobody"}
    return FileEntry(**(known | {"path": path} | keys))


def write_raster(
    path: Path, values: object, *, west=500_000.0, north=7_770_150.0, cell=50.0, **profile: object
) -> Path:
    """A GeoTIFF of one band, or of several if `values` has three dimensions."""
    bands = np.atleast_3d(np.asarray(values)) if np.ndim(values) == 2 else np.moveaxis(np.asarray(values), 0, -1)
    form = {
        "driver": "GTiff",
        "dtype": bands.dtype.name,
        "crs": CRS,
        "transform": Affine(cell, 0, west, 0, -cell, north),
    }
    form |= {"height": bands.shape[0], "width": bands.shape[1], "count": bands.shape[2]}
    with warnings.catch_warnings():
        warnings.simplefilter("ignore", NotGeoreferencedWarning)  # some files are to be so
        with rasterio.open(path, "w", **(form | profile)) as target:
            target.write(np.moveaxis(bands, -1, 0))
    return path


def write_shapes(path: Path, shapes: list, crs: str | None = CRS, layer: str | None = None, **columns: list) -> Path:
    """A vector file in the format of its suffix."""
    frame = geopandas.GeoDataFrame(columns, geometry=shapes, crs=crs)
    with warnings.catch_warnings():
        warnings.filterwarnings("ignore", "'crs' was not provided")  # some files are to be so
        driver = "KML" if path.suffix == ".kml" else None  # the other driver of that suffix writes a folder
        frame.to_file(path, driver=driver, **({"layer": layer} if layer else {}))
    return path


def write_text(path: Path, text: str | bytes) -> Path:
    """A text file, written as it stands."""
    path.write_bytes(text if isinstance(text, bytes) else text.encode())
    return path


def sentences(part: str) -> dict[str, list[str]]:
    """What a person reads for each kind of bad file: one part of `tests/layers/faults.toml`."""
    with (Path(__file__).parent / "layers" / "faults.toml").open("rb") as stream:
        return tomllib.load(stream)[part]
