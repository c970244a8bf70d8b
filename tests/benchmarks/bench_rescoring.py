"""How long one move of a slider or of a curve's point takes on 4 million cells, against scoring it all again.

Rounds are interleaved and medians compared, so a busy machine slows all candidates alike. The plain peer is the xarray
chain of `bench_assess`, which gives the geometric mean alone; every other candidate gives all results.
Run with `python -m tests.benchmarks.bench_rescoring [cells per side] [rounds]` in the folder of the project.
"""

from __future__ import annotations

import statistics
import sys
import time
from dataclasses import replace

import numpy as np
import xarray as xr

from habitat.assessment import assess
from habitat.curve import SuitabilityCurve
from habitat.rescoring import rescored
from habitat.view.flips import class_table
from habitat.view.preview import thinned
from habitat.view.session import Picture
from habitat.view.window import window
from layers.grid import Grid
from layers.quantity import LAYERS, SURFACE, WATER, describe
from tests.benchmarks.bench_assess import fields, ten_factors, xarray_chain


def main(side: int = 2000, rounds: int = 7) -> None:
    """Print medians and their ratio to the plain chain."""
    profile = ten_factors()
    grid = Grid.from_bounds("EPSG:32745", 0, 0, side * 10, side * 10, 10)
    layers = xr.Dataset({name: grid.label(field, LAYERS[name]) for name, field in fields(profile, side).items()})
    layers["surface"] = describe(grid.label(np.full(grid.shape, WATER, np.uint8), SURFACE), SURFACE)
    before = assess(layers, profile)
    curve = next(factor.curve for factor in profile.factors if factor.name == "salinity")
    bent = profile.with_curve("salinity", SuitabilityCurve(curve.values, (0.5, *curve.indices[1:])))
    heavier = profile.with_weight("salinity", 2.5)
    view = window(grid)
    coarse = thinned(layers, view)
    seen = assess(coarse, profile)
    picture = Picture(layers=layers, profile=profile, assessment=before)
    candidates = {
        "plain xarray chain, score only": lambda: xarray_chain(layers, bent),
        "assess, all again": lambda: assess(layers, bent),
        "rescored, one curve": lambda: rescored(layers, bent, before, profile),
        "rescored, one weight": lambda: rescored(layers, heavier, before, profile),
        "rescored, one class break": lambda: rescored(layers, _cut(profile), before, profile),
        "the cells in view, one curve": lambda: rescored(coarse, bent, seen, profile),
        "hectares and flips of every cell": lambda: class_table(picture, picture, "suitability"),
    }
    xr.testing.assert_identical(candidates["rescored, one curve"](), candidates["assess, all again"]())
    seconds: dict[str, list[float]] = {name: [] for name in candidates}
    for _ in range(rounds):
        for name, run in candidates.items():
            start = time.perf_counter()
            run()
            seconds[name].append(time.perf_counter() - start)
    medians = {name: statistics.median(taken) for name, taken in seconds.items()}
    base = medians["plain xarray chain, score only"]
    print(f"{side * side / 1e6:.1f} million cells, {len(profile.factors)} factors, {rounds} rounds, medians")
    for name, taken in medians.items():
        print(f"{name:36s} {1000 * taken:7.0f} ms  {base / taken:6.1f} times as fast as the plain chain")


def _cut(profile):
    return replace(profile, suitability_breaks=(0.3, 0.7))


if __name__ == "__main__":
    main(*map(int, sys.argv[1:]))
