"""Multigrid against sparse factors on waters that are hard for it, its laws, and what it refuses to return."""

import numpy as np
import pytest
from scipy.ndimage import gaussian_filter

from layers import multigrid
from layers.exchange import exchanges_of
from layers.faces import Flow, faces_of
from layers.multigrid import TOLERANCE, Multigrid, NotSolved
from layers.steady import SteadySolver
from tests.grids import toy_grid

ALL = ("north", "east", "south", "west")


def islands(rows: int, columns: int, share: float) -> np.ndarray:
    """Water with single cells of land at random; some water cells are shut in by them."""
    return np.random.default_rng(7).random((rows, columns)) < share


def dyke() -> np.ndarray:
    """Two basins parted by a dyke one cell wide, at a place where blocks of every size hold both sides."""
    water = np.ones((96, 131), bool)
    water[:, 66] = False
    return water


def canal() -> np.ndarray:
    """A canal one cell wide that winds to and fro, with one cell of land between its reaches."""
    water = np.zeros((63, 64), bool)
    water[::2] = True
    water[1::4, -1] = True
    water[3::4, 0] = True
    return water


def lagoon() -> np.ndarray:
    """A lagoon behind a barrier with an inlet one cell wide: its water can only leave through other cells."""
    water = np.ones((80, 71), bool)
    water[40] = False
    water[40, 33] = True
    return water


def staircase() -> np.ndarray:
    """A canal along a diagonal."""
    rows, columns = np.indices((90, 90))
    return (rows == columns) | (rows == columns + 1)


WATERS = {
    "open": np.ones((64, 64), bool),
    "odd sides": np.ones((97, 59), bool),
    "few islands": islands(75, 80, 0.9),
    "many islands": islands(81, 70, 0.65),
    "dyke": dyke(),
    "one row": np.ones((1, 3001), bool),
    "one column": np.ones((3000, 1), bool),
    "canal": canal(),
    "lagoon": lagoon(),
    "staircase": staircase(),
    "checkers": np.indices((40, 40)).sum(axis=0) % 2 == 0,
}


def eddies(water: np.ndarray, strength: float, width: float) -> Flow:
    """Closed eddies of a random stream function [m3/s], some cells wide, that keep off land."""
    inner = water[1:, 1:] & water[1:, :-1] & water[:-1, 1:] & water[:-1, :-1]
    psi = gaussian_filter(np.random.default_rng(4).normal(0, 1, inner.shape), width)
    psi = np.pad(np.where(inner, psi * (strength / max(np.abs(psi).max(initial=0.0), 1e-9) / 0.3), 0.0), 1)
    return Flow(eastward=np.diff(psi, axis=0), southward=-np.diff(psi, axis=1))


def exchanges(water, *, dispersion=10.0, loss=1e-6, strength=0.0, width=4.0, edges=ALL):
    """Exchanges over an uneven bed, cells of 10 m."""
    depth = np.random.default_rng(2).uniform(0.3, 6, water.shape)
    flow = eddies(water, strength, width) if strength else None
    return exchanges_of(faces_of(depth, water, toy_grid(*water.shape, cell=10), dispersion, loss, flow, edges))


def releases(water, seed: int = 0) -> np.ndarray:
    """Loads in five water cells, in a rim of zeros. [g/s]"""
    random, loads = np.random.default_rng(seed), np.zeros(water.shape)
    for i, j in random.choice(np.argwhere(water), 5):
        loads[i, j] += random.uniform(1, 5)
    return np.pad(loads, 1)


def factors_and_multigrid(passed) -> tuple[SteadySolver, SteadySolver]:
    """Both solvers; the coarsest network of the second has at most 50 cells, so that there are many."""
    pair = SteadySolver(passed), SteadySolver(passed, most_factors=50)
    assert pair[0].method.startswith("factors")
    return pair


@pytest.mark.parametrize("name", WATERS)
@pytest.mark.parametrize(
    "given",
    [
        {},
        {"edges": ["north"], "loss": 1e-9},
        {"edges": (), "loss": 1e-7, "strength": 20.0},
        {"dispersion": 0.1, "strength": 20.0},
        {"dispersion": 0.0, "strength": 20.0, "edges": ()},
    ],
    ids=["still", "one way out", "closed, eddies", "quick eddies", "eddies alone"],
)
def test_multigrid_gives_the_field_of_factors(name, given):
    water = WATERS[name]
    passed = exchanges(water, **given)
    direct, iterated = factors_and_multigrid(passed)
    loads, method = releases(water), iterated.method
    wanted, found = direct.solution(loads), iterated.solution(loads)
    assert np.abs(found - wanted).max() <= 1e-7 * wanted.max()
    assert (found >= 0).all()
    assert iterated.method == method  # factors have not taken over
    assert iterated.iterations < (250 if "strength" in given else 60)


