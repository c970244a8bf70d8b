"""Suitability and threat cut into classes and read together, 3 by 3.

Code 0 is *no data* in every class layer and comes before anything else: a missing score never falls into a class.
"""

from __future__ import annotations

import numpy as np
import xarray as xr

from habitat.result import CONCERN_CLASSES, CONCERN_READINGS
from layers.cellwise import Numeric


def class_of(score: Numeric, breaks: tuple[float, float]) -> Numeric:
    """Class of a score: 1 below the first break, 3 from the second on; 0 where the score is NaN.

    Parameters
    ----------
    score : number, array or grid
        Suitability or threat, 0 to 1. [1]
    breaks : (float, float)
        Least score of class 2 and of class 3. [1]

    Returns
    -------
    same kind as `score`
        uint8, 0 to 3; an int for a number.

    Examples
    --------
    >>> [class_of(score, (0.35, 0.65)) for score in (0.2, 0.35, 0.9, float("nan"))]
    [1, 2, 3, 0]
    """
    # scores are stored as float32: a break is met by the score that is stored for it
    low, high = (np.float32(value) for value in breaks)

    def formula(values):
        values = np.asarray(values, np.float32)
        # NaN first: every comparison with it is false, which would make it a class
        return np.where(np.isnan(values), 0, 1 + (values >= low) + (values >= high)).astype(np.uint8)

    return _codes(formula, score)


def concern(suitability_class: Numeric, threat_class: Numeric) -> Numeric:
    """The two classes read together: ``1 + 3 * (suitability - 1) + (threat - 1)``; 0 where either is 0.

    Examples
    --------
    >>> concern(1, 1), concern(3, 3), concern(3, 0)
    (1, 9, 0)
    """

    def formula(suitability, threat):
        both = (np.asarray(suitability) > 0) & (np.asarray(threat) > 0)
        code = 3 * np.asarray(suitability, np.int16) + np.asarray(threat, np.int16) - 3
        return np.where(both, code, 0).astype(np.uint8)

    return _codes(formula, suitability_class, threat_class)


def concern_text(code: int) -> str:
    """What a concern code says, and what it asks for.

    Examples
    --------
    >>> concern_text(9)
    'good habitat under high threat: act here first'
    >>> concern_text(0)
    'no data'
    """
    if code == 0:
        return CONCERN_CLASSES[0]
    return f"{CONCERN_CLASSES[code]}: {CONCERN_READINGS[code]}"


def _codes(formula, *values):
    if any(isinstance(value, xr.DataArray) for value in values):
        return xr.apply_ufunc(formula, *values, dask="parallelized", output_dtypes=[np.uint8], join="exact")
    if any(hasattr(value, "dask") for value in values):
        from dask.array import map_blocks

        return map_blocks(formula, *values, dtype=np.uint8)
    codes = formula(*values)
    return int(codes) if all(np.ndim(value) == 0 for value in values) else codes
