"""How long it takes to score 4 million cells by 10 factors, against plain numpy, a plain xarray chain, and a copy.

Rounds are interleaved and medians compared, so a busy machine slows all candidates alike. The peers compute the
geometric mean alone; the kernels also write every factor's index, the limiting factor, counts and classes.
Run with `python tests/benchmarks/bench_assess.py [cells per side] [rounds]`.
"""

from __future__ import annotations

import statistics
import sys
import time
from concurrent.futures import ThreadPoolExecutor

import numpy as np
import xarray as xr

from habitat.assessment import assess
from habitat.cells import score_cells
from habitat.plain import plain_scores
from habitat.profile import Factor, Profile, read_profile
from layers.grid import Grid
from layers.quantity import LAYERS, SURFACE, WATER, describe

NAMES = (
    "water_depth",
    "wet_time",
    "feeding_time",
    "salinity",
    "water_temperature",
    "seagrass_cover",
    "mangrove_cover",
    "mangrove_distance",
    "fresh_water_distance",
    "fetch",
)


def ten_factors() -> Profile:
    """The curves of the shipped profile for an estuarine grazer, dealt out to ten layers."""
    shipped = read_profile("estuarine_grazer")
    known = {factor.layer: factor.curve for factor in shipped.factors}
    spare = known["forage"]
    factors = [
        Factor(name=name, layer=name, weight=1 + i % 3, curve=known.get(name, spare), source="a benchmark")
        for i, name in enumerate(NAMES)
    ]
    return Profile(
        title="ten factors",
        source="a benchmark",
        rule=shipped.rule,
        may_lack=2,
        suitability_source="a benchmark",
        factors=tuple(factors),
        threat_source="a benchmark",
        suitability_breaks=shipped.suitability_breaks,
        suitability_breaks_source="a benchmark",
        threat_breaks=shipped.threat_breaks,
        threat_breaks_source="a benchmark",
    )


def fields(profile: Profile, side: int) -> dict[str, np.ndarray]:
    """Random values over the span of each curve, a third of the cells without data."""
    random = np.random.default_rng(1)
    hole = random.random((side, side), np.float32) < 1 / 3
    values = {}
    for factor in profile.factors:
        low, high = factor.curve.values[0], factor.curve.last
        field = (low + (high - low) * 1.1 * random.random((side, side), np.float32)).astype(np.float32)
        field[hole] = np.nan
        values[factor.layer] = field
    return values


def numpy_chain(values: dict[str, np.ndarray], profile: Profile) -> np.ndarray:
    """Plain float32 numpy: each curve as a sum of clipped ramps, logarithms added up."""
    total, weights = np.zeros_like(values[NAMES[0]]), np.float32(sum(f.weight for f in profile.factors))
    for factor in profile.factors:
        x, curve = values[factor.layer], factor.curve
        index = np.full_like(x, curve.indices[0])
        for k in range(len(curve.values) - 1):
            run, rise = curve.values[k + 1] - curve.values[k], curve.indices[k + 1] - curve.indices[k]
            index += np.clip((x - np.float32(curve.values[k])) * np.float32(1 / run), 0, 1) * np.float32(rise)
        with np.errstate(divide="ignore", invalid="ignore"):
            total += np.float32(factor.weight) * np.log(index)
    return np.exp(total / weights)


def xarray_chain(layers: xr.Dataset, profile: Profile) -> xr.DataArray:
    """Plain xarray: `where` after `where` for every piece of every curve, as a notebook would have it."""
    total, weights = 0.0, sum(f.weight for f in profile.factors)
    for factor in profile.factors:
        x, curve = layers[factor.layer], factor.curve
        index = xr.zeros_like(x) + curve.indices[0]
        for k in range(len(curve.values) - 1):
            run, rise = curve.values[k + 1] - curve.values[k], curve.indices[k + 1] - curve.indices[k]
            index = index.where(x < curve.values[k], curve.indices[k] + (x - curve.values[k]) * (rise / run))
        index = index.where(x < curve.last, curve.indices[-1]).where(x.notnull())
        with np.errstate(divide="ignore", invalid="ignore"):
            total = total + factor.weight * np.log(index)
    return np.exp(total / weights)


def main(side: int = 2000, rounds: int = 7) -> None:
    """Print medians and their ratio to the copy and to the kernels."""
    profile = ten_factors()
    values = fields(profile, side)
    grid = Grid.from_bounds("EPSG:32745", 0, 0, side * 10, side * 10, 10)
    layers = xr.Dataset({name: grid.label(field, LAYERS[name]) for name, field in values.items()})
    layers["surface"] = describe(grid.label(np.full(grid.shape, WATER, np.uint8), SURFACE), SURFACE)
    surface = layers["surface"].to_numpy()
    flat = {name: field.reshape(1, -1) for name, field in values.items()}
    # what the kernels read and write: ten layers in, ten indices, a score and six bytes of codes out
    source, target = (np.zeros(side * side * (len(NAMES) * 8 + 4 + 6) // 8, np.float32) for _ in range(2))
    half = len(source) // 2

    def copy() -> None:
        with ThreadPoolExecutor(2) as pool:
            list(pool.map(lambda part: np.copyto(target[part], source[part]), (slice(half), slice(half, None))))

    candidates = {
        "copy of the same bytes, 2 threads": copy,
        "kernels, all results": lambda: score_cells(flat, surface.ravel(), profile),
        "kernels, all results, 1 thread": lambda: score_cells(flat, surface.ravel(), profile, workers=1),
        "assess, labelled": lambda: assess(layers, profile),
        "numpy twin, all results": lambda: plain_scores(values, surface, profile),
        "plain float32 numpy, score only": lambda: numpy_chain(values, profile),
        "plain xarray chain, score only": lambda: xarray_chain(layers, profile),
    }
    _check(flat, surface, profile, values, layers)
    seconds: dict[str, list[float]] = {name: [] for name in candidates}
    work: dict[str, list[float]] = {name: [] for name in candidates}
    for _ in range(rounds):
        for name, run in candidates.items():
            start, busy = time.perf_counter(), time.process_time()
            run()
            work[name].append(time.process_time() - busy)
            seconds[name].append(time.perf_counter() - start)
    medians = {name: statistics.median(taken) for name, taken in seconds.items()}
    base, kernels = medians["copy of the same bytes, 2 threads"], medians["kernels, all results"]
    print(f"{side * side / 1e6:.1f} million cells, {len(NAMES)} factors, {rounds} rounds, medians")
    for name, taken in medians.items():
        # processor time, over all threads, says more than the clock where the machine is shared
        busy = 1000 * statistics.median(work[name])
        ratios = f"{taken / base:6.2f} x copy  {taken / kernels:6.2f} x kernels"
        print(f"{name:36s} {1000 * taken:6.0f} ms  {ratios}  {busy:6.0f} ms of processor")


def _check(flat, surface, profile, values, layers) -> None:
    """All candidates give the same score."""
    score = score_cells(flat, surface.ravel(), profile)["suitability"].reshape(surface.shape)
    for name, other in {
        "numpy twin": plain_scores(values, surface, profile)["suitability"],
        "plain float32 numpy": numpy_chain(values, profile),
        "plain xarray chain": xarray_chain(layers, profile).to_numpy(),
    }.items():
        print(f"{name:36s} differs by at most {np.nanmax(np.abs(score - other)):.1e}")


if __name__ == "__main__":
    main(*map(int, sys.argv[1:]))