def test_the_hard_waters_are_solved_on_many_grids():
    for name, water in WATERS.items():
        solver = SteadySolver(exchanges(water), most_factors=50)
        assert solver.method == f"{'factors' if name == 'checkers' else 'multigrid'}, {water.sum()} cells"


def test_a_thousand_times_more_water_takes_hardly_more_iterations():
    iterations = []
    for side in (20, 600):
        solver = SteadySolver(exchanges(np.ones((side, side), bool)), most_factors=50)
        solver.solution(releases(np.ones((side, side), bool)))
        iterations.append(solver.iterations)
    assert iterations[1] <= 2.5 * iterations[0]


def test_sources_add_up_and_what_is_released_is_lost_or_flows_out():
    water = WATERS["many islands"]
    passed = exchanges(water, strength=5.0, edges=())
    solver = SteadySolver(passed, most_factors=50)
    one, other = releases(water, 1), releases(water, 2)
    first, second, both = (solver.solution(loads) for loads in (one, other, 3 * one + other))
    assert np.abs(both - 3 * first - second).max() <= 10 * TOLERANCE * both.max()
    depth = np.random.default_rng(2).uniform(0.3, 6, water.shape)
    assert (1e-6 * depth * 100 * both[1:-1, 1:-1]).sum() == pytest.approx((3 * one + other).sum(), rel=1e-8)


def test_still_water_works_both_ways():
    water = WATERS["lagoon"]
    solver = SteadySolver(exchanges(water), most_factors=50)
    here, there = (10, 60), (70, 5)
    fields = []
    for place in (here, there):
        loads = np.zeros((82, 73))
        loads[place] = 1
        fields.append(solver.solution(loads))
    assert fields[0][there] == pytest.approx(fields[1][here], rel=1e-6)


def test_water_that_a_dyke_cuts_off_gets_nothing_at_all():
    solver = SteadySolver(exchanges(WATERS["dyke"], loss=1e-9), most_factors=50)
    loads = np.zeros((98, 133))
    loads[50, 66] = 1  # beside the dyke
    field = solver.solution(loads)
    assert (field[1:-1, 1:67] > 0).all()
    assert not field[:, 67:].any()


def test_sources_of_either_sign_have_a_potential():
    water = WATERS["few islands"]
    direct, iterated = factors_and_multigrid(exchanges(water))
    sources = releases(water, 1) - releases(water, 2)
    wanted, found = direct.potential(sources), iterated.potential(sources)
    assert wanted.min() < 0 < wanted.max()
    assert np.abs(found - wanted).max() <= 1e-7 * np.abs(wanted).max()


def test_a_field_that_is_not_solved_is_not_returned(monkeypatch):
    monkeypatch.setattr(multigrid, "MOST_ITERATIONS", 2)
    water = WATERS["open"]
    with pytest.raises(RuntimeError, match=r"after 2 iterations the balances are off by .* of the load. Quick eddies"):
        SteadySolver(exchanges(water), most_factors=50, last_resort=4_000).solution(releases(water))
    with pytest.raises(NotSolved, match="off by nan of the load"):
        Multigrid(exchanges(water), np.arange(67, 90), few_cells=5).solve(np.full(23, np.nan))


def test_factors_take_over_where_multigrid_does_not_come_to_an_end():
    # eddies one cell wide and 1 m/s quick in still water among islands
    water = WATERS["many islands"]
    passed = exchanges(water, dispersion=0.0, strength=20.0, width=0.0, edges=())
    solver, loads = SteadySolver(passed, most_factors=50), releases(water)
    assert solver.method.startswith("multigrid")
    found = solver.solution(loads)
    assert solver.method.startswith("factors")
    np.testing.assert_allclose(found, SteadySolver(passed).solution(loads), rtol=1e-9)


def test_no_load_gives_no_field():
    solver = SteadySolver(exchanges(WATERS["open"]), most_factors=50)
    assert not solver.solution(np.zeros((66, 66))).any()
    nothing = SteadySolver(exchanges(np.zeros((4, 5), bool)))
    assert not nothing.solution(np.zeros((6, 7))).any()
