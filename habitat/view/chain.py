"""The chain from the land to the grazing, gathered once for a site: layers, loads of outlets, what was measured where.

Making layers takes seconds; what a page draws, and what it says of a clicked cell, is read from here.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
import pandas as pd
import xarray as xr

from habitat.lineage import Ancestor, lineage
from habitat.site_map import SiteMap
from habitat.view.catchment_maps import Land, land_of
from habitat.view.measured import MEASURED, Measured, measured_of
from layers.fault import FaultyFileError

if TYPE_CHECKING:
    from layers.amount import Amount
    from layers.derivation import Derivation
    from layers.dredge_work import DredgeWork

NITROGEN = "nitrogen"
STEPS = (
    "nitrogen_concentration",
    "chlorophyll",
    "suspended_solids",
    "secchi_depth",
    "dredge_solids",
    "dredge_plume",
    "attenuation",
    "bed_light",
    "depth_limit",
    "water_depth",
    "seagrass_cover",
    "forage",
)
KILOGRAMS_A_TONNE = 1000


# without a printed form: the drawing library asks for it again and again, and it would print every layer
@dataclass(frozen=True, kw_only=True, eq=False, repr=False)
class Chain:
    """Everything the page of water and light draws from; nothing in it is made when a visitor clicks."""

    site_map: SiteMap
    layers: dict[str, xr.DataArray]  # those the site can give
    faults: dict[str, str]  # why a layer could not be made although files feed it
    told: dict[str, tuple[Ancestor, ...]]  # how each layer was made, itself first
    land: Land | None  # None for a site without a catchment
    loads: dict[str | None, pd.DataFrame]  # of each season: columns name, x, y [m], tonnes [t/year], of_land
    works: tuple[DredgeWork, ...]
    measured: dict[str, Measured]  # by layer, where points of it lie in the site

    def layer(self, name: str, season: str | None) -> xr.DataArray | None:
        """A layer in a season, (y, x); None where the site cannot give it."""
        layer = self.layers.get(name)
        if layer is None or "season" not in layer.dims:
            return layer
        return layer.sel(season=season if season in layer["season"].values else layer["season"].values[0])

    def value(self, name: str, season: str | None, cell: tuple[int, int]) -> float:
        """A layer's value in a cell; NaN where there is none."""
        layer = self.layer(name, season)
        return float("nan") if layer is None else float(layer.to_numpy()[cell])

    def loads_in(self, season: str | None) -> pd.DataFrame | None:
        """Nitrogen of each outlet in a season, as a year's rate; None where no file gives any."""
        if not self.loads:
            return None
        return self.loads.get(season, next(iter(self.loads.values())))

    def works_in(self, season: str | None) -> tuple[DredgeWork, ...]:
        """The works of dredges in a season."""
        return tuple(work for work in self.works if work.season in (None, season))

    def amount(self, key: str) -> Amount | None:
        """A number of the site file or the profile."""
        made = self.site_map.derivation
        return made.site.amounts.get(key) or made.settings.amounts.get(key)

    def number(self, key: str) -> float | None:
        """Its value alone."""
        amount = self.amount(key)
        return None if amount is None else amount.value

    @property
    def seasons(self) -> tuple[str, ...]:
        """Seasons in which anything on the page differs; none for a site that is the same all year."""
        differs = any("season" in layer.dims for layer in self.layers.values()) or len(self.loads) > 1
        return tuple(self.site_map.derivation.site.seasons) if differs else ()


def chain_of(site_map: SiteMap) -> Chain:
    """The chain of a site, made when it is first asked for and kept with the site's layers."""
    return site_map.derivation.once("chain of the page of water and light", lambda made: _gathered(site_map))


def _gathered(site_map: SiteMap) -> Chain:
    made, faults = site_map.derivation, {}
    names = dict.fromkeys((*STEPS, *MEASURED, *(f"{name}_error" for name in (*STEPS, *MEASURED))))
    layers = {name: _tried(faults, name, lambda name=name: made.layer(name)) for name in names if name in made.recipes}
    layers = {name: layer for name, layer in layers.items() if layer is not None}
    return Chain(
        site_map=site_map,
        layers=layers,
        faults=faults,
        told={name: tuple(lineage(site_map, name)) for name in layers},
        land=_tried(faults, "catchment", lambda: land_of(made)),
        loads=_tried(faults, "loads", lambda: outlets_of(made)) or {},
        works=_tried(faults, "works", lambda: _works(made)) or (),
        measured=measured_of(made, layers),
    )


def outlets_of(made: Derivation) -> dict[str | None, pd.DataFrame]:
    """Nitrogen of every outlet in each season, of files first and then of the catchment.

    Returns
    -------
    dict of season to DataFrame
        Columns name, x, y [m], tonnes [t/year], of_land. Empty where no file gives loads.
    """
    from layers.recipes.loads import catchment_result, median_load, outlet_loads

    land, tables = catchment_result(made), {}
    for season, loads in outlet_loads(made, NITROGEN).items():
        names = [
            f"{entry.path.name}, point {number}"
            for entry in loads.entries
            if entry.feeds == f"{NITROGEN}_load"
            for number in range(1, len(made.inputs.features[entry.name]) + 1)
        ]
        of_file = len(names)
        if land is not None:
            known = median_load(land.load.outlets, NITROGEN, season).notna()
            names += land.load.outlets.loc[known, "outlet"].astype(str).tolist()
        tables[season] = pd.DataFrame(
            {
                "name": names,
                "x": loads.places[:, 0],
                "y": loads.places[:, 1],
                "tonnes": loads.kilograms_a_year / KILOGRAMS_A_TONNE,
                "of_land": np.arange(len(names)) >= of_file,
            }
        )
    return tables


def _works(made: Derivation) -> tuple[DredgeWork, ...]:
    from layers.dredge_work import works_of

    entries = made.inputs.having("dredge_work")
    return tuple(work for entry in entries for work in works_of(made.inputs.features[entry.name], entry, made.site, []))


def _tried(faults: dict[str, str], name: str, make):
    """What `make` gives; None, and the words of the fault kept, where files do not fit together."""
    try:
        return make()
    except FaultyFileError as fault:
        faults[name] = str(fault)
        return None
