"""What looking and seeing none is worth: effort, and the chance of having missed an animal that was there."""

from __future__ import annotations

import math

import numpy as np

from layers.cellwise import Numeric, cellwise, refuse_outside

SURE = 0.95  # how sure a finding of "none here" should be; a convention


def sightings_per_hour(sightings: Numeric, hours: Numeric) -> Numeric:
    """Sightings for each hour of looking; NaN where nobody looked. [1/hour]

    Raises
    ------
    ValueError
        If a number is below 0.

    Examples
    --------
    >>> sightings_per_hour(6, 120), sightings_per_hour(3, 20)
    (0.05, 0.15)
    """

    def rate(sightings, hours):
        refuse_outside(sightings, "sightings", "1", least=0)
        refuse_outside(hours, "effort", "hours", least=0)
        return np.divide(sightings, hours, out=np.full(np.broadcast(sightings, hours).shape, np.nan), where=hours > 0)

    return cellwise(rate, sightings, hours)


def probability_missed(visits: Numeric, probability: Numeric) -> Numeric:
    """Chance that animals that are there are missed on every one of some visits. [1]

    Parameters
    ----------
    visits : float or array
        Surveys of the place, alike and independent of each other. [1]
    probability : float or array, broadcast
        Chance that one survey sees an animal where there is one, 0 to 1. [1]

    Returns
    -------
    same kind and shape
        (1 - p)^n: 1 for a place nobody visited. NaN where one of the two is NaN.

    Examples
    --------
    >>> round(probability_missed(9, 0.3), 4)
    0.0404
    """

    def missed(visits, probability):
        refuse_outside(visits, "visits", "1", least=0)
        refuse_outside(probability, "probability", "1", least=0, most=1)
        return (1 - probability) ** visits

    return cellwise(missed, visits, probability)


def probability_missed_in(hours: Numeric, rate: Numeric) -> Numeric:
    """Chance of no sighting in some hours where animals are met `rate` times an hour: exp(-rate hours). [1]

    Takes sightings to come independently of each other (Poisson). `rate` is what one would expect to see where animals
    live, for instance the rate over the site's own good habitat. [1/hour]

    Examples
    --------
    >>> round(probability_missed_in(20, 0.15), 4)
    0.0498
    """

    def missed(hours, rate):
        refuse_outside(hours, "effort", "hours", least=0)
        refuse_outside(rate, "rate", "1/hour", least=0)
        return np.exp(-rate * hours)

    return cellwise(missed, hours, rate)


def visits_needed(probability: float, *, sure: float = SURE) -> float:
    """Surveys without a sighting after which one may be `sure` that no animal lives there; round it up.

    n = ln(1 - sure) / ln(1 - p), with p the chance that one survey sees an animal where there is one.

    Raises
    ------
    ValueError
        If the probability is not above 0 and at most 1, or `sure` is not between 0 and 1.

    Examples
    --------
    >>> round(visits_needed(0.3), 2), round(visits_needed(0.5), 2)
    (8.4, 4.32)
    """
    refuse_outside(probability, "probability", "1", above=0, most=1)
    if not 0 < sure < 1:
        raise ValueError(f"sure: found {sure:g}. It lies between 0 and 1.")
    return 1.0 if probability == 1 else math.log(1 - sure) / math.log(1 - probability)


def absence_told(visits: int, probability: float, *, sure: float = SURE) -> str:
    """A sentence on what some visits without a sighting allow to say."""
    missed = probability_missed(visits, probability)
    needed = math.ceil(visits_needed(probability, sure=sure) - 1e-9)
    if visits == 0:
        return f"Nobody looked: that is not absence. {needed} visits without a sighting would make it {sure:.0%} sure."
    said = (
        f"After {visits} visits without a sighting the chance of having missed animals that are there is {missed:.0%}"
    )
    enough = 1 - missed >= sure
    return f"{said}." if enough else f"{said}; {needed} visits would make it {sure:.0%} sure that there are none."
