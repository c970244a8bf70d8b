"""A layer as a cloud-optimised GeoTIFF: tiles, overviews, names, units, colours and where it came from.

Deflate is the compression every reader knows. The overviews are made before the file is written, in memory, which
takes half the time of leaving them to the driver.
"""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path
from xml.sax.saxutils import escape

import numpy as np
import rasterio
import xarray as xr
from rasterio.enums import Resampling
from rasterio.io import MemoryFile
from rasterio.shutil import copy

from layers.atomic import whole_file
from layers.grid import Grid

TILE = 512  # side of a tile; the coarsest overview is no larger than one
_OPTIONS = {
    "driver": "COG",
    "COMPRESS": "DEFLATE",
    "LEVEL": 1,  # level 6 takes half as long again for 2 % fewer bytes
    "PREDICTOR": "YES",
    "BLOCKSIZE": TILE,
    "OVERVIEWS": "FORCE_USE_EXISTING",
    "NUM_THREADS": "ALL_CPUS",
    "BIGTIFF": "IF_SAFER",
}


def write_geotiff(
    layer: xr.DataArray,
    path: str | Path,
    *,
    colours: Mapping[int, str] | None = None,
    tags: Mapping[str, str] | None = None,
    mantissa_bits: int | None = None,
    replace: bool = False,
) -> None:
    """Write a layer, one band for each season.

    Parameters
    ----------
    layer : DataArray, (y, x) or (season, y, x), float32 or uint8
        NaN is no data; code 0 is no data where the layer has `flag_meanings`.
    path : path
        Of the file to write. The names of classes go beside it, into a file that ends in `.aux.xml`.
    colours : mapping of code to "#rrggbb", optional
        Colour table of a layer of codes, which the format allows for a single band only.
    tags : mapping of str, optional
        Further facts to keep in the file.
    mantissa_bits : int, optional
        Round floats to so many bits after the leading one, which halves the file: for final results only.
    replace : bool
        Whether an existing file may be replaced.

    Raises
    ------
    RecordError
        If the file exists and is not to be replaced.
    """
    path = Path(path)
    grid = Grid.of(layer)
    bands = layer.values if layer.ndim == 3 else layer.values[None]
    facts = _facts(layer, tags or {})
    if mantissa_bits is not None and bands.dtype == np.float32:
        bands = rounded(bands, mantissa_bits)
        facts["rounding"] = f"{mantissa_bits} bits of mantissa kept, relative error at most 2^-{mantissa_bits + 1}"
    profile = {
        "driver": "GTiff",
        "height": grid.shape[0],
        "width": grid.shape[1],
        "count": len(bands),
        "dtype": bands.dtype,
        "crs": rasterio.crs.CRS.from_wkt(grid.crs.to_wkt()),
        "transform": grid.transform,
        "nodata": _no_data(layer),
    }
    # one memory for all threads of GDAL, small enough for a laptop
    with rasterio.Env(GDAL_CACHEMAX=256), MemoryFile() as memory:
        with memory.open(**profile) as draft:
            draft.write(bands)
            draft.update_tags(AREA_OR_POINT="Area", **facts)
            _describe_bands(draft, layer)
            if colours:
                draft.write_colormap(1, {code: (*_rgb(colour), 255) for code, colour in colours.items()})
            draft.build_overviews(_overview_factors(grid.shape), _resampling(bands))
        with memory.open() as draft, whole_file(path, replace=replace) as unfinished:
            copy(draft, unfinished, **_OPTIONS)
    if "flag_meanings" in layer.attrs:
        with whole_file(path.with_name(path.name + ".aux.xml"), replace=replace) as unfinished:
            unfinished.write_text(_class_table(layer, colours or {}), encoding="utf-8")


def rounded(values: np.ndarray, mantissa_bits: int) -> np.ndarray:
    """float32 values rounded to `mantissa_bits` bits after the leading one, half to even; NaN stays NaN.

    Examples
    --------
    >>> rounded(np.array([1.0, 0.3], np.float32), 4).tolist()
    [1.0, 0.296875]
    """
    dropped = 23 - mantissa_bits  # a float32 keeps 23
    bits = np.ascontiguousarray(values, np.float32).view(np.uint32)
    half = np.uint32((1 << (dropped - 1)) - 1) + ((bits >> np.uint32(dropped)) & np.uint32(1))
    kept = (bits + half) & np.uint32(~((1 << dropped) - 1) & 0xFFFFFFFF)
    return np.where(np.isfinite(values), kept.view(np.float32), values)


def _facts(layer: xr.DataArray, tags: Mapping[str, str]) -> dict[str, str]:
    told = ("long_name", "units", "flag_values", "flag_meanings")  # each has its own place in the file
    carried = {key: str(value) for key, value in layer.attrs.items() if key not in told and value not in ("", None)}
    rights = [layer.attrs[key] for key in ("licence", "credit") if layer.attrs.get(key)]
    facts = {"TIFFTAG_IMAGEDESCRIPTION": layer.attrs["long_name"], **carried, **tags}
    return {**facts, "TIFFTAG_COPYRIGHT": "; ".join(rights)} if rights else facts


def _no_data(layer: xr.DataArray) -> float | None:
    if layer.dtype.kind == "f":
        return np.nan
    return 0 if "flag_meanings" in layer.attrs else None


def _describe_bands(draft: rasterio.io.DatasetWriter, layer: xr.DataArray) -> None:
    names = [str(name) for name in layer["season"].values] if layer.ndim == 3 else [layer.attrs["long_name"]]
    for number, name in enumerate(names, start=1):
        draft.set_band_description(number, name)
        if layer.attrs.get("units", "1") != "1":
            draft.set_band_unit(number, layer.attrs["units"])


def _overview_factors(shape: tuple[int, int]) -> list[int]:
    factors = [2]
    while max(shape) / factors[-1] > TILE:
        factors.append(2 * factors[-1])
    return factors if max(shape) > TILE else []


def _resampling(bands: np.ndarray) -> Resampling:
    # a mean of codes is no code
    return Resampling.average if bands.dtype.kind == "f" else Resampling.mode


def _class_table(layer: xr.DataArray, colours: Mapping[int, str]) -> str:
    """Names and colours of the classes as GDAL keeps them beside a file."""
    words = [word.replace("_", " ") for word in layer.attrs["flag_meanings"].split()]
    names = "".join(f"<Category>{escape(word)}</Category>" for word in words)
    fields = (("Value", 0, 5), ("Class", 2, 2), ("Red", 0, 6), ("Green", 0, 7), ("Blue", 0, 8))
    heads = "".join(
        f'<FieldDefn index="{index}"><Name>{name}</Name><Type>{kind}</Type><Usage>{usage}</Usage></FieldDefn>'
        for index, (name, kind, usage) in enumerate(fields)
    )
    rows = ""
    for code, word in enumerate(words):
        cells = (code, escape(word), *_rgb(colours.get(code, "#ffffff")))
        rows += f'<Row index="{code}">' + "".join(f"<F>{cell}</F>" for cell in cells) + "</Row>"
    table = f'<GDALRasterAttributeTable tableType="thematic">{heads}{rows}</GDALRasterAttributeTable>'
    bands = len(layer) if layer.ndim == 3 else 1
    return "".join(
        ["<PAMDataset>"]
        + [
            f'<PAMRasterBand band="{band}"><CategoryNames>{names}</CategoryNames>{table}</PAMRasterBand>'
            for band in range(1, bands + 1)
        ]
        + ["</PAMDataset>\n"]
    )


def _rgb(colour: str) -> tuple[int, int, int]:
    return tuple(bytes.fromhex(colour.removeprefix("#")))
