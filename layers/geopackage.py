"""Tables of features as one GeoPackage, each with its style inside.

The styles lie in a table `layer_styles`, where desktop programs look for them. The file holds no time of writing,
so the same tables always give the same bytes.
"""

from __future__ import annotations

import sqlite3
from collections.abc import Mapping
from contextlib import closing
from pathlib import Path
from typing import TYPE_CHECKING

from layers.atomic import whole_file

if TYPE_CHECKING:
    import geopandas as gpd

_NO_TIME = "1970-01-01T00:00:00.000Z"  # the standard wants a time in these columns
_CHANGE_COUNTERS = (24, 92)  # where the file says how often it was written: SQLite, "Database File Format", 1.3
_STYLES = """
CREATE TABLE layer_styles (
  id INTEGER PRIMARY KEY AUTOINCREMENT NOT NULL,
  f_table_catalog TEXT(256), f_table_schema TEXT(256), f_table_name TEXT(256), f_geometry_column TEXT(256),
  styleName TEXT(30), styleQML TEXT, styleSLD TEXT, useAsDefault BOOLEAN, description TEXT, owner TEXT(30),
  ui TEXT(30), update_time DATETIME
)"""


def write_geopackage(
    tables: Mapping[str, gpd.GeoDataFrame],
    path: str | Path,
    *,
    styles: Mapping[str, str] | None = None,
    desktop_styles: Mapping[str, str] | None = None,
    descriptions: Mapping[str, str] | None = None,
    replace: bool = False,
) -> None:
    """Write tables of features, each under its name.

    Parameters
    ----------
    tables : mapping of str to GeoDataFrame
        At least one.
    path : path
        Of the file to write.
    styles : mapping of str to str, optional
        SLD of a table.
    desktop_styles : mapping of str to str, optional
        The same in the form of `layers.desktop_style`, for tables that have an SLD.
    descriptions : mapping of str to str, optional
        What a table holds, its sources and licences.
    replace : bool
        Whether an existing file may be replaced.

    Raises
    ------
    RecordError
        If the file exists and is not to be replaced.
    """
    descriptions = descriptions or {}
    with whole_file(path, replace=replace) as unfinished:
        for name, table in tables.items():
            table.to_file(
                unfinished,
                layer=name,
                driver="GPKG",
                engine="pyogrio",
                layer_options={"IDENTIFIER": name, "DESCRIPTION": descriptions.get(name, "")},
            )
        with closing(sqlite3.connect(unfinished)) as database, database:
            database.execute("UPDATE gpkg_contents SET last_change = ?", [_NO_TIME])
            if styles:
                _add_styles(database, styles, desktop_styles or {})
        _settle(unfinished)


def _settle(path: Path) -> None:
    """The same tables as the same bytes: pages in one order, none left free, nothing of how often they were written."""
    with closing(sqlite3.connect(path)) as database:
        database.execute("VACUUM")
    with path.open("r+b") as file:
        for counter in _CHANGE_COUNTERS:
            file.seek(counter)
            file.write((1).to_bytes(4, "big"))


def _add_styles(database: sqlite3.Connection, styles: Mapping[str, str], desktop_styles: Mapping[str, str]) -> None:
    database.execute(_STYLES)
    database.execute(
        "INSERT INTO gpkg_contents (table_name, data_type, identifier, description, last_change) "
        "VALUES ('layer_styles', 'attributes', 'layer_styles', '', ?)",
        [_NO_TIME],
    )
    geometry = dict(database.execute("SELECT table_name, column_name FROM gpkg_geometry_columns"))
    database.executemany(
        "INSERT INTO layer_styles (f_table_catalog, f_table_schema, f_table_name, f_geometry_column, styleName, "
        "styleQML, styleSLD, useAsDefault, description, owner, update_time) "
        "VALUES ('', '', ?, ?, ?, ?, ?, 1, '', '', ?)",
        [(name, geometry[name], name, desktop_styles.get(name, ""), style, _NO_TIME) for name, style in styles.items()],
    )
