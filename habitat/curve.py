"""Suitability curves: from what a cell holds to an index between 0 (of no use) and 1 (ideal).

A curve is either a line through points or a table of categories. The same line, read the other way round,
gives the exposure to a pressure from a quantity such as a load.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property
from itertools import pairwise

import numpy as np

from layers.cellwise import Numeric, cellwise


@dataclass(frozen=True)
class Segments:
    """A curve as the scoring of cells wants it: `floor` until the first of `starts` is reached.

    From `starts[k]` on (that value included) the index is `heights[k] + (value - anchors[k]) * slopes[k]`.
    Anchors are the lower end of each segment, so an index of 0 is exactly 0 on both sides of a curve.
    """

    floor: float
    starts: np.ndarray
    anchors: np.ndarray
    heights: np.ndarray
    slopes: np.ndarray

    def at(self, value: np.ndarray) -> np.ndarray:
        """Index of a float64 array of values, NaN where the value is NaN."""
        index = np.full(np.shape(value), self.floor)
        for start, anchor, height, slope in zip(self.starts, self.anchors, self.heights, self.slopes, strict=True):
            index = np.where(value >= start, height + (value - anchor) * slope, index)
        # not np.clip alone: a NaN fails every comparison above and would come out as the floor
        return np.where(np.isnan(value), np.nan, np.clip(index, 0, 1))


@dataclass(frozen=True)
class SuitabilityCurve:
    """Straight lines between points, level beyond the first and the last of them.

    Parameters
    ----------
    values : tuple of float
        Where the points stand, in order, in the unit of the layer. The same value twice makes a step; there
        the higher index holds.
    indices : tuple of float
        The index at each of them, 0 to 1. [1]

    Raises
    ------
    ValueError
        If there are fewer than two points, they are out of order or not finite, or an index leaves 0 to 1.

    Examples
    --------
    >>> depth = SuitabilityCurve((0, 0.5, 1, 3, 5, 10), (0, 0.3, 1, 1, 0.4, 0))
    >>> depth(0.25), depth(2.0), depth(12.0)
    (0.15, 1.0, 0.0)
    """

    values: tuple[float, ...]
    indices: tuple[float, ...]

    def __post_init__(self):
        object.__setattr__(self, "values", tuple(float(value) for value in self.values))
        object.__setattr__(self, "indices", tuple(float(index) for index in self.indices))
        if len(self.values) != len(self.indices) or len(self.values) < 2:
            raise ValueError("a curve needs at least two points, each with a value and an index.")
        if not np.isfinite(self.values).all():
            raise ValueError("the values of a curve must be finite numbers.")
        if any(after < before for before, after in pairwise(self.values)):
            raise ValueError(f"the values of a curve must rise from point to point, got {list(self.values)}.")
        if not all(0 <= index <= 1 for index in self.indices):
            raise ValueError(f"the indices of a curve must lie between 0 and 1, got {list(self.indices)}.")

    @classmethod
    def trapezoid(cls, foot: float, shoulder: float, far_shoulder: float, far_foot: float) -> SuitabilityCurve:
        """0 up to `foot`, 1 from `shoulder` to `far_shoulder` (both included), 0 from `far_foot` on.

        Where a foot meets its shoulder the side is a step.

        Examples
        --------
        >>> SuitabilityCurve.trapezoid(0.5, 1, 3, 6)(0.75)
        0.5
        """
        return cls((foot, shoulder, far_shoulder, far_foot), (0, 1, 1, 0))

    def __call__(self, value: Numeric) -> Numeric:
        """Index of `value`, 0 to 1; NaN where it is NaN. [1]"""
        return cellwise(self.segments.at, value)

    @property
    def last(self) -> float:
        """The value from which on nothing changes."""
        return self.values[-1]

    @cached_property
    def segments(self) -> Segments:
        """The curve as the scoring of cells wants it."""
        rows = []
        for value in sorted(set(self.values)):
            here = [i for i, other in enumerate(self.values) if other == value]
            peak, after = max(self.indices[i] for i in here), here[-1]
            start = value
            if peak > self.indices[after]:  # a step down: the higher index still holds on the step itself
                rows.append((value, value, peak, 0.0))
                start = np.nextafter(value, np.inf)
            rows.append((start, *self._line_after(after)))
        return Segments(self.indices[0], *np.array(rows, float).T.copy())

    def _line_after(self, point: int) -> tuple[float, float, float]:
        if point == len(self.values) - 1:
            return self.values[point], self.indices[point], 0.0
        run = self.values[point + 1] - self.values[point]
        slope = (self.indices[point + 1] - self.indices[point]) / run
        low = point if slope >= 0 else point + 1
        return self.values[low], self.indices[low], slope


@dataclass(frozen=True)
class CategoryCurve:
    """An index for each category of a layer of categories, such as what covers a cell.

    Parameters
    ----------
    categories : tuple of str
        Every category of the layer, in the order of its codes from 0.
    indices : tuple of float or None
        The index of each; None for those that count as missing. [1]

    Examples
    --------
    >>> CategoryCurve(("unknown", "land", "intertidal", "water"), (None, 0, 0.6, 1))(2)
    0.6
    """

    categories: tuple[str, ...]
    indices: tuple[float | None, ...]  # None and not NaN, which is never equal to itself

    def __post_init__(self):
        given = tuple(None if index is None else float(index) for index in self.indices)
        object.__setattr__(self, "indices", given)
        if len(self.categories) != len(self.indices):
            raise ValueError("every category needs an index.")
        if not all(index is None or 0 <= index <= 1 for index in self.indices):
            raise ValueError(f"the indices of categories must lie between 0 and 1, got {list(self.indices)}.")

    def __call__(self, value: Numeric) -> Numeric:
        """Index of the category with code `value`; NaN where that is no code of the layer. [1]"""
        return cellwise(self.segments.at, value)

    @cached_property
    def segments(self) -> Segments:
        """The table as steps from code to code."""
        codes, nothing = np.arange(len(self.categories) + 1.0), np.zeros(len(self.categories) + 1)
        return Segments(np.nan, codes, codes, np.array([*self.indices, None], float), nothing)
