"""Light under water: how fast it fades, what reaches the bed over the tide, and how deep a rooted plant can live.

The attenuation comes from `layers.attenuation`. All shares are of the light just below the surface; some per cent
are lost at the surface itself.
"""

from __future__ import annotations

import numpy as np

from layers.cellwise import Numeric, cellwise, refuse_outside
from layers.quantity import BED_LIGHT, DEPTH_LIMIT, FORAGE, describe

NOT_INTERCHANGEABLE = (
    "The depth limit by light requirement (Beer-Lambert, for example the 11 % rule) and the depth limit by the "
    "regression of Duarte (1991) are two methods and are not interchangeable: at the depths the regression gives for "
    "attenuations of 0.2 to 2 per metre the light left is 13 to 18 %, not 11 %. Name the one that was used."
)
# Duarte (1991): log10 Zc = 0.26 - 1.07 log10 K (abstract read)
REGRESSION_INTERCEPT, REGRESSION_SLOPE = 0.26, -1.07
# enough equally likely levels for a mean within 0.001 up to 10 per metre and a tidal range of 6 m (see the tests)
LIKELY_LEVELS = 400
FEW_LEVELS = 16  # so few are added up without a table
ATTENUATIONS = np.linspace(0, 30, 6001)  # of the table for beds that are always under water [1/m]
CLOUDIEST = ATTENUATIONS[-1]
CELLS_AT_A_TIME = 16_384  # so many stay in the cache of the processor while the levels go by


def bed_light(depth: Numeric, attenuation: Numeric) -> Numeric:
    """Share of the light just below the surface that reaches the bed.

    Parameters
    ----------
    depth : float or array, any shape
        Depth of water, positive down. A bed above the water has all the light. [m]
    attenuation : float or array, broadcast
        Attenuation coefficient, above 0. [1/m]

    Returns
    -------
    same kind and shape
        0 to 1; NaN where either is NaN (no data). [1]

    Raises
    ------
    ValueError
        If an attenuation is not above 0.

    Notes
    -----
    Beer-Lambert law, exp(-Kd z), with the same attenuation from the surface to the bed.

    Examples
    --------
    >>> round(bed_light(1.0, 1.5), 6)
    0.22313
    """

    def share(z, K):
        _check_attenuation(K)
        return np.exp(-K * np.maximum(z, 0.0))

    return describe(cellwise(share, depth, attenuation), BED_LIGHT)


def mean_bed_light(bed: Numeric, levels: np.ndarray, attenuation: Numeric) -> Numeric:
    """Mean over the tide of the share of light that reaches the bed.

    Parameters
    ----------
    bed : float or array, any shape
        Bed elevation, positive up. [m]
    levels : array, shape (n,)
        Water levels above the datum of the bed, equally spaced in time, in any order. [m]
    attenuation : float or array, broadcast against `bed`
        Attenuation coefficient, above 0. [1/m]

    Returns
    -------
    same kind and shape as `bed`
        0 to 1; NaN where either is NaN (no data). [1]

    Raises
    ------
    ValueError
        If there is no level, one is not a number, or an attenuation is not above 0.

    Notes
    -----
    The mean of `bed_light` over the levels, which is not the light at the mean depth: under water that always covers
    the bed it is never less, on a flat that dries it can be. Day and night count alike, and the hours a flat lies dry
    count as full light: read it beside the share of time under water. More than `LIKELY_LEVELS` levels are first put
    into that many groups of equal size in order of height, each standing for its mean.

    Over a bed that is always under water the mean is exp(-Kd (lowest level - bed)) times a function of Kd alone, which
    is read from a table of its logarithm (steps of 0.005 per metre; right to 3e-5 for tides of up to 6 m).

    Examples
    --------
    >>> round(mean_bed_light(-1.0, np.array([-0.5, 0.5]), 1.0), 4)
    0.4148
    """
    levels = np.sort(np.asarray(levels, np.float64))
    if len(levels) == 0 or not np.isfinite(levels).all():
        raise ValueError("levels: at least one water level is needed, and every level must be a number.")
    groups = np.array_split(levels, min(len(levels), LIKELY_LEVELS))
    likely = [(group.mean(), len(group) / len(levels)) for group in groups]

    lowest = likely[0][0]
    over_lowest = _log_mean_over(likely) if len(likely) > FEW_LEVELS else None

    def mean(bed, K):
        _check_attenuation(K)
        bed, K = np.broadcast_arrays(bed, K)
        beds, fading = bed.ravel(), K.ravel()
        shares = np.empty(beds.size)
        under = (beds <= lowest) & (fading <= CLOUDIEST) & (over_lowest is not None)
        if under.any():
            faded = fading[under]
            shares[under] = np.exp(np.interp(faded, ATTENUATIONS, over_lowest) - faded * (lowest - beds[under]))
        rest = np.flatnonzero(~under)
        for start in range(0, len(rest), CELLS_AT_A_TIME):
            part = rest[start : start + CELLS_AT_A_TIME]
            shares[part] = _weighted_share(beds[part], fading[part], likely)
        # the weights add up to 1 only to the last bit
        return np.minimum(shares, 1.0).reshape(bed.shape)

    return describe(cellwise(mean, bed, attenuation), BED_LIGHT)


