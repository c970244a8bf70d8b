"""Soil that rain washes off slopes in a year: the universal soil loss equation, and the factor of slope in it.

Made for fields with sheet and rill erosion in the long mean. Gullies, banks and landslides are not in it, nor what
settles on the way: only a part of it, the delivery ratio, reaches the water.
"""

from __future__ import annotations

import numpy as np

from layers.cellwise import Numeric, cellwise, refuse_outside
from layers.grid import Grid
from layers.quantity import Quantity, describe

SLOPE_LENGTH_FACTOR = Quantity(
    name="slope_length_factor", label="factor of slope in soil loss", units="1", plausible=(0, 300)
)
SOIL_LOSS = Quantity(name="soil_loss", label="soil washed off in a year", units="t/ha/year", plausible=(0, 5000))

UNIT_PLOT = 22.12848  # length of the plot whose factor is about 1 on 9 %: 72.6 ft [m]
# exponent of the length by slope: 0.5 from 5 %, 0.4 on 3.5 to 4.5 %, 0.3 on 1 to 3 %, 0.2 below;
# the handbook leaves gaps (3 to 3.5 and 4.5 to 5 %), which are split in their middle here
EXPONENTS = ((0.0475, 0.5), (0.0325, 0.4), (0.01, 0.3), (0.0, 0.2))
# from the units of the United States to metric ones; Foster et al. (1981), from memory
METRIC_EROSIVITY = 17.02  # MJ mm/(ha h) in 1 hundred foot ton inch/(acre h)
METRIC_ERODIBILITY = 0.1317  # t ha h/(ha MJ mm) in 1 ton acre h/(hundred acre foot ton inch)


def slope_length_factor(slope_length: Numeric, slope: Numeric) -> Numeric:
    """Factor LS of the length and steepness of a slope.

    Parameters
    ----------
    slope_length : float or array, any shape
        Along the slope, to where water gathers in a channel or silt settles. [m]
    slope : float or array, broadcast
        Rise over run, 0 to 1. [1]

    Returns
    -------
    same kind as what was given
        About 1 for the unit plot of 22.1 m on 9 %; NaN where either is not known. [1]

    Raises
    ------
    ValueError
        If the length is not above 0 or the slope is not 0 to 1.

    Notes
    -----
    LS = (length / 22.13 m)^m (65.41 sin^2 t + 4.56 sin t + 0.065), t the angle of the slope, m in `EXPONENTS`. Made
    from slopes of 3 to 18 % and lengths of 9 to 91 m (from memory): steep land is beyond it.

    References
    ----------
    Wischmeier and Smith (1978), Predicting rainfall erosion losses, USDA Agriculture Handbook 537. The formula was seen
    in a secondary source, the exponents are from memory.

    Examples
    --------
    >>> round(slope_length_factor(30.48, 0.08), 3)
    0.991
    """

    def formula(length, steepness):
        refuse_outside(length, "slope_length", "m", above=0)
        refuse_outside(steepness, "slope", "1", least=0, most=1, advice="Divide a percentage by 100.")
        sine = np.sin(np.arctan(steepness))
        m = np.select([steepness >= least for least, _ in EXPONENTS], [m for _, m in EXPONENTS], np.nan)
        return (length / UNIT_PLOT) ** m * (65.41 * sine**2 + 4.56 * sine + 0.065)

    return describe(cellwise(formula, slope_length, slope), SLOPE_LENGTH_FACTOR)


def soil_loss(
    erosivity: Numeric,
    erodibility: Numeric,
    slope_length_factor: Numeric,
    cover_factor: Numeric,
    practice_factor: Numeric = 1.0,
) -> Numeric:
    """Soil washed off a hectare in a year.

    Parameters
    ----------
    erosivity : float or array, any shape
        R, of the rain of a year. [MJ mm/(ha h year)]
    erodibility : float or array, broadcast
        K, of the soil. [t ha h/(ha MJ mm)]
    slope_length_factor : float or array, broadcast
        LS. [1]
    cover_factor, practice_factor : float or array, broadcast
        C of cover and P of contours, strips and terraces, 0 to 1: 1 for bare ploughed soil without them. [1]

    Returns
    -------
    same kind as what was given
        NaN where one of them is not known. [t/ha/year]

    Raises
    ------
    ValueError
        If a factor is below 0, or C or P above 1.

    Notes
    -----
    A = R K LS C P. Values in units of the United States times `METRIC_EROSIVITY` and `METRIC_ERODIBILITY` are metric.

    References
    ----------
    Wischmeier and Smith (1978), as in `slope_length_factor`.

    Examples
    --------
    >>> round(soil_loss(5000.0, 0.03, 1.2, 0.2), 1)
    36.0
    """

    def formula(R, K, LS, C, P):
        refuse_outside(R, "erosivity", "MJ mm/(ha h year)", least=0)
        refuse_outside(K, "erodibility", "t ha h/(ha MJ mm)", least=0)
        refuse_outside(LS, "slope_length_factor", "1", least=0)
        refuse_outside(C, "cover_factor", "1", least=0, most=1)
        refuse_outside(P, "practice_factor", "1", least=0, most=1)
        return R * K * LS * C * P

    given = (erosivity, erodibility, slope_length_factor, cover_factor, practice_factor)
    return describe(cellwise(formula, *given), SOIL_LOSS)


def terrain_slope(terrain: np.ndarray, grid: Grid) -> np.ndarray:
    """Steepness of a terrain model, rise over run.

    Parameters
    ----------
    terrain : (M, N) float
        Elevation, NaN outside. [m]
    grid : Grid

    Returns
    -------
    (M, N) float32
        By differences between the neighbours east and west, north and south; one-sided at an edge, level across a
        strip of one cell. NaN where the terrain is. Coarse cells smooth slopes away: on 100 m cells they are too
        gentle. [1]

    Examples
    --------
    >>> grid = Grid.from_bounds("EPSG:32756", 0, 0, 30, 10, 10)
    >>> terrain_slope(np.array([[0.0, 1.0, 2.0]]), grid).round(2).tolist()
    [[0.10000000149011612, 0.10000000149011612, 0.10000000149011612]]
    """
    heights = np.pad(np.asarray(terrain, np.float64), 1, constant_values=np.nan)
    middle = heights[1:-1, 1:-1]

    def gradient(before, after):
        steps = np.isfinite(before).astype(int) + np.isfinite(after)
        rise = np.where(np.isfinite(after), after, middle) - np.where(np.isfinite(before), before, middle)
        return rise / (np.maximum(steps, 1) * grid.cell)

    across = gradient(heights[1:-1, :-2], heights[1:-1, 2:])
    down = gradient(heights[:-2, 1:-1], heights[2:, 1:-1])
    return np.where(np.isnan(middle), np.nan, np.hypot(across, down)).astype(np.float32)
