"""Recipes of loads: what the outlets of a file and of the catchment put into the water in each season."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
import pandas as pd

from layers.derivation import Derivation
from layers.fault import Fault, LayerError, told_as_fault
from layers.recipes.works import land_cover_after_works
from layers.site import FileEntry

if TYPE_CHECKING:
    from layers.catchment import Catchment
    from layers.catchment_load import CatchmentLoad, Wanted
    from layers.cover_table import CoverTable
    from layers.drainage import Drainage

SUBSTANCES = ("nitrogen", "phosphorus", "sediment")
EROSION = ("catchment.erosivity", "catchment.delivery_ratio", "catchment.slope_length")
A_CREEK = 0.25  # share of a cell of the catchment's grid that is water: from there on flow ends in it (our choice)
_FEEDS = (
    "land_cover",
    "land_cover_change",
    "cover_table",
    "soil_group",
    "soil_table",
    "rain",
    "terrain",
    "catchment",
    "catchment_outlet",
)


@dataclass(frozen=True, kw_only=True)
class OutletLoads:
    """Loads of one substance in one season, at places on the shore."""

    places: np.ndarray  # (n, 2) [m]
    kilograms_a_year: np.ndarray  # (n,), while the season lasts
    entries: tuple[FileEntry, ...]
    told: str


@dataclass(frozen=True, kw_only=True)
class CatchmentResult:
    """The land that drains to the site, and what it sends."""

    land_cover: np.ndarray  # (M, N) codes on the catchment's grid
    covers: CoverTable
    drained: Drainage | None  # None where catchments are given as polygons
    catchment: Catchment
    load: CatchmentLoad
    entries: tuple[FileEntry, ...]


def outlet_loads(made: Derivation, substance: str) -> dict[str | None, OutletLoads]:
    """Loads of each season, or of the year under None; empty where no file gives any."""
    return made.once(("loads", substance), lambda made: _outlet_loads(made, substance))


def catchment_result(made: Derivation) -> CatchmentResult | None:
    """What the catchment sends; None for a site without one.

    Raises
    ------
    LayerError
        If land cover, soils, rain or terrain do not fit together.
    """
    return made.once("catchment", _catchment_result)


def _outlet_loads(made: Derivation, substance: str) -> dict[str | None, OutletLoads]:
    entries, land = made.entries(f"{substance}_load"), catchment_result(made)
    if not entries and land is None:
        return {}
    differ = land is not None or any(entry.season for entry in entries)
    seasons = (tuple(made.site.seasons) or (None,)) if differ else (None,)
    return {season: _of_season(made, substance, season, entries, land) for season in seasons}


def _of_season(
    made: Derivation,
    substance: str,
    season: str | None,
    entries: tuple[FileEntry, ...],
    land: CatchmentResult | None,
) -> OutletLoads:
    chosen = tuple(entry for entry in entries if entry.season in (None, season))
    tables = [made.inputs.features[entry.name] for entry in chosen]
    places = [np.column_stack([table.geometry.x, table.geometry.y]) for table in tables]
    loads = [table["value"].to_numpy() for table in tables]
    told = [f"{len(one)} outlets of {entry.path.name}" for one, entry in zip(loads, chosen, strict=True)]
    if land is not None:
        outlets, amounts = land.load.outlets, median_load(land.load.outlets, substance, season)
        known = amounts.notna().to_numpy()
        places.append(outlets.loc[known, ["x", "y"]].to_numpy(float))
        loads.append(amounts[known].to_numpy(float))
        unknown = f" ({(~known).sum()} more are not known)" if not known.all() else ""
        told.append(f"{known.sum()} outlets of the catchment{unknown}")
    return OutletLoads(
        places=np.concatenate([np.empty((0, 2)), *places]),
        kilograms_a_year=np.concatenate([np.empty(0), *loads]),
        entries=chosen + (land.entries if land is not None else ()),
        told=" and ".join(told),
    )


def median_load(outlets: pd.DataFrame, substance: str, season: str | None) -> pd.Series:
    """Middle of the published range for each outlet of the catchment. [kg/year]"""
    words = [substance, season or "", "median_kg_per_year"]
    return outlets["_".join(word for word in words if word)]


def _catchment_result(made: Derivation) -> CatchmentResult | None:
    from layers.catchment_load import catchment_load
    from layers.cover_table import cover_table

    if not made.entries("land_cover"):
        return None
    entries = {feeds: made.entries(feeds) for feeds in _FEEDS}
    rasters, tables = made.inputs.rasters, made.inputs.tables
    mapped, covers_entry = rasters[entries["land_cover"][0].name].to_numpy(), entries["cover_table"][0]
    covers = cover_table(tables[covers_entry.name], name=covers_entry.path.name, land_cover=mapped)
    _refuse_unlisted_changes(made, covers, covers_entry.path.name)
    codes = land_cover_after_works(made, mapped, made.site.catchment.grid)
    rain = tables[entries["rain"][0].name]
    daily = pd.Series(rain["value"].to_numpy(), pd.DatetimeIndex(rain["time"]))
    soil = rasters[entries["soil_group"][0].name].to_numpy()
    soils = tables[entries["soil_table"][0].name]
    groups = dict(zip(soils["code"].astype(int), soils["soil_group"], strict=True))
    drained, catchment = _drained(made)
    washed = _soil_loss(made, covers, codes, soil, soils)
    try:
        load = catchment_load(
            catchment,
            codes,
            covers,
            _wanted(made, washed is not None),
            seasons=made.site.seasons,
            rain=daily,
            soil_group=soil,
            soil_groups=groups,
            soil_loss=washed,
            delivery_ratio=made.number("catchment.delivery_ratio"),
        )
    except ValueError as refusal:
        about, _, said = str(refusal).partition(": ")
        blamed = {"rain": "rain", "soil_groups": "soil_table", "soil_group": "soil_group", "land_cover": "land_cover"}
        if about not in blamed:
            raise LayerError(made.site.path.name, [told_as_fault("catchment", refusal)]) from None
        place = f"files.{entries[blamed[about]][0].name}"
        raise LayerError(made.site.path.name, [told_as_fault(place, ValueError(said))]) from None
    return CatchmentResult(
        land_cover=codes,
        covers=covers,
        drained=drained,
        catchment=catchment,
        load=load,
        entries=tuple(entry for some in entries.values() for entry in some),
    )


def _refuse_unlisted_changes(made: Derivation, covers: CoverTable, table: str) -> None:
    known = {cover.code for cover in covers.covers}
    for entry in made.entries("land_cover_change"):
        given = {float(code) for code in made.inputs.features[entry.name]["value"]}
        if unlisted := sorted(given - known):
            many = f"codes {', '.join(f'{code:g}' for code in unlisted)} have" if unlisted[1:] else None
            found = f"{many or f'code {unlisted[0]:g} has'} no row in {table}."
            listed = ", ".join(map(str, sorted(known)))
            raise LayerError(
                entry.path.name, [Fault(f"column {entry.column}", found, f"Give one of {listed}, or add a row there.")]
            )


def _drained(made: Derivation) -> tuple[Drainage | None, Catchment]:
    from layers.catchment import catchment_of_drainage, catchment_of_polygons
    from layers.drainage import LEAST_AREA, drainage

    grid = made.site.catchment.grid
    terrain = made.entries("terrain")
    if not terrain:
        shapes = made.inputs.features[made.entries("catchment")[0].name]
        outlets = made.inputs.features[made.entries("catchment_outlet")[0].name]
        named = [table.assign(name=table["value"].astype(str)) for table in (shapes, outlets)]
        return None, catchment_of_polygons(*named, grid)
    least = made.number("catchment.least_outlet")
    try:
        drained = drainage(
            made.inputs.rasters[terrain[0].name].to_numpy(),
            grid,
            _site_water(made),
            least_area=LEAST_AREA if least is None else least,
        )
    except ValueError as refusal:
        raise LayerError(made.site.path.name, [told_as_fault(f"files.{terrain[0].name}", refusal)]) from None
    return drained, catchment_of_drainage(drained)


def _site_water(made: Derivation) -> np.ndarray:
    """Cells of the catchment's grid with enough water for a creek narrower than the cell."""
    from layers.alignment import area_mean

    wet = made.is_swum.astype(np.float32)
    share = area_mean(wet, made.grid.transform, made.grid.crs, made.site.catchment.grid)
    return np.nan_to_num(share) > A_CREEK


