"""What several layers of a site share while they are made: the bed, the shore, the water levels."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from functools import cached_property

import numpy as np
import xarray as xr

from layers import quantity as q
from layers.fault import Fault, LayerError
from layers.inputs import Inputs
from layers.provenance import provenance, stacked
from layers.quantity import Quantity
from layers.site import FileEntry
from layers.tide import WaterLevels, water_levels


@dataclass(frozen=True, kw_only=True)
class Settings:
    """What an assessment asks of the layers."""

    wanted: tuple[str, ...]  # names of layers
    feeding_depth: tuple[float, float] | None = None  # shallowest and deepest [m]
    reach: Mapping[str, float] = field(default_factory=dict)  # of each distance layer [m]


class Derivation:
    """The inputs of a site and the settings of an assessment, with what several layers share."""

    def __init__(self, inputs: Inputs, settings: Settings):
        self.inputs, self.settings = inputs, settings
        self.site, self.grid = inputs.site, inputs.site.grid

    @cached_property
    def bed(self) -> xr.DataArray | None:
        """Bed elevation above its datum. [m]"""
        return next((self.inputs.rasters[entry.name] for entry in self.entries("bed_elevation")), None)

    @cached_property
    def surface(self) -> xr.DataArray:
        """Land, intertidal flat, water or unknown; over the levels of the whole year.

        Raises
        ------
        LayerError
            If there is no water in the site.
        """
        from layers.shore import surface

        levels = self.levels(None)
        codes, said = surface(self.inputs, None if self.bed is None else self.bed.to_numpy(), levels)
        decider = next(entry for entry in self.site.files if entry.name == self.site.decided_by)
        if not np.isin(codes, (q.INTERTIDAL, q.WATER)).any():
            fault = Fault(
                f"files.{decider.name}",
                f"{decider.path.name} decides what is water, and by it no cell of the site is.",
                "Check what it feeds, and the bounds of the grid.",
            )
            raise LayerError(self.site.path.name, [fault])
        return self.label(codes, q.SURFACE, (decider, *self.bed_entries, *(levels.entries if levels else ())), said)

    @cached_property
    def is_swum(self) -> np.ndarray:
        """Where an animal can swim at some stage of the tide; shape (y, x)."""
        return np.isin(self.surface.to_numpy(), (q.INTERTIDAL, q.WATER))

    @property
    def bed_entries(self) -> tuple[FileEntry, ...]:
        """The entries that feed the bed."""
        return self.entries("bed_elevation")

    def levels(self, season: str | None) -> WaterLevels | None:
        """Water levels above the datum of the bed; those of the whole year where `season` is None."""
        if not self.bed_entries:
            return None
        return water_levels(self.inputs, self.bed_entries[0].datum, season)

    def entries(self, feeds: str) -> tuple[FileEntry, ...]:
        """The entries that feed `feeds`."""
        return self.inputs.having(feeds)

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
