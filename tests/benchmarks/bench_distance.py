"""Distances on a large grid beside general libraries: seconds, ratios from interleaved rounds, and errors.

Run by hand: `python -m tests.benchmarks.bench_distance [cells on a side] [rounds]`.
"""

from __future__ import annotations

import resource
import statistics
import sys
import time
from collections.abc import Callable

import numpy as np
import shapely
from geopandas import GeoSeries
from scipy.ndimage import distance_transform_edt, gaussian_filter
from skimage.graph import MCP_Geometric

from layers.distance import straight_distance
from layers.edges import edges_of
from layers.grid import Grid
from layers.shelter import fetch
from layers.starts import UNIT, Starts
from layers.vessels import vessel_density
from layers.waterway import through_water_distance, through_water_field
from tests.estuary import dendritic_estuary
from tests.visibility import visibility_graph_distance

CELL = 10.0
REACH = 2000.0


def main(side: int = 2000, rounds: int = 5) -> None:
    """Print the tables of times, then the table of errors."""
    rng = np.random.default_rng(1)
    grid = Grid.from_bounds("EPSG:32745", 500_000, 7_770_000, 500_000 + side * CELL, 7_770_000 + side * CELL, CELL)
    water = islands(rng, side)
    rows, columns = np.nonzero(water)
    chosen = rng.integers(len(rows), size=50)
    points = GeoSeries(shapely.points(grid.x[columns[chosen]], grid.y[rows[chosen]]), crs=grid.crs)
    footprints = GeoSeries([blob(rng, grid) for _ in range(60)], crs=grid.crs)
    lines = GeoSeries([shapely.LineString(rng.uniform(grid.bounds[:2], grid.bounds[2:], (30, 2))) for _ in range(5)])
    away = np.ones(grid.shape, bool)
    away[rows[chosen], columns[chosen]] = False
    costs, at = np.where(water, 1.0, -1.0), list(zip(rows[chosen], columns[chosen], strict=True))
    far = 4 * side * CELL
    print(f"{side} x {side} cells of {CELL:g} m, {water.mean():.0%} water, {len(edges_of(footprints.array)[0])} edges")
    compare(
        {
            "scipy EDT, whole": lambda: distance_transform_edt(away),
            "straight, 50 points, 2 km": lambda: straight_distance(points, grid, REACH),
            "straight, 60 outlines, 2 km": lambda: straight_distance(footprints, grid, REACH),
            "straight, 60 outlines, no limit": lambda: straight_distance(footprints, grid, far),
            "fetch, 16 directions, 2 km": lambda: fetch(~water, grid, REACH),
            "traffic, 145 stretches, 500 m": lambda: vessel_density(lines, np.ones(5), grid, 500),
        },
        rounds,
    )
    compare(
        {
            "scikit-image MCP, whole": lambda: MCP_Geometric(costs).find_costs(at),
            "through water, whole": lambda: through_water_distance(points, water, grid, far),
            "through water, 2 km": lambda: through_water_distance(points, water, grid, REACH),
            "through water, outlines, 2 km": lambda: through_water_distance(footprints, water, grid, REACH),
            "through water, lines, 2 km": lambda: through_water_distance(lines, water, grid, REACH),
        },
        rounds,
    )
    estuary(side, rounds)
    print(f"greatest resident memory {resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024:.0f} MB")
    errors(600)
    estuary_errors(48)


def compare(candidates: dict[str, Callable[[], object]], rounds: int) -> None:
    """Print the median time of each and its ratio to the first; every round runs all in a new order."""
    seconds: dict[str, list[float]] = {name: [] for name in candidates}
    order = np.random.default_rng(0)
    for run in candidates.values():
        run()  # compile
    for _ in range(rounds):
        for name in order.permutation(list(candidates)):
            start = time.perf_counter()
            candidates[name]()
            seconds[name].append(time.perf_counter() - start)
    first = statistics.median(seconds[next(iter(candidates))])
    for name, taken in seconds.items():
        middle = statistics.median(taken)
        print(f"{name:34s} {middle:8.3f} s   {middle / first:7.3f} x first   ({min(taken):.3f} to {max(taken):.3f})")


def estuary(side: int, rounds: int) -> None:
    """Print times from the mouth of an estuary up all its creeks, and from 50 places in them."""
    water = dendritic_estuary(1, side)
    rows, columns = np.nonzero(water)
    chosen = np.random.default_rng(2).integers(len(rows), size=50)
    costs, far = np.where(water, 1.0, -1.0), 20 * side * CELL
    print(f"an estuary of {side} x {side} cells, {water.mean():.0%} water in creeks")
    for words, (row, column) in {
        "mouth": mouth(water),
        "50 places": (rows[chosen], columns[chosen]),
    }.items():
        at = list(zip(np.atleast_1d(row), np.atleast_1d(column), strict=True))
        begins = starts_at(row, column)

        def ours(begins=begins, reach=far):
            return through_water_field(begins, water, CELL, reach)

        compare(
            {
                f"scikit-image MCP, {words}": lambda at=at: MCP_Geometric(costs).find_costs(at),
                f"through water, {words}": ours,
                f"through water, {words}, 2 km": lambda begins=begins: ours(begins, REACH),
            },
            rounds,
        )


