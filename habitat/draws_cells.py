"""Scores of many draws for plain cells: the kernels of `habitat.draws_kernel` run strip by strip."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from threading import Lock
from typing import TYPE_CHECKING

import numpy as np

from habitat.combine import RULES
from habitat.draws import FAR, Draws, change_to, lowest_of, shares_of, shift_of, weight_of, within
from habitat.moved_curve import moved_fades, moved_lines
from habitat.pressure import Fade
from layers.quantity import INTERTIDAL, LAYERS

if TYPE_CHECKING:
    import xarray as xr

    from habitat.doubt_ends import Ends
    from habitat.profile import Factor, Pressure, Profile

BLOCK = 1024  # cells that go through all draws together; their indices and histograms fit in a cache
STRIP = 8 * BLOCK  # cells a thread takes at a time
BINS = 256


@dataclass(frozen=True, kw_only=True, eq=False)
class DrawSums:
    """What is kept of all draws of some cells, of which there are N in water; S is 1 without seasons."""

    cells: np.ndarray  # (N,) their places in the flat grid
    counts: np.ndarray  # (K, S, 15) cells by class: 3 of suitability, 3 of threat, 9 of both
    units: np.ndarray  # (K, S) suitability summed over cells [cells]
    spared: np.ndarray  # (K, S) what threat leaves of it [cells]
    mean: np.ndarray | None = field(repr=False)  # (S, N) of the score; None, as all below, without quantiles
    deviation: np.ndarray | None = field(repr=False)
    chances: np.ndarray | None = field(repr=False)  # (3, S, N) of each class of suitability
    quantiles: np.ndarray | None = field(repr=False)  # (Q, S, N)


def score_draws(
    layers: xr.Dataset,
    ends: Mapping[str, Ends],
    profile: Profile,
    draws: Draws,
    *,
    quantiles: tuple[float, ...] = (),
    cells: np.ndarray | None = None,
    counted: np.ndarray | None = None,
    seasons: int | None = None,
    workers: int | None = None,
    block: int = BLOCK,
) -> DrawSums:
    """Every draw of some cells scored, and what is kept of it.

    Parameters
    ----------
    layers : Dataset
        As for `habitat.assessment.assess`.
    ends : mapping of key to Ends
        Of the layers that are in doubt.
    quantiles : tuple of float
        Of each cell's score, between 0 and 1, read from a histogram of 256 bins: within 1/256 of the draws' own.
        Without any, nothing is kept of single cells.
    cells : (N,) int array, optional
        Places in the flat grid; by default all water. Land among them is left out.
    counted : (2, S, N) bool array, optional
        Which of `cells` count in `units` and in `spared`; by default all.
    seasons : int, optional
        S; by default that of the layers, 1 where they have none.
    workers, block : int, optional
        Threads, and cells that go through together; the result does not depend on either.
    """
    from habitat import draws_kernel as compiled
    from layers.threads import run_in_strips

    surface = layers["surface"].to_numpy().ravel()
    chosen = np.arange(surface.size) if cells is None else np.asarray(cells)
    is_water = surface[chosen] >= INTERTIDAL
    seasons = seasons or len(season_names(layers, ends, profile))
    if counted is None:
        counted = np.ones((2, seasons, len(chosen)), bool)
    chosen, counted = chosen[is_water], np.ascontiguousarray(counted[:, :, is_water])
    rows, ground = _ground(layers, ends, profile, draws, chosen, surface[chosen], counted)
    factors = _parts(profile.factors, rows, ground, draws, seasons)
    pressures = _parts(profile.pressures, rows, ground, draws, seasons)
    count, many = len(draws), len(chosen)
    drawn = compiled.Drawn(
        shares=np.stack([share for key in ends for share in shares_of(draws.of(key))], axis=1)
        if ends
        else np.zeros((count, 0)),
        weights=_weights(profile.factors, draws),
        pressure_weights=_weights(profile.pressures, draws),
        vetoes=np.array([factor.veto for factor in profile.factors], bool),
        essential=np.array([factor.name in profile.essential for factor in profile.factors], bool),
        rule=np.int64(list(RULES).index(profile.rule)),
        may_lack=np.int64(profile.may_lack),
        threat_may_lack=np.int64(profile.threat_may_lack),
        breaks=np.array(profile.suitability_breaks, np.float32),
        threat_breaks=np.array(profile.threat_breaks, np.float32),
    )
    kept = many if quantiles else 0
    sums = compiled.CellSums(
        first=np.empty((seasons, kept), np.float32),
        offset=np.zeros((seasons, kept)),
        square=np.zeros((seasons, kept)),
        classes=np.zeros((3, seasons, kept), np.uint32),
        least=np.empty((seasons, kept), np.float32),
        most=np.empty((seasons, kept), np.float32),
        quantiles=np.empty((len(quantiles), seasons, kept), np.float32),
    )
    counts = np.zeros((count, seasons, compiled.COUNTS), np.int64)
    units = np.zeros((count, seasons, 2), np.int64)
    wanted, lock = np.array(quantiles, np.float64), Lock()

    def run(strip: slice) -> None:
        some, worth = np.zeros_like(counts), np.zeros_like(units)
        compiled.draw_cells(
            ground, factors, pressures, drawn, strip.start, strip.stop, block, wanted, BINS, sums, some, worth
        )
        with lock:  # whole numbers: the order does not matter
            counts[:] += some
            units[:] += worth

    run_in_strips(run, many, workers=workers, height=STRIP)
    worth = units / compiled.UNIT
    return DrawSums(
        cells=chosen,
        counts=counts,
        units=worth[..., 0],
        spared=worth[..., 1],
        **(_of_cells(sums, count) if quantiles else dict.fromkeys(("mean", "deviation", "chances", "quantiles"))),
    )


def season_names(layers: xr.Dataset, ends: Mapping[str, Ends], profile: Profile) -> list[str]:
    """Seasons in which the layers of a profile, or what moves them, differ; one empty name where none do."""
    used = [layers[name] for name in profile.layers_needed if name in layers]
    used += [layer for end in ends.values() for side in (end.low, end.high) for layer in side.values()]
    return next(([str(one) for one in layer["season"].values] for layer in used if "season" in layer.dims), [""])


def _of_cells(sums, count: int) -> dict[str, np.ndarray]:
    off = sums.offset / count
    is_known = np.isfinite(sums.first)
    chances = np.where(is_known, sums.classes / np.float32(count), np.nan)
    return {
        "mean": (sums.first + off).astype(np.float32),
        "deviation": np.sqrt(np.maximum(sums.square / count - off**2, 0)).astype(np.float32),
        "chances": chances.astype(np.float32),
        "quantiles": sums.quantiles,
    }


def _ground(layers, ends: Mapping[str, Ends], profile: Profile, draws: Draws, chosen, surface, counted):
    """Rows of values by layer, and the cells as the kernel wants them."""
    from habitat.draws_kernel import Ground

    rows: dict[str, list[int]] = {}
    values, changes, first_change, column, lowest, highest = [], [], [0], [], [], []
    size = layers["surface"].size
    for name in profile.layers_needed:
        if name not in layers:
            continue
        layer = layers[name]
        added = [
            (2 * number + side, change_to(layer, sides[name]).transpose(..., "y", "x").to_numpy())
            for number, end in enumerate(ends.values())
            for side, sides in enumerate((end.low, end.high))
            if name in sides
        ]
        count = max([layer.sizes.get("season", 1)] + [len(change) for _, change in added if change.ndim == 3])
        held = layer.to_numpy().reshape(-1, size)[:, chosen].astype(np.float32)
        if LAYERS[name].saturates and "reach" in layer.attrs:
            held = np.where(held >= np.float32(float(layer.attrs["reach"])), np.float32(FAR), held)
        low, high = within(LAYERS[name], layer)
        rows[name] = list(range(len(values), len(values) + count))
        for season in range(count):
            values.append(held[min(season, len(held) - 1)])
            for where, change in added:
                flat = change.reshape(-1, size)
                row = flat[min(season, len(flat) - 1), chosen]
                if row.any():
                    changes.append(row)
                    column.append(where)
            first_change.append(len(changes))
            lowest.append(low)
            highest.append(high)
    many = len(chosen)
    return rows, Ground(
        values=np.array(values, np.float32).reshape(len(values), many),
        changes=np.array(changes, np.float64).reshape(len(changes), many),
        first_change=np.array(first_change, np.int64),
        column=np.array(column, np.int64),
        lowest=np.array(lowest, np.float64),
        highest=np.array(highest, np.float64),
        surface=np.ascontiguousarray(surface, np.uint8),
        counted=counted,
    )


def _parts(parts: tuple[Factor, ...] | tuple[Pressure, ...], rows: Mapping[str, list[int]], ground, draws, seasons):
    """Rows of indices, and the curve of every part in every draw."""
    from habitat import kernel
    from habitat.draws_kernel import Parts

    count = len(draws)
    value, owner, of_season = [], [], np.zeros((seasons, len(parts)), np.int64)
    curves = [part.curve if hasattr(part, "curve") else part.exposure for part in parts]
    is_fade = np.array([isinstance(curve, Fade) for curve in curves], bool)
    lines = [
        None if isinstance(curve, Fade) else moved_lines(curve, shift_of(part, draws), lowest_of(part))
        for part, curve in zip(parts, curves, strict=True)
    ]
    most = max([line.shape[2] for line in lines if line is not None], default=1)
    fade, shape = np.zeros((count, len(parts), 3)), np.zeros(len(parts), np.int64)
    drawn_lines = np.zeros((count, len(parts), 4, most))
    floor, segments = np.zeros(len(parts)), np.zeros(len(parts), np.int64)
    for p, (part, curve, line) in enumerate(zip(parts, curves, lines, strict=True)):
        held = rows.get(part.layer, [-1])
        of_season[:, p] = [len(value) + min(s, len(held) - 1) for s in range(seasons)]
        value += held
        owner += [p] * len(held)
        if line is None:
            fade[:, p], shape[p] = moved_fades(curve, shift_of(part, draws)), kernel.FADES.index(curve.shape)
        else:
            floor[p], segments[p] = curve.segments.floor, line.shape[2]
            drawn_lines[:, p, :, : segments[p]] = line
    moves = [
        f"threshold {parts[p].name}" in draws.doubts.keys
        or (v >= 0 and ground.first_change[v + 1] > ground.first_change[v])
        for v, p in zip(value, owner, strict=True)
    ]
    return Parts(
        value=np.array(value, np.int64),
        part=np.array(owner, np.int64),
        moves=np.array(moves, bool),
        of_season=of_season,
        is_fade=is_fade,
        shape=shape,
        fade=fade,
        floor=floor,
        segments=segments,
        lines=drawn_lines,
    )


def _weights(parts: tuple[Factor, ...] | tuple[Pressure, ...], draws: Draws) -> np.ndarray:
    columns = [weight_of(part, draws) for part in parts]
    return np.ascontiguousarray(np.stack(columns, axis=1)) if columns else np.zeros((len(draws), 0))
