"""How long a thousand draws of a million cells take, beside plain numpy that scores one draw after the other.

The plain loop is timed on a few draws and reckoned up; rounds are interleaved and medians compared, so a busy machine
slows both alike. Both give each cell's mean; the kernels also give its spread, chances, quantiles and all conclusions.
Run with `python tests/benchmarks/bench_draws.py [cells per side] [draws] [draws of the plain loop] [rounds]`.
"""

from __future__ import annotations

import resource
import statistics
import sys
import time

import numpy as np
import xarray as xr

from habitat.doubt import doubts_of
from habitat.doubt_ends import error_ends
from habitat.draws import drawn, layers_of_draw, profile_of_draw
from habitat.draws_cells import score_draws
from habitat.plain import plain_scores
from habitat.pressure import Fade
from habitat.profile import Profile, read_profile
from layers.grid import Grid
from layers.quantity import LAYERS, SALINITY_ERROR, SURFACE, WATER

QUANTILES = (0.05, 0.5, 0.95)


def site(profile: Profile, side: int) -> xr.Dataset:
    """Random values over the span of each curve, all of it water, a tenth of the cells without data."""
    random = np.random.default_rng(1)
    grid = Grid.from_bounds("EPSG:32745", 0, 0, side * 10, side * 10, 10)
    layers = {"surface": grid.label(np.full(grid.shape, WATER, np.uint8), SURFACE)}
    hole = random.random(grid.shape) < 0.1
    for part in (*profile.factors, *profile.pressures):
        curve = part.curve if hasattr(part, "curve") else part.exposure
        low = curve.full if isinstance(curve, Fade) else curve.values[0]
        field = (low + (curve.last * 1.1 - low) * random.random(grid.shape, np.float32)).astype(np.float32)
        layers[part.layer] = grid.label(np.where(hole, np.float32(np.nan), field), LAYERS[part.layer])
    layers["salinity_error"] = grid.label(np.full(grid.shape, 2, np.float32), SALINITY_ERROR)
    return xr.Dataset(layers)


def main(side: int = 1000, number: int = 1000, plain: int = 20, rounds: int = 1) -> None:
    """Print seconds, nanoseconds of a cell and draw, and the ratio of the two."""
    profile = read_profile("estuarine_grazer")
    layers = site(profile, side)
    ends = error_ends(layers, profile.layers_needed)
    draws = drawn(doubts_of(profile, ends), number)
    surface = layers["surface"].to_numpy()
    seconds: dict[str, list[float]] = {"plain": [], "score": [], "kernels": []}
    score_draws(layers, ends, profile, draws, quantiles=QUANTILES, cells=np.arange(10))  # compiled
    kept = {}
    for _ in range(rounds):
        total, drawing, scoring = np.zeros(surface.shape), 0.0, 0.0
        for k in range(plain):
            start = time.perf_counter()
            one, held = profile_of_draw(profile, draws, k), layers_of_draw(layers, ends, profile, draws, k)
            values = {name: held[name].to_numpy() for name in profile.layers_needed}
            middle = time.perf_counter()
            total += plain_scores(values, surface, one)["suitability"]
            drawing, scoring = drawing + middle - start, scoring + time.perf_counter() - middle
        seconds["plain"].append((drawing + scoring) / plain)
        seconds["score"].append(scoring / plain)
        start = time.perf_counter()
        kept["whole"] = score_draws(layers, ends, profile, draws, quantiles=QUANTILES)
        seconds["kernels"].append(time.perf_counter() - start)
    some = score_draws(layers, ends, profile, drawn_first(draws, plain), quantiles=QUANTILES)
    off = np.nanmax(np.abs(some.mean - total.ravel()[some.cells] / plain))
    loop, score, kernels = (statistics.median(seconds[name]) for name in ("plain", "score", "kernels"))
    cells = side * side
    print(f"{cells / 1e6:g} million cells, {number:,} draws, {len(draws.doubts.items)} doubts, medians of {rounds}")
    print(f"plain numpy, one draw            {loop:8.2f} s, of which scoring {score:.2f} s ({plain} draws timed)")
    print(f"kernels, all draws               {kernels:8.2f} s, {1e9 * kernels / cells / number:.1f} ns a cell and draw")
    print(f"kernels over one plain scoring   {kernels / score:8.1f} times")
    print(f"plain loop over kernels          {loop * number / kernels:8.1f} times")
    print(f"means differ by at most          {off:8.1e}")
    print(f"most memory of the process       {resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024:8,.0f} MB")


def drawn_first(draws, count: int):
    """The first draws of many."""
    from dataclasses import replace

    return replace(draws, numbers=draws.numbers[:count])


if __name__ == "__main__":
    main(*map(int, sys.argv[1:]))
