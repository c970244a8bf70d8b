"""Attenuation of light in water, from what people measure: Secchi depth, or suspended solids and chlorophyll.

Nutrients (through chlorophyll) and dredging (through suspended solids) act on rooted plants by way of it. The numbers
shipped are named for the water they were found in, and are no better than a first guess elsewhere.
"""

from __future__ import annotations

from dataclasses import dataclass

from layers.cellwise import Numeric, cellwise, refuse_outside
from layers.quantity import ATTENUATION, describe


@dataclass(frozen=True, kw_only=True)
class SecchiProduct:
    """Attenuation times Secchi depth, where it was found, and by whom."""

    product: float  # [1]
    region: str
    source: str


@dataclass(frozen=True, kw_only=True)
class AttenuationCoefficients:
    """What water, chlorophyll and solids each add to the attenuation, where it was found, and by whom."""

    water: float  # with the coloured substances dissolved in it [1/m]
    per_chlorophyll: float  # [1/m per ug/L]
    per_solids: float  # [1/m per mg/L]
    region: str
    source: str


SECCHI_PRODUCTS = {
    "clear sea": SecchiProduct(
        product=1.7,
        region="English Channel, clear sea water",
        source="Poole & Atkins (1929), Journal of the Marine Biological Association UK 16, 297-324; from memory",
    ),
    "turbid coast": SecchiProduct(
        product=1.44,
        region="Goleta Bay, California, turbid coastal water",
        source="Holmes (1970), Limnology and Oceanography 15, 688-694; from memory",
    ),
    "chesapeake": SecchiProduct(
        product=1.45,
        region="Chesapeake Bay, temperate estuary",
        source="practice of the Chesapeake Bay Program, as in Batiuk et al. (2000); from memory",
    ),
}
COEFFICIENTS = {
    "chesapeake": AttenuationCoefficients(
        water=0.32,
        per_chlorophyll=0.016,
        per_solids=0.094,
        region="Chesapeake Bay, temperate estuary",
        source="Batiuk et al. (2000), Chesapeake Bay submerged aquatic vegetation water quality and habitat-based "
        "requirements: a second technical synthesis, and Gallegos (2001), Estuaries 24, 381-397; from memory",
    ),
}


def attenuation_from_secchi(secchi_depth: Numeric, secchi_product: SecchiProduct) -> Numeric:
    """Attenuation of light in water in which a Secchi disc vanishes at a depth.

    Parameters
    ----------
    secchi_depth : float or array, any shape
        Depth at which the disc vanishes. Leave out discs still seen on the bed: the water is clearer than that. [m]
    secchi_product : SecchiProduct
        One of `SECCHI_PRODUCTS` or, better, one found for this water.

    Returns
    -------
    same kind and shape
        Attenuation coefficient; NaN where there is no data. [1/m]

    Raises
    ------
    ValueError
        If a depth is not above 0, or more than 80 m.

    Notes
    -----
    Kd = product / depth. The product falls as scattering by silt grows: between the three shipped here, and so in the
    result, lies a fifth.

    References
    ----------
    Those of `SECCHI_PRODUCTS`.

    Examples
    --------
    >>> attenuation_from_secchi(2.0, SECCHI_PRODUCTS["turbid coast"])
    0.72
    """

    def attenuation(depth):
        refuse_outside(depth, "Secchi depth", "m", above=0, most=80, advice="Values in cm must be divided by 100.")
        return secchi_product.product / depth

    return describe(cellwise(attenuation, secchi_depth), ATTENUATION, **_origin(secchi_product))


def attenuation_from_water_quality(
    suspended_solids: Numeric, chlorophyll: Numeric, coefficients: AttenuationCoefficients
) -> Numeric:
    """Attenuation of light in water with so much suspended solids and chlorophyll.

    Parameters
    ----------
    suspended_solids : float or array, any shape
        Total suspended solids. [mg/L]
    chlorophyll : float or array, broadcast
        Chlorophyll a. [ug/L]
    coefficients : AttenuationCoefficients
        One of `COEFFICIENTS` or, better, a set found for this water.

    Returns
    -------
    same kind and shape
        Attenuation coefficient; NaN where either is NaN (no data). [1/m]

    Raises
    ------
    ValueError
        If a concentration is negative.

    Notes
    -----
    Kd = water + per_chlorophyll * chlorophyll + per_solids * solids. Such straight lines give too little at high
    attenuation (Gallegos 2001, abstract read). A set belongs to its region: coloured swamp water needs its own.

    Examples
    --------
    >>> round(attenuation_from_water_quality(15.0, 15.0, COEFFICIENTS["chesapeake"]), 3)
    1.97
    """

    def attenuation(solids, chlorophyll):
        refuse_outside(solids, "suspended solids", "mg/L", least=0)
        refuse_outside(chlorophyll, "chlorophyll", "ug/L", least=0)
        return coefficients.water + coefficients.per_chlorophyll * chlorophyll + coefficients.per_solids * solids

    return describe(cellwise(attenuation, suspended_solids, chlorophyll), ATTENUATION, **_origin(coefficients))


def _origin(published: SecchiProduct | AttenuationCoefficients) -> dict[str, str]:
    return {"source": published.source, "region": published.region}
