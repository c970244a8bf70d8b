"""Yearly load of nutrients and sediment from land: runoff times concentration, or hectares times an export coefficient.

Screening sums, each for one value of its coefficient; `layers.catchment_load` takes the published range of them.
"""

from __future__ import annotations

from layers.cellwise import Numeric, cellwise, refuse_outside
from layers.quantity import Quantity, describe

ANNUAL_LOAD = Quantity(name="annual_load", label="yearly load", units="kg/year", plausible=(0, 1e12))
RUNOFF_COEFFICIENT = Quantity(
    name="runoff_coefficient", label="share of the rain of a storm that runs off", units="1", plausible=(0, 1)
)

# kg in 1 mm of water at 1 mg/L on 1 ha: 10 m3 times 1 g/m3
KILOGRAMS_PER_MM_HECTARE = 0.01
# simple method: share of the rain that falls in storms that run off (seen as quoted); Rv = 0.05 + 0.9 I (from memory)
STORMS_THAT_RUN_OFF = 0.9
RUNOFF_OF_BARE_SOIL, RUNOFF_OF_PAVING = 0.05, 0.9


def runoff_load(runoff: Numeric, concentration: Numeric, area: Numeric) -> Numeric:
    """Load carried by a depth of runoff.

    Parameters
    ----------
    runoff : float or array, any shape
        Depth of runoff of a year. [mm/year]
    concentration : float or array, broadcast
        Event-mean concentration: mass of a storm over its volume. [mg/L]
    area : float or array, broadcast
        [ha]

    Returns
    -------
    same kind as what was given
        NaN where one of the three is not known. [kg/year]

    Raises
    ------
    ValueError
        If one of them is below 0.

    Notes
    -----
    L = 0.01 R C A, a matter of units only. Load between storms (groundwater, sewage) is not in it.

    Examples
    --------
    >>> runoff_load(288.0, 0.3, 100.0)
    86.4
    """

    def formula(depth, grams, hectares):
        refuse_outside(depth, "runoff", "mm/year", least=0)
        refuse_outside(grams, "concentration", "mg/L", least=0)
        refuse_outside(hectares, "area", "ha", least=0)
        return KILOGRAMS_PER_MM_HECTARE * depth * grams * hectares

    return describe(cellwise(formula, runoff, concentration, area), ANNUAL_LOAD)


def runoff_coefficient(impervious_share: Numeric) -> Numeric:
    """Share of the rain of a storm that runs off, by how much of the ground is paved.

    Parameters
    ----------
    impervious_share : float or array, any shape
        0 to 1. [1]

    Returns
    -------
    same kind and shape
        0.05 to 0.95; NaN where there is no data. [1]

    Raises
    ------
    ValueError
        If a share is not 0 to 1.

    Notes
    -----
    Rv = 0.05 + 0.9 I, fitted to small urban catchments of the United States.

    References
    ----------
    Schueler (1987), Controlling urban runoff, Metropolitan Washington Council of Governments. The equation is from
    memory (there 0.05 + 0.009 I, I in per cent).

    Examples
    --------
    >>> runoff_coefficient(0.25)
    0.275
    """

    def formula(share):
        refuse_outside(share, "impervious_share", "1", least=0, most=1, advice="Divide a percentage by 100.")
        return RUNOFF_OF_BARE_SOIL + RUNOFF_OF_PAVING * share

    return describe(cellwise(formula, impervious_share), RUNOFF_COEFFICIENT)


def simple_method_load(rain: Numeric, impervious_share: Numeric, concentration: Numeric, area: Numeric) -> Numeric:
    """Load of urban land in a year by the simple method.

    Parameters
    ----------
    rain : float or array, any shape
        Rain of a year. [mm/year]
    impervious_share, concentration, area
        As in `runoff_coefficient` and `runoff_load`.

    Returns
    -------
    same kind as what was given
        NaN where one of them is not known. [kg/year]

    Raises
    ------
    ValueError
        If one of them is out of its range.

    Notes
    -----
    L = 0.01 P Pj Rv C A with Pj = 0.9. For small catchments of town (a square mile, from memory), without base flow.

    References
    ----------
    Schueler (1987), as in `runoff_coefficient`. The handbook's 0.226 for inches, acres and pounds is rounded: it gives
    0.3 % less.

    Examples
    --------
    >>> round(simple_method_load(1000.0, 0.3, 0.3, 100.0), 6)
    86.4
    """

    def formula(depth, share, grams, hectares):
        refuse_outside(depth, "rain", "mm/year", least=0)
        return runoff_load(depth * STORMS_THAT_RUN_OFF * runoff_coefficient(share), grams, hectares)

    return describe(cellwise(formula, rain, impervious_share, concentration, area), ANNUAL_LOAD)


def export_load(coefficient: Numeric, area: Numeric) -> Numeric:
    """Load that leaves land in a year by an export coefficient.

    Parameters
    ----------
    coefficient : float or array, any shape
        [kg/ha/year]
    area : float or array, broadcast
        [ha]

    Returns
    -------
    same kind as what was given
        NaN where one of them is not known. [kg/year]

    Raises
    ------
    ValueError
        If one of them is below 0.

    Examples
    --------
    >>> export_load(2.46, 300.0)
    738.0
    """

    def formula(kilograms, hectares):
        refuse_outside(kilograms, "coefficient", "kg/ha/year", least=0)
        refuse_outside(hectares, "area", "ha", least=0)
        return kilograms * hectares

    return describe(cellwise(formula, coefficient, area), ANNUAL_LOAD)