def estuary_errors(side: int) -> None:
    """Print errors up the creeks of small estuaries against a visibility graph of shapely and scipy."""
    truth, found = [], {"eight neighbours (scikit-image)": [], "through water": []}
    for seed in range(8):
        water = dendritic_estuary(seed, side)
        row, column = mouth(water)
        exact = visibility_graph_distance(water, [column + 0.5], [row + 0.5])
        counted = exact > 10
        truth.append(exact[counted])
        costs = MCP_Geometric(np.where(water, 1.0, -1.0)).find_costs([(row, column)])[0]
        found["eight neighbours (scikit-image)"].append(costs[counted])
        ours = through_water_field(starts_at(row, column), water, 1.0, 100.0 * side)
        found["through water"].append(ours[counted])
    exact = np.concatenate(truth)
    print(f"8 estuaries of {side} x {side} cells, {len(exact):,} cells more than 10 from the mouth")
    for name, lengths in found.items():
        error = 100 * (np.concatenate(lengths) / exact - 1)
        print(f"{name:34s} {error.mean():9.5f} {error.min():9.5f} {error.max():9.5f}")


def mouth(water: np.ndarray) -> tuple[int, int]:
    """Row and column of the middle of the water at the south edge."""
    there = np.flatnonzero(water[-1])
    return water.shape[0] - 1, int(there[len(there) // 2])


def starts_at(rows: np.ndarray | int, columns: np.ndarray | int) -> Starts:
    """Starts at the middles of cells."""
    rows, columns = np.atleast_1d(rows), np.atleast_1d(columns)
    middle = UNIT // 2
    return Starts(columns=columns * UNIT + middle, rows=rows * UNIT + middle, begins=np.zeros(len(rows)))


def errors(side: int) -> None:
    """Print the errors round a thick wall against the closed form, for cells more than 20 cells from the start."""
    top, left, right = round(side * 0.6), round(side * 0.45), round(side * 0.55)
    water = np.ones((side, side), bool)
    water[:top, left:right] = False
    row, column = round(side * 0.3), round(side * 0.2)
    truth = round_the_wall(side, (row + 0.5, column + 0.5), top, left, right)
    found = {
        "eight neighbours (scikit-image)": MCP_Geometric(np.where(water, 1.0, -1.0)).find_costs([(row, column)])[0],
        "through water": through_water_field(starts_at(row, column), water, 1.0, 10.0 * side),
    }
    counted = water & (truth > 20)
    print(f"{'error, % of the true length':34s} {'mean':>9s} {'least':>9s} {'greatest':>9s}")
    for name, lengths in found.items():
        error = 100 * (lengths[counted] / truth[counted] - 1)
        print(f"{name:34s} {error.mean():9.5f} {error.min():9.5f} {error.max():9.5f}")


def round_the_wall(side: int, start: tuple[float, float], top: int, left: int, right: int) -> np.ndarray:
    """Shortest way from a start left of a wall that hangs down to row `top`, in closed form."""
    row, column = np.indices((side, side)) + 0.5
    to_near, across = np.hypot(top - start[0], left - start[1]), float(right - left)
    straight = np.hypot(row - start[0], column - start[1])
    by_near = to_near + np.hypot(row - top, column - left)
    by_both = to_near + across + np.hypot(row - top, column - right)
    with np.errstate(divide="ignore", invalid="ignore"):
        # row where the straight leg enters the wall's columns, and where a leg from the near corner leaves them
        enters = start[0] + (row - start[0]) * (left - start[1]) / (column - start[1])
    hidden = (column > left) & (enters < top)
    return np.where(~hidden, straight, np.where(row >= top, by_near, by_both))


def islands(rng: np.random.Generator, side: int) -> np.ndarray:
    """A mask with 35 % land in rounded islands."""
    field = gaussian_filter(rng.standard_normal((side, side)), 12)
    return field < np.quantile(field, 0.65)


def blob(rng: np.random.Generator, grid: Grid) -> shapely.Polygon:
    """A ragged outline of 200 points, 100 to 400 m in radius."""
    turn = np.linspace(0, 2 * np.pi, 200, endpoint=False)
    radius = rng.uniform(100, 400) * (1 + 0.1 * rng.random(200))
    middle = rng.uniform(grid.bounds[:2], grid.bounds[2:])
    return shapely.Polygon(np.column_stack([middle[0] + radius * np.cos(turn), middle[1] + radius * np.sin(turn)]))


if __name__ == "__main__":
    main(*(int(word) for word in sys.argv[1:]))
