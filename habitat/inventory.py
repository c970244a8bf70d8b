"""What the layers of a site hold, in a table: cells, range, missing, date and source."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
import pandas as pd

from layers.provenance import shortened
from layers.published_table import RANGE
from layers.quantity import INTERTIDAL, LAYERS, WATER
from layers.recipe import RECIPES
from layers.recipes.loads import SUBSTANCES, catchment_result
from layers.shore import cut_off_cells

if TYPE_CHECKING:
    from habitat.site_map import SiteMap


def inventory(found: SiteMap) -> pd.DataFrame:
    """One row for each layer and season.

    Returns
    -------
    DataFrame
        Columns layer, season, units, cells (with a value), missing (water cells without one), lowest, mean,
        highest, date, files, method, source, licence, credit.
    """
    swum = np.isin(found.layers["surface"].to_numpy(), (INTERTIDAL, WATER))
    rows = []
    for name, layer in found.layers.data_vars.items():
        if name == "surface":
            continue
        seasons = list(layer["season"].values) if "season" in layer.dims else [""]
        for season in seasons:
            values = layer.sel(season=season).to_numpy() if season else layer.to_numpy()
            known = ~np.isnan(values)
            held = values[known]
            rows.append(
                {
                    "layer": name,
                    "season": str(season),
                    "units": LAYERS[name].units,
                    "cells": int(known.sum()),
                    "missing": int((swum & ~known).sum()),
                    "lowest": float(held.min()) if held.size else np.nan,
                    "mean": float(held.mean(dtype=np.float64)) if held.size else np.nan,
                    "highest": float(held.max()) if held.size else np.nan,
                    **{
                        key: layer.attrs.get(key, "")
                        for key in ("date", "files", "method", "source", "licence", "credit")
                    },
                }
            )
    return pd.DataFrame(rows)


def inventory_text(found: SiteMap) -> str:
    """The inventory, what the profile asks and the site lacks, and every remark, as plain text."""
    site, profile = found.inputs.site, found.profile
    rows, columns = site.grid.shape
    codes = found.layers["surface"].to_numpy()
    water, flats = int((codes == WATER).sum()), int((codes == INTERTIDAL).sum())
    unknown = int((codes == 0).sum())
    lines = [
        f"{site.title}{' (invented)' if site.invented else ''}: no fault found.",
        f"{rows:,} x {columns:,} cells of {site.grid.cell:g} m, {site.grid.crs.name}: "
        f"{water * site.grid.cell_hectares:,.0f} ha of water, {flats * site.grid.cell_hectares:,.0f} ha between the "
        f"tides, {unknown * site.grid.cell_hectares:,.0f} ha unknown.",
        "",
        _aligned(inventory(found)),
        "",
    ]
    lines += [f"Note: {remark}" for remark in (*found.inputs.remarks, *found.disagreements)]
    lines += [f"Note: {sentence}" for sentence in _loads_told(found)]
    cut_off = cut_off_cells(np.isin(codes, (INTERTIDAL, WATER)))
    if cut_off:
        lines.append(
            f"Note: {cut_off:,} cells of water ({cut_off * site.grid.cell_hectares:,.0f} ha) are joined to the rest at "
            "a corner or not at all, and no distance through the water reaches them from there. Smaller cells may "
            "join narrow creeks."
        )
    lacking = [name for name in profile.layers_needed if name not in found.layers]
    if lacking:
        wanted = ", ".join(f"{name}{_fed_by(name)}" for name in lacking)
        lines.append(f"Note: the profile also asks for {wanted}, which no file of the site gives.")
    lines += [f"Note: {sentence}" for sentence in scores_that_cannot_be(found)]
    return "\n".join(lines)


def _loads_told(found: SiteMap) -> list[str]:
    """What the catchment sends in a year, with the published range."""
    land = catchment_result(found.derivation)
    if land is None:
        return []
    outlets = land.load.outlets
    sent = []
    for substance in SUBSTANCES:
        low, middle, high = (outlets[f"{substance}_{bound}_kg_per_year"] for bound in RANGE)
        known = low.notna().all() and high.notna().all()
        span = f" ({low.sum() / 1000:,.3g} to {high.sum() / 1000:,.3g} by the published range)" if known else ""
        sent.append(f"{middle.sum() / 1000:,.3g} t of {substance}{span}")
    lost = (
        f"; water of {land.drained.lost_area / 10_000:,.0f} ha leaves over the edge of the terrain"
        if land.drained
        else ""
    )
    return [
        f"{outlets['area_ha'].sum():,.0f} ha of catchment send a year, through {len(outlets)} outlets, "
        f"{'; '.join(sent)}{lost}. Loads are those of storms: in the dry season groundwater brings more."
    ]


def _fed_by(layer: str) -> str:
    feeds = " or ".join(f'"{feeds}"' for feeds in RECIPES[layer].feeds)
    return f" (feeds = {feeds})" if feeds else ""


def scores_that_cannot_be(found: SiteMap) -> list[str]:
    """Sentences on a whole score that the site's files cannot give, and what would give it."""
    profile, said = found.profile, []
    for name, parts, essential, may_lack in (
        ("suitability", profile.factors, profile.essential, profile.may_lack),
        ("threat", profile.pressures, (), profile.threat_may_lack),
    ):
        absent = [part.name for part in parts if part.layer not in found.layers]
        if not absent or bool(found.assessment[name].notnull().any()):
            continue
        lost = [part for part in essential if part in absent]
        allowed = f"no more than {may_lack} to be lacking" if may_lack else "none to be lacking"
        reason = f"none without {' and '.join(lost)}" if lost else allowed
        said.append(
            f"no cell can have a {name}: of its {len(parts)} parts the site lacks {len(absent)} "
            f"({', '.join(absent)}), and the profile allows {reason}. Add files, or change the profile and say why "
            "in it."
        )
    return said


def _aligned(table: pd.DataFrame) -> str:
    shown = table[["layer", "season", "units", "cells", "missing", "lowest", "mean", "highest", "date", "files"]]
    if (shown["season"] == "").all():
        shown = shown.drop(columns="season")
    formats = {name: "{:.4g}".format for name in ("lowest", "mean", "highest")}
    shown = shown.assign(date=shown["date"].map(shortened), files=shown["files"].map(shortened))
    return shown.to_string(index=False, formatters={**formats, "cells": "{:,}".format, "missing": "{:,}".format})
