"""Salinity from conductivity and temperature: the practical salinity scale, its low end, and where it holds.

Temperatures are on the scale of 1990 (ITS-90), which every thermometer made since reads. Tables from before 1990 are
on IPTS-68: pass those through `its90_temperature` first; left out, salinity is wrong by up to 0.007 (at a salinity of
40 and 35 degrees Celsius).
"""

from __future__ import annotations

import gsw
import numpy as np

from layers.cellwise import Numeric, cellwise, refuse_outside
from layers.quantity import (
    CONDUCTIVITY,
    SALINITY,
    SPECIFIC_CONDUCTANCE,
    WATER_TEMPERATURE,
    Quantity,
    describe,
)

SALINITY_VALIDITY = Quantity(
    name="salinity_validity",
    label="validity of the practical salinity",
    units="1",
    plausible=(0, 3),
    categories=("no data", "low salinity extension", "within the practical scale", "outside the practical scale"),
)
NO_DATA, EXTENDED, WITHIN, OUTSIDE = range(4)

REFERENCE_TEMPERATURE = 25.0  # of specific conductance, degree Celsius
# limits of the scale as UNESCO 44 (1983) gives them: those of temperature and pressure from memory, those of salinity
# also in the documentation of gsw.SP_from_C
LEAST_SALINITY, MOST_SALINITY = 2.0, 42.0
COLDEST, WARMEST = -2.0, 35.0
MOST_PRESSURE = 10_000.0
# below this the extended formula has no root; the salinity is then less than 0.002 at any temperature
PUREST_WATER = 0.003  # mS/cm
MICROSIEMENS = "Values in uS/cm must be divided by 1000 first, values in S/m multiplied by 10."


def its90_temperature(ipts68_temperature: Numeric) -> Numeric:
    """Temperature on the scale of 1990 of one given on the scale of 1968.

    Parameters
    ----------
    ipts68_temperature : float or array, any shape
        Temperature on IPTS-68, as in the UNESCO tables of 1983. [degree Celsius]

    Returns
    -------
    same kind and shape
        Temperature on ITS-90; NaN where there is no data. [degree Celsius]

    Notes
    -----
    t90 = t68 / 1.00024.

    References
    ----------
    Saunders, P. M. (1990), The International Temperature Scale of 1990, ITS-90, WOCE Newsletter 10, p. 10 (from
    memory); the factor is the one that `gsw.t90_from_t68` uses.

    Examples
    --------
    >>> round(its90_temperature(15.0), 4)
    14.9964
    """
    return describe(cellwise(gsw.t90_from_t68, ipts68_temperature), WATER_TEMPERATURE)


def practical_salinity(conductivity: Numeric, temperature: Numeric, pressure: Numeric = 0.0) -> Numeric:
    """Practical salinity of water of a measured conductivity and temperature.

    Parameters
    ----------
    conductivity : float or array, any shape
        Conductivity at the temperature of the water, not corrected to 25 degrees. [mS/cm]
    temperature : float or array, broadcast against `conductivity`
        Temperature where the conductivity was measured, ITS-90. [degree Celsius]
    pressure : float or array, broadcast
        Pressure of the water above it: about its depth in metres. [dbar]

    Returns
    -------
    same kind and shape
        Practical salinity; NaN where conductivity or temperature is NaN (no data). A number comes back outside the
        validity of the scale too: read `salinity_validity` beside it. [1]

    Raises
    ------
    ValueError
        If a conductivity is negative or more than 150 mS/cm, a temperature is outside -5 to 60 degrees, or a
        pressure is negative.

    Notes
    -----
    The practical salinity scale of 1978 by `gsw.SP_from_C`; below 2 the extension of Hill, Dauphinee & Woods (1986),
    in the form that meets the scale exactly at 2. Below `PUREST_WATER`, purer than rain, the result is 0.

    A reading of a meter that corrects to 25 degrees is specific conductance: give it with a temperature of 25. A
    logger that falls dry reads a conductivity near 0, which is air and not fresh water.

    References
    ----------
    Fofonoff, N. P. & Millard, R. C. (1983), Algorithms for computation of fundamental properties of seawater, UNESCO
    Technical Papers in Marine Science 44. Hill, K. D., Dauphinee, T. M. & Woods, D. J. (1986), The extension of the
    practical salinity scale 1978 to low salinities, IEEE Journal of Oceanic Engineering 11, 109-112.

    Examples
    --------
    >>> round(practical_salinity(42.914, its90_temperature(15.0)), 4)
    35.0
    >>> round(practical_salinity(20.0, 25.0), 3)
    11.915
    """

    def salinity(C, t, p):
        _check(C, t, p)
        is_pure = (C < PUREST_WATER) & ~np.isnan(t) & ~np.isnan(p)
        return np.where(is_pure, 0.0, gsw.SP_from_C(C, t, p))

    return describe(cellwise(salinity, conductivity, temperature, pressure), SALINITY)


