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
from layers.trace import LayerKey, Trace

if TYPE_CHECKING:
    from layers.amount import Amount
    from layers.recipe import Recipe
    from layers.tide import WaterLevels

Made = TypeVar("Made")


@dataclass(frozen=True, kw_only=True)
class Node:
    """Something made once, and what it asked for meanwhile."""

    value: object
    make: Callable[[Derivation], object]
    trace: Trace


@dataclass(frozen=True, kw_only=True)
class Settings:
    """What an assessment asks of the layers."""

    wanted: tuple[str, ...]  # names of layers
    feeding_depth: tuple[float, float] | None = None  # shallowest and deepest [m]
    reach: Mapping[str, float] = field(default_factory=dict)  # of each distance layer [m]
    amounts: Mapping[str, Amount] = field(default_factory=dict)  # other numbers of the profile, under "table.key"


class Derivation:
    """The inputs of a site and the settings of an assessment, and the layers made of the two so far.

    Layers, and what several of them share, are nodes that note what they asked for while they were made: files,
    numbers and other nodes.
    """

    def __init__(self, inputs: Inputs, settings: Settings, recipes: Mapping[str, Recipe]):
        self.inputs, self.settings, self.recipes = inputs, settings, recipes
        self.site, self.grid = inputs.site, inputs.site.grid
        self._nodes: dict[object, Node] = {}
        self._open: list[Trace] = [Trace()]
        self._before: Derivation | None = None  # the one this differs from in files of `_changed` feeds only
        self._changed: frozenset[str] = frozenset()
        self._differs: dict[object, bool] = {}  # whether a node holds something else than before

    def layer(self, name: str) -> xr.DataArray | None:
        """A layer, made the first time it is asked for; None where the site's files cannot give it."""
        return self._node(LayerKey(name), self.recipes[name].make)

    def once(self, key: object, make: Callable[[Derivation], Made]) -> Made:
        """What several layers share, made by the first that asks; `make` may use nothing but what it is given."""
        return self._node(key, make)

    def after(self, inputs: Inputs, changed: frozenset[str]) -> Derivation:
        """The same derivation from `inputs`, which differ in files of the `changed` feeds only.

        A node is made again if a file it asked for changed, or another node it asked for has come out differently;
        else it is taken over as it is.
        """
        again = Derivation(inputs, self.settings, self.recipes)
        again._before, again._changed = self, changed
        return again

    @property
    def made(self) -> dict[str, xr.DataArray]:
        """The layers made so far, in the order of the recipes."""
        nodes = {name: self._nodes.get(LayerKey(name)) for name in self.recipes}
        return {name: node.value for name, node in nodes.items() if node is not None and node.value is not None}

    @property
    def made_again(self) -> tuple[str, ...]:
        """The layers made so far that come out differently than before."""
        return tuple(name for name in self.made if self._differs.get(LayerKey(name), True))

    def trace(self, name: str) -> Trace:
        """All that a layer asked for, by itself and through what it shares with others; layers by their names."""
        return self._whole(self._nodes[LayerKey(name)].trace)

    def _node(self, key: object, make: Callable[[Derivation], Made]) -> Made:
        if key not in self._nodes:
            self._nodes[key] = self._taken_over(key) or self._made_new(key, make)
        self._open[-1].nodes[key] = None
        return self._nodes[key].value

    def _made_new(self, key: object, make: Callable[[Derivation], Made]) -> Node:
        trace = Trace()
        self._open.append(trace)
        try:
            value = make(self)
        finally:
            self._open.pop()
        if isinstance(key, LayerKey) and value is not None:
            said = self._whole(trace).attributes()
            value.attrs = {"function": self.recipes[key.name].function, **value.attrs, **said}
        old = self._before._nodes.get(key) if self._before else None
        self._differs[key] = old is None or not holds_the_same(old.value, value)
        return Node(value=value, make=make, trace=trace)

    def _taken_over(self, key: object) -> Node | None:
        """The node as it was before, if nothing it asked for has changed."""
        old = self._before._nodes.get(key) if self._before else None
        if old is None or old.trace.feeds & self._changed:
            return None
        self._open.append(Trace())  # looking is not asking
        try:
            for asked in old.trace.nodes:
                self._node(asked, self._before._nodes[asked].make)
                if self._differs[asked]:
                    return None
        finally:
            self._open.pop()
        self._differs[key] = False
        return old

    def _whole(self, trace: Trace) -> Trace:
        whole = Trace()
        whole.add(trace)
        for key in trace.nodes:
            if not isinstance(key, LayerKey):
                whole.add(self._whole(self._nodes[key].trace))
        return whole

    @property
    def is_swum(self) -> np.ndarray:
        """Where an animal can swim at some stage of the tide; shape (y, x)."""
        return self.once("is_swum", _is_swum)

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
        if amount is None:
            return None
        self._open[-1].numbers[key] = str(amount)
        return amount.value

    def reach(self, name: str) -> float:
        """How far a layer of distances reaches in the profile, or a thing is felt by the site file. [m]"""
        where, reach = ("profile", self.settings.reach) if name in self.settings.reach else ("site", self.site.reach)
        if name not in reach:  # nobody looks at it from a distance: as far as the grid goes
            where, reach = "as far as the grid goes", {name: sum(self.grid.shape) * self.grid.cell}
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
        chosen = {season: tuple(e for e in entries if e.season in (None, season)) for season in self.site.seasons}
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


def _is_swum(made: Derivation) -> np.ndarray:
    return np.isin(made.layer("surface").to_numpy(), (q.INTERTIDAL, q.WATER))


def holds_the_same(old: object, new: object) -> bool:
    """Whether two nodes hold the same numbers to the bit; nodes that are no grids count as different."""
    if old is new:
        return True
    if isinstance(old, xr.DataArray) and isinstance(new, xr.DataArray):
        return old.dims == new.dims and holds_the_same(old.to_numpy(), new.to_numpy())
    if isinstance(old, np.ndarray) and isinstance(new, np.ndarray):
        return old.dtype == new.dtype and np.array_equal(old, new, equal_nan=old.dtype.kind == "f")
    return False


def seasons_of(layer: xr.DataArray) -> tuple[str, ...]:
    """Names of the seasons of a layer; none where it is the same all year."""
    return tuple(str(season) for season in layer["season"].values) if "season" in layer.dims else ()
