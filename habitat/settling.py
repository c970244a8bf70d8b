"""Which doubt settles a question: its share of the variance, and how much surer the answer would be without it."""

from __future__ import annotations

import numpy as np
import pandas as pd

from habitat.doubt import Doubts
from habitat.sensitivity import first_order

SLICES = 10  # that draws are cut into by one doubt, to see what knowing it would do (our choice)
SHUFFLES = 50  # by which it is found what slices show by luck alone (our choice)


def settling(
    numbers: np.ndarray, values: np.ndarray, doubts: Doubts, *, limit: float | None = None, seed: int = 0
) -> pd.DataFrame:
    """What each doubt has to do with a number, and with whether it passes a limit.

    Parameters
    ----------
    numbers : (K, D) array
        Draws of the doubts, each evenly spread between 0 and 1.
    values : (K,) array
        The number in each draw.
    limit : float, optional
        That the number is held against.
    seed : int
        Of the shuffles and resamples.

    Returns
    -------
    DataFrame
        Columns key, label, share (of the variance, the largest first), confidence (half a 95 % interval of it),
        certainty (chance of the likelier answer about the limit), certainty_if_known (the same, were this doubt
        gone). The last two are NaN without a limit. [1]

    Notes
    -----
    Draws are cut into slices by the doubt, in each the likelier answer is taken, and its chance averaged. Slices make
    any answer look surer by luck, so what they show of shuffled answers is taken off.
    """
    shares = first_order(numbers, values, doubts.keys, seed=seed)
    table = pd.DataFrame(
        {
            "key": list(doubts.keys),
            "label": [doubt.label for doubt in doubts.items],
            "share": shares["first_order"],
            "confidence": shares["confidence"],
            "certainty": np.nan,
            "certainty_if_known": np.nan,
        }
    )
    if limit is not None:
        passes = values > limit
        table["certainty"] = max(passes.mean(), 1 - passes.mean())
        table["certainty_if_known"] = _certainty_if_known(numbers, passes, seed)
    return table.sort_values("share", ascending=False, kind="stable", ignore_index=True)


def _certainty_if_known(numbers: np.ndarray, passes: np.ndarray, seed: int) -> np.ndarray:
    """(D,) chance of the likelier answer were one doubt known, less what slices of draws show by luck."""
    now = max(passes.mean(), 1 - passes.mean())
    random = np.random.default_rng(seed)
    luck = np.mean([_of_slices(random.permutation(passes)) for _ in range(SHUFFLES)]) - now
    sliced = [_of_slices(passes[np.argsort(column, kind="stable")]) for column in numbers.T]
    return np.clip(np.array(sliced) - luck, now, 1.0)


def _of_slices(passes: np.ndarray) -> float:
    parts = np.array_split(passes, min(SLICES, len(passes)))
    return float(sum(max(part.sum(), len(part) - part.sum()) for part in parts) / len(passes))
