"""Where sightings would put a point of a factor's curve: the whole map is scored again for each place tried.

A thin join of the assessment and `habitat.evidence_suggestion`; what it gives is a proposal and changes no profile.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import TYPE_CHECKING

from habitat.assessment import assess
from habitat.curve import SuitabilityCurve
from habitat.evidence_comparison import Comparison
from habitat.evidence_places import comparison_of, gathered
from habitat.evidence_suggestion import Suggestion, propose_point
from layers.quantity import LAYERS

if TYPE_CHECKING:
    import xarray as xr

    from habitat.profile import Profile
    from layers.sightings import Sightings


def moved_point(profile: Profile, factor: str, point: int, value: float) -> Profile:
    """A profile with one point of a factor's curve at another value of the layer, its index kept.

    Parameters
    ----------
    factor : str
        Name of the factor.
    point : int
        Number of the point in its curve, from 0.
    value : float
        In the unit of the layer, between the points beside it.

    Raises
    ------
    ValueError
        If there is no such factor or point, or the value passes a point beside it.
    """
    found = next((part for part in profile.factors if part.name == factor), None)
    if found is None or not isinstance(found.curve, SuitabilityCurve):
        raise ValueError(f"{factor}: the profile has no factor of that name whose curve runs through points.")
    values = list(found.curve.values)
    if not 0 <= point < len(values):
        raise ValueError(f"{factor}: its curve has points 0 to {len(values) - 1}, not {point}.")
    values[point] = float(value)
    if values != sorted(values):
        raise ValueError(f"{factor}: {value:g} passes a point beside it. Keep between those.")
    return profile.with_curve(factor, SuitabilityCurve(tuple(values), found.curve.indices))


def propose_curve_point(
    layers: xr.Dataset,
    profile: Profile,
    sightings: Sightings,
    *,
    factor: str,
    point: int,
    least: float,
    most: float,
    side: float,
    seed: int,
    break_at: float | None = None,
    effort: Mapping[str | None, xr.DataArray] | None = None,
    seasons: Mapping[str, Sequence[int]] | None = None,
    **options: int,
) -> Suggestion:
    """A place for one point of a factor's curve that agrees better with the sightings than the profile's.

    Parameters
    ----------
    layers, profile
        As of `habitat.assessment.assess`.
    sightings, side, effort, seasons
        As of `habitat.evidence.evidence`; where the map has seasons, each sighting is held against its own.
    factor, point
        As of `moved_point`.
    least, most : float
        Range of places that would still make sense, between the points beside it. In the unit of the layer.
    seed, break_at, options
        As of `habitat.evidence_suggestion.propose_point`.

    Raises
    ------
    ValueError
        As `moved_point` and `propose_point`.
    """
    for end in (least, most):
        moved_point(profile, factor, point, end)
    chosen = next(part for part in profile.factors if part.name == factor)
    layer = LAYERS[chosen.layer]

    def comparison_at(value: float) -> Comparison:
        scores = assess(layers, moved_point(profile, factor, point, value))["suitability"]
        if "season" not in scores.dims:
            hours = None if effort is None else effort[None]
            return comparison_of(gathered(scores, sightings, side=side, effort=hours), side=side)
        parts = [
            gathered(
                scores.sel(season=name),
                sightings.in_months(seasons[name]),
                side=side,
                effort=None if effort is None else effort[name],
            )
            for name in map(str, scores["season"].values)
        ]
        return comparison_of(*parts, side=side)

    unit = "" if layer.units == "1" else f" [{layer.units}]"
    return propose_point(
        comparison_at,
        name=f"{layer.label}{unit} at which {chosen.label} has an index of {chosen.curve.indices[point]:g}",
        expert=chosen.curve.values[point],
        least=least,
        most=most,
        seed=seed,
        break_at=break_at,
        **options,
    )
