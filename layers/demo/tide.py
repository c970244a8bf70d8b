"""The tide of the invented site: its constituents, and what a gauge in the village wrote down in sixty days."""

from __future__ import annotations

import numpy as np
import pandas as pd

from layers.demo.noise import generator

CHART_DATUM = -1.25  # above mean sea level, about the lowest astronomical tide [m]

# amplitude [m], Greenwich phase lag [degrees]
CONSTITUENTS = {
    "M2": (0.710, 262.0),
    "S2": (0.265, 301.0),
    "N2": (0.148, 243.0),
    "K2": (0.072, 299.0),
    "K1": (0.152, 188.0),
    "O1": (0.101, 171.0),
    "P1": (0.050, 186.0),
    "M4": (0.018, 95.0),
}
# equilibrium argument: multiples of hour angle from midnight, moon, sun and lunar perigee, then degrees
ARGUMENTS = {
    "M2": (2, -2, 2, 0, 0),
    "S2": (2, 0, 0, 0, 0),
    "N2": (2, -3, 2, 1, 0),
    "K2": (2, 0, 2, 0, 0),
    "K1": (1, 0, 1, 0, 90),
    "O1": (1, -2, 1, 0, -90),
    "P1": (1, 0, -1, 0, -90),
    "M4": (4, -4, 4, 0, 0),
}
# nodal factor: mean and cosine term, nodal angle: sine term [degrees]; S2 and P1 have none
NODAL = {
    "M2": (1.000, -0.037, -2.1),
    "N2": (1.000, -0.037, -2.1),
    "K2": (1.024, 0.286, -17.7),
    "K1": (1.006, 0.115, -8.9),
    "O1": (1.009, 0.187, 10.8),
    "M4": (1.000, -0.074, -4.2),
}


def constituents() -> pd.DataFrame:
    """Columns constituent, amplitude [m], phase [degrees]."""
    rows = [(name, amplitude, phase) for name, (amplitude, phase) in CONSTITUENTS.items()]
    return pd.DataFrame(rows, columns=["constituent", "amplitude", "phase"])


def tide_level(times: pd.DatetimeIndex) -> np.ndarray:
    """Level above mean sea level that the constituents give at times in UTC. [m]

    Notes
    -----
    Sum of ``f A cos(V + u - g)``; V from the mean longitudes of moon, sun, perigee and node, f and u from the
    usual first-order terms in the longitude of the node.

    References
    ----------
    Pugh, D. T. (1987), Tides, Surges and Mean Sea-Level, tables 4:1 and 4:3 (from memory; the tests analyse
    the gauge's series with an independent program).
    """
    hours = (times - pd.Timestamp("2000-01-01T12:00")) / pd.Timedelta("1h")
    centuries = np.asarray(hours, float) / 24 / 36525
    hour_angle = 15 * (np.asarray(hours, float) + 12)  # from midnight
    moon = 218.3165 + 481267.8812 * centuries
    sun = 280.4665 + 36000.7698 * centuries
    perigee = 83.3532 + 4069.0137 * centuries
    node = np.radians(125.0445 - 1934.1363 * centuries)
    level = np.zeros(len(times))
    for name, (amplitude, lag) in CONSTITUENTS.items():
        hour, s, h, p, constant = ARGUMENTS[name]
        mean, cosine, sine = NODAL.get(name, (1.0, 0.0, 0.0))
        argument = hour * hour_angle + s * moon + h * sun + p * perigee + constant + sine * np.sin(node)
        level += (mean + cosine * np.cos(node)) * amplitude * np.cos(np.radians(argument - lag))
    return level


def gauge() -> pd.DataFrame:
    """Columns time (UTC), level above chart datum [m]: every 15 minutes, with one gap of nine hours."""
    times = pd.date_range("2021-03-01", periods=60 * 96, freq="15min")
    random = generator("gauge")
    weather = np.convolve(random.standard_normal(len(times) + 191), np.ones(192) / 192, "valid")
    level = tide_level(times) + 0.9 * weather + 0.01 * random.standard_normal(len(times)) - CHART_DATUM
    table = pd.DataFrame({"time": times.strftime("%Y-%m-%dT%H:%M:%S"), "level": np.round(level, 3)})
    return table.drop(index=range(2210, 2246))
