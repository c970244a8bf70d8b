"""What a catchment sends to the water: runoff, nutrients and sediment at each outlet, with the range published.

A load of a season is given as a year's rate, as outlet files do: 4 t that come in a season of three months are
16 t/year. Seasons, weighed by their share of the year, add up to the year.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np
import pandas as pd

from layers.catchment import Catchment
from layers.cellwise import refuse_outside
from layers.cover_table import NOTHING, CoverTable
from layers.land_cover import SOIL_GROUPS, curve_number_of_codes
from layers.load import runoff_load
from layers.published_table import RANGE, PublishedTable, shipped_table
from layers.runoff import composite_curve_number
from layers.seasonal_runoff import YEAR, seasonal_runoff

METHODS = ("export coefficient", "event-mean concentration", "soil loss")
SOIL_CODES = dict(enumerate(SOIL_GROUPS, start=1))
CUBIC_METRES_PER_MM_HECTARE = 10
KILOGRAMS_PER_TONNE = 1000


@dataclass(frozen=True, kw_only=True)
class Wanted:
    """A load that is asked for: a substance as the published table names it, and by which of `METHODS`."""

    substance: str
    method: str
    name: str = ""  # of its columns; the substance if empty

    @property
    def column(self) -> str:
        """What its columns are called by."""
        return self.name or self.substance


@dataclass(frozen=True, kw_only=True, eq=False)
class CatchmentLoad:
    """Loads at the outlets, and the maps they are the sums of."""

    # columns outlet, x, y, area_ha, known_share; runoff_m3_per_year, runoff_SEASON_m3_per_year where there is rain;
    # NAME_BOUND_kg_per_year, NAME_SEASON_BOUND_kg_per_year for low, median, high: NaN is not known
    outlets: pd.DataFrame
    runoff: dict[str, np.ndarray]  # of "year" and each season, (M, N) as a year's rate; empty without rain [mm/year]
    per_hectare: dict[str, np.ndarray]  # median load of a year by name, (M, N) [kg/ha/year]
    season_factor: dict[str, float]  # rate of the whole runoff in a season over that in the year [1]
    sources: tuple[str, ...]  # where the coefficients come from, and how far that was seen


def curve_numbers_of(
    land_cover: np.ndarray,
    soil_group: np.ndarray,
    covers: CoverTable,
    soil_groups: Mapping[int, str | None] = SOIL_CODES,
    table: PublishedTable | None = None,
) -> np.ndarray:
    """(M, N) float32 curve number of each cell, paving counted; NaN where not known or nothing runs off. [1]"""
    names = {
        cover.code: None if cover.curve_number_cover == NOTHING else cover.curve_number_cover for cover in covers.covers
    }
    codes = np.asarray(land_cover, np.float64)
    covers.refuse_unlisted(codes)
    number = curve_number_of_codes(codes, soil_group, covers=names, soil_groups=soil_groups, table=table)
    paved = covers.factor(codes, "impervious_share")
    return composite_curve_number(number, paved) if np.nanmax(paved, initial=0) > 0 else number


def catchment_load(
    catchment: Catchment,
    land_cover: np.ndarray,
    covers: CoverTable,
    wanted: Sequence[Wanted],
    *,
    seasons: Mapping[str, Sequence[int]],
    rain: pd.Series | None = None,
    soil_group: np.ndarray | None = None,
    soil_groups: Mapping[int, str | None] = SOIL_CODES,
    soil_loss: np.ndarray | None = None,
    delivery_ratio: float | None = None,
    curve_numbers: PublishedTable | None = None,
    export_coefficients: PublishedTable | None = None,
    concentrations: PublishedTable | None = None,
) -> CatchmentLoad:
    """Runoff and loads at every outlet of a catchment, for the year and each season.

    Parameters
    ----------
    catchment : Catchment
    land_cover, soil_group : (M, N)
        Codes, NaN where not known. The soil is needed with `rain` only.
    covers : CoverTable
        What the codes of land cover stand for.
    wanted : sequence of Wanted
        By "export coefficient" (load of a year; shared out over the seasons by the runoff of the whole catchment, or
        evenly without rain), "event-mean concentration" (runoff times concentration; needs rain) or "soil loss"
        (`soil_loss` times `delivery_ratio`, shared out alike). One substance by two methods needs two names.
    seasons : mapping of name to months
    rain : Series, optional
        Daily record, as `seasonal_runoff` takes it. [mm]
    soil_groups : mapping of code to "A" to "D", or None for no data
    soil_loss : (M, N), optional
        Soil washed off, as `layers.soil_loss` gives it. [t/ha/year]
    delivery_ratio : float, optional
        Share of it that reaches the water, 0 to 1: stated by the user, as it differs widely. [1]
    curve_numbers, export_coefficients, concentrations : PublishedTable, optional
        By default those that ship.

    Raises
    ------
    ValueError
        If what a method needs was not given, a method or a substance is not known, two loads have one name, a code
        has no row, or the record of rain has a gap.

    Notes
    -----
    Low is every coefficient at its lowest at once and high every one at its highest: bounds, not percentiles. A bound
    that was not published is NaN for every outlet with such ground. Soil loss has a middle only. Runoff here is that
    of storms: streams fed by groundwater bring more in the dry season than its share of them.
    """
    tables = {
        "export coefficient": export_coefficients or shipped_table("export_coefficient"),
        "event-mean concentration": concentrations or shipped_table("event_mean_concentration"),
    }
    codes = np.asarray(land_cover, np.float64)
    covers.refuse_unlisted(codes)
    _refuse_wanted(wanted, rain, soil_group, soil_loss, delivery_ratio)
    table = {
        "outlet": catchment.names,
        "x": catchment.outlets_xy[:, 0],
        "y": catchment.outlets_xy[:, 1],
        "area_ha": catchment.hectares,
        "known_share": catchment.known_share(codes),
    }
    runoff, factor, on_soil = {}, {season: 1.0 for season in (YEAR, *seasons)}, None
    if rain is not None:
        number = curve_numbers_of(codes, soil_group, covers, soil_groups, curve_numbers)
        runoff = seasonal_runoff(rain, number, seasons)
        still = covers.values(codes, {cover.code: cover.curve_number_cover == NOTHING for cover in covers.covers}) == 1
        no_soil = [code for code, group in soil_groups.items() if group is None]
        on_soil = np.isfinite(codes) & np.isfinite(soil_group) & ~np.isin(soil_group, no_soil)
        for season, depth in runoff.items():
            depth[still] = 0
            table[_column("runoff", season, "m3")] = _total(catchment, depth, on_soil) * CUBIC_METRES_PER_MM_HECTARE
        whole = {season: np.nansum(table[_column("runoff", season, "m3")]) for season in runoff}
        factor = {season: float(whole[season] / whole[YEAR]) if whole[YEAR] > 0 else 1.0 for season in runoff}
    per_hectare, sources = {}, set()
    for load in wanted:
        by_runoff = load.method == "event-mean concentration"
        for bound in RANGE:
            if load.method == "soil loss":
                value, described = _delivered(covers, codes, soil_loss, delivery_ratio, bound)
            else:
                by_code, told = _coefficients(covers, load, bound, tables[load.method], codes)
                value, described = covers.values(codes, by_code), on_soil if by_runoff else np.isfinite(codes)
                sources |= told
            for season, rate in factor.items():
                yielded = _carried(runoff[season], value) if by_runoff else value * np.float32(rate)
                table[_column(load.column, season, "kg", bound)] = _total(catchment, yielded, described)
                if (season, bound) == (YEAR, "median"):
                    per_hectare[load.column] = yielded.astype(np.float32)
    return CatchmentLoad(
        outlets=pd.DataFrame(table),
        runoff=runoff,
        per_hectare=per_hectare,
        season_factor=factor,
        sources=tuple(sorted(sources)),
    )


def _column(name: str, season: str, unit: str, bound: str = "") -> str:
    words = [name, "" if season == YEAR else season, bound, unit, "per", "year"]
    return "_".join(word.replace(" ", "_") for word in words if word)


def _total(catchment: Catchment, per_hectare: np.ndarray, described: np.ndarray) -> np.ndarray:
    """Sums at the outlets; NaN if a coefficient is lacking for ground that is mapped: that is no gap in a map."""
    lacking = catchment.cells @ (described & np.isnan(per_hectare)).ravel().astype(np.float64)
    return np.where(lacking > 0, np.nan, catchment.total(per_hectare))


def _carried(runoff: np.ndarray, concentration: np.ndarray) -> np.ndarray:
    load = runoff_load(runoff, concentration, 1.0)
    # where nothing runs off, or nothing is in it, the other need not be known
    return np.where((runoff == 0) | (concentration == 0), 0, load)


def _delivered(covers: CoverTable, codes, soil_loss, delivery_ratio, bound) -> tuple[np.ndarray, np.ndarray]:
    """Sediment that reaches the water, of which only a middle is known, and the ground whose cover has a factor."""
    load = np.asarray(soil_loss, np.float64) * delivery_ratio * KILOGRAMS_PER_TONNE
    if bound != "median":
        load = np.full(codes.shape, np.nan)
        return load, np.ones(codes.shape, bool)
    return load, np.isfinite(codes) & np.isnan(covers.factor(codes, "cover_factor"))


def _coefficients(
    covers: CoverTable, load: Wanted, bound: str, table: PublishedTable, codes: np.ndarray
) -> tuple[dict[int, float], set[str]]:
    """The coefficient of each code of the map, and where it comes from."""
    column, unit = {
        "export coefficient": ("export_cover", "kg/ha/year"),
        "event-mean concentration": ("concentration_cover", "mg/L"),
    }[load.method]
    on_map = set(np.unique(codes[~np.isnan(codes)]).astype(int).tolist())
    values, sources = {}, set()
    for cover in covers.covers:
        word = getattr(cover, column)
        if cover.code not in on_map or word is None:
            continue
        if word == NOTHING:
            values[cover.code] = 0.0
            continue
        row = table.row(cover=word, substance=load.substance)
        if row.get("units", unit) != unit:
            raise ValueError(f'{table.name}: the unit of "{word}" is "{row["units"]}". It must be {unit}.')
        sources.add(f"{row['source']} ({row['seen']})")
        if row[bound] is not None:
            values[cover.code] = row[bound]
    return values, sources


def _refuse_wanted(wanted: Sequence[Wanted], rain, soil_group, soil_loss, delivery_ratio) -> None:
    if rain is not None and soil_group is None:
        raise ValueError("soil_group: it is missing. Runoff from rain needs the soil group of each cell.")
    for load in wanted:
        if load.method not in METHODS:
            raise ValueError(f'method: found "{load.method}" for {load.substance}. Use one of: {", ".join(METHODS)}.')
        if load.method == "event-mean concentration" and rain is None:
            raise ValueError(f"rain: it is missing. {load.substance} by event-mean concentration needs a daily record.")
        if load.method == "soil loss":
            if soil_loss is None or delivery_ratio is None:
                raise ValueError(f"soil_loss: {load.substance} by soil loss needs it and a delivery ratio. Give both.")
            refuse_outside(delivery_ratio, "delivery_ratio", "1", least=0, most=1, advice="Divide a percentage by 100.")
    names = [load.column for load in wanted]
    for name in names:
        if names.count(name) > 1:
            raise ValueError(f'wanted: "{name}" is asked for twice. Give one of them a name of its own.')
