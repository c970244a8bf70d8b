"""What is in doubt in an assessment: thresholds, weights, layers, and amounts with a published range.

What nobody has stated a doubt of is taken as exact and listed as such: no result may look surer than its grounds.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import TYPE_CHECKING

import numpy as np

from habitat.curve import CategoryCurve
from layers.fault import Fault, ProfileError
from layers.quantity import LAYERS

if TYPE_CHECKING:
    import pandas as pd

    from habitat.doubt_ends import Ends
    from habitat.profile import Profile

KINDS = ("threshold", "weight", "experts", "layer", "amount")
CUT = 3.0  # normal deviates are cut off here, so that no curve is ever moved without bound (our choice)
_WORDS = {
    "threshold": "normal, cut off at three standard uncertainties; the whole curve moves",
    "weight": "lognormal about the weight, cut off at three standard deviations",
    "experts": "one expert's weights or another's, each as likely",
    "layer": "normal, cut off at three standard errors; all cells move together",
    "amount": "half the draws below what was taken and half above, ever rarer towards the ends of the range",
}


@dataclass(frozen=True, kw_only=True)
class Doubt:
    """One thing that is in doubt."""

    key: str  # "threshold salinity"
    kind: str  # of `KINDS`
    name: str  # of the factor, pressure, layer or amount
    label: str  # in plain words
    spread: float  # standard uncertainty in `units`; NaN where a layer, a table or a range says it
    units: str
    source: str

    @property
    def distribution(self) -> str:
        """How it is drawn, in words."""
        return _WORDS[self.kind]

    def deviates(self, numbers: np.ndarray, experts: int = 1) -> np.ndarray:
        """(K,) evenly spread numbers between 0 and 1 as deviates.

        For thresholds, weights and layers in standard uncertainties; for amounts a place in the range, -1 the low end,
        0 what was taken, 1 the high end; for experts the number of one of them.
        """
        numbers = np.asarray(numbers, np.float64)
        if self.kind == "experts":
            return np.minimum(np.floor(numbers * experts), experts - 1)
        if self.kind == "amount":
            below = np.sqrt(2 * np.minimum(numbers, 0.5)) - 1
            return np.where(numbers < 0.5, below, 1 - np.sqrt(2 * (1 - np.maximum(numbers, 0.5))))
        from scipy.special import ndtr, ndtri

        return ndtri(ndtr(-CUT) + numbers * (ndtr(CUT) - ndtr(-CUT)))


@dataclass(frozen=True, kw_only=True, eq=False)
class Doubts:
    """Everything in doubt, in a fixed order, and what is taken as exact."""

    items: tuple[Doubt, ...]
    exact: tuple[str, ...]  # in plain words
    experts: pd.DataFrame | None = field(
        default=None, repr=False
    )  # weights: a row for each expert, a column for each part

    @property
    def keys(self) -> tuple[str, ...]:
        """The key of each."""
        return tuple(doubt.key for doubt in self.items)


def doubts_of(
    profile: Profile, ends: Mapping[str, Ends] | None = None, *, experts: pd.DataFrame | None = None
) -> Doubts:
    """What the profile and the site's files say is in doubt.

    Parameters
    ----------
    profile : Profile
        Its factors and pressures state the doubt of their curves and weights.
    ends : mapping of key to Ends, optional
        Layers and amounts in doubt, as `habitat.doubt_ends.error_ends` and `amount_ends` give them.
    experts : DataFrame, optional
        Weights that several experts gave: a row for each expert, a column for each factor or pressure. One of them is
        asked in each draw; the stated doubt of these weights is then left aside.

    Raises
    ------
    ProfileError
        If the table of experts names what the profile lacks, or holds a weight out of bounds.

    Notes
    -----
    Errors of a layer are shared by all its cells: if the salinity is too high in one cell, it is in all. That gives
    the widest interval of totals over the site; errors that differ from cell to cell would even out in a total and
    give the narrowest. Which holds is rarely known, and the caution is on the side of the wide one. The doubts
    themselves are independent of each other.
    """
    ends = ends or {}
    _refuse_experts(profile, experts)
    asked = () if experts is None else tuple(str(name) for name in experts.columns)
    items, exact = [], []
    for part in (*profile.factors, *profile.pressures):
        stated = part.doubt
        if stated is not None and stated.threshold:
            unit = LAYERS[part.layer].units
            items.append(
                _doubt(
                    "threshold",
                    part.name,
                    f"where the curve of {part.label} stands",
                    stated.threshold,
                    unit,
                    stated.source,
                )
            )
        elif not isinstance(getattr(part, "curve", None), CategoryCurve):
            exact.append(f"the thresholds of {part.label}")
        if part.name in asked:
            continue
        if stated is not None and stated.weight_share:
            items.append(
                _doubt("weight", part.name, f"the weight of {part.label}", stated.weight_share, "1", stated.source)
            )
        else:
            exact.append(f"the weight of {part.label}")
    if asked:
        items.append(
            _doubt("experts", "experts", "whose weights are right", float("nan"), "1", f"{len(experts)} experts")
        )
    for key, end in ends.items():
        items.append(
            Doubt(
                key=key,
                kind=end.kind,
                name=end.name,
                label=end.label,
                spread=float("nan"),
                units=end.units,
                source=end.source,
            )
        )
    reached = {layer for end in ends.values() for layer in end.layers}
    exact += [f"the layer of {LAYERS[name].label}" for name in profile.layers_needed if name not in reached]
    exact += ["where classes are cut", "every other number of the profile and of the site's files"]
    return Doubts(items=tuple(items), exact=tuple(exact), experts=experts)


def _doubt(kind: str, name: str, label: str, spread: float, units: str, source: str) -> Doubt:
    return Doubt(
        key=f"{kind} {name}", kind=kind, name=name, label=label, spread=float(spread), units=units, source=source
    )


def _refuse_experts(profile: Profile, experts: pd.DataFrame | None) -> None:
    if experts is None:
        return
    factors = [factor.name for factor in profile.factors]
    pressures = [pressure.name for pressure in profile.pressures]
    faults = []
    if not len(experts) or not len(experts.columns):
        faults.append(Fault("experts", "the table is empty.", "Give a row for each expert, a column for each weight."))
    for name in experts.columns:
        if name not in (*factors, *pressures):
            remedy = f"Name a factor or a pressure: {', '.join((*factors, *pressures))}."
            faults.append(Fault(f"experts, column {name}", "the profile has no such part.", remedy))
            continue
        most = 1.0 if name in pressures else np.inf
        values = np.asarray(experts[name], np.float64)
        if not ((values >= 0) & (values <= most) & np.isfinite(values)).all():
            bounds = "from 0 to 1" if name in pressures else "0 or more"
            faults.append(Fault(f"experts, column {name}", "a weight is out of bounds or missing.", f"Give {bounds}."))
    if not faults and set(factors) <= set(experts.columns) and not experts[factors].to_numpy(float).any(axis=1).all():
        faults.append(Fault("experts", "one expert gives every factor no weight.", "Leave that expert out."))
    if faults:
        raise ProfileError("the table of experts", faults)
