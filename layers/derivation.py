"""A site's layers while they are made: each made once, with a note of all that it was made from."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, TypeVar

import numpy as np
import xarray as xr

from layers import quantity as q
from layers.inputs import Inputs
from layers.provenance import provenance, stacked
from layers.quantity import Quantity
from layers.site import FileEntry
from layers.trace import Trace

if TYPE_CHECKING:
    from layers.amount import Amount
    from layers.recipe import Recipe
    from layers.tide import WaterLevels

Made = TypeVar("Made")


@dataclass(frozen=True, kw_only=True)
class Settings:
    """What an assessment asks of the layers."""

    wanted: tuple[str, ...]  # names of layers
    feeding_depth: tuple[float, float] | None = None  # shallowest and deepest [m]
    reach: Mapping[str, float] = field(default_factory=dict)  # of each distance layer [m]
    amounts: Mapping[str, Amount] = field(default_factory=dict)  # other numbers of the profile, under "table.key"


class Derivation:
    """The inputs of a site and the settings of an assessment, and the layers made of the two so far."""

    def __init__(self, inputs: Inputs, settings: Settings, recipes: Mapping[str, Recipe]):
        self.inputs, self.settings, self.recipes = inputs, settings, recipes
        self.site, self.grid = inputs.site, inputs.site.grid
        self.traces: dict[str, Trace] = {}  # of the layers made so far
        self._layers: dict[str, xr.DataArray | None] = {}
        self._shared: dict[object, tuple[object, Trace]] = {}
        self._open: list[Trace] = [Trace()]
        self._all_traces: dict[str, Trace] = {}  # of the layers that could not be made as well
        self._behind: dict[str, frozenset[str]] = {}

    def layer(self, name: str) -> xr.DataArray | None:
        """A layer, made the first time it is asked for; None where the site's files cannot give it."""
        if name not in self._layers:
            recipe = self.recipes[name]
            trace = Trace()
            self._open.append(trace)
            try:
                made = recipe.make(self)
            finally:
                self._open.pop()
            if made is not None:
                made.attrs = {"function": recipe.function, **made.attrs, **trace.attributes()}
                self.traces[name] = trace
            self._layers[name] = made
            self._all_traces[name] = trace
        self._open[-1].layers.add(name)
        return self._layers[name]

    def after(self, inputs: Inputs, changed: frozenset[str]) -> Derivation:
        """The same derivation from `inputs`, which differ in files of the `changed` feeds only.

        What depends on none of them is taken over as it is; the rest is made when it is asked for.
        """
        again = Derivation(inputs, self.settings, self.recipes)
        again._layers = {name: made for name, made in self._layers.items() if not changed & self._feeds_behind(name)}
        again._all_traces = {name: trace for name, trace in self._all_traces.items() if name in again._layers}
        again.traces = {name: trace for name, trace in self.traces.items() if name in again._layers}
        again._shared = {
            key: (made, trace)
            for key, (made, trace) in self._shared.items()
            if not changed & self._feeds_behind_trace(trace)
        }
        return again

    def _feeds_behind(self, name: str) -> frozenset[str]:
        """Every feed that a layer made so far was asked of, by itself or by the layers it is made from."""
        if name not in self._behind:
            self._behind[name] = self._feeds_behind_trace(self._all_traces[name])
        return self._behind[name]

    def _feeds_behind_trace(self, trace: Trace) -> frozenset[str]:
        return frozenset(trace.feeds).union(*(self._feeds_behind(layer) for layer in trace.layers))

    @property
    def made(self) -> dict[str, xr.DataArray]:
        """The layers made so far, in the order of the recipes."""
        return {name: self._layers[name] for name in self.recipes if self._layers.get(name) is not None}

    def once(self, key: object, make: Callable[[], Made]) -> Made:
        """What several layers share, made by the first that asks; all of them note what it was made from."""
        if key not in self._shared:
            trace = Trace()
            self._open.append(trace)
            try:
                made = make()
            finally:
                self._open.pop()
            self._shared[key] = (made, trace)
        made, trace = self._shared[key]
        self._open[-1].add(trace)
        return made

    @property
    def is_swum(self) -> np.ndarray:
        """Where an animal can swim at some stage of the tide; shape (y, x)."""
        return self.once("is_swum", lambda: np.isin(self.layer("surface").to_numpy(), (q.INTERTIDAL, q.WATER)))

    @property
    def bed(self) -> xr.DataArray | None:
        """Bed elevation above its datum. [m]"""
        return self.layer("bed_elevation")

    @property
    def bed_entries(self) -> tuple[FileEntry, ...]:
        """The entries the bed is made from."""
        return self.entries("bed_elevation") + self.entries("sounding")

    @property
    def bed_datum(self) -> str | None:
        """The datum of the bed: of its raster, else of the newest survey."""
        entries = self.entries("bed_elevation") or self.entries("sounding")
        return max(entries, key=lambda entry: entry.date or "").datum if entries else None

    def levels(self, season: str | None) -> WaterLevels | None:
        """Water levels above the datum of the bed; those of the whole year where `season` is None."""
        from layers.tide import water_levels

        if self.bed_datum is None:
            return None
        found = water_levels(self.inputs, self.bed_datum, season)
        self._open[-1].feeds.update(("water_level", "tide"))
        return found

    @property
    def has_level_seasons(self) -> bool:
        """Whether the water stands at other levels in other seasons."""
        return any(entry.season for feeds in ("water_level", "tide") for entry in self.entries(feeds))

    def entries(self, feeds: str) -> tuple[FileEntry, ...]:
        """The entries that feed `feeds`."""
        self._open[-1].feeds.add(feeds)
        return self.inputs.having(feeds)

    def number(self, key: str) -> float | None:
        """A number of the site file or the profile under "table.key"; None where it is not given."""
        amount = self.site.amounts.get(key) or self.settings.amounts.get(key)
        self._open[-1].keys.add(key)
        if amount is None:
            return None
        self._open[-1].numbers[key] = str(amount)
        return amount.value

    def reach(self, name: str) -> float:
        """How far a layer of distances reaches in the profile, or a thing is felt by the site file. [m]"""
        where, reach = ("profile", self.settings.reach) if name in self.settings.reach else ("site", self.site.reach)
        self._open[-1].keys.add(f"reach.{name}")
        self._open[-1].numbers[f"reach.{name}"] = f"{float(reach[name]):g} m ({where})"
        return float(reach[name])

    def geometries(self, entries: tuple[FileEntry, ...]):
        """All shapes of `entries`, in the grid's projection."""
        import geopandas as gpd
        import pandas as pd

        shapes = [self.inputs.features[entry.name].geometry for entry in entries]
        return gpd.GeoSeries(pd.concat(shapes, ignore_index=True), crs=shapes[0].crs)

    def label(self, values: np.ndarray, quantity: Quantity, entries: tuple[FileEntry, ...], method: str, **more: str):
        """A layer that carries where it came from."""
        return self.grid.label(values, quantity, **provenance(entries), method=method, **more)

    def on_water(self, values: np.ndarray) -> np.ndarray:
        """`values` as float32 with everything but water and intertidal flats left without data."""
        return np.where(self.is_swum, values, np.nan).astype(np.float32)

    def by_season(self, feeds: str, make: Callable[[tuple[FileEntry, ...], str | None], xr.DataArray | None]):
        """One layer, or one for each season where the entries of `feeds` differ by season."""
        entries = self.entries(feeds)
        if not entries:
            return None
        if all(entry.season is None for entry in entries):
            return make(entries, None)
        chosen = {season: tuple(e for e in entries if e.season == season) for season in self.site.seasons}
        return stacked({season: make(some, season) if some else None for season, some in chosen.items()})

    def by_seasons_of(self, layers: Mapping[str, xr.DataArray | None], make: Callable[..., xr.DataArray | None]):
        """One layer made of others, or one for each season where any of them has seasons.

        `make` is given the season and each layer by its name: (y, x), or None where it is absent.
        """
        seasons = [season for layer in layers.values() if layer is not None for season in seasons_of(layer)]
        if not seasons:
            return make(None, **layers)

        def of(layer: xr.DataArray | None, season: str) -> xr.DataArray | None:
            if layer is None or "season" not in layer.dims:
                return layer
            return layer.sel(season=season)

        parts = {
            season: make(season, **{name: of(layer, season) for name, layer in layers.items()})
            for season in self.site.seasons
        }
        return stacked(parts) if any(part is not None for part in parts.values()) else None


def seasons_of(layer: xr.DataArray) -> tuple[str, ...]:
    """Names of the seasons of a layer; none where it is the same all year."""
    return tuple(str(season) for season in layer["season"].values) if "season" in layer.dims else ()
