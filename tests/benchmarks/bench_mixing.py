"""How long steady mixing takes: making the problem, then each further source, against the copy of a field.

A square of water with random islands (35 % land), 10 m cells. Run with
`python tests/benchmarks/bench_mixing.py [cells per side] [rounds]`.
"""

from __future__ import annotations

import resource
import statistics
import sys
import time

import numpy as np
from scipy.ndimage import gaussian_filter

from layers.grid import Grid
from layers.mixing import balance, concentration, mixing_problem


def main(side: int = 700, rounds: int = 3) -> None:
    """Print seconds, ratios to a copy of 56 bytes a cell, peak memory and the balance."""
    random = np.random.default_rng(1)
    grid = Grid.from_bounds("EPSG:32745", 0, 0, side * 10, side * 10, 10)
    ground = gaussian_filter(random.normal(size=grid.shape), 12)
    water = ground > np.quantile(ground, 0.35)
    depth = 1 + 4 * random.random(grid.shape)
    wet = np.argwhere(water)
    load = np.zeros(grid.shape)
    load[tuple(wet[len(wet) // 2])] = 10
    source, target = (np.zeros(28 * side * side // 8) for _ in range(2))
    mixing_problem(depth[:9, :9], np.ones((9, 9), bool), grid.window(slice(0, 9), slice(0, 9)), 5, 1e-6)  # compiles
    seconds: dict[str, list[float]] = {"copy": [], "make the problem": [], "one source": []}
    for _ in range(rounds):
        start = time.perf_counter()
        np.copyto(target, source)
        seconds["copy"].append(time.perf_counter() - start)
        start = time.perf_counter()
        problem = mixing_problem(depth, water, grid, 5, 1e-6)
        seconds["make the problem"].append(time.perf_counter() - start)
        start = time.perf_counter()
        field = concentration(problem, load)
        seconds["one source"].append(time.perf_counter() - start)
    peak = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024
    print(f"{water.sum()} water cells, {rounds} rounds, medians; peak {peak:.0f} MiB in all")
    base = statistics.median(seconds["copy"])
    for name, taken in seconds.items():
        median = statistics.median(taken)
        print(f"{name:18s} {median:8.3f} s  {median / base:8.0f} x copy")
    print(f"balance is off by {balance(problem, load, field).error:.1e} of the load")


if __name__ == "__main__":
    main(*map(int, sys.argv[1:]))