def conductivity_of(salinity: Numeric, temperature: Numeric, pressure: Numeric = 0.0) -> Numeric:
    """Conductivity of water of a practical salinity: `practical_salinity` turned round.

    Parameters
    ----------
    salinity : float or array, any shape
        Practical salinity, 0 or more. [1]
    temperature, pressure
        As in `practical_salinity`.

    Returns
    -------
    same kind and shape
        Conductivity at that temperature; NaN where there is no data. [mS/cm]

    Raises
    ------
    ValueError
        If a salinity is negative or more than 120, or as in `practical_salinity`.

    Examples
    --------
    >>> round(conductivity_of(35.0, its90_temperature(15.0)), 3)
    42.914
    """

    def conductivity(S, t, p):
        refuse_outside(S, "salinity", "1", least=0, most=120)
        _check(0.0, t, p)
        return gsw.C_from_SP(S, t, p)

    return describe(cellwise(conductivity, salinity, temperature, pressure), CONDUCTIVITY)


def specific_conductance(conductivity: Numeric, temperature: Numeric) -> Numeric:
    """Conductivity that the same water would have at 25 degrees Celsius, at the surface.

    Parameters
    ----------
    conductivity, temperature
        As in `practical_salinity`.

    Returns
    -------
    same kind and shape
        Specific conductance; NaN where there is no data. [mS/cm]

    Raises
    ------
    ValueError
        As in `practical_salinity`.

    Notes
    -----
    By way of salinity, which does not change with temperature. Meters mostly correct by a fixed 1.9 or 2 % a degree
    instead (common practice, no source), and so differ from this by some per cent far from 25 degrees. The salts are
    taken to be those of the sea; river water, with other salts, is only roughly so.

    Examples
    --------
    >>> round(specific_conductance(42.914, its90_temperature(15.0)), 3)
    53.071
    """

    def conductance(C, t):
        _check(C, t, 0.0)
        corrected = gsw.C_from_SP(gsw.SP_from_C(C, t, 0.0), REFERENCE_TEMPERATURE, 0.0)
        # water purer than the formula knows keeps its reading: there is next to nothing to correct
        return np.where((C < PUREST_WATER) & ~np.isnan(t), C, corrected)

    return describe(cellwise(conductance, conductivity, temperature), SPECIFIC_CONDUCTANCE)


def salinity_validity(salinity: Numeric, temperature: Numeric, pressure: Numeric = 0.0) -> Numeric:
    """How far a practical salinity can be trusted, as a code.

    Parameters
    ----------
    salinity, temperature, pressure
        As of `practical_salinity`, broadcast.

    Returns
    -------
    same kind and shape, uint8
        NO_DATA 0, EXTENDED 1 (below 2: the low salinity extension), WITHIN 2 (the scale holds), OUTSIDE 3 (too salt,
        too hot, too cold or too deep: the number is an extrapolation and no limit should be read against it).

    Notes
    -----
    The scale holds for salinities of 2 to 42, -2 to 35 degrees Celsius and 0 to 10 000 dbar. Salt pans and lagoons
    that dry out leave it at the top.

    Examples
    --------
    >>> salinity_validity(54.1, 0.0), salinity_validity(35.0, 20.0), salinity_validity(0.5, 20.0)
    (3, 2, 1)
    """

    def code(S, t, p):
        is_outside = (S < 0) | (S > MOST_SALINITY) | (t < COLDEST) | (t > WARMEST) | (p < 0) | (p > MOST_PRESSURE)
        known = np.where(is_outside, OUTSIDE, np.where(S < LEAST_SALINITY, EXTENDED, WITHIN))
        return np.where(np.isnan(S + t + p), NO_DATA, known)

    return describe(cellwise(code, salinity, temperature, pressure, kind=np.uint8), SALINITY_VALIDITY)


def _check(conductivity, temperature, pressure):
    refuse_outside(conductivity, "conductivity", "mS/cm", least=0, most=150, advice=MICROSIEMENS)
    refuse_outside(temperature, "temperature", "degree Celsius", least=-5, most=60, advice="Fahrenheit? kelvin?")
    refuse_outside(pressure, "pressure", "dbar", least=0)
