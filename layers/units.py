"""Units as people write them, converted once: where a file is read.

A unit is never guessed. What cannot be converted without knowing more (conductivity to salinity, grams per
kilogram to practical salinity) is refused with a sentence that says what to do.
"""

from __future__ import annotations

import re
from collections.abc import Callable
from dataclasses import dataclass
from functools import cache
from typing import TypeVar

import numpy as np

Numbers = TypeVar("Numbers", float, np.ndarray)

DAYS_A_YEAR = 365.25
SHARES = {"1": 1.0, "dimensionless": 1.0, "percent": 0.01, "%": 0.01}
PRACTICAL_SALINITY = ("1", "PSU", "psu", "PSS-78", "PSS")
KNOWN = {  # dimension of the wanted unit: its name in words, units offered in messages
    "[length]": ("length", ("m", "ft", "km", "cm", "mm", "fathom", "nautical_mile")),
    "[temperature]": ("temperature", ("degree_Celsius", "degree_Fahrenheit", "kelvin")),
    "[time]": ("time", ("s", "hour", "day", "year")),
    "1/[time]": ("number in a time", ("1/day", "1/week", "1/year")),
    "[mass]/[time]": ("mass in a time", ("kg/year", "t/year", "kg/day", "g/s", "lb/year")),
    "[mass]/[length]**2/[time]": ("load on an area", ("kg/ha/year", "g/m2/day", "lb/acre/year")),
    "1/[length]/[time]": ("length in an area and a time", ("km/km2/day", "1/m/s")),
    "[length]**2/[time]": ("dispersion", ("m2/s", "m2/day", "cm2/s")),
    "[mass]/[length]**3": ("concentration", ("mg/L", "ug/L", "g/m3", "kg/m3")),
    "[conductivity]": ("conductivity", ("mS/cm", "uS/cm", "S/m")),
    "1/[length]": ("attenuation", ("1/m", "1/ft")),
    "[length]/[time]": ("speed", ("m/s", "km/hour", "knot")),
    "": ("share", ("1", "percent")),
}
_SLIPS = {
    "C": "degree_Celsius",
    "deg C": "degree_Celsius",
    "Celsius": "degree_Celsius",
    "F": "degree_Fahrenheit",
    "Fahrenheit": "degree_Fahrenheit",
    "M": "m",
    "Meter": "m",
    "Metre": "m",
    "FT": "ft",
    "Feet": "ft",
    "kg N/year": "kg/year",
    "kgN/year": "kg/year",
    "kg N/yr": "kg/year",
}


class UnitError(ValueError):
    """A unit that cannot be used; `found` and `remedy` are the sentences of a fault."""

    def __init__(self, found: str, remedy: str):
        self.found, self.remedy = found, remedy
        super().__init__(f"{found} {remedy}")


@dataclass(frozen=True)
class Conversion:
    """A straight line from one unit to another; keeps the kind and precision of what it is given."""

    scale: float
    offset: float = 0.0

    def __call__(self, values: Numbers) -> Numbers:
        """`values` in the wanted unit."""
        if self.scale == 1 and self.offset == 0:
            return values
        return values * self.scale + self.offset


def converter(given: str | None, wanted: str, *, quantity: str = "") -> Callable[[Numbers], Numbers]:
    """Conversion from the unit `given` in a site file to the unit `wanted`.

    Parameters
    ----------
    given : str or None
        The unit as written. None means that the site file has none.
    wanted : str
        Unit of the layer, as in the catalogue of quantities.
    quantity : str
        Name of the quantity. "salinity" is held to the practical scale, which is no unit at all.

    Raises
    ------
    UnitError
        If `given` is missing, not known, or of another dimension than `wanted`.

    Notes
    -----
    A foot is the international one, 0.3048 m exactly; a year is 365.25 days.

    Examples
    --------
    >>> converter("ft", "m")(10.0)
    3.048
    >>> round(converter("degF", "degree_Celsius")(212.0), 9)
    100.0
    >>> converter("kg", "1")
    Traceback (most recent call last):
    layers.units.UnitError: the unit "kg" is not that of a share. Write "1" (0 to 1) or "percent".
    """
    if given is None or not given.strip():
        raise UnitError(
            "there is no unit, and a unit is never guessed.",
            f'Add `units`, for example units = "{_offered(wanted, quantity)[1][0]}".',
        )
    given = given.strip()
    if quantity == "salinity":
        return _practical_salinity(given)
    if wanted == "1":
        if given not in SHARES:
            raise UnitError(f'the unit "{given}" is not that of a share.', 'Write "1" (0 to 1) or "percent".')
        return Conversion(SHARES[given])
    return _conversion(given, wanted)


