"""Which doubt matters: shares of the variance of a conclusion, from draws at hand or from draws made for the purpose.

The indices themselves are those of SALib.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import pandas as pd

HARMONICS = 6  # that a doubt's own effect is read from; more of them see finer and noisier (our choice)


def first_order(numbers: np.ndarray, values: np.ndarray, names: Sequence[str], *, seed: int = 0) -> pd.DataFrame:
    """Share of the variance of a conclusion that each doubt explains by itself, from any even draws.

    Parameters
    ----------
    numbers : (K, D) array
        Draws of D doubts, each evenly spread between 0 and 1.
    values : (K,) array
        The conclusion of each draw.
    names : sequence of str
        Of the doubts.
    seed : int
        Of the resampling behind the confidence.

    Returns
    -------
    DataFrame
        Columns name, first_order, confidence (half the width of a 95 % interval); all 0 where the conclusion does not
        vary, NaN where there are too few draws to tell. [1]

    References
    ----------
    Tarantola, Gatelli and Mara 2006, Reliability Engineering and System Safety 91:717-727 (random balance designs),
    with the correction of bias of Tissot and Prieur 2012, the same 107:205-213; as SALib implements them, from memory.
    """
    numbers, values = np.asarray(numbers, np.float64), np.asarray(values, np.float64)
    table = pd.DataFrame({"name": list(names), "first_order": 0.0, "confidence": 0.0})
    if not len(names) or np.ptp(values) <= 1e-9 * np.abs(values).max(initial=0.0):
        return table
    if len(values) <= 4 * HARMONICS:
        return table.assign(first_order=np.nan, confidence=np.nan)
    from SALib.analyze import rbd_fast

    problem = {"num_vars": len(names), "names": list(names), "bounds": [[0.0, 1.0]] * len(names)}
    found = rbd_fast.analyze(problem, numbers, values, M=HARMONICS, seed=seed)
    shares, widths = (np.asarray(found[key], np.float64) for key in ("S1", "S1_conf"))
    return table.assign(first_order=np.clip(shares, 0, 1), confidence=widths)
