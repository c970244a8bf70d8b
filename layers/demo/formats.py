"""The formats people have: GeoTIFF, GeoPackage, GeoJSON, zipped shapefile and CSV."""

from __future__ import annotations

import tempfile
import zipfile
from pathlib import Path

import geopandas
import numpy as np
import pandas as pd
import rasterio
from affine import Affine

NO_DATA = -9999.0


def write_raster(path: Path, bands: np.ndarray, transform: Affine, crs: str, names: list[tuple[str, str]]) -> None:
    """A compressed, tiled GeoTIFF of float32; NaN becomes a declared no-data value.

    Parameters
    ----------
    bands : (B, M, N) array
        Values, from north to south.
    names : list of (description, unit)
        One for each band.
    """
    count, height, width = bands.shape
    values = np.where(np.isnan(bands), NO_DATA, bands).astype(np.float32)
    with rasterio.open(
        path,
        "w",
        driver="GTiff",
        dtype="float32",
        nodata=NO_DATA,
        crs=crs,
        transform=transform,
        count=count,
        height=height,
        width=width,
        compress="deflate",
        predictor=3,
        tiled=True,
        blockxsize=256,
        blockysize=256,
    ) as out:
        out.write(values)
        for band, (description, unit) in enumerate(names, start=1):
            out.set_band_description(band, description)
            out.set_band_unit(band, unit)


def write_features(path: Path, features: geopandas.GeoDataFrame) -> None:
    """GeoPackage, GeoJSON (in degrees, as its standard asks) or zipped shapefile, by the suffix of `path`."""
    if path.suffix == ".gpkg":
        features.to_file(path, layer=path.stem, driver="GPKG", engine="pyogrio")
    elif path.suffix == ".geojson":
        degrees = features.to_crs("EPSG:4326")
        degrees.to_file(path, driver="GeoJSON", engine="pyogrio", RFC7946="YES")
    elif path.suffix == ".zip":
        with tempfile.TemporaryDirectory(dir=path.parent) as loose:
            features.to_file(Path(loose) / f"{path.stem}.shp", engine="pyogrio", encoding="utf-8")
            with zipfile.ZipFile(path, "w") as archive:
                for part in sorted(Path(loose).iterdir()):
                    # a fixed date: the archive holds nothing of when it was made
                    member = zipfile.ZipInfo(part.name, (2021, 6, 1, 0, 0, 0))
                    archive.writestr(member, part.read_bytes(), zipfile.ZIP_DEFLATED)
    else:
        raise ValueError(f"{path.name}: features are written as .gpkg, .geojson or .zip.")


def write_table(path: Path, table: pd.DataFrame) -> None:
    """CSV with a header, a comma between columns and a point in numbers."""
    table.to_csv(path, index=False, lineterminator="\n")
