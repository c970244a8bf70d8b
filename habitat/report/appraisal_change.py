"""What a proposal changes, as classes of change: how much better or worse each cell gets, and where land and water
change places.

Worse is orange and plain, better is blue and dotted: colour-blind eyes tell the two hues apart, in grey the dots do.
"""

from __future__ import annotations

import numpy as np
import xarray as xr

from layers.quantity import LAND

LIMITS = (0.01, 0.05, 0.2, 0.5)  # of a change of a score of 0 to 1; steps for looking at, they mean nothing in law
SAME, BECOMES_LAND, BECOMES_WATER = 5, 10, 11
# codes 1 to 4 worse, the worst first; 5 the same; 6 to 9 better, the best last
COLOURS = {
    1: "#7f2704",
    2: "#c8510f",
    3: "#f4a05c",
    4: "#fbd9b9",
    5: "#fbfaf7",
    6: "#cfe1f2",
    7: "#86b6dd",
    8: "#3b7fbd",
    9: "#0b4083",
    BECOMES_LAND: "#26211d",
    BECOMES_WATER: "#5f9ea0",
}
NAMES = {
    1: "worse by more than 0.5",
    2: "worse by 0.2 to 0.5",
    3: "worse by 0.05 to 0.2",
    4: "worse by 0.01 to 0.05",
    5: "changes by less than 0.01",
    6: "better by 0.01 to 0.05 (dotted)",
    7: "better by 0.05 to 0.2 (dotted)",
    8: "better by 0.2 to 0.5 (dotted)",
    9: "better by more than 0.5 (dotted)",
    BECOMES_LAND: "becomes land",
    BECOMES_WATER: "becomes water (dotted)",
}
MORE_IS_BETTER = {"suitability": True, "threat": False}


def change_codes(
    before: xr.DataArray,
    after: xr.DataArray,
    surface_before: xr.DataArray,
    surface_after: xr.DataArray,
    *,
    more_is_better: bool,
) -> np.ndarray:
    """Class of change of each cell.

    Parameters
    ----------
    before, after : DataArray (M, N)
        Scores of 0 to 1; NaN is no data.
    surface_before, surface_after : DataArray (M, N)
        Codes of the layer surface.
    more_is_better : bool
        Whether a rise is for the better.

    Returns
    -------
    array (M, N) of uint8
        Codes of `NAMES`; 0 where a score is missing before or after, and on land that stays land.
    """
    gain = after.to_numpy().astype(np.float64) - before.to_numpy().astype(np.float64)
    gain = gain if more_is_better else -gain
    steps = np.searchsorted(LIMITS, np.abs(np.nan_to_num(gain)), side="right")
    codes = np.where(gain < 0, SAME - steps, SAME + steps).astype(np.uint8)
    codes[np.isnan(gain)] = 0
    was_land, is_land = (surface.to_numpy() == LAND for surface in (surface_before, surface_after))
    codes[~was_land & is_land] = BECOMES_LAND
    codes[was_land & ~is_land] = BECOMES_WATER
    codes[was_land & is_land] = 0
    return codes


def is_better(codes: np.ndarray) -> np.ndarray:
    """Which cells get better, or become water: those that are dotted."""
    return (codes > SAME) & (codes != BECOMES_LAND)
