"""Which doubt matters: indices of sensitivity of any function of numbers between 0 and 1.

Sampling and indices are SALib's; what is added is that a number that does not vary depends on nothing.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence

import numpy as np
import pandas as pd

Function = Callable[[np.ndarray], np.ndarray]  # (K, D) numbers between 0 and 1 to (K, C) values, of C conclusions

RESAMPLES = 40  # behind a confidence (our choice)
HARMONICS = 6  # that a doubt's own effect is read from; more of them see finer and noisier (our choice)
LEVELS = 4  # of a screening, the usual number (common practice)


def screening(function: Function, names: Sequence[str], *, trajectories: int = 10, seed: int = 0) -> pd.DataFrame:
    """A cheap first look: how far a value moves when one number does, from many starts.

    Parameters
    ----------
    function : callable
        Of (K, D) numbers between 0 and 1; gives (K, C) values, a column for each of C conclusions.
    names : sequence of str
        Of the D numbers.
    trajectories : int
        Walks through the numbers, one step each: D + 1 values a walk.
    seed : int

    Returns
    -------
    DataFrame
        Columns conclusion (number of its column), name, mean (elementary effect, for the whole way from 0 to 1), size
        (mean of their sizes), spread (their standard deviation: the effect depends on the others, or is not straight).
        In the unit of the value.

    References
    ----------
    Morris 1991, Technometrics 33:161-174; as SALib implements it, from memory.
    """
    from SALib.analyze import morris as analysis
    from SALib.sample import morris as sampling

    problem = _problem(names)
    numbers = sampling.sample(problem, trajectories, num_levels=LEVELS, seed=seed)
    columns, parts = {"mean": "mu", "size": "mu_star", "spread": "sigma"}, []
    for number, values in enumerate(np.asarray(function(numbers), np.float64).T):
        found = analysis.analyze(problem, numbers, values, num_levels=LEVELS, seed=seed)
        effects = {column: np.asarray(found[key], np.float64) for column, key in columns.items()}
        parts.append(pd.DataFrame({"conclusion": number, "name": list(names), **effects}))
    return pd.concat(parts, ignore_index=True)


def variance_shares(function: Function, names: Sequence[str], *, base: int = 256, seed: int = 0) -> pd.DataFrame:
    """Share of the variance of a value that each number explains alone, and with all it acts together with.

    These are the first-order and the total indices of Sobol'.

    Parameters
    ----------
    function, names, seed
        As for `screening`.
    base : int
        Points that are varied, a power of 2; the function is asked for base x (D + 2) values.

    Returns
    -------
    DataFrame
        Columns conclusion, name, first_order, total, confidence (half the width of a 95 % interval of the total); all 0
        where the value does not vary. Estimates may lie a little outside of 0 to 1. [1]

    References
    ----------
    Saltelli et al. 2010, Computer Physics Communications 181:259-270; as SALib implements it, from memory.
    """
    from SALib.sample import sobol as sampling

    if base < 2 or base & (base - 1):
        raise ValueError(f"base: found {base}. Give a power of 2.")
    problem = _problem(names)
    numbers = sampling.sample(problem, base, calc_second_order=False, scramble=True, seed=seed)
    tables = [
        _shares(problem, values, seed).assign(conclusion=number)
        for number, values in enumerate(np.asarray(function(numbers), np.float64).T)
    ]
    return pd.concat(tables, ignore_index=True)[["conclusion", "name", "first_order", "total", "confidence"]]


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
    if not len(names) or _is_constant(values):
        return table
    if len(values) <= 4 * HARMONICS:
        return table.assign(first_order=np.nan, confidence=np.nan)
    from SALib.analyze import rbd_fast

    found = rbd_fast.analyze(_problem(names), numbers, values, M=HARMONICS, num_resamples=RESAMPLES, seed=seed)
    shares, widths = (np.asarray(found[key], np.float64) for key in ("S1", "S1_conf"))
    return table.assign(first_order=np.clip(shares, 0, 1), confidence=widths)


def _shares(problem: dict, values: np.ndarray, seed: int) -> pd.DataFrame:
    from SALib.analyze import sobol as analysis

    table = pd.DataFrame({"name": problem["names"], "first_order": 0.0, "total": 0.0, "confidence": 0.0})
    if _is_constant(values):
        return table
    found = analysis.analyze(problem, values, calc_second_order=False, num_resamples=RESAMPLES, seed=seed)
    columns = {"first_order": "S1", "total": "ST", "confidence": "ST_conf"}
    return table.assign(**{column: np.asarray(found[key], np.float64) for column, key in columns.items()})


def _problem(names: Sequence[str]) -> dict:
    return {"num_vars": len(names), "names": list(names), "bounds": [[0.0, 1.0]] * len(names)}


def _is_constant(values: np.ndarray) -> bool:
    return bool(np.ptp(values) <= 1e-9 * np.abs(values).max(initial=0.0))
