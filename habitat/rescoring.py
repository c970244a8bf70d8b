"""Scoring again after a change of the profile: only what depends on the change is worked out, to the same bits.

An index hangs on its layer and its curve, a score on the indices and on how they are combined, a class on the score
and its breaks. What hangs on nothing that changed is taken over as it stands, not copied.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
import xarray as xr

from habitat.assessment import assess, labelled, refuse_unfit
from habitat.cells import score_part
from habitat.combine import RULES
from habitat.profile import Factor, Pressure, Profile

STRIP = 16_384  # cells a thread takes at a time; all their indices fit in the cache of a core


def rescored(
    layers: xr.Dataset, profile: Profile, before: xr.Dataset, before_profile: Profile, *, workers: int | None = None
) -> xr.Dataset:
    """What `habitat.assessment.assess(layers, profile)` gives, from an assessment by another profile.

    Parameters
    ----------
    layers : Dataset
        The layers that `before` was made from, unchanged.
    profile : Profile
        The changed profile.
    before : Dataset
        Assessment of `layers` by `before_profile`. It is not written to; what did not change is shared with it.
    before_profile : Profile
        The profile before the change.
    workers : int, optional
        Number of threads; the result does not depend on it.

    Raises
    ------
    ValueError
        As `assess` does.
    """
    used = [layers[name] for name in profile.layers_needed if name in layers]
    seasons = _seasons(used)
    if any(layer.chunks for layer in (*used, layers["surface"])) or seasons != before["suitability"].sizes.get(
        "season", 0
    ):
        return assess(layers, profile, workers=workers)
    refuse_unfit(layers, profile)
    work = _Work(layers, profile, max(seasons, 1))
    work.take_over(before, before_profile)
    work.run(workers)
    return labelled(work.results(), layers, profile)


def changed_parts(before: Profile, profile: Profile) -> tuple[str, ...]:
    """Names of the factors and pressures whose index or exposure has to be worked out again."""
    known = _looks_of(before)
    return tuple(part.name for part in _parts(profile) if known.get(_row_name(part)) != _look(part))


@dataclass
class _Work:
    """The rows of an assessment, some taken over, the others to be worked out."""

    layers: xr.Dataset
    profile: Profile
    seasons: int

    def __post_init__(self):
        self.rows: dict[str, np.ndarray] = {}
        self.again: list[Factor | Pressure] = []
        self.surface = np.ascontiguousarray(self.layers["surface"].to_numpy().ravel(), np.uint8)

    def take_over(self, before: xr.Dataset, before_profile: Profile) -> None:
        cells, changed = len(self.surface), changed_parts(before_profile, self.profile)
        for part in _parts(self.profile):
            name = _row_name(part)
            if part.name in changed:
                self.again.append(part)
                self.rows[name] = np.empty((self._values(part).shape[0], cells), np.float32)
            else:
                self.rows[name] = _flat(before[name], cells)
        self.is_suited = not changed_between(before_profile, self.profile, "suitability")
        self.is_pressed = not changed_between(before_profile, self.profile, "threat")
        breaks = ("suitability_breaks", "threat_breaks")
        self.is_classed = self.is_suited and self.is_pressed and _same(before_profile, self.profile, breaks)
        for is_kept, names in (
            (self.is_suited, {"suitability": np.float32, "limiting_factor": np.uint8, "missing_factors": np.uint8}),
            (self.is_pressed, {"threat": np.float32, "missing_pressures": np.uint8}),
            (self.is_classed, {"suitability_class": np.uint8, "threat_class": np.uint8, "concern": np.uint8}),
        ):
            for name, kind in names.items():
                kept = _flat(before[name], cells) if is_kept else np.empty((self.seasons, cells), kind)
                self.rows[name] = kept

    def run(self, workers: int | None) -> None:
        from layers.threads import run_in_strips

        values = {part.name: self._values(part) for part in self.again}
        suited, pressed = (_Combination(self.profile, kind, self.rows, self.seasons) for kind in (Factor, Pressure))

        def run(strip: slice) -> None:
            part_of = (strip.start, strip.stop)
            for part in self.again:
                for layer, result in zip(values[part.name], self.rows[_row_name(part)], strict=True):
                    score_part(part, layer, self.surface, part_of, result)
            if not self.is_suited:
                suited.suitability(self.rows, self.surface, strip)
            if not self.is_pressed:
                pressed.threat(self.rows, self.surface, strip)
            if not self.is_classed:
                _class_cells(self.rows, self.profile, part_of)

        if self.again or not (self.is_suited and self.is_pressed and self.is_classed):
            run_in_strips(run, len(self.surface), workers=workers, height=STRIP)

    def results(self) -> dict[str, np.ndarray]:
        first = ("suitability", "threat", "suitability_class", "threat_class", "concern")
        counts = ("limiting_factor", "missing_factors", "missing_pressures")
        return {name: self.rows[name] for name in (*first, *counts, *map(_row_name, _parts(self.profile)))}

    def _values(self, part: Factor | Pressure) -> np.ndarray:
        cells = len(self.surface)
        if part.layer not in self.layers:
            return np.broadcast_to(np.float32(np.nan), (1, cells)).copy()
        return np.ascontiguousarray(self.layers[part.layer].to_numpy().reshape(-1, cells), np.float32)


class _Combination:
    """How the rows of all factors, or of all pressures, come together in a strip of cells."""

    def __init__(self, profile: Profile, kind: type, rows: Mapping[str, np.ndarray], seasons: int):
        self.profile, self.seasons = profile, seasons
        self.parts = profile.factors if kind is Factor else profile.pressures
        self.names = [_row_name(part) for part in self.parts]
        counts = [len(rows[name]) for name in self.names]
        ends = np.cumsum([0, *counts])
        self.height = int(ends[-1])
        # a part without seasons has one row, which every season reads
        self.of_season = [
            np.array([first + min(s, count - 1) for first, count in zip(ends, counts, strict=False)], np.int64)
            for s in range(seasons)
        ]
        self.weights = np.array([part.weight for part in self.parts], float)

    def suitability(self, rows: Mapping[str, np.ndarray], surface: np.ndarray, strip: slice) -> None:
        from habitat import kernel

        block, rule = self._block(rows, strip), np.int64(list(RULES).index(self.profile.rule))
        vetoes = np.array([factor.veto for factor in self.parts], bool)
        essential = np.array([factor.name in self.profile.essential for factor in self.parts], bool)
        for s in range(self.seasons):
            kernel.suitability_cells(
                block, self.of_season[s], self.weights, vetoes, essential, rule, self.profile.may_lack,
                surface[strip], 0, block.shape[1],
                rows["suitability"][s][strip], rows["limiting_factor"][s][strip], rows["missing_factors"][s][strip],
            )  # fmt: skip

    def threat(self, rows: Mapping[str, np.ndarray], surface: np.ndarray, strip: slice) -> None:
        from habitat import kernel

        block = self._block(rows, strip)
        for s in range(self.seasons):
            kernel.threat_cells(
                block, self.of_season[s], self.weights, self.profile.threat_may_lack,
                surface[strip], 0, strip.stop - strip.start,
                rows["threat"][s][strip], rows["missing_pressures"][s][strip],
            )  # fmt: skip

    def _block(self, rows: Mapping[str, np.ndarray], strip: slice) -> np.ndarray:
        """The strip's rows in one piece, as the kernels want them."""
        block, start = np.empty((self.height, strip.stop - strip.start), np.float32), 0
        for name in self.names:
            part = rows[name]
            block[start : start + len(part)] = part[:, strip]
            start += len(part)
        return block


