"""A cell taken apart: what holds it down, what presses it, and which file says so."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import xarray as xr

from habitat.combine import RULES, known, vetoed
from habitat.concern import concern_text
from habitat.profile import Profile
from layers.grid import Grid
from layers.quantity import LAYERS

MISSING = float("nan")


@dataclass(frozen=True, kw_only=True)
class FactorPart:
    """One factor's part in a score. `value` and `index` are NaN where the factor has no data."""

    name: str
    label: str
    value: float  # in `units`; a code where the layer holds categories
    units: str
    index: float  # [1]
    weight: float
    pull: float  # what the score would gain if this factor alone were ideal [1]
    files: tuple[str, ...]
    source: str  # of the layer


@dataclass(frozen=True, kw_only=True)
class PressurePart:
    """One pressure's part in a threat. `value` and `exposure` are NaN where the pressure has no data."""

    name: str
    label: str
    value: float  # in `units`
    units: str
    exposure: float  # [1]
    weight: float  # [1]
    share: float  # of weight x exposure summed over all pressures [1]
    files: tuple[str, ...]
    source: str  # of the layer


@dataclass(frozen=True, kw_only=True)
class Explanation:
    """Everything an assessment says of one cell, in the canonical order of the profile."""

    place: tuple[float, float]  # centre of the cell [m]
    season: str | None
    suitability: float  # [1]
    threat: float  # [1]
    concern: str
    limiting_factor: str | None
    factors: tuple[FactorPart, ...]
    pressures: tuple[PressurePart, ...]


def explain(
    layers: xr.Dataset, assessment: xr.Dataset, profile: Profile, x: float, y: float, season: str | None = None
) -> Explanation:
    """The cell that holds a point, factor by factor and pressure by pressure.

    Parameters
    ----------
    layers, assessment, profile
        What went into `assess` and what came out.
    x, y : float
        The point, in the CRS of the grid. [m]
    season : str, optional
        Needed where the assessment has seasons.

    Returns
    -------
    Explanation
        With NaN where there are no data. `pull` is the exact change of the score if that factor's index alone
        were 1 and all else as it is. Pulls do not add up to what the score lacks: in a geometric mean one poor
        factor hides what the others could do. `share` does add up to 1, or is 0 where nothing presses.

    Raises
    ------
    ValueError
        If the point lies outside the grid, the season is missing or unknown, or the assessment is not of this
        profile.
    """
    if assessment.attrs["factors"] != [factor.name for factor in profile.factors]:
        raise ValueError("the assessment was not made with this profile.")
    row_column = Grid.of(assessment).cell_at(x, y)
    if row_column is None:
        raise ValueError(f"the point ({x:.0f}, {y:.0f}) lies outside the site.")
    row, column = row_column

    def at(cells: xr.DataArray) -> float:
        cell = cells[..., row, column]
        return float(cell.sel(season=season)) if "season" in cell.dims else float(cell)

    _check_season(assessment, season)
    indices = [at(assessment[f"index_{factor.name}"]) for factor in profile.factors]
    exposures = [at(assessment[f"exposure_{pressure.name}"]) for pressure in profile.pressures]
    limiting = int(at(assessment["limiting_factor"]))
    return Explanation(
        place=(float(assessment["x"][column]), float(assessment["y"][row])),
        season=season if "season" in assessment.dims else None,
        suitability=at(assessment["suitability"]),
        threat=at(assessment["threat"]),
        concern=concern_text(int(at(assessment["concern"]))),
        limiting_factor=profile.factors[limiting - 1].name if limiting else None,
        factors=tuple(
            FactorPart(index=index, pull=pull, weight=factor.weight, **_origin(factor, layers, at))
            for factor, index, pull in zip(profile.factors, indices, pulls(indices, profile), strict=True)
        ),
        pressures=tuple(
            PressurePart(exposure=exposure, share=share, weight=pressure.weight, **_origin(pressure, layers, at))
            for pressure, exposure, share in zip(profile.pressures, exposures, shares(exposures, profile), strict=True)
        ),
    )


def pulls(indices: Sequence[float], profile: Profile) -> list[float]:
    """What the score would gain if each factor alone were ideal; NaN for those missing and where there is no score.

    Parameters
    ----------
    indices : sequence of float
        Index of each factor in the profile's order. [1]
    """
    score = _score(indices, profile)
    ideal = ([*indices[:i], 1.0, *indices[i + 1 :]] for i in range(len(indices)))
    return [
        MISSING if index != index else _score(changed, profile) - score
        for index, changed in zip(indices, ideal, strict=True)
    ]


def shares(exposures: Sequence[float], profile: Profile) -> list[float]:
    """Each pressure's share of the summed weight x exposure; NaN for those missing.

    Parameters
    ----------
    exposures : sequence of float
        Exposure to each pressure in the profile's order. [1]
    """
    parts = [pressure.weight * value for pressure, value in zip(profile.pressures, exposures, strict=True)]
    whole = sum(part for part in parts if part == part)
    return [part / whole if whole else part for part in parts]


def _score(indices: Sequence[float], profile: Profile) -> float:
    by_name = {factor.name: index for factor, index in zip(profile.factors, indices, strict=True)}
    score = RULES[profile.rule](indices, [factor.weight for factor in profile.factors])
    score = vetoed(score, [by_name[factor.name] for factor in profile.factors if factor.veto])
    return known(score, indices, [by_name[name] for name in profile.essential], profile.may_lack)


def _origin(part, layers: xr.Dataset, at) -> dict:
    layer = layers[part.layer] if part.layer in layers else None
    files = "" if layer is None else layer.attrs.get("files", "")
    return {
        "name": part.name,
        "label": part.label,
        "value": MISSING if layer is None else at(layer),
        "units": LAYERS[part.layer].units,
        "files": tuple(name for name in files.split("; ") if name),
        "source": "" if layer is None else layer.attrs.get("source", ""),
    }


def _check_season(assessment: xr.Dataset, season: str | None) -> None:
    if "season" not in assessment.dims:
        return
    seasons = [str(name) for name in assessment["season"].values]
    if season not in seasons:
        raise ValueError(f"season {season!r} is not one of: {', '.join(seasons)}.")