def light_depth_limit(attenuation: Numeric, light_requirement: Numeric) -> Numeric:
    """Greatest depth at which a rooted plant gets the share of light it needs.

    Parameters
    ----------
    attenuation : float or array, any shape
        Attenuation coefficient, above 0. [1/m]
    light_requirement : float or array, broadcast
        Share of the light just below the surface that the plant needs, between 0 and 1; a profile's number, with its
        source. [1]

    Returns
    -------
    same kind and shape
        Depth limit, positive down; NaN where either is NaN (no data). [m]

    Raises
    ------
    ValueError
        If an attenuation is not above 0, or a requirement not above 0 and below 1.

    Notes
    -----
    Beer-Lambert law, z = -ln(share) / Kd. Not interchangeable with `regression_depth_limit`; see
    `NOT_INTERCHANGEABLE`, which the layer carries as its comment. Shade by epiphytes is not in it, nor waves.

    Examples
    --------
    >>> round(light_depth_limit(1.5, 0.22), 5)
    1.00942
    """

    def limit(K, share):
        _check_attenuation(K)
        advice = "It is a share of 1: 11 % is 0.11."
        refuse_outside(share, "light requirement", "1", above=0, most=np.nextafter(1, 0), advice=advice)
        return -np.log(share) / K

    return describe(cellwise(limit, attenuation, light_requirement), DEPTH_LIMIT, comment=NOT_INTERCHANGEABLE)


def light_limited_cover(cover: Numeric, light: Numeric, light_requirement: float) -> Numeric:
    """Cover of rooted plants that the light at the bed can keep.

    Parameters
    ----------
    cover : float or array, any shape
        Cover as mapped, 0 to 1. [1]
    light : float or array, broadcast
        Share of the light just below the surface that reaches the bed. [1]
    light_requirement : float
        Share that the plant needs. [1]

    Returns
    -------
    same kind and shape
        0 to 1; NaN where either is NaN (no data). [1]

    Raises
    ------
    ValueError
        If a cover or a light is outside 0 to 1, or the requirement not above 0 and at most 1.

    Notes
    -----
    cover * min(1, light / requirement): all of it with light enough, none in the dark, in proportion between. The
    straight line is a form of ours (expert judgement): plants die back over months, and how far is not in one number.

    Examples
    --------
    >>> light_limited_cover(0.6, 0.11, 0.22)
    0.3
    """
    refuse_outside(light_requirement, "light requirement", "1", above=0, most=1)

    def kept(cover, light):
        refuse_outside(cover, "cover", "1", least=0, most=1)
        refuse_outside(light, "light", "1", least=0, most=1)
        return cover * np.minimum(1.0, light / light_requirement)

    return describe(cellwise(kept, cover, light), FORAGE)


def regression_depth_limit(attenuation: Numeric) -> Numeric:
    """Depth limit that seagrass beds of the world were found to have at an attenuation.

    Parameters
    ----------
    attenuation : float or array, any shape
        Attenuation coefficient, above 0. [1/m]

    Returns
    -------
    same kind and shape
        Depth limit, positive down; NaN where there is no data. [m]

    Raises
    ------
    ValueError
        If an attenuation is not above 0.

    Notes
    -----
    log10 z = 0.26 - 1.07 log10 Kd. Not interchangeable with `light_depth_limit`, nor with the "about 11 %" of the
    same abstract; see `NOT_INTERCHANGEABLE`. It gives too great depths for beds shallower than 5 m, and plants in
    water of more than 0.27 per metre need more light (Duarte et al. 2007): in turbid water it is the bold choice.

    References
    ----------
    Duarte, C. M. (1991), Seagrass depth limits, Aquatic Botany 40, 363-377, and Duarte, C. M., Marba, N.,
    Krause-Jensen, D. & Sanchez-Camacho, M. (2007), Testing the predictive power of seagrass depth limit models,
    Estuaries and Coasts 30, 652-656: both abstracts read.

    Examples
    --------
    >>> round(regression_depth_limit(1.0), 4)
    1.8197
    """

    def limit(K):
        _check_attenuation(K)
        return 10.0 ** (REGRESSION_INTERCEPT + REGRESSION_SLOPE * np.log10(K))

    return describe(cellwise(limit, attenuation), DEPTH_LIMIT, comment=NOT_INTERCHANGEABLE)


def _check_attenuation(attenuation):
    refuse_outside(attenuation, "attenuation", "1/m", above=0)


def _weighted_share(bed, attenuation, likely):
    total = np.zeros(bed.shape)
    for level, weight in likely:
        share = np.maximum(level - bed, 0.0)
        share *= -attenuation
        np.exp(share, out=share)
        share *= weight
        total += share
    return total


def _log_mean_over(likely: list[tuple[float, float]]) -> np.ndarray:
    """Logarithm of the mean light at the height of the lowest level, for each of `ATTENUATIONS`."""
    lowest = likely[0][0]
    return np.log(sum(weight * np.exp(-ATTENUATIONS * (level - lowest)) for level, weight in likely))