def _practical_salinity(given: str) -> Conversion:
    if given in PRACTICAL_SALINITY:
        return Conversion(1.0)
    if given.replace(" ", "").lower() in ("g/kg", "gkg-1", "ppt", "‰", "permil", "g/l", "pptw"):
        raise UnitError(
            f'"{given}" is the unit of a salt content, and the layer is practical salinity, which has no unit.',
            'If the values were measured on the practical scale (PSS-78), write "1"; if they are absolute '
            "salinity, convert them first with the TEOS-10 function from absolute to practical salinity.",
        )
    if re.search(r"[Ss]/", given.replace(" ", "")):
        raise UnitError(
            f'"{given}" is the unit of conductivity, which is salinity only at a known temperature and pressure.',
            'Write feeds = "conductivity" and name the column of its temperature, or, if the meter has brought it to '
            '25 degrees Celsius, feeds = "specific_conductance".',
        )
    raise UnitError(
        f'"{given}" is not a unit of salinity.',
        'Write "1", "PSU" or "PSS-78", all of which mean the practical scale.',
    )


def _conversion(given: str, wanted: str) -> Conversion:
    import pint

    registry = _registry()
    words, offered = _offered(wanted, "")
    hint = f'Did you mean "{_SLIPS[given]}"? ' if given in _SLIPS else ""
    choice = f"{hint}Known units of {words}: {', '.join(offered)}. Write one of these, or convert the file."
    try:
        unit = registry.parse_units(_spelled_out(given))
    except Exception as failure:  # pint raises its own, tokenize's and plain errors on free text
        raise UnitError(f'the unit "{given}" is not known.', choice) from failure
    target = registry.parse_units(_spelled_out(wanted))
    if unit.dimensionality != target.dimensionality:
        raise UnitError(f'"{given}" is not a unit of {words}.', choice)
    try:
        zero, one = (registry.Quantity(number, unit).to(target).magnitude for number in (0.0, 1.0))
    except pint.errors.OffsetUnitCalculusError as failure:
        raise UnitError(f'the unit "{given}" cannot be converted to "{wanted}".', choice) from failure
    # definitions are decimal: 12 * 2.54 cm in binary is not quite 0.3048 m
    return Conversion(_decimal(one - zero), _decimal(zero))


def _decimal(value: float) -> float:
    return float(f"{value:.14g}")


@cache
def _registry():
    import pint

    return pint.UnitRegistry(cache_folder=None)


def _spelled_out(unit: str) -> str:
    """`km/km2/day` and `m s-1` as pint wants them: `km/km**2/day`, `m s**-1`."""
    return re.sub(r"(?<=[A-Za-z])(-?\d)", r"**\1", unit)


def _offered(wanted: str, quantity: str) -> tuple[str, tuple[str, ...]]:
    if quantity == "salinity":
        return "salinity", PRACTICAL_SALINITY
    if wanted == "1":
        return KNOWN[""]
    registry = _registry()
    target = registry.parse_units(_spelled_out(wanted)).dimensionality
    for words, offered in KNOWN.values():
        if registry.parse_units(_spelled_out(offered[0])).dimensionality == target:
            return words, offered
    return f'"{wanted}"', (wanted,)
