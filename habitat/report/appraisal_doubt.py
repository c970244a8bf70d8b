"""How sure the numbers of an appraisal are: errors of layers, published ranges of losses and loads."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
import pandas as pd

from layers.dredging import loss_fractions
from layers.quantity import LAYERS

if TYPE_CHECKING:
    from habitat.appraisal_account import Account

_LOADS = ("nitrogen", "phosphorus", "sediment")


def standard_errors(account: Account) -> pd.DataFrame:
    """Standard errors that the site's layers carry.

    Returns
    -------
    DataFrame
        Columns layer, label, season, median, most (that of nine tenths of the water), units.
    """
    layers, rows = account.appraisal.before.layers, []
    for name in (str(name) for name in layers.data_vars if str(name).endswith("_error")):
        quantity = LAYERS[name.removesuffix("_error")]
        units = {"1": "", "degree_Celsius": "°C"}.get(quantity.units, quantity.units)
        seasons = [str(one) for one in layers["season"].values] if "season" in layers[name].dims else [""]
        for season in seasons:
            errors = (layers[name].sel(season=season) if season else layers[name]).to_numpy().astype(np.float64)
            known = errors[np.isfinite(errors)]
            if known.size:
                median, most = np.quantile(known, (0.5, 0.9))
                rows.append((name, quantity.label, season or "all year", median, most, units))
    return pd.DataFrame(rows, columns=["layer", "label", "season", "median", "most", "units"])


def loss_ranges(account: Account) -> pd.DataFrame:
    """Share of the fines that each dredge work loses, of the site and of the proposal, with the published range. [1]"""
    from layers.dredge_work import works_of

    inputs, published, rows = account.appraisal.together.site_map.inputs, loss_fractions(), []
    for entry in inputs.having("dredge_work"):
        for work in works_of(inputs.features[entry.name], entry, inputs.site, []):
            low, taken, high = (np.nan if share is None else float(share) for share in work.loss)
            is_published = work.loss[0] is not None or work.loss[2] is not None
            source = published[work.equipment].source if is_published else "stated with the work"
            rows.append((work.name, work.equipment, low, taken, high, source))
    return pd.DataFrame(rows, columns=["work", "equipment", "low", "taken", "high", "source"])


def load_ranges(account: Account) -> pd.DataFrame:
    """Loads of the whole catchment before and after, with everything low and everything high. [kg/year]"""
    from layers.recipes.loads import catchment_result

    appraisal, rows = account.appraisal, []
    for when, made in (("before", appraisal.before), ("after", appraisal.together.site_map)):
        land = catchment_result(made.derivation)
        if land is None:
            continue
        outlets = land.load.outlets
        for name in _LOADS:
            columns = {bound: f"{name}_{bound}_kg_per_year" for bound in ("low", "median", "high")}
            if set(columns.values()) <= set(outlets.columns):
                sums = (float(outlets[column].sum(skipna=False)) for column in columns.values())
                rows.append((when, name, *sums))
    return pd.DataFrame(rows, columns=["when", "load", "low", "median", "high"])
