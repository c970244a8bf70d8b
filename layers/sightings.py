"""Sightings of animals: read, checked, told apart and flagged, on the site's grid.

Places of animals are the most harmful thing this software holds. Nothing here writes, prints or draws one: a record is
named by its file and row, a fault withholds the coordinates that it is about, and the values below show none.
"""

from __future__ import annotations

import re
from collections.abc import Iterable
from dataclasses import dataclass, field, replace
from typing import TYPE_CHECKING

import numpy as np

from layers.fault import Fault, LayerError

if TYPE_CHECKING:
    import datetime

    import geopandas as gpd
    import pandas as pd
    import xarray as xr

    from layers.inputs import Inputs
    from layers.site import FileEntry, Site


@dataclass(frozen=True, kw_only=True)
class Sightings:
    """Records of looking for animals, each once, and what is to be known of them."""

    records: gpd.GeoDataFrame = field(repr=False)
    """Columns file, row (in it), identifier, date, month (0: not known), count, seen (bool), uncertainty [m, NaN: not
    known], hours (of looking, NaN: not said), used (bool: fit to be held against a map), geometry (grid's CRS)."""
    flags: pd.DataFrame  # columns file, row, flag (one of layers.sighting_flags), note, used; no place in any

    def __repr__(self) -> str:
        return f"Sightings({len(self.seen)} seen, {len(self.none_seen)} without, {len(self.flags)} flags)"

    @property
    def seen(self) -> gpd.GeoDataFrame:
        """The records of animals that are fit for use."""
        return self.records[self.records["seen"] & self.records["used"]]

    @property
    def none_seen(self) -> gpd.GeoDataFrame:
        """The records of looking and seeing none that are fit for use."""
        return self.records[~self.records["seen"] & self.records["used"]]

    def in_months(self, months: Iterable[int]) -> Sightings:
        """Those of some months of the year; records whose month is not known are left out."""
        return replace(self, records=self.records[self.records["month"].isin(list(months))])

    @property
    def sentences(self) -> tuple[str, ...]:
        """How many records there are, and what was flagged, in words without a place."""
        from layers.plausibility import counted

        seen, none = self.seen, self.none_seen
        said = [
            f"{counted(len(seen), 'sighting')} and {counted(len(none), 'record')} of looking and seeing none can be "
            "used. No record is not absence: it may only mean that nobody looked."
        ]
        for flag, rows in self.flags.groupby("flag", sort=False):
            left = int((~rows["used"]).sum())
            said.append(f"{counted(len(rows), 'record')}: {flag}{f' ({left} left out)' if left else ''}.")
        return tuple(said)


def read_sightings(
    entry: FileEntry,
    site: Site,
    faults: list[Fault],
    *,
    remarks: list[str] | None = None,
) -> gpd.GeoDataFrame | None:
    """The records of one file, whole but not yet compared with each other or with the water.

    Parameters
    ----------
    entry : FileEntry
        A CSV or vector file of points in Darwin Core terms, or of plain columns named in `columns` of the site file.
    faults, remarks : lists
        What to mend, and what a person should know; no place is told in either.

    Returns
    -------
    GeoDataFrame or None
        Index: row in the file. Columns as of `Sightings.records` without `used`, and `doubts` (a tuple of flags).
        Records outside the site are kept. None if a fault was found.
    """
    import geopandas as gpd

    from layers import sighting_columns as columns
    from layers import sighting_flags as flags
    from layers.source import is_table
    from layers.vector import read_features

    before, found = len(faults), []
    # its columns are looked at here; the reader of features looks at the file and the places
    plain = replace(entry, column=None, time=None)
    table = read_features(plain, site, found, kinds=frozenset({"Point"}), remarks=remarks)
    faults += [_withheld(fault, entry) for fault in found]
    rows = table
    if rows is None and is_table(entry.path) and entry.path.is_file():
        from layers.table import read_rows

        rows = read_rows(entry, [])  # its faults are noted; those of other columns are not
    if rows is None:
        return None
    columns.columns_are_there(rows, entry, faults)
    when = columns.dates(rows, entry, faults)
    count = columns.counts(rows, entry, faults)
    radius = columns.stated_uncertainties(rows, entry, faults)
    seen = columns.statuses(rows, entry, count, faults)
    hours, other_effort = columns.effort_hours(rows, entry)
    kind = columns.texts(rows, "basisOfRecord", entry).str.lower()
    datumless = columns.note_datums(rows, entry, entry.crs or site.grid.crs, faults) if is_table(entry.path) else None
    _note_nowhere(rows, entry, faults)
    if len(faults) > before:
        return None
    if (table.geom_type != "Point").any():
        table = table.set_geometry(table.geometry.centroid)
    records = gpd.GeoDataFrame(
        {
            "file": entry.path.name,
            "row": table.index,
            "identifier": columns.texts(table, "occurrenceID", entry),
            "date": when["date"],
            "month": when["month"],
            "count": count,
            "seen": seen,
            "uncertainty": np.where(radius > 0, radius, np.nan),
            "hours": hours,
        },
        index=table.index,
        geometry=table.geometry,
        crs=table.crs,
    )
    doubts = {
        flags.NO_DATE: records["date"].isna().to_numpy(),
        flags.NO_MONTH: (records["date"].notna() & (records["month"] == 0)).to_numpy(),
        flags.NO_COUNT: np.isnan(count) & seen,
        flags.ZERO_UNCERTAINTY: radius == 0,
        flags.NO_UNCERTAINTY: np.isnan(radius),
        flags.NO_DATUM: np.zeros(len(records), bool) if datumless is None else datumless & _has_datums(table, entry),
        flags.NO_HOURS: other_effort,
        flags.NOT_SEEN_ALIVE: kind.isin(flags.SPECIMENS).to_numpy(),
    }
    records["doubts"] = [tuple(flag for flag, those in doubts.items() if those[place]) for place in range(len(records))]
    return records


