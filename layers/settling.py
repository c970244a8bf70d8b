"""Settling speed of grains: how fast they fall through still water.

Three formulas for one grain, each with the sizes it is for. Mud does not fall as single grains: in salt water it
clots, and its flocs fall at about 0.1 to 1 mm/s whatever the grain (from memory). Where a settling speed was measured
there, use that.
"""

from __future__ import annotations

import numpy as np

from layers.cellwise import Numeric, cellwise, refuse_outside
from layers.quantity import Quantity, describe

SETTLING_SPEED = Quantity(name="settling_speed", label="settling speed", units="m/s", plausible=(0, 0.5))

GRAVITY = 9.81  # m/s2
QUARTZ = 2650.0  # kg/m3
FRESH_WATER = 1000.0  # kg/m3
VISCOSITY = 1e-6  # of fresh water at 20 degrees Celsius, kinematic, m2/s
# from clay to the coarsest sand; gravel falls where it is dug
FINEST, COARSEST = 0.5, 2000.0  # um
# at 62.5 um, where silt ends, quartz in fresh water has 0.22: the last size to use (common practice, no source)
LARGEST_REYNOLDS_OF_STOKES = 0.25
# Ferguson & Church (2004): C1 of the viscous part; C2 of natural grains and of smooth spheres
VISCOUS_CONSTANT, NATURAL_GRAINS, SMOOTH_SPHERES = 18.0, 1.0, 0.4


def stokes_settling_speed(
    grain_size: Numeric,
    *,
    solid_density: float = QUARTZ,
    water_density: float = FRESH_WATER,
    viscosity: float = VISCOSITY,
) -> Numeric:
    """Speed at which a small sphere falls, by the law of Stokes: clay and silt only.

    Parameters
    ----------
    grain_size : float or array, any shape
        Diameter. [um]
    solid_density, water_density : float
        Densities of the grain and the water. [kg/m3]
    viscosity : float
        Kinematic viscosity of the water. [m2/s]

    Returns
    -------
    same kind and shape
        Settling speed; NaN where there is no data. [m/s]

    Raises
    ------
    ValueError
        If a size is outside 0.5 to 2000 um, the grain no denser than the water, a density or viscosity not above
        0, or the Reynolds number of the falling grain above 0.25, where the law gives too high a speed.

    Notes
    -----
    w = (s - 1) g d^2 / (18 nu), s the density of the grain over that of the water. Textbook law; no edition was read.

    Examples
    --------
    >>> round(1000 * stokes_settling_speed(10.0), 6)
    0.089925
    """
    R = _submerged(solid_density, water_density, viscosity)

    def speed(size):
        d = _metres(size)
        w = R * GRAVITY * d**2 / (VISCOUS_CONSTANT * viscosity)
        is_too_fast = w * d / viscosity > LARGEST_REYNOLDS_OF_STOKES
        if is_too_fast.any():
            raise ValueError(
                f"grain size: {np.asarray(size)[is_too_fast].flat[0]:g} um falls too fast for the law of Stokes "
                f"(Reynolds number above {LARGEST_REYNOLDS_OF_STOKES:g}). Use `ferguson_church_settling_speed` or "
                "`soulsby_settling_speed`."
            )
        return w

    return describe(cellwise(speed, grain_size), SETTLING_SPEED)


def ferguson_church_settling_speed(
    grain_size: Numeric,
    *,
    shape: float = NATURAL_GRAINS,
    solid_density: float = QUARTZ,
    water_density: float = FRESH_WATER,
    viscosity: float = VISCOSITY,
) -> Numeric:
    """Speed at which a grain of any size falls, by Ferguson & Church.

    Parameters
    ----------
    grain_size, solid_density, water_density, viscosity
        As in `stokes_settling_speed`; any size from 0.5 to 2000 um.
    shape : float
        C2 of the paper: `NATURAL_GRAINS` (1.0) or `SMOOTH_SPHERES` (0.4). [1]

    Returns
    -------
    same kind and shape
        Settling speed; NaN where there is no data. [m/s]

    Raises
    ------
    ValueError
        As `stokes_settling_speed`, without its limit of Reynolds number, or if `shape` is not above 0.

    Notes
    -----
    w = R g d^2 / (18 nu + sqrt(0.75 C2 R g d^3)), R the submerged density over that of the water. Tends to Stokes'
    law for small grains.

    References
    ----------
    Ferguson, R. I. & Church, M. (2004), A simple universal equation for grain settling velocity, Journal of
    Sedimentary Research 74, 933-937: equation and constants read as others restate them.

    Examples
    --------
    >>> round(1000 * ferguson_church_settling_speed(250.0), 4)
    31.8405
    """
    R = _submerged(solid_density, water_density, viscosity)
    refuse_outside(shape, "shape", "1", above=0)

    def speed(size):
        d = _metres(size)
        return R * GRAVITY * d**2 / (VISCOUS_CONSTANT * viscosity + np.sqrt(0.75 * shape * R * GRAVITY * d**3))

    return describe(cellwise(speed, grain_size), SETTLING_SPEED)


def soulsby_settling_speed(
    grain_size: Numeric,
    *,
    solid_density: float = QUARTZ,
    water_density: float = FRESH_WATER,
    viscosity: float = VISCOSITY,
) -> Numeric:
    """Speed at which a natural grain of sand falls, by Soulsby.

    Parameters
    ----------
    grain_size, solid_density, water_density, viscosity
        As in `stokes_settling_speed`; any size from 0.5 to 2000 um.

    Returns
    -------
    same kind and shape
        Settling speed; NaN where there is no data. [m/s]

    Raises
    ------
    ValueError
        As `stokes_settling_speed`, without its limit of Reynolds number.

    Notes
    -----
    w = nu / d (sqrt(10.36^2 + 1.049 D^3) - 10.36), with D = d ((s - 1) g / nu^2)^(1/3), of dilute sand. For small
    grains it is 0.91 of Stokes' law.

    References
    ----------
    Soulsby, R. L. (1997), Dynamics of marine sands, Thomas Telford: equation read as others restate it.

    Examples
    --------
    >>> round(1000 * soulsby_settling_speed(250.0, water_density=1025.0, viscosity=1.05e-6), 1)
    33.8
    """
    R = _submerged(solid_density, water_density, viscosity)

    def speed(size):
        d = _metres(size)
        D_cubed = R * GRAVITY / viscosity**2 * d**3
        # sqrt(a^2 + b) - a without the loss of digits that the difference brings for clay
        return viscosity / d * 1.049 * D_cubed / (np.sqrt(10.36**2 + 1.049 * D_cubed) + 10.36)

    return describe(cellwise(speed, grain_size), SETTLING_SPEED)


def _metres(grain_size):
    advice = "Sizes are in micrometres: 0.0625 mm is 62.5 um."
    refuse_outside(grain_size, "grain size", "um", least=FINEST, most=COARSEST, advice=advice)
    return grain_size * 1e-6


def _submerged(solid_density, water_density, viscosity):
    refuse_outside(water_density, "water density", "kg/m3", above=0)
    advice = "A grain no denser than the water does not fall."
    refuse_outside(solid_density, "solid density", "kg/m3", above=water_density, advice=advice)
    refuse_outside(viscosity, "viscosity", "m2/s", above=0, most=1e-4, advice="Kinematic: fresh water has 1e-6 m2/s.")
    return solid_density / water_density - 1
