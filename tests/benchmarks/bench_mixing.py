"""How long steady mixing takes and how much memory: making the problem, then each further source.

Two waters of 10 m cells, the open square and a lagoon with random islands (35 % land), still (D = 10 m2/s) and with
eddies of 0.1 m/s, some cells wide (D = 1 m2/s), loss 1e-6 /s. Each in a process of its own, for its peak of memory.
Multigrid and, where they fit, factors take turns in that process; ratios are to the copy of 56 bytes a cell and of the
two to each other. Run with `python tests/benchmarks/bench_mixing.py [water cells] [rounds] [most cells for factors]`.
"""

from __future__ import annotations

import resource
import statistics
import subprocess
import sys
import time

import numpy as np
from scipy.ndimage import gaussian_filter

from layers import steady
from layers.faces import Flow
from layers.grid import Grid
from layers.mixing import balance, concentration, mixing_problem
from layers.multigrid import FEW_CELLS

CASES = ("square still", "lagoon still", "square eddies", "lagoon eddies")
LAND = 0.35  # of the lagoon


def main(cells: int = 300_000, rounds: int = 3, most_factors: int = 300_000) -> None:
    """Run every case in a process of its own."""
    for case in CASES:
        subprocess.run([sys.executable, __file__, case, *map(str, (cells, rounds, most_factors))], check=True)


def run(case: str, cells: int, rounds: int, most_factors: int) -> None:
    """Print seconds, ratios, iterations, balance and peak memory of one case."""
    shape, motion = case.split()
    water, depth, flow = waters(shape, motion, cells)
    grid = Grid.from_bounds("EPSG:32745", 0, 0, water.shape[1] * 10, water.shape[0] * 10, 10)
    wet = np.argwhere(water)
    loads = [np.zeros(grid.shape) for _ in range(2)]
    for load, place in zip(loads, (wet[len(wet) // 2], wet[len(wet) // 3]), strict=True):
        load[tuple(place)] = 10
    candidates = {"multigrid": FEW_CELLS} | ({"factors": len(wet)} if len(wet) <= most_factors else {})
    small = np.ones((200, 200), bool)
    for most in (FEW_CELLS, len(wet)):  # compiles
        steady.MOST_FACTORS = most
        problem = mixing_problem(1.0, small, grid.window(slice(0, 200), slice(0, 200)), 5, 1e-6)
        concentration(problem, np.ones(small.shape))
    source, target = (np.zeros(7 * len(wet)) for _ in range(2))
    np.copyto(target, source)  # the first time memory is handed out
    seconds: dict[str, list[float]] = {}
    notes: dict[str, str] = {}

    def timed(name, task, *arguments):
        start = time.perf_counter()
        result = task(*arguments)
        seconds.setdefault(name, []).append(time.perf_counter() - start)
        return result

    for _ in range(rounds):
        timed("copy", np.copyto, target, source)
        for name, most in candidates.items():
            steady.MOST_FACTORS = most
            problem = timed(f"{name}: make", mixing_problem, depth, water, grid, 10 if flow is None else 1, 1e-6, flow)
            for number, load in enumerate(loads):
                field = timed(f"{name}: source {number + 1}", concentration, problem, load)
            off = balance(problem, loads[-1], field).error
            notes[name] = f"{problem.solver.method}, {problem.solver.iterations} iterations, balance off by {off:.1e}"
            peclet = problem.peclet
            del problem
    peak = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024
    print(f"{case}: {len(wet)} of {water.size} cells are water, cell Peclet number {peclet:.2g}; peak {peak:.0f} MiB")
    medians = {name: statistics.median(taken) for name, taken in seconds.items()}
    for name, median in medians.items():
        print(f"  {name:20s} {median:8.3f} s  {median / medians['copy']:8.0f} x copy")
    if len(candidates) > 1:
        for part in ("make", "source 1"):
            print(f"  {part}: factors / multigrid = {medians[f'factors: {part}'] / medians[f'multigrid: {part}']:.2f}")
    print("  " + "\n  ".join(notes.values()), flush=True)


def waters(shape: str, motion: str, cells: int) -> tuple[np.ndarray, np.ndarray, Flow | None]:
    """Water mask, depth and flow of a case with about `cells` water cells."""
    random = np.random.default_rng(1)
    side = round((cells / (1 if shape == "square" else 1 - LAND)) ** 0.5)
    water = np.ones((side, side), bool)
    if shape == "lagoon":
        ground = gaussian_filter(random.normal(size=water.shape), 12)
        water = ground > np.quantile(ground, LAND)
    depth = 1 + 4 * random.random(water.shape)
    if motion == "still":
        return water, depth, None
    inner = water[1:, 1:] & water[1:, :-1] & water[:-1, 1:] & water[:-1, :-1]
    psi = gaussian_filter(random.normal(size=inner.shape), 10)
    psi = np.pad(np.where(inner, psi * (30 / psi.std()), 0.0), 1)  # m3/s; jets along the shores, where it ends
    return water, depth, Flow(eastward=np.diff(psi, axis=0), southward=-np.diff(psi, axis=1))


if __name__ == "__main__":
    if len(sys.argv) > 1 and sys.argv[1] in CASES:
        run(sys.argv[1], *map(int, sys.argv[2:]))
    else:
        main(*map(int, sys.argv[1:]))
