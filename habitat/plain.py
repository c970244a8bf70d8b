"""The same scores in plain numpy: slower, and easy to read beside the kernels.

It is put together from the formulas of `habitat.curve`, `habitat.combine`, `habitat.pressure` and
`habitat.concern`. Stored scores always come from the kernels; this twin agrees with them to 1e-5.
"""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np

from habitat.combine import RULES, known, missing_count, vetoed
from habitat.concern import class_of, concern
from habitat.pressure import combined_threat
from habitat.profile import Profile
from layers.quantity import INTERTIDAL


def plain_scores(values: Mapping[str, np.ndarray], surface: np.ndarray, profile: Profile) -> dict[str, np.ndarray]:
    """Every result of an assessment for cells of one season; names as `habitat.cells.score_cells` gives them.

    Parameters
    ----------
    values : mapping of layer name to float32 array, any shape
        Absent layers are missing data.
    surface : uint8 array of the same shape
        Codes of `layers.quantity.SURFACE`.
    """
    dry = surface < INTERTIDAL  # unknown or land

    def wet(result: np.ndarray) -> np.ndarray:
        return np.where(dry, np.float32(np.nan), result)

    def layer(name: str) -> np.ndarray:
        return values.get(name, np.full(surface.shape, np.nan, np.float32))

    indices = {factor.name: wet(factor.curve(layer(factor.layer))) for factor in profile.factors}
    exposures = {pressure.name: wet(pressure.exposure(layer(pressure.layer))) for pressure in profile.pressures}
    suitability = _suitability(indices, profile)
    threat = _threat(exposures, surface.shape, profile)
    good, pressed = class_of(suitability, profile.suitability_breaks), class_of(threat, profile.threat_breaks)
    return {
        "suitability": suitability,
        "threat": threat,
        "suitability_class": good,
        "threat_class": pressed,
        "concern": concern(good, pressed),
        "limiting_factor": np.where(np.isnan(suitability), 0, _limiting(indices, profile)).astype(np.uint8),
        "missing_factors": _missing(indices, dry),
        "missing_pressures": _missing(exposures, dry),
        **{f"index_{name}": index for name, index in indices.items()},
        **{f"exposure_{name}": exposure for name, exposure in exposures.items()},
    }


def _suitability(indices: Mapping[str, np.ndarray], profile: Profile) -> np.ndarray:
    score = RULES[profile.rule](list(indices.values()), [factor.weight for factor in profile.factors])
    score = vetoed(score, [indices[factor.name] for factor in profile.factors if factor.veto])
    needed = [indices[name] for name in profile.essential]
    return known(score, list(indices.values()), needed, profile.may_lack)


def _threat(exposures: Mapping[str, np.ndarray], shape: tuple[int, ...], profile: Profile) -> np.ndarray:
    if not exposures:
        return np.full(shape, np.nan, np.float32)
    threat = combined_threat(list(exposures.values()), [pressure.weight for pressure in profile.pressures])
    return known(threat, list(exposures.values()), [], profile.threat_may_lack)


def _limiting(indices: Mapping[str, np.ndarray], profile: Profile) -> np.ndarray:
    lowest, place = np.float32(1), 0
    for number, factor in enumerate(profile.factors, start=1):
        index = indices[factor.name]
        holds_down = (index < lowest) & ((factor.weight > 0) | (factor.veto & (index == 0)))
        lowest, place = np.where(holds_down, index, lowest), np.where(holds_down, number, place)
    return place


def _missing(parts: Mapping[str, np.ndarray], dry: np.ndarray) -> np.ndarray:
    count = missing_count(list(parts.values())) if parts else np.zeros(dry.shape)
    return np.where(dry, 0, count).astype(np.uint8)
