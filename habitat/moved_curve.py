"""Curves moved along the axis of their layer: one at a time as curves, and many at once as the kernels want them."""

from __future__ import annotations

import numpy as np

from habitat.curve import CategoryCurve, SuitabilityCurve
from habitat.pressure import Fade

LEAST_RUN = 0.1  # of the way from `full` to the reach, or to the lowest point, that a moved curve keeps (our choice)


def moved_curve(curve: SuitabilityCurve | Fade, shift: float, lowest: float | None = None) -> SuitabilityCurve | Fade:
    """A curve moved along the axis of its layer as a whole.

    Parameters
    ----------
    curve : SuitabilityCurve or Fade
    shift : float
        How far, in the unit of the layer. It is cut short where the curve would pass `lowest`, or a fade 0.
    lowest : float, optional
        A value the layer cannot go below: a point that stands there stays.

    Examples
    --------
    >>> moved_curve(SuitabilityCurve((0, 2, 10), (0, 0.5, 1)), 1, lowest=0).values
    (0.0, 3.0, 11.0)
    >>> moved_curve(Fade(100, 2000), -500)
    Fade(full=0.0, reach=1500.0, shape='linear')
    """
    if isinstance(curve, Fade):
        full = max(curve.full + shift, 0.0)
        return Fade(full, max(curve.reach + shift, full + LEAST_RUN * (curve.reach - curve.full)), curve.shape)
    return SuitabilityCurve(tuple(_moved_points(curve, np.array([shift], float), lowest)[0]), curve.indices)


def moved_fades(fade: Fade, shifts: np.ndarray) -> np.ndarray:
    """(K, 3) full, reach and end of a fade under (K,) shifts, as `moved_curve` gives them. [m]"""
    full = np.maximum(fade.full + shifts, 0.0)
    reach = np.maximum(fade.reach + shifts, full + LEAST_RUN * (fade.reach - fade.full))
    return np.stack([full, reach, np.minimum(reach, reach.astype(np.float32).astype(float))], axis=1)


def moved_lines(curve: SuitabilityCurve | CategoryCurve, shifts: np.ndarray, lowest: float | None = None) -> np.ndarray:
    """(K, 4, M) starts, anchors, heights and slopes of a curve under (K,) shifts.

    They are those of `habitat.curve.Segments` of the curves that `moved_curve` gives; a table of categories stays.
    """
    if isinstance(curve, CategoryCurve):
        held = curve.segments
        table = np.array([held.starts, held.anchors, held.heights, held.slopes])
        return np.broadcast_to(table, (len(shifts), *table.shape))
    points, lines = _moved_points(curve, shifts, lowest), []
    still, indices = np.zeros(len(shifts)), curve.indices
    for value in sorted(set(curve.values)):
        here = [i for i, other in enumerate(curve.values) if other == value]
        peak, after, start = max(indices[i] for i in here), here[-1], points[:, here[0]]
        if peak > indices[after]:  # a step down, as in `SuitabilityCurve.segments`
            lines.append((start, start, still + peak, still))
            start = np.nextafter(start, np.inf)
        if after == len(indices) - 1:
            lines.append((start, points[:, after], still + indices[after], still))
            continue
        rise = indices[after + 1] - indices[after]
        low = after if rise >= 0 else after + 1
        slope = rise / (points[:, after + 1] - points[:, after])
        lines.append((start, points[:, low], still + indices[low], slope))
    return np.moveaxis(np.array(lines), 2, 0).swapaxes(1, 2)


def _moved_points(curve: SuitabilityCurve, shifts: np.ndarray, lowest: float | None) -> np.ndarray:
    """(K, P) values of the points of a curve under (K,) shifts."""
    values = np.array(curve.values)
    free = np.ones(len(values), bool) if lowest is None else values > lowest
    if not free.all() and free.any():
        shifts = np.maximum(shifts, (LEAST_RUN - 1) * (values[free][0] - lowest))
    return np.where(free, values + shifts[:, None], values)
