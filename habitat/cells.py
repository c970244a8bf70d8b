"""Scores of plain cells: the compiled kernels run over a profile, strip by strip.

This is the engine under `habitat.assessment`. It knows flat arrays and seasons but no grids, reads every layer
once and allocates nothing but its results.
"""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np

from habitat.combine import RULES
from habitat.pressure import Fade
from habitat.profile import Factor, Pressure, Profile

STRIP = 65_536  # cells a thread takes at a time; their indices fit in a cache


def score_cells(
    values: Mapping[str, np.ndarray],
    surface: np.ndarray,
    profile: Profile,
    *,
    seasons: int = 1,
    workers: int | None = None,
) -> dict[str, np.ndarray]:
    """Every result of an assessment for some cells.

    Parameters
    ----------
    values : mapping of layer name to (1, N) or (S, N) array
        The layers by name, one row for the whole year or one for each season. Absent layers are missing data.
    surface : (N,) uint8 array
        Codes of `layers.quantity.SURFACE`.
    profile : Profile
        What the animal needs.
    seasons : int
        S, the number of seasons of the composites.
    workers : int, optional
        Number of threads; by default one for each core. The result does not depend on it.

    Returns
    -------
    dict
        ``index_<factor>`` and ``exposure_<pressure>``: (1, N) or (S, N) float32, NaN where missing or dry.
        ``suitability``, ``threat``: (S, N) float32, NaN where unknown or dry. ``limiting_factor``,
        ``missing_factors``, ``missing_pressures``, ``suitability_class``, ``threat_class``, ``concern``:
        (S, N) uint8, 0 where unknown or dry.
    """
    from habitat import kernel
    from layers.threads import run_in_strips

    surface = np.ascontiguousarray(surface, np.uint8)
    cells = len(surface)
    flat = {name: np.ascontiguousarray(array, np.float32) for name, array in values.items()}
    factors, pressures = _Rows(profile.factors, flat, seasons), _Rows(profile.pressures, flat, seasons)
    indices, exposures = factors.blank(cells), pressures.blank(cells)
    score, threat = (np.empty((seasons, cells), np.float32) for _ in range(2))
    limiting, lacking, unpressed, good, pressed, concern = (np.empty((seasons, cells), np.uint8) for _ in range(6))

    rule = np.int64(list(RULES).index(profile.rule))
    # each of one type: a kernel is compiled anew for every combination it meets
    weights = np.array([factor.weight for factor in profile.factors], float)
    vetoes = np.array([factor.veto for factor in profile.factors], bool)
    essential = np.array([factor.name in profile.essential for factor in profile.factors], bool)
    pressure_weights = np.array([pressure.weight for pressure in profile.pressures], float)
    breaks = np.array(profile.suitability_breaks, np.float32)
    threat_breaks = np.array(profile.threat_breaks, np.float32)

    def run(strip: slice) -> None:
        part = strip.start, strip.stop
        factors.fill(indices, flat, surface, part)
        pressures.fill(exposures, flat, surface, part)
        for s in range(seasons):
            kernel.suitability_cells(
                indices, factors.of_season[s], weights, vetoes, essential, rule, profile.may_lack,
                surface, *part, score[s], limiting[s], lacking[s],
            )  # fmt: skip
            kernel.threat_cells(
                exposures, pressures.of_season[s], pressure_weights, profile.threat_may_lack,
                surface, *part, threat[s], unpressed[s],
            )  # fmt: skip
            kernel.class_cells(
                score[s], breaks, threat[s], threat_breaks, *part, good[s], pressed[s], concern[s]
            )  # fmt: skip

    run_in_strips(run, cells, workers=workers, height=STRIP)
    return {
        "suitability": score,
        "threat": threat,
        "suitability_class": good,
        "threat_class": pressed,
        "concern": concern,
        "limiting_factor": limiting,
        "missing_factors": lacking,
        "missing_pressures": unpressed,
        **{f"index_{name}": rows for name, rows in factors.named(indices)},
        **{f"exposure_{name}": rows for name, rows in pressures.named(exposures)},
    }


class _Rows:
    """Which row of one block of results belongs to which factor (or pressure) and season."""

    def __init__(self, parts: tuple[Factor, ...] | tuple[Pressure, ...], flat: Mapping[str, np.ndarray], seasons: int):
        self.parts = parts
        counts = [len(flat[part.layer]) if part.layer in flat else 1 for part in parts]
        self.ends = [sum(counts[: number + 1]) for number in range(len(parts))]
        self.first = [end - count for end, count in zip(self.ends, counts, strict=True)]
        # a part without seasons has one row, which every season reads
        self.of_season = [
            np.array([a + min(s, b - a - 1) for a, b in zip(self.first, self.ends, strict=True)], np.int64)
            for s in range(seasons)
        ]

    def blank(self, cells: int) -> np.ndarray:
        return np.empty((max(self.ends, default=0), cells), np.float32)

    def named(self, block: np.ndarray):
        for part, a, b in zip(self.parts, self.first, self.ends, strict=True):
            yield part.name, block[a:b]

    def fill(self, block: np.ndarray, flat: Mapping[str, np.ndarray], surface: np.ndarray, cells: tuple[int, int]):
        for part, a, b in zip(self.parts, self.first, self.ends, strict=True):
            for row in range(a, b):
                if part.layer in flat:
                    score_part(part, flat[part.layer][row - a], surface, cells, block[row])
                else:
                    block[row, slice(*cells)] = np.nan


def score_part(
    part: Factor | Pressure, values: np.ndarray, surface: np.ndarray, cells: tuple[int, int], result: np.ndarray
) -> None:
    """Write the index of one factor, or the exposure to one pressure, of the cells `cells[0]` to `cells[1]`.

    Parameters
    ----------
    part : Factor or Pressure
        What is scored.
    values, result : (N,) float32 array
        Its layer, and where to write; NaN is missing or dry.
    surface : (N,) uint8 array
        Codes of `layers.quantity.SURFACE`.
    """
    from habitat import kernel

    curve = part.curve if isinstance(part, Factor) else part.exposure
    if isinstance(curve, Fade):
        shape = np.int64(kernel.FADES.index(curve.shape))
        kernel.fade_cells(values, surface, *cells, curve.full, curve.reach, curve.end, shape, result)
    else:
        line = curve.segments
        kernel.index_cells(
            values, surface, *cells, line.floor, line.starts, line.anchors, line.heights, line.slopes, result
        )  # fmt: skip