def changed_between(before: Profile, profile: Profile, kind: str) -> bool:
    """Whether two profiles may give different scores of `kind` ("suitability" or "threat"); sources do not matter."""
    parts, rules = (
        ("factors", ("rule", "may_lack", "essential")) if kind == "suitability" else ("pressures", ("threat_may_lack",))
    )
    one, other = (
        [(_look(part), part.weight, getattr(part, "veto", False)) for part in getattr(each, parts)]
        for each in (before, profile)
    )
    return one != other or not _same(before, profile, rules)


def _class_cells(rows: Mapping[str, np.ndarray], profile: Profile, cells: tuple[int, int]) -> None:
    from habitat import kernel

    breaks, threat_breaks = (np.array(pair, np.float32) for pair in (profile.suitability_breaks, profile.threat_breaks))
    for s in range(len(rows["suitability"])):
        kernel.class_cells(
            rows["suitability"][s], breaks, rows["threat"][s], threat_breaks, *cells,
            rows["suitability_class"][s], rows["threat_class"][s], rows["concern"][s],
        )  # fmt: skip


def _same(before: Profile, profile: Profile, fields: tuple[str, ...]) -> bool:
    return all(getattr(before, name) == getattr(profile, name) for name in fields)


def _parts(profile: Profile) -> tuple[Factor | Pressure, ...]:
    return (*profile.factors, *profile.pressures)


def _looks_of(profile: Profile) -> dict[str, tuple]:
    return {_row_name(part): _look(part) for part in _parts(profile)}


def _look(part: Factor | Pressure) -> tuple:
    return part.name, part.layer, part.curve if isinstance(part, Factor) else part.exposure


def _row_name(part: Factor | Pressure) -> str:
    return f"{'index' if isinstance(part, Factor) else 'exposure'}_{part.name}"


def _flat(cells: xr.DataArray, count: int) -> np.ndarray:
    return np.ascontiguousarray(cells.to_numpy().reshape(-1, count))


def _seasons(used: list[xr.DataArray]) -> int:
    return next((layer.sizes["season"] for layer in used if "season" in layer.dims), 0)