def checked_sightings(
    tables: Iterable[gpd.GeoDataFrame], surface: xr.DataArray, *, as_of: datetime.date, document: str = "sightings"
) -> Sightings:
    """The records of some files, duplicates merged, dates and places compared with the calendar and the water.

    Parameters
    ----------
    tables : of GeoDataFrame
        From `read_sightings`, in the projection of `surface`.
    surface : (y, x) codes of the layer surface
        Where land and water are.
    as_of : date
        The day after which a record cannot have been made.
    document : str
        What the faults are of, such as the name of the site file.

    Raises
    ------
    LayerError
        If records are dated after `as_of`, or one identifier stands for two different records; all of it at once.
    """
    from layers.sighting_flags import conflicts, flagged, future_dates, merged_records

    tables = list(tables)
    faults = [fault for table in tables for fault in future_dates(table, as_of)] + conflicts(tables)
    if faults:
        raise LayerError(document, faults)
    records, merged = merged_records(tables)
    return flagged(records, merged, surface)


def site_sightings(inputs: Inputs, surface: xr.DataArray, *, as_of: datetime.date) -> Sightings | None:
    """The checked sightings of a site, or None where it has no file of them; arguments as of `checked_sightings`."""
    entries = inputs.having("sighting")
    if not entries:
        return None
    tables = [inputs.features[entry.name] for entry in entries]
    return checked_sightings(tables, surface, as_of=as_of, document=inputs.site.path.name)


def _withheld(fault: Fault, entry: FileEntry) -> Fault:
    """A fault without the coordinates that it quotes."""
    found = fault.found.partition(" The file covers ")[0].partition(" Read as Latin-1 ")[0]
    found = re.sub(r"the coordinates \([^)]*\)", "the coordinates", found)
    found = re.sub(r" at [-+.\de]+ [-+.\de]+", "", found)
    if any(fault.place.endswith(f"column {name}") for name in (entry.x, entry.y) if name):
        found = re.sub(r'"[^"]*" in (row|feature)', r"\1", re.sub(r': "[^"]*"\.$', ".", found))
    return replace(fault, found=found)


def _note_nowhere(rows: pd.DataFrame, entry: FileEntry, faults: list[Fault]) -> None:
    """Note rows at 0/0, which is where programs put what has no place."""
    import pandas as pd

    if entry.x not in rows.columns or entry.y not in rows.columns:
        return
    x, y = (pd.to_numeric(rows[name].astype(str).str.replace(",", "."), errors="coerce") for name in (entry.x, entry.y))
    nowhere = rows.index[((x == 0) & (y == 0)).to_numpy()]
    if len(nowhere):
        listed = ", ".join(str(row) for row in nowhere[:3]) + (" and more" if len(nowhere) > 3 else "")
        place = f"{entry.path.name}, row {nowhere[0]}"
        found = f"the coordinates are 0/0 in {len(nowhere):,} of {len(rows):,} rows ({listed})."
        faults.append(Fault(place, found, "Fill in the place, or remove the row: 0/0 is where programs put no place."))


def _has_datums(table: pd.DataFrame, entry: FileEntry) -> bool:
    from layers.sighting_columns import column_of

    return column_of(table, "geodeticDatum", entry) is not None
