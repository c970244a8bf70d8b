"""The solver of steady mixing: against a dense solver, and what it refuses."""

import os
import subprocess
import sys
from pathlib import Path

import numpy as np
import pytest

from layers.exchange import exchanges_of, one_way
from layers.faces import faces_of
from layers.steady import SteadySolver
from tests.grids import toy_grid


def dense(exchanges) -> np.ndarray:
    """The matrix written out cell by cell, rim included."""
    rows, columns = exchanges.total.shape
    matrix = np.diag(exchanges.total.ravel())
    for i in range(1, rows - 1):
        for j in range(1, columns - 1):
            here = i * columns + j
            matrix[here + 1, here] -= exchanges.east[i, j]
            matrix[here - 1, here] -= exchanges.west[i, j]
            matrix[here + columns, here] -= exchanges.south[i, j]
            matrix[here - columns, here] -= exchanges.north[i, j]
    return matrix


@pytest.mark.parametrize("most_factors", [1000, 10], ids=["factors", "multigrid"])
def test_the_field_is_that_of_a_dense_solver(most_factors):
    rng = np.random.default_rng(3)
    grid = toy_grid(9, 11, cell=30)
    water = rng.random(grid.shape) < 0.8
    exchanges = exchanges_of(faces_of(rng.uniform(1, 5, grid.shape), water, grid, 2.0, 1e-5, None, ["west"]))
    loads = np.pad(np.where(water, rng.random(grid.shape), 0), 1)
    found = SteadySolver(exchanges, most_factors=most_factors).solution(loads).ravel()
    cells = np.flatnonzero(exchanges.total.ravel())
    wanted = np.linalg.solve(dense(exchanges)[np.ix_(cells, cells)], loads.ravel()[cells])
    np.testing.assert_allclose(found[cells], wanted, rtol=1e-8, atol=1e-9 * wanted.max())


def test_exchange_by_hand():
    assert one_way(3.0, 0.0) == 3.0
    assert one_way(0.0, 2.0) == 2.0
    assert one_way(0.0, -2.0) == 0.0
    # P = 1 and -1: 1 / (1 - 1/e) and 1 / (e - 1), which differ by the discharge
    assert one_way(1.0, 1.0) == pytest.approx(1 / (1 - np.exp(-1)))
    assert one_way(1.0, -1.0) == pytest.approx(1 / (np.e - 1))
    # the series and the formula meet
    assert one_way(1.0, 0.99e-5) == pytest.approx(one_way(1.0, 1.01e-5) - 1e-7, abs=1e-10)
    # far above 700 nothing comes back, and nothing overflows
    assert one_way(1e-9, -1.0) == 0.0
    assert one_way(1e-9, 1.0) == 1.0


def test_large_water_is_solved_by_multigrid_and_small_water_by_factors():
    grid = toy_grid(3, 4, cell=30)
    exchanges = exchanges_of(faces_of(1.0, np.ones(grid.shape, bool), grid, 2.0, 1e-5, None, []))
    assert SteadySolver(exchanges, most_factors=12).method == "factors, 12 cells"
    assert SteadySolver(exchanges, most_factors=11).method == "multigrid, 12 cells"


def test_the_number_of_threads_does_not_show():
    code = (
        "import hashlib, numpy as np; from layers.exchange import exchanges_of; from layers.faces import faces_of; "
        "from layers.steady import SteadySolver; from tests.grids import toy_grid; "
        "grid = toy_grid(150, 150, cell=20); rng = np.random.default_rng(1); water = rng.random(grid.shape) < 0.9; "
        "faces = faces_of(rng.uniform(1, 9, grid.shape), water, grid, 5.0, 1e-6, None, ['west']); "
        "loads = np.pad(np.where(water, rng.random(grid.shape), 0), 1); "
        "solvers = [SteadySolver(exchanges_of(faces), most_factors=most) for most in (10**6, 500)]; "
        "print(*(hashlib.sha256(solver.solution(loads).tobytes()).hexdigest() for solver in solvers))"
    )
    prints = {
        subprocess.run(
            [sys.executable, "-c", code],
            env=os.environ | {"OPENBLAS_NUM_THREADS": threads, "OMP_NUM_THREADS": threads},
            cwd=Path(__file__).parents[2],
            capture_output=True,
            text=True,
            check=True,
        ).stdout
        for threads in ("1", "2", "4")
    }
    assert len(prints) == 1
    assert len(prints.pop().split()) == 2
