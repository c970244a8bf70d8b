"""`shallows map` on the fine grid of the invented site (4 million cells): seconds of each part, and peak memory.

In the same run, the two scores that `assess` gives are put against the same scores by plain float32 numpy and by a
plain xarray chain, on the site's own layers. Run with `python tests/benchmarks/bench_map.py [cell in metres]`.
"""

from __future__ import annotations

import re
import resource
import statistics
import subprocess
import sys
import tempfile
import time
from pathlib import Path

import numpy as np
import xarray as xr

from habitat.assessment import assess
from habitat.profile import Profile
from habitat.site_map import map_site

ROUNDS = 5


def main(cell: float = 10.0) -> None:
    """Print the parts of a map, its peak memory, and the ratios of scoring."""
    command = [sys.executable, "-m", "habitat.cli"]
    with tempfile.TemporaryDirectory() as folder:
        site, out = Path(folder) / "site", Path(folder) / "out"
        start = time.perf_counter()
        subprocess.run([*command, "demo", site, "--cell", str(cell)], check=True, capture_output=True)
        print(f"writing the invented site at {cell:g} m: {time.perf_counter() - start:.1f} s, imports included")
        for attempt in ("first map (kernels may be compiled)", "second map"):
            _run([*command, "map", site, "--out", out, "--replace"], attempt)
        peak = resource.getrusage(resource.RUSAGE_CHILDREN).ru_maxrss / 1024
        print(f"peak memory of the largest process: {peak:.0f} MB")
        _compare_scoring(site)


def _run(command: list, title: str) -> None:
    """Run the map and add up the seconds between its progress lines by what they do."""
    start = last = time.perf_counter()
    spent: dict[str, float] = {}
    doing = "starting"
    process = subprocess.Popen(command, stderr=subprocess.PIPE, stdout=subprocess.DEVNULL, text=True)
    for line in process.stderr:
        now = time.perf_counter()
        spent[doing] = spent.get(doing, 0) + now - last
        last = now
        words = re.sub(r"^\d+ of \d+: ", "", line).split()
        doing = words[0] if words[0] != "writing" else " ".join(words)
    process.wait()
    spent[doing] = spent.get(doing, 0) + time.perf_counter() - last
    if process.returncode:
        raise SystemExit(f"the map failed with {process.returncode}")
    parts = ", ".join(f"{name} {seconds:.1f}" for name, seconds in spent.items())
    print(f"{title}: {time.perf_counter() - start:.1f} s ({parts})")


def _compare_scoring(site: Path) -> None:
    found = map_site(site)
    season = found.assessment["season"].values[0] if "season" in found.assessment.dims else None
    layers = found.layers if season is None else found.layers.sel(season=season)
    candidates = {
        "assess (all parts and classes)": lambda: assess(layers, found.profile),
        "plain float32 numpy (two scores)": lambda: _numpy_scores(layers, found.profile),
        "plain xarray chain (two scores)": lambda: _xarray_scores(layers, found.profile),
    }
    seconds: dict[str, list[float]] = {name: [] for name in candidates}
    results = {}
    for _ in range(ROUNDS):
        for name, run in candidates.items():
            start = time.perf_counter()
            results[name] = run()
            seconds[name].append(time.perf_counter() - start)
    ours, peers = results["assess (all parts and classes)"], list(results.values())[1:]
    for suitability, threat in peers:  # the same cells, or the race means nothing
        known = ours["suitability"].notnull() & np.isfinite(suitability)
        assert float(abs(ours["suitability"] - suitability).where(known).max()) < 1e-3
        assert float(abs(ours["threat"] - threat).max()) < 1e-3
    base = statistics.median(seconds["assess (all parts and classes)"])
    print(f"scoring {layers['surface'].size:,} cells, {ROUNDS} interleaved rounds, medians")
    for name, taken in seconds.items():
        print(
            f"  {name:34s} {1000 * statistics.median(taken):6.0f} ms  {statistics.median(taken) / base:5.1f} x assess"
        )


def _curve_points(curve: object) -> tuple[np.ndarray, np.ndarray]:
    return np.asarray(curve.values, np.float32), np.asarray(curve.indices, np.float32)


def _exposure_points(exposure: object) -> tuple[np.ndarray, np.ndarray]:
    if hasattr(exposure, "values"):
        return _curve_points(exposure)
    return np.float32([exposure.full, exposure.reach]), np.float32([1, 0])


def _numpy_scores(layers: xr.Dataset, profile: Profile) -> tuple[np.ndarray, np.ndarray]:
    def ramp(x, values, indices):
        y = np.full_like(x, indices[0])
        for k in range(len(values) - 1):
            y += np.clip((x - values[k]) / (values[k + 1] - values[k]), 0, 1) * (indices[k + 1] - indices[k])
        return y

    logs, weights, kept = np.float32(0), 0.0, np.float32(1)
    with np.errstate(divide="ignore", invalid="ignore"):
        for factor in profile.factors:
            logs = logs + np.float32(factor.weight) * np.log(
                ramp(layers[factor.layer].to_numpy(), *_curve_points(factor.curve))
            )
            weights += factor.weight
        for pressure in profile.pressures:
            exposure = ramp(layers[pressure.layer].to_numpy(), *_exposure_points(pressure.exposure))
            kept = kept * (1 - np.float32(pressure.weight) * exposure)
        return np.exp(logs / np.float32(weights)), 1 - kept


def _xarray_scores(layers: xr.Dataset, profile: Profile) -> tuple[xr.DataArray, xr.DataArray]:
    def ramp(x, values, indices):
        y = xr.full_like(x, indices[0]).where(x.notnull())
        for k in range(len(values) - 1):
            slope = (indices[k + 1] - indices[k]) / (values[k + 1] - values[k])
            y = y.where(~(x >= values[k]), indices[k] + (x - values[k]) * slope)
        return y.where(~(x >= values[-1]), indices[-1])

    logs, weights, kept = 0.0, 0.0, 1.0
    with np.errstate(divide="ignore", invalid="ignore"):
        for factor in profile.factors:
            logs = logs + factor.weight * np.log(ramp(layers[factor.layer], *_curve_points(factor.curve)))
            weights += factor.weight
        for pressure in profile.pressures:
            kept = kept * (1 - pressure.weight * ramp(layers[pressure.layer], *_exposure_points(pressure.exposure)))
        return np.exp(logs / weights), 1 - kept


if __name__ == "__main__":
    main(*(float(word) for word in sys.argv[1:]))
