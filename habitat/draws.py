"""Seeded draws of everything in doubt, and the profile and the layers of one draw.

`layers_of_draw` and `profile_of_draw` say in full what a draw is; `habitat.draws_cells` scores many of them without
ever building them.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from functools import cached_property
from typing import TYPE_CHECKING, Literal

import numpy as np

from habitat.doubt import Doubts
from habitat.moved_curve import moved_curve
from layers.quantity import LAYERS, Quantity

if TYPE_CHECKING:
    import xarray as xr

    from habitat.doubt_ends import Ends
    from habitat.profile import Factor, Pressure, Profile

FAR = 1e9  # where a cell at the reach of its layer is taken to lie: farther than any curve looks [m]


@dataclass(frozen=True, kw_only=True, eq=False)
class Draws:
    """Numbers between 0 and 1 for every doubt, a row for each draw."""

    doubts: Doubts
    seed: int
    numbers: np.ndarray = field(repr=False)  # (K, D), D in the order of `doubts.items`

    def __len__(self) -> int:
        return len(self.numbers)

    @cached_property
    def deviates(self) -> np.ndarray:
        """(K, D): the numbers as `Doubt.deviates` has them."""
        experts = 1 if self.doubts.experts is None else len(self.doubts.experts)
        columns = [one.deviates(self.numbers[:, d], experts) for d, one in enumerate(self.doubts.items)]
        return np.stack(columns, axis=1) if columns else np.zeros((len(self.numbers), 0))

    def of(self, key: str) -> np.ndarray:
        """(K,) deviates of one doubt; zeros where nothing is in doubt under `key`."""
        keys = self.doubts.keys
        return self.deviates[:, keys.index(key)] if key in keys else np.zeros(len(self))


def drawn(
    doubts: Doubts,
    number: int = 1000,
    *,
    seed: int = 0,
    points: Literal["latin hypercube", "sobol"] = "latin hypercube",
) -> Draws:
    """Draws that are spread evenly over everything in doubt.

    Parameters
    ----------
    doubts : Doubts
    number : int
        K, how many; for "sobol" a power of 2 spreads best.
    seed : int
        The same seed gives the same draws, whatever is done with them.
    points : "latin hypercube" or "sobol"
        Each doubt cut into K slices of one draw each, or scrambled points of Sobol'.

    References
    ----------
    McKay, Beckman and Conover 1979, Technometrics 21:239-245 (Latin hypercube); from memory.
    """
    from scipy.stats import qmc

    if number < 1:
        raise ValueError(f"number: found {number}. At least one draw is needed.")
    size = len(doubts.items)
    if not size:
        return Draws(doubts=doubts, seed=seed, numbers=np.zeros((number, 0)))
    random = np.random.default_rng(seed)
    if points == "sobol":
        # whole powers of 2 are asked for, as the points would be told off otherwise
        numbers = qmc.Sobol(size, seed=random).random_base2(int(np.ceil(np.log2(number))))[:number]
    else:
        numbers = qmc.LatinHypercube(size, seed=random).random(number)
    return Draws(doubts=doubts, seed=seed, numbers=numbers)


def profile_of_draw(profile: Profile, draws: Draws, k: int) -> Profile:
    """The profile of one draw.

    A curve moves along the axis of its layer as a whole, by so many standard uncertainties; points at a zero that the
    layer cannot go below stay there. Weights stay above 0, those of pressures at most 1.
    """
    return replace(
        profile,
        factors=tuple(_of_draw(part, draws, k) for part in profile.factors),
        pressures=tuple(_of_draw(part, draws, k) for part in profile.pressures),
    )


def layers_of_draw(layers: xr.Dataset, ends: Mapping[str, Ends], profile: Profile, draws: Draws, k: int) -> xr.Dataset:
    """The layers of one draw, those the profile looks at.

    Each doubt of a layer adds its own change to the layer: from what was taken straight towards the low or the high
    end. The sum stays within what is plausible for the layer. Distances at their reach count as beyond every curve.
    """
    drawn_layers = layers.copy()
    for name in profile.layers_needed:
        if name not in layers:
            continue
        moved = layers[name]
        for key, end in ends.items():
            for side, share in zip((end.low, end.high), shares_of(draws.of(key)[k]), strict=True):
                if name in side and share:
                    moved = moved + share * change_to(layers[name], side[name])
        if moved is not layers[name]:
            moved = moved.clip(*within(LAYERS[name], layers[name]))
            dimensions = ("season", "y", "x") if "season" in moved.dims else ("y", "x")
            moved = moved.transpose(*dimensions).astype(np.float32).assign_attrs(layers[name].attrs)
        if LAYERS[name].saturates and "reach" in layers[name].attrs:
            reach = np.float32(float(layers[name].attrs["reach"]))
            moved = moved.where(~(layers[name] >= reach), np.float32(FAR)).assign_attrs(reach=str(FAR))
        drawn_layers[name] = moved
    return drawn_layers


def shares_of(deviate: float | np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """How far a deviate goes towards the low and the high end; 1 is the whole way. [1]

    Examples
    --------
    >>> [float(share) for share in shares_of(-0.25)]
    [0.25, 0.0]
    """
    return np.maximum(-np.asarray(deviate), 0.0), np.maximum(deviate, 0.0)


def change_to(taken: xr.DataArray, end: xr.DataArray) -> xr.DataArray:
    """What an end adds to a layer, float64; nothing where the end is not known."""
    return (end.astype(np.float64) - taken.astype(np.float64)).fillna(0.0)


def within(quantity: Quantity, taken: xr.DataArray) -> tuple[float, float]:
    """Bounds of a layer in a draw: what is plausible, and what it holds already."""
    values = taken.to_numpy()
    low, high = quantity.plausible
    known = values[np.isfinite(values)]
    return (min(low, float(known.min())), max(high, float(known.max()))) if known.size else (low, high)


def _of_draw(part: Factor | Pressure, draws: Draws, k: int) -> Factor | Pressure:
    name = "curve" if hasattr(part, "curve") else "exposure"
    changes: dict[str, object] = {"weight": weight_of(part, draws)[k]}
    if f"threshold {part.name}" in draws.doubts.keys:
        changes[name] = moved_curve(getattr(part, name), shift_of(part, draws)[k], lowest_of(part))
    return replace(part, **changes)


def weight_of(part: Factor | Pressure, draws: Draws) -> np.ndarray:
    """(K,) weight of a part in each draw."""
    most = np.inf if hasattr(part, "curve") else 1.0
    experts = draws.doubts.experts
    if experts is not None and part.name in experts.columns:
        chosen = draws.of("experts experts").astype(int)
        return np.minimum(experts[part.name].to_numpy(float)[chosen], most)
    share = part.doubt.weight_share if part.doubt is not None and part.doubt.weight_share else 0.0
    # a lognormal whose standard deviation is this share of its mean, its median the weight
    return np.minimum(part.weight * np.exp(draws.of(f"weight {part.name}") * np.sqrt(np.log1p(share**2))), most)


def shift_of(part: Factor | Pressure, draws: Draws) -> np.ndarray:
    """(K,) how far the curve of a part moves in each draw, in the unit of its layer."""
    spread = part.doubt.threshold if part.doubt is not None and part.doubt.threshold else 0.0
    return spread * draws.of(f"threshold {part.name}")


def lowest_of(part: Factor | Pressure) -> float | None:
    """A zero that the layer of a part cannot go below, such as no boats; None where it can."""
    return 0.0 if LAYERS[part.layer].plausible[0] == 0 else None