def _soil_loss(
    made: Derivation, covers: CoverTable, codes: np.ndarray, soil: np.ndarray, soils: pd.DataFrame
) -> np.ndarray | None:
    """Soil washed off, where the site file gives what it takes. [t/ha/year]"""
    from layers.soil_loss import slope_length_factor, soil_loss, terrain_slope

    numbers = [made.number(key) for key in EROSION]
    terrain = made.entries("terrain")
    if any(number is None for number in numbers) or not terrain or "erodibility" not in soils:
        return None
    erosivity, _, length = numbers
    by_code = dict(zip(soils["code"].astype(float), soils["erodibility"].astype(float), strict=True))
    erodible = np.vectorize(lambda code: by_code.get(code, np.nan), otypes=[np.float32])(soil)
    steep = terrain_slope(made.inputs.rasters[terrain[0].name].to_numpy(), made.site.catchment.grid)
    factor = slope_length_factor(length, np.minimum(steep, 1.0))
    return soil_loss(
        erosivity, erodible, factor, covers.factor(codes, "cover_factor"), covers.factor(codes, "practice_factor")
    )


def _wanted(made: Derivation, has_soil_loss: bool) -> list[Wanted]:
    from layers.catchment_load import Wanted

    methods = made.site.catchment.methods
    nutrients = [Wanted(substance=substance, method=methods[substance]) for substance in ("nitrogen", "phosphorus")]
    if has_soil_loss:
        return [*nutrients, Wanted(substance="sediment", method="soil loss")]
    solids = Wanted(substance="total suspended solids", method="event-mean concentration", name="sediment")
    return [*nutrients, solids]
