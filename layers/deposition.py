"""Deposition: sediment that falls out of the water on its way, and where it comes down.

Sediment is taken class by class, each with the settling speed `layers.settling` gives or, for mud, one that was
measured. What touches the bed stays there: waves and currents lift real sediment again, so that plumes reach
farther and last longer than this says.
"""

from __future__ import annotations

import numpy as np

from layers.cellwise import Numeric, cellwise, refuse_outside
from layers.quantity import Quantity, describe

SETTLING_LOSS = Quantity(name="settling_loss", label="loss by settling", units="1/s", plausible=(0, 1))
SHARE_SUSPENDED = Quantity(
    name="share_suspended", label="share of the sediment still in the water", units="1", plausible=(0, 1)
)
SETTLING_DISTANCE = Quantity(
    name="settling_distance", label="distance that sediment is carried", units="m", plausible=(0, 1e8)
)
DEPOSITION_RATE = Quantity(
    name="deposition_rate", label="sediment that settles on the bed", units="kg/m2/day", plausible=(0, 1e5)
)

SECONDS_PER_DAY = 86_400
MILLIMETRES = "Values in mm/s must be divided by 1000."


def settling_loss(settling_speed: Numeric, depth: Numeric) -> Numeric:
    """Share of the sediment in the water that settles out in a second.

    Parameters
    ----------
    settling_speed : float or array, any shape
        Settling speed, 0 or more. [m/s]
    depth : float or array, broadcast
        Depth of water, above 0. [m]

    Returns
    -------
    same kind and shape
        First-order loss rate; NaN where either is NaN (no data). [1/s]

    Raises
    ------
    ValueError
        If a speed is negative or above 0.5 m/s, or a depth is not above 0.

    Notes
    -----
    k = w / h, for sediment mixed from surface to bed.

    Examples
    --------
    >>> settling_loss(0.001, 5.0)
    0.0002
    """

    def loss(w, h):
        refuse_outside(w, "settling speed", "m/s", least=0, most=0.5, advice=MILLIMETRES)
        refuse_outside(h, "depth", "m", above=0)
        return w / h

    return describe(cellwise(loss, settling_speed, depth), SETTLING_LOSS)


def share_suspended(distance: Numeric, loss: Numeric, current: Numeric) -> Numeric:
    """Share of the sediment still in the water some way down a stream.

    Parameters
    ----------
    distance : float or array, any shape
        Distance downstream, 0 or more. [m]
    loss : float or array, broadcast
        `settling_loss` along the stream, 0 or more. [1/s]
    current : float or array, broadcast
        Speed of the stream, above 0. [m/s]

    Returns
    -------
    same kind and shape
        0 to 1; NaN where any is NaN (no data). [1]

    Raises
    ------
    ValueError
        If one of them is out of its limits.

    Notes
    -----
    exp(-k x / u) with k = w / h, without mixing along the stream.

    Examples
    --------
    >>> round(share_suspended(1000.0, settling_loss(1e-4, 5.0), 0.2), 6)
    0.904837
    """

    def share(x, k, u):
        refuse_outside(x, "distance", "m", least=0)
        refuse_outside(k, "loss", "1/s", least=0)
        refuse_outside(u, "current", "m/s", above=0)
        return np.exp(-k * x / u)

    return describe(cellwise(share, distance, loss, current), SHARE_SUSPENDED)


def settling_distance(share: Numeric, loss: Numeric, current: Numeric) -> Numeric:
    """Distance down a stream at which only a share of the sediment is still in the water.

    Parameters
    ----------
    share : float or array, any shape
        Share still in the water, above 0 and up to 1. [1]
    loss, current
        As in `share_suspended`, the loss above 0.

    Returns
    -------
    same kind and shape
        Distance; NaN where any is NaN (no data). [m]

    Raises
    ------
    ValueError
        If one of them is out of its limits.

    Examples
    --------
    >>> round(settling_distance(0.01, settling_loss(1e-4, 5.0), 0.2) / 1000, 2)
    46.05
    """

    def distance(share, k, u):
        refuse_outside(share, "share", "1", above=0, most=1, advice="It is a share of 1: 5 % is 0.05.")
        refuse_outside(k, "loss", "1/s", above=0)
        refuse_outside(u, "current", "m/s", above=0)
        return -np.log(share) * u / k

    return describe(cellwise(distance, share, loss, current), SETTLING_DISTANCE)


def deposition_rate(concentration: Numeric, settling_speed: Numeric) -> Numeric:
    """Sediment that settles on the bed under water of a concentration.

    Parameters
    ----------
    concentration : float or array, any shape
        Suspended sediment of this class, mean over the depth. [mg/L]
    settling_speed : float or array, broadcast
        Settling speed of the class, 0 or more. [m/s]

    Returns
    -------
    same kind and shape
        Dry mass on the bed; NaN where either is NaN (no data). [kg/m2/day]

    Raises
    ------
    ValueError
        If a concentration is negative, or a speed negative or above 0.5 m/s.

    Notes
    -----
    w C, the loss that belongs to `settling_loss`: what leaves the water arrives on the bed.

    Examples
    --------
    >>> round(deposition_rate(100.0, 1e-4), 3)
    0.864
    """

    def rate(C, w):
        refuse_outside(C, "concentration", "mg/L", least=0)
        refuse_outside(w, "settling speed", "m/s", least=0, most=0.5, advice=MILLIMETRES)
        return C / 1000 * w * SECONDS_PER_DAY

    return describe(cellwise(rate, concentration, settling_speed), DEPOSITION_RATE)
