"""Water samples of a river with the flow of their days, each concentration as the interval it is known to lie in.

A laboratory that finds less than it can measure has not found zero, nor half its limit: such a sample is the interval
from 0 to the limit, and stays one.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

KILOGRAMS_A_DAY = 86.4  # of 1 m3/s at 1 mg/L: 86 400 s times 1 g/m3
LEAST_SAMPLES = 3


@dataclass(frozen=True, kw_only=True)
class RiverSamples:
    """Samples of a river, one for each day sampled.

    Parameters
    ----------
    flow : array, shape (n,)
        Mean flow of the day. [m3/s]
    lowest, highest : array, shape (n,)
        Concentration: the same twice where it was measured; 0 and the limit where it was below detection. [mg/L]
    year : array, shape (n,), optional
        Time as a decimal year, where a season or a trend is to be fitted. [year]

    Raises
    ------
    ValueError
        If lengths differ, there are fewer than three, a value is missing, or one is out of its range; all of it.
    """

    flow: np.ndarray
    lowest: np.ndarray
    highest: np.ndarray
    year: np.ndarray | None = None

    def __post_init__(self) -> None:
        names = ["flow", "lowest", "highest"] + (["year"] if self.year is not None else [])
        for name in names:
            values = np.array(getattr(self, name), np.float64).ravel()  # a copy: what was given stays the caller's
            values.flags.writeable = False
            object.__setattr__(self, name, values)
        if faults := self._faults(names):
            raise ValueError("samples: " + " ".join(faults))

    @property
    def is_censored(self) -> np.ndarray:
        """True where the concentration is known as an interval only, (n,)."""
        return self.highest > self.lowest

    def __len__(self) -> int:
        return len(self.flow)

    def _faults(self, names: list[str]) -> list[str]:
        if len({len(getattr(self, name)) for name in names}) > 1:
            return [f"{', '.join(names)} differ in length. Give each sample all of them."]
        faults = []
        if len(self) < LEAST_SAMPLES:
            faults.append(f"found {len(self)}, at least {LEAST_SAMPLES} are needed.")
        for name in names:
            unknown = np.flatnonzero(~np.isfinite(getattr(self, name)))
            if unknown.size:
                faults.append(f"{name} is missing at index {unknown[0]}. Leave that sample out, or find the value.")
        for wrong, words in (
            (self.flow < 0, "flow is below 0 at index {}. Leave out days when the tide turned the river."),
            (self.lowest < 0, "lowest is below 0 at index {}. Below detection, write 0 and the limit."),
            (self.lowest > self.highest, "lowest is above highest at index {}. Swap them."),
            (self.highest <= 0, "highest is 0 at index {}. Nothing found means below detection: write the limit."),
        ):
            if wrong.any():
                faults.append(words.format(np.flatnonzero(wrong)[0]))
        return faults


def samples_below_detection(
    flow: np.ndarray, concentration: np.ndarray, below: np.ndarray, *, year: np.ndarray | None = None
) -> RiverSamples:
    """Samples from a table with remarks: where `below`, the concentration given is the detection limit.

    Parameters
    ----------
    flow, concentration : array, shape (n,)
        [m3/s] and [mg/L]
    below : bool array, shape (n,)
        True where the laboratory wrote "<".
    year : array, shape (n,), optional
        [year]

    Raises
    ------
    ValueError
        As `RiverSamples`.

    Examples
    --------
    >>> samples_below_detection([1, 2, 4], [0.1, 0.05, 0.2], [False, True, False]).lowest.tolist()
    [0.1, 0.0, 0.2]
    """
    concentration = np.asarray(concentration, np.float64)
    lowest = np.where(np.asarray(below, bool), 0.0, concentration)
    return RiverSamples(flow=flow, lowest=lowest, highest=concentration, year=year)


def daily_flows(values: np.ndarray) -> np.ndarray:
    """Daily flows, checked: (N,) float64. [m3/s]

    Raises
    ------
    ValueError
        If there is none, one is missing or one is below 0: a missing day is not a dry day.
    """
    flows = np.asarray(values, np.float64).ravel()
    if not flows.size:
        raise ValueError("daily_flow: there is no day. Give the flow of each day the load is wanted for.")
    unknown = np.flatnonzero(~np.isfinite(flows))
    if unknown.size:
        raise ValueError(
            f"daily_flow: {unknown.size} of {flows.size} days are missing, the first at index {unknown[0]}. A missing "
            "day is not a dry day: fill the gap by a stated method first."
        )
    if (flows < 0).any():
        found = flows[flows < 0][0]
        raise ValueError(f"daily_flow: found {found:g} m3/s. It must be at least 0; a tidal reach needs net flows.")
    return flows
