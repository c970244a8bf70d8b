"""How the values of a layer are spread over the water of a site, and what a curve makes of them, in a sentence."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import xarray as xr

from habitat.curve import CategoryCurve
from habitat.pressure import Fade
from habitat.profile import Factor, Pressure
from habitat.profile_edit import curve_of, handles
from habitat.view.words import measure, percent, unit_sign
from layers.quantity import INTERTIDAL, LAYERS

BARS = 40


@dataclass(frozen=True, kw_only=True)
class Spread:
    """Values of one layer over the water, in one season or in the whole year."""

    ordered: np.ndarray  # of every cell of water with data, from low to high
    water: int  # cells of water

    @property
    def is_known(self) -> bool:
        """Whether any cell has a value."""
        return len(self.ordered) > 0

    def at(self, share: float) -> float:
        """The value below which this share of the cells lies."""
        return float(self.ordered[min(int(share * len(self.ordered)), len(self.ordered) - 1)])

    def up_to(self, value: float) -> float:
        """Share of the cells that are at `value` or below. [1]"""
        return float(np.searchsorted(self.ordered, np.float32(value), "right")) / len(self.ordered)

    def bars(self, low: float, high: float) -> tuple[np.ndarray, np.ndarray]:
        """Edges and shares of the cells between them; what lies beyond the ends is left out."""
        edges = np.linspace(low, high, BARS + 1)
        counts = np.diff(np.searchsorted(self.ordered, edges.astype(np.float32), "left"))
        return edges, counts / max(len(self.ordered), 1)


def spread_of(layers: xr.Dataset, name: str, season: str | None) -> Spread:
    """How a layer is spread over water and flats; without a value where the site does not have it.

    Parameters
    ----------
    layers : Dataset
        Layers of a site, `surface` among them.
    name : str
        The layer.
    season : str, optional
        Which season, where the layer has any.
    """
    wet = layers["surface"].to_numpy() >= INTERTIDAL
    count = int(wet.sum())
    if name not in layers:
        return Spread(ordered=np.empty(0, np.float32), water=count)
    layer = layers[name]
    values = (layer.sel(season=season) if "season" in layer.dims else layer).to_numpy()[wet].astype(np.float32)
    return Spread(ordered=np.sort(values[~np.isnan(values)]), water=count)


def axis_of(part: Factor | Pressure, spread: Spread) -> tuple[float, float]:
    """The values a chart of the part shows: its whole curve and all but the odd cell of the water."""
    curve = curve_of(part)
    if isinstance(curve, CategoryCurve):
        return -0.5, len(curve.categories) - 0.5
    points = handles(part)
    ends = [points[0].value, points[-1].value]
    if isinstance(curve, Fade):
        ends[0] = 0.0
    span = ends[1] - ends[0]
    low, high = ends
    if spread.is_known:
        # a few cells far out must not press the curve into a corner
        low, high = max(min(low, spread.at(0.01)), low - 2 * span), min(max(high, spread.at(0.99)), high + 2 * span)
    room = 0.04 * (high - low)
    floor = LAYERS[part.layer].plausible[0]
    return max(low - room, floor) if floor >= 0 else low - room, high + room


def curve_sentence(part: Factor | Pressure, spread: Spread) -> str:
    """What the curve means for this site: where half of the water lies, and what the curve gives it."""
    layer, curve = LAYERS[part.layer], curve_of(part)
    name = part.label[0].upper() + part.label[1:]
    if not spread.is_known:
        return f"{name}: no cell of this site has a value, so the curve gives nothing here."
    what = "index" if isinstance(part, Factor) else "exposure"
    if isinstance(curve, CategoryCurve):
        said = [
            f"{percent(_share_of_code(spread, code))} of the water is {category.replace('_', ' ')} ({what} {index:g})"
            for code, (category, index) in enumerate(zip(curve.categories, curve.indices, strict=True))
            if index is not None and _share_of_code(spread, code) > 0
        ]
        return f"{name}: {', '.join(said) or 'no category that counts is found here'}."
    if isinstance(curve, Fade):
        full, reached = spread.up_to(curve.full), 1 - _share_from(spread, curve.end)
        full_at, reach_at = measure(curve.full, layer.units), measure(curve.reach, layer.units)
        return (
            f"{name}: {percent(full)} of the water lies within {full_at} and is fully exposed; {percent(reached)} lies "
            f"within the reach of {reach_at}, and {percent(1 - reached)} is not exposed at all."
        )
    low, high = spread.at(0.25), spread.at(0.75)
    inside = [value for value in curve.values if low < value < high]
    given = [curve(value) for value in (low, *inside, high)]
    least, most = min(given), max(given)
    spans = f"at {measure(low, layer.units)}" if low == high else _between(low, high, layer.units)
    gives = f"{least:.2g}" if f"{least:.2g}" == f"{most:.2g}" else f"{least:.2g} to {most:.2g}"
    return f"{name}: half of the water lies {spans}; the curve gives it an {what} of {gives}."


def _between(low: float, high: float, units: str) -> str:
    sign = unit_sign(units)
    one, other = (measure(value, units).removesuffix(sign).strip() for value in (low, high))
    return f"between {one} and {other} {sign}".strip()


def _share_of_code(spread: Spread, code: int) -> float:
    return spread.up_to(code) - spread.up_to(code - 1)


def _share_from(spread: Spread, value: float) -> float:
    below = np.searchsorted(spread.ordered, np.float32(value), "left")
    return 1 - float(below) / len(spread.ordered)
