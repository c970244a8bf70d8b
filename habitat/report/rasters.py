"""The rasters of a folder of results: one GeoTIFF for each layer and season, in its colours.

One season a file, because the format allows a colour table for a single band only, and because desktop programs
take several bands for a photograph.
"""

from __future__ import annotations

import os
from collections.abc import Iterator
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np
import xarray as xr

from habitat.colours import class_colours, scale_of
from layers.desktop_style import raster_desktop_style
from layers.geotiff import write_geotiff
from layers.style import raster_style

if TYPE_CHECKING:
    from habitat.site_map import SiteMap

MANTISSA_BITS = 12  # of scores: four digits, far finer than any of them is known
_STYLE_POINTS = 17


def write_rasters(folder: Path, found: SiteMap) -> None:
    """Write the scores into `folder`, their parts into `parts` and the layers they were made of into `layers`."""
    tags = {"site": found.inputs.site.title, "profile": found.profile.title}
    if found.inputs.site.invented:
        tags["invented"] = "yes: not a real place"
    for place in (folder, folder / "parts", folder / "layers"):
        place.mkdir()
    # packing is the work, and it does not hold Python's lock
    with ThreadPoolExecutor(os.cpu_count()) as pool:
        jobs = [pool.submit(_write, folder / place, layer, tags) for place, layer in _rasters(found)]
        try:
            for job in jobs:
                job.result()
        except BaseException:
            pool.shutdown(cancel_futures=True)  # a stop does not wait for files nobody wants any more
            raise


def by_season(layer: xr.DataArray) -> Iterator[tuple[str, xr.DataArray]]:
    """Each season's name and layer; one unnamed season where the layer has none."""
    if "season" not in layer.dims:
        yield "", layer
        return
    for season in layer["season"].values:
        yield str(season), layer.sel(season=season)


def file_stem(name: str, season: str) -> str:
    """Name of a layer's file in a season, without its ending.

    Examples
    --------
    >>> file_stem("concern", "wet"), file_stem("fetch", "")
    ('concern_wet', 'fetch')
    """
    return f"{name}_{season.replace(' ', '_')}" if season else name


def _rasters(found: SiteMap) -> Iterator[tuple[Path, xr.DataArray]]:
    scores = found.assessment.data_vars
    for name, layer in [*scores.items(), *found.layers.data_vars.items()]:
        place = "layers" if name in found.layers else "parts" if name.startswith(("index_", "exposure_")) else "."
        for season, part in by_season(layer):
            yield Path(place) / file_stem(name, season), part


def _write(path: Path, layer: xr.DataArray, tags: dict[str, str]) -> None:
    target = path.with_name(f"{path.name}.tif")
    if "season" in layer.coords:
        tags = {**tags, "season": str(layer["season"].item())}
    if layer.dtype.kind != "f":
        write_geotiff(layer, target, colours=_colours(layer), tags=tags)
        return
    is_score = layer.name in ("suitability", "threat") or layer.name.startswith(("index_", "exposure_"))
    write_geotiff(layer, target, tags=tags, mantissa_bits=MANTISSA_BITS if is_score else None)
    scale = scale_of(layer.name)
    places = np.linspace(0, 1, _STYLE_POINTS)
    values = scale.low + places * (scale.high - scale.low)
    units = "" if layer.attrs["units"] == "1" else f" {layer.attrs['units']}"
    points = [(value, f"{value:.4g}{units}", scale.colour(value)) for value in values.tolist()]
    path.with_name(f"{path.name}.sld").write_text(raster_style(path.name, points), encoding="utf-8")
    path.with_name(f"{path.name}.qml").write_text(raster_desktop_style(points), encoding="utf-8")


def _colours(layer: xr.DataArray) -> dict[int, str]:
    words = layer.attrs.get("flag_meanings", "").split()
    return class_colours(layer.name, len(words) - 1 if words else None)
