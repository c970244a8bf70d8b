"""Source term of a dredge: the fine sediment it loses to the water, and what a curtain or slower work takes off it.

Only fines make a plume; sand falls where it is dug. A loss fraction is the least certain number of all: take the low
and the high end, never only the middle.
"""

from __future__ import annotations

from dataclasses import dataclass

from layers.cellwise import Numeric, cellwise, refuse_outside
from layers.published_table import shipped_table
from layers.quantity import Quantity, describe

DREDGING_SOURCE = Quantity(
    name="dredging_source", label="fine sediment lost by a dredge", units="kg/s", plausible=(0, 10_000)
)
RELEASED_MASS = Quantity(
    name="released_mass", label="fine sediment lost over the work", units="kg", plausible=(0, 1e12)
)

SECONDS_PER_HOUR = 3600
# dry density of the bed: from fluid mud to solid rock
LOOSEST_BED, ROCK = 50.0, 3000.0  # kg/m3
PER_CENT = "It is a share of 1: 2 % is 0.02."


@dataclass(frozen=True, kw_only=True)
class LossFraction:
    """A published share of the dredged sediment that is lost to the water. None where the source gives no value."""

    equipment: str
    low: float | None  # [1]
    characteristic: float | None  # [1]
    high: float | None  # [1]
    share_of: str  # "fines", or "load" (all that is dug)
    source: str
    seen: str  # "seen", or "from memory": a value that somebody has to confirm


@dataclass(frozen=True, kw_only=True)
class Measure:
    """Something done to lose less sediment, such as a curtain or a slower dredge."""

    name: str
    factor: float  # the loss with it over the loss without it [1]
    source: str

    def __post_init__(self) -> None:
        refuse_outside(self.factor, f'factor of "{self.name}"', "1", least=0, most=1, advice=PER_CENT)
        if not self.factor == self.factor:
            raise ValueError(f'factor of "{self.name}": no number was given. State one from 0 to 1.')
        if not self.source.strip():
            raise ValueError(f'source of "{self.name}": nothing was given. Say where its factor comes from.')


def loss_fractions() -> dict[str, LossFraction]:
    """Published loss fractions by kind of equipment, in the order of the table `loss_fraction.csv`.

    Notes
    -----
    The citations stand at the top of the table. A share of the *load* is used as that share of the fines, as if the
    lost sediment were like the bed; what goes over in overflow is mostly fines, so that more of them is lost.

    Examples
    --------
    >>> loss_fractions()["cutter suction dredge"].high
    0.03
    """
    return {row["equipment"]: LossFraction(**row) for row in shipped_table("loss_fraction").rows}


def loss_fraction(equipment: str) -> LossFraction:
    """Published loss fraction of one kind of equipment.

    Raises
    ------
    ValueError
        If the table does not hold the equipment.
    """
    known = loss_fractions()
    if equipment not in known:
        raise ValueError(
            f'equipment: "{equipment}" is not in the table of loss fractions. It holds: {", ".join(known)}. '
            "Choose one of these, or state a fraction with its source."
        )
    return known[equipment]


def dredging_source(
    production: Numeric, dry_density: Numeric, fines_fraction: Numeric, loss_fraction: Numeric
) -> Numeric:
    """Fine sediment that a dredge loses to the water in a second.

    Parameters
    ----------
    production : float or array, any shape
        Volume of bed dug in an hour, as it lies, while the dredge digs. [m3/h]
    dry_density : float or array, broadcast
        Dry mass of the bed in its own volume. [kg/m3]
    fines_fraction : float or array, broadcast
        Share of the dry mass that is finer than 63 um. [1]
    loss_fraction : float or array, broadcast
        Share of the fines that is lost to the water: see `loss_fractions`. [1]

    Returns
    -------
    same kind and shape
        Source of fine sediment; NaN where any is NaN (no data). [kg/s]

    Raises
    ------
    ValueError
        If production is negative, a density outside 50 to 3000 kg/m3, or a fraction outside 0 to 1.

    Notes
    -----
    production / 3600 * dry_density * fines_fraction * loss_fraction.

    References
    ----------
    The product is common practice, no source; its loss fractions are those of the table.

    Examples
    --------
    >>> round(dredging_source(500.0, 800.0, 0.30, 0.02), 5)
    0.66667
    """

    def source(production, density, fines, loss):
        refuse_outside(production, "production", "m3/h", least=0)
        advice = "It is the dry mass in a volume of bed; values in t/m3 must be multiplied by 1000."
        refuse_outside(density, "dry density", "kg/m3", least=LOOSEST_BED, most=ROCK, advice=advice)
        refuse_outside(fines, "fines fraction", "1", least=0, most=1, advice=PER_CENT)
        refuse_outside(loss, "loss fraction", "1", least=0, most=1, advice=PER_CENT)
        return production / SECONDS_PER_HOUR * density * fines * loss

    return describe(cellwise(source, production, dry_density, fines_fraction, loss_fraction), DREDGING_SOURCE)


def lowered_source(source: Numeric, *measures: Measure) -> Numeric:
    """Source of a dredge with measures taken against its loss.

    Parameters
    ----------
    source : float or array, any shape
        As `dredging_source` gives it. [kg/s]
    measures : Measure
        Each lowers what the ones before it left.

    Returns
    -------
    same kind and shape
        Source with the measures; NaN where there is no data. [kg/s]

    Raises
    ------
    ValueError
        If a source is negative.

    Notes
    -----
    source * factor * factor ... No factor is shipped: few studies show how well curtains work (Silt curtains as a
    dredging project management practice, ERDC TN-DOER-E21, 2005, opening read), and in a current they may not. A
    dredge at half its rate has half the source for twice the time: the plume is thinner, the mass released the same.
    Compare `released_mass` before calling slower work better.

    Examples
    --------
    >>> curtain = Measure(name="silt curtain", factor=0.5, source="assumed for this example")
    >>> lowered_source(2.0, curtain)
    1.0
    """

    def lowered(source):
        refuse_outside(source, "source", "kg/s", least=0)
        for measure in measures:
            source = source * measure.factor
        return source

    taken = "; ".join(f"{measure.name}: factor {measure.factor:g} ({measure.source})" for measure in measures)
    return describe(cellwise(lowered, source), DREDGING_SOURCE, **({"measures": taken} if taken else {}))


def released_mass(source: Numeric, hours: Numeric) -> Numeric:
    """Fine sediment released over all the hours of digging.

    Parameters
    ----------
    source : float or array, any shape
        As `dredging_source` or `lowered_source` gives it. [kg/s]
    hours : float or array, broadcast
        Hours of digging: the volume to dig over the production. [h]

    Returns
    -------
    same kind and shape
        Mass; NaN where either is NaN (no data). [kg]

    Raises
    ------
    ValueError
        If a source or the hours are negative.

    Examples
    --------
    >>> released_mass(0.5, 100.0)
    180000.0
    """

    def mass(source, hours):
        refuse_outside(source, "source", "kg/s", least=0)
        refuse_outside(hours, "hours", "h", least=0)
        return source * SECONDS_PER_HOUR * hours

    return describe(cellwise(mass, source, hours), RELEASED_MASS)
