"""Two maps of one place held against each other: agreement class by class, and the hectares a conclusion rests on."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import TYPE_CHECKING

import numpy as np
import pandas as pd

from habitat.agreement import Disagreement, change_sentences, class_changes, map_disagreement
from habitat.record_cells import difference_map
from habitat.result import CONCERN_CLASSES, SUITABILITY_CLASSES, THREAT_CLASSES

if TYPE_CHECKING:
    from pathlib import Path

    import xarray as xr

CLASSES = {
    "suitability_class": SUITABILITY_CLASSES,
    "threat_class": THREAT_CLASSES,
    "concern": CONCERN_CLASSES,
}
SCORES = ("suitability", "threat")


@dataclass(frozen=True, kw_only=True)
class MapComparison:
    """One map of classes in one season, before and after."""

    name: str  # a key of CLASSES
    season: str  # "" without seasons
    disagreement: Disagreement
    changes: pd.DataFrame = field(repr=False)  # of `habitat.agreement.class_changes` [ha]

    @property
    def sentences(self) -> tuple[str, ...]:
        """What it means, in plain words."""
        return (*self.disagreement.sentences, *change_sentences(self.changes))

    @property
    def is_same(self) -> bool:
        """Whether no cell has another class, or has one on one side only."""
        table = self.changes.to_numpy()
        return bool(table.sum() == np.trace(table[:-1, :-1]))


def map_comparisons(
    first: Mapping[str, xr.DataArray], second: Mapping[str, xr.DataArray], *, cell_hectares: float
) -> list[MapComparison]:
    """Every map of classes that both hold, season by season.

    Parameters
    ----------
    first, second : mapping of DataArray, (y, x) or (season, y, x)
        By name; what is in one only is left out. A map without seasons stands for each season of the other.
    cell_hectares : float
        Area of a cell. [ha]

    Raises
    ------
    ValueError
        If the maps are not of one grid.
    """
    found = []
    for name, classes in CLASSES.items():
        if name not in first or name not in second:
            continue
        one, other = first[name], second[name]
        for axis in ("x", "y"):
            if not np.array_equal(one[axis], other[axis]):
                raise ValueError(f"{name}: the two maps are not of one grid. Make both with the same extent and cell.")
        for season in _seasons(one, other):
            pair = [_of_season(layer, season).to_numpy() for layer in (one, other)]
            changes = class_changes(*pair, classes, cell_hectares=cell_hectares)
            found.append(
                MapComparison(name=name, season=season, disagreement=map_disagreement(changes), changes=changes)
            )
    return found


def hectares_of_classes(maps: Mapping[str, xr.DataArray], *, cell_hectares: float) -> pd.DataFrame:
    """Hectares of every class: columns map, season, class, hectares."""
    rows = []
    for name, classes in CLASSES.items():
        if name not in maps:
            continue
        for season in _seasons(maps[name], maps[name]):
            counts = np.bincount(_of_season(maps[name], season).to_numpy().ravel(), minlength=len(classes))
            rows += [
                {"map": name, "season": season, "class": classes[code], "hectares": float(counts[code] * cell_hectares)}
                for code in range(1, len(classes))
            ]
    return pd.DataFrame(rows, columns=["map", "season", "class", "hectares"])


def changed_hectares(first: pd.DataFrame, second: pd.DataFrame) -> pd.DataFrame:
    """Classes whose hectares differ between two tables of `hectares_of_classes`.

    Returns
    -------
    DataFrame
        Columns map, season, class, first, second, change; a class that one lacks has NaN there and no change. [ha]
    """
    keys = ["map", "season", "class"]
    order = pd.concat([first[keys], second[keys]]).drop_duplicates()
    both = order.merge(first.rename(columns={"hectares": "first"}), on=keys, how="left")
    both = both.merge(second.rename(columns={"hectares": "second"}), on=keys, how="left")
    both["change"] = both["second"] - both["first"]
    return both[(both["first"] != both["second"])].reset_index(drop=True)


def write_difference_maps(folder: Path, pairs: Mapping[str, tuple[xr.DataArray, xr.DataArray]]) -> list[Path]:
    """Write a GeoTIFF of second less first for each pair of layers of one shape; gives the paths.

    Raises
    ------
    RecordError
        If the folder exists, or the one it lies in does not.
    """
    from layers.atomic import whole_folder
    from layers.geotiff import write_geotiff

    with whole_folder(folder) as unfinished:
        for name, (one, other) in pairs.items():
            write_geotiff(difference_map(one, other), unfinished / f"{name}_difference.tif")
    return [folder / f"{name}_difference.tif" for name in pairs]


def _seasons(one: xr.DataArray, other: xr.DataArray) -> list[str]:
    named = [[str(season) for season in layer["season"].values] for layer in (one, other) if "season" in layer.dims]
    if not named:
        return [""]
    return [season for season in named[0] if season in named[-1]]


def _of_season(layer: xr.DataArray, season: str) -> xr.DataArray:
    return layer.sel(season=season) if season and "season" in layer.dims else layer
