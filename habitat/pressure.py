"""How far a cell is exposed to a pressure, and the threat of all pressures together.

A pressure that spreads from a place (a dredged channel, a landing) fades with distance and is exactly nothing
from its reach on. A pressure that is a quantity of the water itself (a load, traffic) has a curve instead.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

import numpy as np

from habitat.curve import SuitabilityCurve
from layers.cellwise import Numeric, cellwise

# common practice, no source: the exponential leaves 5 % at the reach, the gaussian has three deviations to it
LEFT_AT_REACH = 0.05
DEVIATIONS_TO_REACH = 3

Shape = Literal["linear", "exponential", "gaussian"]


@dataclass(frozen=True)
class Fade:
    """Exposure that falls with distance: 1 up to `full`, exactly 0 at the reach and beyond.

    Parameters
    ----------
    full : float
        Distance up to which a cell is fully exposed. [m]
    reach : float
        Distance from which on it is not exposed at all; greater than `full`. [m]
    shape : "linear", "exponential" or "gaussian"
        The way down between the two. The last two end in a small step to 0 at the reach.

    Notes
    -----
    With ``t = (distance - full) / (reach - full)``: linear ``1 - t``; exponential ``0.05 ** t``; gaussian
    ``exp(-(3 t) ** 2 / 2)``.

    Examples
    --------
    >>> [round(Fade(0, 1000, shape)(500.0), 6) for shape in ("linear", "exponential", "gaussian")]
    [0.5, 0.223607, 0.324652]
    >>> Fade(0, 1000, "gaussian")(1000.0)
    0.0
    """

    full: float
    reach: float
    shape: Shape = "linear"

    def __post_init__(self):
        object.__setattr__(self, "full", float(self.full))
        object.__setattr__(self, "reach", float(self.reach))
        if not (0 <= self.full < self.reach < math.inf):
            raise ValueError(f"a fade needs 0 <= full < reach, got full {self.full:g} m and reach {self.reach:g} m.")
        if self.shape not in ("linear", "exponential", "gaussian"):
            raise ValueError(f'a fade is "linear", "exponential" or "gaussian", not "{self.shape}".')

    def __call__(self, distance: Numeric) -> Numeric:
        """Exposure at `distance`, 0 to 1; NaN where it is NaN. [1]"""
        return cellwise(self._exposure, distance)

    @property
    def last(self) -> float:
        """The distance from which on nothing changes. [m]"""
        return self.reach

    @property
    def end(self) -> float:
        """The distance that counts as the reach. [m]

        A float32 layer that saturates holds the nearest float32, which may lie a hair short of the reach.
        """
        return min(self.reach, float(np.float32(self.reach)))

    def _exposure(self, distance: np.ndarray) -> np.ndarray:
        t = np.clip((distance - self.full) / (self.reach - self.full), 0, 1)
        if self.shape == "linear":
            exposure = 1 - t
        elif self.shape == "exponential":
            exposure = np.exp(math.log(LEFT_AT_REACH) * t)
        else:
            exposure = np.exp(-((DEVIATIONS_TO_REACH * t) ** 2) / 2)
        return np.where(np.isnan(distance), np.nan, np.where(distance >= self.end, 0, exposure))


Exposure = Fade | SuitabilityCurve


def combined_threat(exposures: Sequence[Numeric], weights: Sequence[float]) -> Numeric:
    """Threat of several pressures at once: bounded, and never lowered by one more of them.

    Parameters
    ----------
    exposures : sequence of numbers, arrays or grids
        One for each pressure, 0 to 1; NaN is missing and left out. [1]
    weights : sequence of float
        How much of the habitat's worth each takes at full exposure, 0 to 1. They are absolute, not shares. [1]

    Returns
    -------
    same kind as `exposures`
        0 to 1; NaN where no pressure is present. [1]

    Notes
    -----
    ``1 - prod(1 - weight * exposure)``, as independent chances combine.

    Examples
    --------
    >>> combined_threat([1.0, 0.5], [0.5, 0.5])
    0.625
    """
    if not all(0 <= weight <= 1 for weight in weights):
        raise ValueError(f"weights of pressures must lie between 0 and 1, got {list(weights)}.")

    def formula(*arrays):
        spared = np.ones(np.broadcast_shapes(*(np.shape(array) for array in arrays)))
        is_present = np.zeros(spared.shape, bool)
        for exposure, weight in zip(arrays, weights, strict=True):
            spared = spared * (1 - weight * np.where(np.isnan(exposure), 0, exposure))
            is_present = is_present | ~np.isnan(exposure)
        return np.where(is_present, 1 - spared, np.nan)

    return cellwise(formula, *exposures)
