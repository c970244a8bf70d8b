"""Files other programs open: cloud-optimised GeoTIFF, CF NetCDF, GeoPackage with styles, CSV.

Each is written whole or not at all, overwrites nothing unasked, and is the same bytes for the same content.
"""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

from layers.atomic import whole_file, whole_folder
from layers.geopackage import write_geopackage
from layers.geotiff import write_geotiff
from layers.netcdf import write_netcdf

if TYPE_CHECKING:
    import pandas as pd

__all__ = ["whole_file", "whole_folder", "write_geopackage", "write_geotiff", "write_netcdf", "write_table"]


def write_table(table: pd.DataFrame, path: str | Path, *, replace: bool = False) -> None:
    """Write a table as CSV: UTF-8, comma, decimal point, one header line, an empty field where there is no data.

    Raises
    ------
    RecordError
        If the file exists and is not to be replaced.
    """
    with whole_file(path, replace=replace) as unfinished:
        table.to_csv(unfinished, index=False, encoding="utf-8", lineterminator="\n", float_format="%.10g")
