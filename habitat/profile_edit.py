"""Changes to a profile as a hand makes them: a point of a curve moved, a rule chosen. What cannot be is held back.

A point never passes its neighbours, an index stays within 0 and 1, a value within what its layer can hold.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

from habitat.combine import RULES
from habitat.curve import CategoryCurve, SuitabilityCurve
from habitat.pressure import Fade
from habitat.profile import Factor, Pressure, Profile
from layers.quantity import LAYERS

INDEX_STEP = 0.01
LEAST_BREAK = 0.01  # a class that holds no score is none


@dataclass(frozen=True)
class Handle:
    """A point of a curve that can be taken hold of."""

    value: float  # in the unit of the layer; of categories, the code
    index: float  # 0 to 1
    moves_along: bool  # its value can change
    moves_up: bool  # its index can change


def part_of(profile: Profile, name: str) -> Factor | Pressure:
    """The factor or pressure called `name`.

    Raises
    ------
    KeyError
        If nothing is.
    """
    for part in (*profile.factors, *profile.pressures):
        if part.name == name:
            return part
    raise KeyError(name)


def curve_of(part: Factor | Pressure) -> SuitabilityCurve | CategoryCurve | Fade:
    """Its curve, or how its exposure fades."""
    return part.curve if isinstance(part, Factor) else part.exposure


def handles(part: Factor | Pressure) -> tuple[Handle, ...]:
    """The points of its curve that can be moved, from low to high.

    Of a fade these are where it begins and where it ends; of categories, those that count.
    """
    curve = curve_of(part)
    if isinstance(curve, Fade):
        return Handle(curve.full, 1.0, True, False), Handle(curve.reach, 0.0, True, False)
    if isinstance(curve, CategoryCurve):
        pairs = enumerate(curve.indices)
        return tuple(Handle(float(code), index, False, True) for code, index in pairs if index is not None)
    return tuple(Handle(*pair, True, True) for pair in zip(curve.values, curve.indices, strict=True))


def value_step(part: Factor | Pressure) -> float:
    """A step along the layer that is small beside the curve: 1, 10, 0.1 and so on. [unit of the layer]"""
    points = handles(part)
    span = points[-1].value - points[0].value
    return 10.0 ** math.floor(math.log10(span / 50)) if span > 0 else 1.0


def value_limits(part: Factor | Pressure, reach: float = math.inf) -> tuple[float, float]:
    """Least and greatest value a point may have; a distance layer says nothing beyond its own `reach`."""
    low, high = LAYERS[part.layer].plausible
    is_distance = LAYERS[part.layer].saturates
    return (max(low, 0.0), min(high, reach)) if is_distance else (low, high)


def with_handle(
    profile: Profile, name: str, number: int, value: float, index: float, *, reach: float = math.inf
) -> Profile:
    """The profile with one point of a curve moved, as far as it can be.

    Parameters
    ----------
    profile : Profile
        Before the move.
    name : str
        Of the factor or pressure.
    number : int
        Place of the point among `handles`, from 0.
    value, index : float
        Where it is wanted: in the unit of the layer, and 0 to 1.
    reach : float
        How far the site's layer looks, where it is a distance. [m]
    """
    part = part_of(profile, name)
    points, step = handles(part), value_step(part)
    low, high = value_limits(part, reach)
    point = points[number]
    if point.moves_along and value != point.value:
        low = max(low, points[number - 1].value + step) if number else low
        high = min(high, points[number + 1].value - step) if number + 1 < len(points) else high
        value = _tidy(min(max(value, low), high)) if low <= high else point.value
    else:
        value = point.value
    index = min(max(index, 0.0), 1.0) if point.moves_up else point.index
    moved = [*points]
    moved[number] = replace(point, value=value, index=_tidy(index))
    return profile.with_curve(name, _curve(curve_of(part), moved))


def with_handles(
    profile: Profile, name: str, moved: tuple[tuple[float, float], ...], *, reach: float = math.inf
) -> Profile:
    """The profile with its points where a hand left them; unlike in number they are not taken."""
    if len(moved) != len(handles(part_of(profile, name))):
        return profile
    for number, (value, index) in enumerate(moved):
        profile = with_handle(profile, name, number, value, index, reach=reach)
    return profile


def with_point_after(profile: Profile, name: str, number: int) -> Profile:
    """The profile with one more point, half-way between a point and the next; the curve keeps its shape."""
    part = part_of(profile, name)
    curve = curve_of(part)
    if not isinstance(curve, SuitabilityCurve) or number + 1 >= len(curve.values):
        return profile
    between = (curve.values[number] + curve.values[number + 1]) / 2
    if between in (curve.values[number], curve.values[number + 1]):
        return profile
    index = _tidy(sum(curve.indices[number : number + 2]) / 2)
    values = (*curve.values[: number + 1], _tidy(between), *curve.values[number + 1 :])
    indices = (*curve.indices[: number + 1], index, *curve.indices[number + 1 :])
    return profile.with_curve(name, SuitabilityCurve(values, indices))


def without_point(profile: Profile, name: str, number: int) -> Profile:
    """The profile without one point of a curve; two always stay."""
    curve = curve_of(part_of(profile, name))
    if not isinstance(curve, SuitabilityCurve) or len(curve.values) <= 2:
        return profile
    keep = [place for place in range(len(curve.values)) if place != number]
    shorter = SuitabilityCurve(tuple(curve.values[k] for k in keep), tuple(curve.indices[k] for k in keep))
    return profile.with_curve(name, shorter)


def with_demand(profile: Profile, name: str, *, veto: bool, essential: bool) -> Profile:
    """The profile in which a factor can veto, or not, and no score is without it, or may be."""
    factors = tuple(replace(one, veto=veto) if one.name == name else one for one in profile.factors)
    others = [one for one in profile.essential if one != name]
    return replace(profile, factors=factors, essential=(*others, name) if essential else tuple(others))


def with_rule(profile: Profile, rule: str, may_lack: int, threat_may_lack: int) -> Profile:
    """The profile with another way to combine; a score never lacks all its parts."""
    if rule not in RULES:
        raise ValueError(f'a rule is one of: {", ".join(RULES)}; found "{rule}".')
    return replace(
        profile,
        rule=rule,
        may_lack=min(max(int(may_lack), 0), len(profile.factors) - 1),
        threat_may_lack=min(max(int(threat_may_lack), 0), max(len(profile.pressures) - 1, 0)),
    )


def with_breaks(profile: Profile, kind: str, low: float, high: float) -> Profile:
    """The profile with other classes of "suitability" or "threat"; the first break stays below the second."""
    key = f"{kind}_breaks"
    before = getattr(profile, key)
    if low != before[0]:
        low = min(max(low, LEAST_BREAK), high - LEAST_BREAK)
    high = min(max(high, low + LEAST_BREAK), 1 - LEAST_BREAK)
    return replace(profile, **{key: (_tidy(low), _tidy(high))})


def with_fade_shape(profile: Profile, name: str, shape: str) -> Profile:
    """The profile in which a pressure fades another way; unchanged where it does not fade."""
    curve = curve_of(part_of(profile, name))
    return profile.with_curve(name, replace(curve, shape=shape)) if isinstance(curve, Fade) else profile


def _curve(curve: SuitabilityCurve | CategoryCurve | Fade, points: list[Handle]):
    if isinstance(curve, Fade):
        return Fade(points[0].value, points[1].value, curve.shape)
    if isinstance(curve, CategoryCurve):
        given = {int(point.value): point.index for point in points}
        return CategoryCurve(curve.categories, tuple(given.get(code) for code in range(len(curve.categories))))
    return SuitabilityCurve(tuple(point.value for point in points), tuple(point.index for point in points))


def _tidy(number: float) -> float:
    """Without the dust of binary arithmetic."""
    return float(f"{number:.10g}")
