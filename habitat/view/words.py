"""Numbers as people read them: a value with its unit, an area, a share."""

from __future__ import annotations

import math

from habitat.result import NO_DATA

_SIGNS = {
    "1": "",
    "degree_Celsius": "°C",
    "km/km2/day": "km/km²/day",
    "1/m": "per metre",
    "ug/L": "µg/L",
    "kg/ha/year": "kg/ha a year",
}


def measure(value: float, units: str = "1", reach: float | None = None) -> str:
    """A value with its unit; "no data" for NaN, "or more" where a distance has met its reach.

    Examples
    --------
    >>> measure(1.834, "m"), measure(float("nan"), "m"), measure(2000, "m", reach=2000)
    ('1.83 m', 'no data', '2,000 m or more')
    >>> measure(0.5), measure(26.04, "degree_Celsius"), measure(-0.3, "m")
    ('0.50', '26.0 °C', '-0.30 m')
    """
    if value is None or math.isnan(value):
        return "no data"
    sign = _SIGNS.get(units, units)
    more = " or more" if reach is not None and value >= reach else ""
    return f"{_figure(value)}{' ' if sign else ''}{sign}{more}"


def unit_sign(units: str) -> str:
    """The unit as it is printed; empty for a plain number.

    Examples
    --------
    >>> unit_sign("degree_Celsius"), unit_sign("1")
    ('°C', '')
    """
    return _SIGNS.get(units, units)


def hectares(area: float) -> str:
    """An area to the whole hectare, small ones to a tenth; NaN is no data. `area` in hectares.

    Examples
    --------
    >>> hectares(12345.6), hectares(72.5), hectares(3.26), hectares(0)
    ('12,346 ha', '73 ha', '3.3 ha', '0 ha')
    """
    if math.isnan(area):
        return NO_DATA
    # halves go up, as in the table beside the sentences
    return f"{area:,.1f} ha" if 0 < area < 10 else f"{math.floor(area + 0.5):,} ha"


def percent(share: float) -> str:
    """A share of one, in whole per cent; never rounded to nothing or to everything.

    Examples
    --------
    >>> percent(0.284), percent(0.002), percent(0.998), percent(0), percent(float("nan"))
    ('28%', 'under 1%', 'over 99%', '0%', 'no data')
    """
    if math.isnan(share):
        return "no data"
    if 0 < share < 0.01:
        return "under 1%"
    if 0.99 < share < 1:
        return "over 99%"
    return f"{100 * share:.0f}%"


def _figure(value: float) -> str:
    size = abs(value)
    if size >= 100:
        return f"{value:,.0f}"
    return f"{value:.1f}" if size >= 10 else f"{value:.2f}"
