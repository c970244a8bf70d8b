"""All layers as one NetCDF file that follows the CF conventions, for analysis and archives.

Seasons are labels without a time, so they are a string-valued auxiliary coordinate (CF 6.1), `season_name`.
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from pathlib import Path

import numpy as np
import xarray as xr

from layers.atomic import whole_file

CONVENTIONS = "CF-1.11"
CHUNK = 512  # cells a side of a chunk, 1 MB of float32
_NOT_A_FLAG = re.compile(r"[^A-Za-z0-9_.+@-]")  # characters CF 3.5 does not allow in a flag meaning


def write_netcdf(
    dataset: xr.Dataset, path: str | Path, *, attributes: Mapping[str, str], replace: bool = False
) -> None:
    """Write the layers of one grid.

    Parameters
    ----------
    dataset : Dataset
        Layers (y, x) or (season, y, x), float32 or uint8.
    path : path
        Of the file to write.
    attributes : mapping of str
        Facts on the whole; CF recommends `title`, `institution`, `source`, `history`, `references`, `comment`.
    replace : bool
        Whether an existing file may be replaced.

    Raises
    ------
    RecordError
        If the file exists and is not to be replaced.
    """
    plain = xr.Dataset({name: _plain(layer) for name, layer in dataset.data_vars.items()})
    if "season" in plain.coords:
        labels = plain["season"].values.astype(str)
        plain = plain.drop_vars("season").assign_coords(season_name=("season", labels, {"long_name": "season"}))
    plain.attrs = {"Conventions": CONVENTIONS, **attributes}
    with whole_file(path, replace=replace) as unfinished:
        plain.to_netcdf(unfinished, engine="h5netcdf", encoding=_encoding(plain))


def _plain(layer: xr.DataArray) -> xr.DataArray:
    """The layer with attributes that NetCDF can hold and CF knows."""
    plain = layer.copy(deep=False)
    plain.attrs = {key: value for key, value in layer.attrs.items() if value not in ("", None)}
    if plain.attrs.get("units") == "degree_Celsius":
        plain.attrs["units_metadata"] = "temperature: on_scale"  # CF 3.1.2: no difference of temperatures
    if "flag_meanings" in plain.attrs:
        words = plain.attrs["flag_meanings"].split()
        plain.attrs["flag_meanings"] = " ".join(_NOT_A_FLAG.sub("", word) for word in words)
        plain.attrs["flag_values"] = np.arange(len(words), dtype=np.int8)
    # bytes without a sign are newer than most readers of CF
    return plain.astype(np.int8, keep_attrs=True) if layer.dtype == np.uint8 else plain


def _encoding(dataset: xr.Dataset) -> dict[str, dict]:
    encoding: dict[str, dict] = {name: {"_FillValue": None} for name in ("x", "y")}
    if "season_name" in dataset.coords:
        encoding["season_name"] = {"dtype": "S1", "char_dim_name": "season_name_length"}
    for name, layer in dataset.data_vars.items():
        chunks = [1] * (layer.ndim - 2) + [min(size, CHUNK) for size in layer.shape[-2:]]
        encoding[name] = {
            "zlib": True,
            "complevel": 1,
            "shuffle": True,
            "chunksizes": tuple(chunks),
            "grid_mapping": "spatial_ref",
            "_FillValue": np.float32(np.nan) if layer.dtype.kind == "f" else None,
        }
    return encoding
