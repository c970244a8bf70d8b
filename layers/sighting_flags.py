"""What is doubtful about sightings when they are held against each other, the calendar and the water."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

import numpy as np
import pandas as pd

from layers.fault import Fault
from layers.plausibility import counted

if TYPE_CHECKING:
    import datetime

    import geopandas as gpd
    import xarray as xr

    from layers.sightings import Sightings

SAME_IDENTIFIER = "the identifier of an earlier record, merged into it"
SAME_RECORD = "place, date and count of an earlier record, merged into it"
OUTSIDE = "outside the site by more than its uncertainty"
ON_LAND = "on land by more than its uncertainty"
NO_WATER_KNOWN = "where nobody knows whether there is water"
FAR_AWAY = "far from every other sighting"
MANY = "far more animals than in the other sightings"
NO_DATE = "no date, so it counts in no season"
NO_MONTH = "no month, so it counts in no season"
NO_COUNT = "no count, taken as at least one animal"
ZERO_UNCERTAINTY = "uncertainty of 0, which is not possible, taken as unknown"
NO_UNCERTAINTY = "unknown uncertainty of its place"
NO_DATUM = "no datum, which may move it by hundreds of metres"
NO_HOURS = "an effort that is not in hours"
NOT_SEEN_ALIVE = "a specimen, not an animal in its place"

SPECIMENS = frozenset({"preservedspecimen", "fossilspecimen", "livingspecimen", "materialsample"})
LEFT_OUT = frozenset({OUTSIDE, ON_LAND, NO_WATER_KNOWN, NOT_SEEN_ALIVE, SAME_IDENTIFIER, SAME_RECORD})
FENCE = 3.0  # interquartile ranges above the upper quartile: "far out", Tukey 1977, from memory
FEWEST_FOR_FENCE = 8  # records below which quartiles say little: expert judgement
_FLAG_COLUMNS = ["file", "row", "flag", "note", "used"]


def future_dates(table: gpd.GeoDataFrame, as_of: datetime.date) -> list[Fault]:
    """The fault of records dated after `as_of`."""
    late = table[table["date"] >= np.datetime64(as_of) + np.timedelta64(1, "D")]
    if late.empty:
        return []
    rows = ", ".join(str(row) for row in late["row"][:3]) + (" and more" if len(late) > 3 else "")
    found = f"{counted(len(late), 'record')} {'is' if len(late) == 1 else 'are'} dated after {as_of}: row {rows}."
    return [Fault(f"{late['file'].iloc[0]}, row {late['row'].iloc[0]}", found, "Correct the date.")]


def conflicts(tables: Sequence[gpd.GeoDataFrame]) -> list[Fault]:
    """The faults of identifiers that stand for records with another place, date or count."""
    records = pd.concat([_plain(table) for table in tables], ignore_index=True)
    named = records[records["identifier"] != ""]
    faults = []
    for _, group in named.groupby("identifier", sort=False):
        other = group[(group[_CONTENT] != group[_CONTENT].iloc[0]).any(axis=1)]
        if len(other):
            first, second = group.iloc[0], other.iloc[0]
            differ = [word for word, column in _WORDS if not second[column] == first[column]]
            found = (
                f"it has the identifier of row {first['row']} of {first['file']} and another {' and '.join(differ)}."
            )
            place = f"{second['file']}, row {second['row']}"
            faults.append(Fault(place, found, "Keep the right one, or give each record an identifier of its own."))
    return faults


def merged_records(tables: Sequence[gpd.GeoDataFrame]) -> tuple[gpd.GeoDataFrame, pd.DataFrame]:
    """Every record once, and the flags of those that were merged into an earlier one.

    Two records are one if they have one identifier, or if both tell of animals at the same place, date and count; of
    two without a date that is not known. Looking and seeing none at the same place counts each time.
    """
    import geopandas as gpd

    records = gpd.GeoDataFrame(pd.concat(tables, ignore_index=True), crs=tables[0].crs)
    content = _plain(records)
    same_name = (content["identifier"] != "") & content.duplicated("identifier")
    comparable = records["seen"] & records["date"].notna()
    same_content = comparable & content[comparable].duplicated(_CONTENT).reindex(content.index, fill_value=False)
    rows = []
    for those, flag, keys in ((same_name, SAME_IDENTIFIER, ["identifier"]), (same_content, SAME_RECORD, _CONTENT)):
        for place in records.index[those if flag == SAME_IDENTIFIER else those & ~same_name]:
            alike = (content[keys] == content.loc[place, keys]).all(axis=1)
            if flag == SAME_RECORD:
                alike &= comparable
            first = records.loc[alike.idxmax()]
            note = f"merged into row {first['row']} of {first['file']}"
            rows.append((records.at[place, "file"], records.at[place, "row"], flag, note, False))
    kept = records[~(same_name | same_content)].reset_index(drop=True)
    return kept, pd.DataFrame(rows, columns=_FLAG_COLUMNS)


def flagged(records: gpd.GeoDataFrame, merged: pd.DataFrame, surface: xr.DataArray) -> Sightings:
    """Records with what is doubtful about each, and whether it is fit to be held against a map."""
    from layers.sightings import Sightings

    found = [_place_flags(records, surface), _outliers(records, surface)]
    rows = []
    for place, record in records.iterrows():
        doubts = [*record["doubts"], *(flag for flags in found for flag, those in flags.items() if those[place])]
        used = not LEFT_OUT & set(doubts)
        rows += [(record["file"], record["row"], flag, "", used) for flag in doubts]
    own = pd.DataFrame(rows, columns=_FLAG_COLUMNS)
    parts = [part for part in (merged, own) if len(part)]
    flags = pd.concat(parts, ignore_index=True) if parts else own
    left_out = set(zip(*own.loc[~own["used"].astype(bool), ["file", "row"]].T.to_numpy(), strict=True))
    used = [pair not in left_out for pair in zip(records["file"], records["row"], strict=True)]
    return Sightings(
        records=records.drop(columns="doubts").assign(used=used),
        flags=flags.sort_values(["file", "row"], kind="stable", ignore_index=True).astype({"used": bool}),
    )


_CONTENT = ["x", "y", "when", "animals"]
_WORDS = (("place", "x"), ("place", "y"), ("date", "when"), ("count", "animals"))


def _plain(table: gpd.GeoDataFrame) -> pd.DataFrame:
    """What makes a record, as values that compare equal to themselves."""
    return pd.DataFrame(
        {
            "file": table["file"].to_numpy(),
            "row": table["row"].to_numpy(),
            "identifier": table["identifier"].to_numpy(),
            "x": table.geometry.x.round(2).to_numpy(),  # a centimetre: the same digits, projected
            "y": table.geometry.y.round(2).to_numpy(),
            "when": table["date"].dt.strftime("%Y-%m-%dT%H:%M:%S").fillna("").to_numpy(),
            "animals": table["count"].fillna(-1).to_numpy(),
        }
    )


def _place_flags(records: gpd.GeoDataFrame, surface: xr.DataArray) -> dict[str, np.ndarray]:
    """Records outside the site, on land, or where it is not known whether there is water."""
    from scipy.ndimage import distance_transform_edt

    from layers.grid import Grid
    from layers.quantity import INTERTIDAL, UNKNOWN, WATER

    grid = Grid.of(surface)
    codes = surface.to_numpy()
    wet = np.isin(codes, (INTERTIDAL, WATER))
    reach = records["uncertainty"].fillna(0).to_numpy() + grid.cell  # a shore is known to a cell
    off = records.geometry.distance(_box(grid)).to_numpy()
    columns, rows = ~grid.transform * (records.geometry.x.to_numpy(), records.geometry.y.to_numpy())
    row, column = (
        np.clip(np.floor(place).astype(int), 0, size - 1)
        for place, size in zip((rows, columns), grid.shape, strict=True)
    )
    to_water = distance_transform_edt(~wet) * grid.cell if wet.any() else np.full(grid.shape, np.inf)
    dry = (off == 0) & (to_water[row, column] > reach)
    unknown = codes[row, column] == UNKNOWN
    return {
        OUTSIDE: off > records["uncertainty"].fillna(0).to_numpy(),
        ON_LAND: dry & ~unknown & records["seen"].to_numpy(),
        NO_WATER_KNOWN: dry & unknown & records["seen"].to_numpy(),
    }


def _outliers(records: gpd.GeoDataFrame, surface: xr.DataArray) -> dict[str, np.ndarray]:
    """Sightings whose nearest other sighting, or whose count, lies far above those of the rest."""
    from scipy.spatial import KDTree

    from layers.grid import Grid

    seen = records["seen"].to_numpy()
    apart, many = np.zeros(len(records), bool), np.zeros(len(records), bool)
    if seen.sum() >= FEWEST_FOR_FENCE:
        places = np.column_stack([records.geometry.x, records.geometry.y])[seen]
        distance = KDTree(places).query(places, k=2)[0][:, 1]
        apart[seen] = distance > _fence(distance, least=Grid.of(surface).cell)
        animals = records["count"].to_numpy()[seen]
        if (~np.isnan(animals)).sum() >= FEWEST_FOR_FENCE:
            # most groups are of one: without a spread of at least one animal, two would already be many
            many[seen] = np.nan_to_num(animals) > _fence(animals, least=1.0)
    return {FAR_AWAY: apart, MANY: many}


def _fence(values: np.ndarray, *, least: float) -> float:
    low, high = np.nanquantile(values, [0.25, 0.75])
    return high + FENCE * max(high - low, least)


def _box(grid):
    import shapely

    return shapely.box(*grid.bounds)
