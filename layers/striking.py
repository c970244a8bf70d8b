"""How much of the time animals are near enough to the surface for a passing vessel to strike them.

An animal in water no deeper than a keel or propeller reaches is in the way wherever in the water it is; in deeper
water it is so for the share of the time that it spends near the surface. How deep a strike reaches and that share are
numbers of a profile, with their source.
"""

from __future__ import annotations

import numpy as np

from layers.cellwise import Numeric, cellwise, refuse_outside
from layers.light import CELLS_AT_A_TIME, LIKELY_LEVELS
from layers.quantity import STRIKE_EXPOSURE, Quantity, describe

STEP_OF_BED = 0.002  # of the table for large grids [m]
STRIKING_SHARE = Quantity(
    name="striking_share", label="share of the time within striking depth", units="1", plausible=(0, 1)
)


def share_within_striking_depth(depth: Numeric, striking_depth: Numeric, share_when_deep: Numeric) -> Numeric:
    """Share of the time that animals in water of this depth are within striking depth of the surface.

    Parameters
    ----------
    depth : float or array, any shape
        Depth of water, positive down. [m]
    striking_depth : float or array, broadcast
        How far below the surface a vessel can strike, above 0. [m]
    share_when_deep : float or array, broadcast
        Share of the time that animals in water much deeper than that are within it, above 0 to 1. It may differ from
        cell to cell, as it does between seagrass and other bottoms. [1]

    Returns
    -------
    same kind and shape
        0 where it is dry, for no vessel floats there; 1 from there to the striking depth; NaN where any is NaN (no
        data). [1]

    Raises
    ------
    ValueError
        If a striking depth is not above 0, or a share not above 0 and at most 1.

    Notes
    -----
    max(share_when_deep, striking_depth / depth), at most 1. This is a form and not a finding: an animal that uses
    all of the water evenly is within the striking depth for striking_depth / depth of the time, and it comes up to
    breathe, so never for less than it is in deep water. The form is continuous from the water's edge out, needs no
    number beyond the profile's two, and reaches the share of deep water at striking_depth / share_when_deep. Where a
    profile has measured shares at several depths, a curve through those is better.

    Published shares that a profile may hold: dugongs within 1.5 m for 47 % and within 3 m for 72 % of the day
    (Chilvers et al. 2004); manatees within 1.25 m in 78 % of records, individuals in 62 to 86 %, and with
    a probability of 0.96 (0.93 to 0.98) in water shallower than 0.91 m (Edwards et al. 2016), where this form says 1.

    References
    ----------
    Chilvers, B. L. et al. (2004), Journal of Experimental Marine Biology and Ecology 304, 203-224, and Edwards, H. H.
    et al. (2016), PLoS ONE, 10.1371/journal.pone.0151450: both abstracts read.

    Examples
    --------
    >>> [round(share_within_striking_depth(depth, 1.25, 0.78), 4) for depth in (-0.2, 0.9, 1.25, 1.4, 1.7, 9.0)]
    [0.0, 1.0, 1.0, 0.8929, 0.78, 0.78]
    """
    return describe(cellwise(_checked_share, depth, striking_depth, share_when_deep), STRIKING_SHARE)


