"""Recipes of what is released in the water and mixes with it: nutrients and sediment of outlets, fines of dredges."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from functools import partial
from typing import TYPE_CHECKING

import numpy as np
import xarray as xr
from scipy import ndimage

from layers import quantity as q
from layers.ashore import shore_distance
from layers.deposition import SECONDS_PER_DAY
from layers.derivation import Derivation
from layers.fault import Fault, LayerError, told_as_fault
from layers.provenance import stacked
from layers.quantity import Quantity
from layers.recipes.loads import catchment_result, outlet_loads
from layers.season import season_days
from layers.units import DAYS_A_YEAR

if TYPE_CHECKING:
    from layers.current import CurrentFlow
    from layers.dredge_work import DredgeWork
    from layers.mixing import Balance, MixingProblem

Loss = Callable[[Derivation], "float | np.ndarray | None"]  # first-order loss of a substance [1/s]

MOST_KEPT = 1_000_000  # cells of water up to which a solver is kept for the next load; it takes some 300 bytes a cell
GRAMS_A_SECOND = 1000 / (DAYS_A_YEAR * SECONDS_PER_DAY)  # of 1 kg/year


def nitrogen(made: Derivation) -> xr.DataArray | None:
    """Total nitrogen: what the sea holds, and what the outlets add."""
    return _of_outlets(made, "nitrogen", q.NITROGEN, "background.nitrogen", _daily_loss("mixing.nitrogen_loss"))


def phosphorus(made: Derivation) -> xr.DataArray | None:
    """Total phosphorus: what the sea holds, and what the outlets add."""
    return _of_outlets(made, "phosphorus", q.PHOSPHORUS, "background.phosphorus", _daily_loss("mixing.phosphorus_loss"))


def outlet_solids(made: Derivation) -> xr.DataArray | None:
    """Suspended solids: what the sea holds, and what the outlets add."""
    return _of_outlets(made, "sediment", q.SUSPENDED_SOLIDS, "background.suspended_solids", _settling)


def dredge_plume(made: Derivation) -> xr.DataArray | None:
    """Solids while the dredges of a season dig, all at once."""
    return _of_works(made, q.DREDGE_PLUME, lambda part: part.concentration)


def dredge_solids(made: Derivation) -> xr.DataArray | None:
    """Solids of dredges, mean over the season."""
    return _of_works(made, q.DREDGE_SOLIDS, lambda part: part.concentration * part.share_of_time)


def dredge_deposit(made: Derivation) -> xr.DataArray | None:
    """Sediment of dredges that settles in the season."""
    from layers.deposition import deposition_rate

    def settled(part: Plume) -> np.ndarray:
        rate = deposition_rate(np.nan_to_num(part.concentration), part.work.settling_speed)  # kg/m2/day
        return np.where(np.isnan(part.concentration), np.nan, rate * part.work.hours_of_digging / 24)

    return _of_works(made, q.DREDGE_DEPOSIT, settled)


@dataclass(frozen=True, kw_only=True)
class Plume:
    """What one work of a dredge puts into the water while it digs."""

    work: DredgeWork
    concentration: np.ndarray  # (M, N) [mg/L]
    share_of_time: float  # of the season that it digs [1]
    balance: Balance


def _of_outlets(
    made: Derivation, substance: str, quantity: Quantity, background: str, loss: Loss
) -> xr.DataArray | None:
    from layers.mixing import balance, concentration, point_loads

    seasons, held = outlet_loads(made, substance), made.number(background)
    if not seasons or held is None or loss(made) is None:
        return None

    def of_season(season: str | None) -> xr.DataArray:
        loads = seasons[season]
        problem = _problem(made, substance, loss, season)
        put_in = loads.kilograms_a_year * GRAMS_A_SECOND
        try:
            sources = point_loads(loads.places, put_in, made.is_swum, made.grid, snap=_snap(made))
        except ValueError as refusal:  # a load that is negative though the site file calls it plausible
            where = ", ".join(f"files.{entry.name}" for entry in loads.entries[:1])
            raise LayerError(made.site.path.name, [told_as_fault(where, refusal)]) from None
        added = concentration(problem, sources)
        method = (
            f"{held:g} mg/L of the sea, and {loads.kilograms_a_year.sum():,.0f} kg a year of {loads.told} "
            f"mixed into it: {_told(made, season, problem, balance(problem, sources, added))}"
        )
        return made.label(made.on_water(held + added), quantity, (*loads.entries, *_mixed_from(made)), method)

    parts = {season: of_season(season) for season in seasons}
    return parts[None] if None in parts else stacked(parts)


def _of_works(made: Derivation, quantity: Quantity, share) -> xr.DataArray | None:
    entries = made.entries("dredge_work")
    if not entries:
        return None
    seasons = tuple(made.site.seasons) or (None,)

    def of_season(season: str | None) -> xr.DataArray:
        plumes = made.once(("plumes", season), lambda made: _plumes(made, season))
        values = sum((share(plume) for plume in plumes), start=np.zeros(made.grid.shape))
        told = "; ".join(f"{plume.work}: {_where_it_goes(plume.balance)}" for plume in plumes)
        method = f"fines of dredges, mixed and settling: {told}" if plumes else "no dredge works in this season"
        return made.label(made.on_water(values), quantity, (*entries, *_mixed_from(made)), method)

    parts = {season: of_season(season) for season in seasons}
    return parts[None] if None in parts else stacked(parts)


def _plumes(made: Derivation, season: str | None) -> list[Plume]:
    from layers.dredge_work import footprint_source, works_of
    from layers.mixing import balance, concentration

    plumes = []
    for entry in made.entries("dredge_work"):
        for work in works_of(made.inputs.features[entry.name], entry, made.site, []):
            if work.season not in (None, season):
                continue
            speed = work.settling_speed
            problem = _problem(made, f"{speed:.6g} m/s", partial(_falling, speed), season)
            sources = footprint_source(work, made.is_swum, made.grid, entry)
            found = concentration(problem, sources)
            days = season_days(made.site.seasons, season)
            plumes.append(
                Plume(
                    work=work,
                    concentration=found,
                    share_of_time=work.hours_of_digging / (24 * days),
                    balance=balance(problem, sources, found),
                )
            )
    return plumes


def _problem(made: Derivation, name: str, loss: Loss, season: str | None) -> MixingProblem:
    """The water of a season made ready for a loss; one for all seasons where nothing flows."""
    from layers.mixing import mixing_problem

    def make(made: Derivation) -> MixingProblem:
        flow, depth, rate = _flow(made, season), _mixing_depth(made), loss(made)
        try:
            return mixing_problem(
                depth,
                made.is_swum,
                made.grid,
                made.number("mixing.dispersion"),
                rate,
                None if flow is None else flow.flow,
                made.site.open_edges,
            )
        except ValueError as refusal:  # water without loss or a way out
            raise LayerError(made.site.path.name, [told_as_fault("mixing", refusal)]) from None

    flows = made.entries("current_east") or made.entries("land_cover")
    if np.count_nonzero(made.is_swum) > MOST_KEPT:
        return make(made)
    return made.once(("mixing", name, season if flows else None), make)


def _daily_loss(key: str):
    def rate(made: Derivation) -> float | None:
        daily = made.number(key)
        return None if daily is None else daily / SECONDS_PER_DAY

    return rate


def _settling(made: Derivation) -> np.ndarray | None:
    speed = made.number("mixing.sediment_settling")
    return None if speed is None else _falling(speed, made)


def _falling(speed: float, made: Derivation) -> np.ndarray:
    from layers.deposition import settling_loss

    return settling_loss(speed, _mixing_depth(made))


def _mixing_depth(made: Derivation) -> np.ndarray:
    return made.once("mixing depth", _mean_column)


def _mean_column(made: Derivation) -> np.ndarray:
    """Mean over the tide of the water that stands on each cell, no less than the least depth. [m]"""
    from layers.water import mean_water_column

    bed, levels, water = made.bed.to_numpy(), made.levels(None), made.is_swum
    column = mean_water_column(bed, levels.levels if levels else np.zeros(1))
    unsounded = water & np.isnan(bed)
    if unsounded.any():
        assumed = made.number("mixing.unknown_depth")
        if assumed is None:
            fault = Fault(
                "mixing.unknown_depth",
                f"this is missing, and {unsounded.sum():,} cells of water have no depth to mix in.",
                'Add `unknown_depth = { value = ..., units = "m", source = "..." }` to the table [mixing].',
            )
            raise LayerError(made.site.path.name, [fault])
        column = np.where(unsounded, assumed, column)
    return np.where(water, np.maximum(column, made.number("mixing.least_depth")), np.nan)


def _flow(made: Derivation, season: str | None) -> CurrentFlow | None:
    """Discharges of the given currents and of the rivers of the catchment; None where neither is known."""
    return made.once(("flow", season), lambda made: _conserving(made, season))


def _conserving(made: Derivation, season: str | None) -> CurrentFlow | None:
    from layers.current import flow_of_current
    from layers.mixing import point_loads

    currents, rivers = [made.entries(feeds)[:1] for feeds in ("current_east", "current_north")], catchment_result(made)
    if not currents[0] and rivers is None:
        return None
    still = np.zeros(made.grid.shape)
    east, north = (made.inputs.rasters[entry[0].name].to_numpy() if entry else still for entry in currents)
    inflow = None
    if rivers is not None:
        outlets = rivers.load.outlets
        runoff = outlets[f"runoff_{season}_m3_per_year" if season else "runoff_m3_per_year"].fillna(0).to_numpy()
        per_second = runoff / (DAYS_A_YEAR * SECONDS_PER_DAY)
        places = outlets[["x", "y"]].to_numpy(float)
        inflow = point_loads(places, per_second, made.is_swum, made.grid, snap=_snap(made))
        # on coarse cells a creek may be cut off from the sea: what it brings is then mixed, but does not flow
        inflow = np.where(_has_a_way_out(made.is_swum, made.site.open_edges), inflow, 0.0)
    depth = _mixing_depth(made)
    try:
        return flow_of_current(east, north, depth, made.is_swum, made.grid, made.site.open_edges, inflow)
    except ValueError as refusal:
        place = f"files.{currents[0][0].name}" if currents[0] else "mixing.open_edges"
        raise LayerError(made.site.path.name, [told_as_fault(place, refusal)]) from None


def _has_a_way_out(water: np.ndarray, open_edges: tuple[str, ...]) -> np.ndarray:
    """(M, N) True in water that is joined, side by side, to an open edge of the grid."""
    bodies, _ = ndimage.label(water)
    edges = {"north": np.s_[0, :], "east": np.s_[:, -1], "south": np.s_[-1, :], "west": np.s_[:, 0]}
    out = {int(body) for edge in open_edges for body in np.unique(bodies[edges[edge]])} - {0}
    return np.isin(bodies, sorted(out))


def _snap(made: Derivation) -> float:
    """How far from the water an outlet may lie; one of the catchment stands at the middle of a cell of its grid. [m]"""
    return max([shore_distance(made.site)] + ([made.site.catchment.grid.cell] if made.entries("land_cover") else []))


def _mixed_from(made: Derivation):
    """Entries that say how deep the water is and how it moves."""
    levels = made.levels(None)
    currents = (*made.entries("current_east"), *made.entries("current_north"))
    return (*made.bed_entries, *(levels.entries if levels else ()), *currents)


def _told(made: Derivation, season: str | None, problem: MixingProblem, found: Balance) -> str:
    flow = _flow(made, season)
    moved = "".join(
        word
        for word, feeds in (("the given current, ", "current_east"), ("the rivers of the catchment, ", "land_cover"))
        if made.entries(feeds)
    )
    changed = ""
    if made.entries("current_east"):
        changed = f" (made to conserve water by a change of {100 * flow.correction:.0f} %)"
    added = float(np.nanmax(problem.added_dispersion)) if problem.peclet > 1 else 0.0
    grid_adds = f" (the size of the cells adds up to {added:.2g} m2/s)" if added else ""
    return (
        f"steady, mean over the depth, carried by {moved}a dispersion of "
        f"{made.number('mixing.dispersion'):g} m2/s{grid_adds}{changed}; {_where_it_goes(found)}"
    )


def _where_it_goes(found: Balance) -> str:
    if not found.load > 0:
        return "nothing is released"
    return (
        f"{100 * found.loss / found.load:.0f} % is lost in the water, {100 * found.outflow / found.load:.0f} % leaves "
        f"over open edges, {found.error:.0e} of the load is unaccounted for"
    )
