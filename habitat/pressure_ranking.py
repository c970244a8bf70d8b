"""Which pressures matter most on a site: how much habitat each weighs on, and where it is the heaviest."""

from __future__ import annotations

import numpy as np
import pandas as pd
import xarray as xr

from habitat.profile import Profile
from layers.grid import Grid

COLUMNS = ("pressure", "label", "habitat_units", "hectares_reached", "hectares_heaviest")


def pressures_ranked(assessment: xr.Dataset, profile: Profile, *, season: str | None = None) -> pd.DataFrame:
    """The pressures of a profile, the one that weighs on most habitat first.

    Parameters
    ----------
    assessment : Dataset
        From `habitat.assessment.assess` with `profile`.
    profile : Profile
        Whose pressures and weights are ranked.
    season : str, optional
        Which season, where the assessment has seasons.

    Returns
    -------
    DataFrame
        Columns pressure, label; habitat_units: sum over cells of suitability x weight x exposure x area, the
        habitat each pressure alone would take [ha]; hectares_reached: water with any exposure [ha];
        hectares_heaviest: water where its weight x exposure is above 0 and above that of every other, of equals
        the first in the profile's order [ha]. Cells without data count for nothing; a pressure without any data
        has NaN and comes last, for it is not known to be slight.

    Raises
    ------
    ValueError
        If the assessment has seasons and none of them is named.
    """
    if "season" in assessment["suitability"].dims and season is None:
        raise ValueError(f"a season is needed, one of: {', '.join(assessment['season'].values)}.")
    hectare = Grid.of(assessment).cell_hectares
    suitability = _of_season(assessment["suitability"], season).to_numpy().astype(np.float64)
    weighed = [
        pressure.weight * _of_season(assessment[f"exposure_{pressure.name}"], season).to_numpy().astype(np.float64)
        for pressure in profile.pressures
    ]
    if not weighed:
        return pd.DataFrame(columns=list(COLUMNS))
    known = np.nan_to_num(np.stack(weighed))
    heaviest = np.where(known.max(axis=0) > 0, known.argmax(axis=0), -1)
    rows = [
        {
            "pressure": pressure.name,
            "label": pressure.label,
            "habitat_units": _total(suitability * part) * hectare,
            "hectares_reached": _total(np.where(np.isnan(part), np.nan, part > 0)) * hectare,
            "hectares_heaviest": _total(np.where(np.isnan(part), np.nan, heaviest == number)) * hectare,
        }
        for number, (pressure, part) in enumerate(zip(profile.pressures, weighed, strict=True))
    ]
    return pd.DataFrame(rows).sort_values("habitat_units", ascending=False, kind="stable", ignore_index=True)


def _total(values: np.ndarray) -> float:
    """Sum of what is known; NaN where nothing is."""
    return float(np.nansum(values)) if not np.isnan(values).all() else float("nan")


def _of_season(layer: xr.DataArray, season: str | None) -> xr.DataArray:
    return layer.sel(season=season) if "season" in layer.dims else layer