def mean_share_within_striking_depth(
    bed: Numeric, levels: np.ndarray, striking_depth: Numeric, share_when_deep: Numeric
) -> Numeric:
    """Mean over the tide of the share within striking depth, the hours a flat is dry counted as 0.

    Parameters
    ----------
    bed : float or array, any shape
        Bed elevation, positive up. [m]
    levels : array, shape (n,)
        Water levels above the datum of the bed, equally spaced in time, in any order. [m]
    striking_depth, share_when_deep : float or array, broadcast
        As in `share_within_striking_depth`. [m], [1]

    Returns
    -------
    same kind and shape as `bed`
        0 to 1; NaN where any is NaN (no data). [1]

    Raises
    ------
    ValueError
        As `share_within_striking_depth`; or if there is no level, or one is not a number.

    Notes
    -----
    The mean of `share_within_striking_depth` over the levels, which is not that at the mean depth. It takes animals
    to be as likely in a cell at one stage of the tide as at another: where they come in with the flood, the water is
    deeper than the mean over all hours has it. More than `layers.light.LIKELY_LEVELS` levels are put into that many
    groups of equal size, each standing for its mean, as for light; the result is then right to about 1/400. For
    one striking depth they are read from a table by the bed, in steps of 2 mm.

    Examples
    --------
    >>> mean_share_within_striking_depth(-1.0, np.array([-1.5, 0.0, 4.0]), 1.25, 0.8)
    0.6
    """
    levels = np.sort(np.asarray(levels, np.float64))
    if len(levels) == 0 or not np.isfinite(levels).all():
        raise ValueError("levels: at least one water level is needed, and every level must be a number.")
    groups = np.array_split(levels, min(len(levels), LIKELY_LEVELS))
    likely = [(group.mean(), len(group) / len(levels)) for group in groups]

    def mean(bed, striking, deep):
        _check(striking, deep)
        if np.ndim(striking) == np.ndim(deep) == 0 and len(levels) > LIKELY_LEVELS:
            beds, shares = _table(likely, striking, deep)
            return np.interp(bed, beds, shares, right=0.0)
        values = [array.ravel() for array in np.broadcast_arrays(bed, striking, deep)]
        shape = np.broadcast_shapes(np.shape(bed), np.shape(striking), np.shape(deep))
        whole = np.empty(values[0].size)
        for start in range(0, len(whole), CELLS_AT_A_TIME):
            part = slice(start, start + CELLS_AT_A_TIME)
            beds, strikes, deeps = (array[part] for array in values)
            whole[part] = sum(weight * _share(level - beds, strikes, deeps) for level, weight in likely)
        # the weights add up to 1 only to the last bit
        return np.minimum(whole, 1.0).reshape(shape)

    return describe(cellwise(mean, bed, striking_depth, share_when_deep), STRIKING_SHARE)


def strike_exposure(vessel_density: Numeric, share: Numeric) -> Numeric:
    """Vessel traffic that passes while an animal, if one is there, is within striking depth.

    Parameters
    ----------
    vessel_density : float or array, any shape
        Traffic, as from `layers.vessels` or `layers.fixes`; 0 or more. [km/km2/day]
    share : float or array, broadcast
        Share of the time within striking depth. [1]

    Returns
    -------
    same kind and shape
        NaN where either is NaN (no data). [km/km2/day]

    Raises
    ------
    ValueError
        If a density is below 0, or a share outside 0 to 1.

    Notes
    -----
    The product of the two. It takes vessels and animals to keep no account of each other, nor of the hour, and says
    nothing of how many animals there are, of speed, or of what a strike does: it is exposure, not risk.

    Examples
    --------
    >>> round(strike_exposure(12.0, 0.78), 2)
    9.36
    """

    def product(density, share):
        refuse_outside(density, "vessel density", "km/km2/day", least=0)
        refuse_outside(share, "share of the time", "1", least=0, most=1, advice="It is a share of 1: 78 % is 0.78.")
        return density * share

    return describe(cellwise(product, vessel_density, share), STRIKE_EXPOSURE)


def _table(likely: list[tuple[float, float]], striking: float, deep: float) -> tuple[np.ndarray, np.ndarray]:
    """Beds, from those always in deep water up to those always dry, and the mean share over each."""
    beds = np.arange(likely[0][0] - striking / deep, likely[-1][0] + STEP_OF_BED, STEP_OF_BED)
    shares = sum(weight * _share(level - beds, striking, deep) for level, weight in likely)
    return beds, np.minimum(shares, 1.0)


def _checked_share(depth, striking, deep):
    _check(striking, deep)
    return _share(depth, striking, deep)


def _check(striking, deep):
    refuse_outside(striking, "striking depth", "m", above=0)
    refuse_outside(deep, "share when deep", "1", above=0, most=1, advice="It is a share of 1: 78 % is 0.78.")


def _share(depth, striking, deep):
    # no depth is less than the striking depth in the division, so it is 1 there and never divides by nothing
    share = np.maximum(deep, striking / np.maximum(depth, striking))
    return np.where(depth <= 0, share * 0.0, share)  # no data stays no data on dry ground too
