"""Discharges from currents: what conserves comes back, what does not is mended, and what cannot be is refused."""

import numpy as np
import pytest
from scipy.sparse import lil_matrix
from scipy.sparse.linalg import lsqr

from layers import steady
from layers.current import flow_of_current
from layers.mixing import balance, concentration, mixing_problem
from tests.evidence import rows
from tests.grids import toy_grid

DAY = 86_400.0


def gains(flow) -> np.ndarray:
    """What each cell keeps of the water that enters it. [m3/s]"""
    across, down = flow.eastward, flow.southward
    return across[:, :-1] - across[:, 1:] + down[:-1] - down[1:] + flow.inflow


def passing(flow) -> np.ndarray:
    """Water that crosses the faces of each cell, either way. [m3/s]"""
    across, down = np.abs(flow.eastward), np.abs(flow.southward)
    return across[:, :-1] + across[:, 1:] + down[:-1] + down[1:]


def vortex(side: int):
    """Currents of the stream function 100 m3/s sin(pi x / L)**2 sin(pi y / L) over 2 m in a closed basin of 1 km."""
    grid = toy_grid(side, side, cell=1000 / side)
    along = (np.arange(side) + 0.5) / side
    x, y = np.meshgrid(along, along[::-1])  # rows from north to south
    speed = 100 * np.pi / 1000 / 2
    eastward = -speed * np.sin(np.pi * x) ** 2 * np.cos(np.pi * y)
    northward = speed * np.sin(2 * np.pi * x) * np.sin(np.pi * y)
    return grid, eastward, northward


def ragged(seed: int, side: int = 25):
    """Random water, depth and currents: nothing about them conserves."""
    random = np.random.default_rng(seed)
    water = random.random((side, side + 4)) < 0.8
    depth = random.uniform(0.3, 9, water.shape)
    eastward, northward = (np.where(water, random.normal(0, 0.4, water.shape), np.nan) for _ in range(2))
    return toy_grid(*water.shape, cell=20), water, depth, eastward, northward


def test_a_uniform_current_over_an_even_bed_comes_back_as_it_was():
    grid = toy_grid(7, 9, cell=20)
    water = np.ones(grid.shape, bool)
    found = flow_of_current(np.full(grid.shape, 0.3), np.full(grid.shape, -0.1), 2.0, water, grid)
    assert found.correction < 1e-12
    np.testing.assert_allclose(found.flow.eastward, 0.3 * 2 * 20, rtol=1e-12)
    np.testing.assert_allclose(found.flow.southward, 0.1 * 2 * 20, rtol=1e-12)


def test_a_vortex_in_a_closed_basin_comes_back_and_the_correction_falls_with_the_square_of_the_cell():
    corrections = []
    for side in (10, 20, 40):
        grid, eastward, northward = vortex(side)
        found = flow_of_current(eastward, northward, 2.0, np.ones(grid.shape, bool), grid, [])
        corrections.append(found.correction)
        # discharge through a face is the difference of the stream function of its corners (closed form)
        corners = np.sin(np.pi * np.arange(side + 1) / side)
        psi = 100 * np.outer(corners[::-1], corners**2)
        np.testing.assert_allclose(found.flow.eastward, np.diff(psi, axis=0), atol=100 * (np.pi / side) ** 3 / 4)
        # nothing leaves, and no section has a net flow
        assert not found.flow.eastward[:, [0, -1]].any()
        assert np.abs(found.flow.eastward.sum(axis=0)).max() < 1e-9 * np.abs(found.flow.eastward).sum(axis=0).max()
    assert corrections[0] < 0.02
    assert corrections[0] / corrections[1] > 3.5
    assert corrections[1] / corrections[2] > 3.5


@pytest.mark.parametrize("edges", [[], ["west"], ["north", "east", "south", "west"]])
def test_currents_that_do_not_conserve_are_mended_to_rounding(edges):
    grid, water, depth, eastward, northward = ragged(5)
    found = flow_of_current(eastward, northward, depth, water, grid, edges)
    assert found.correction > 0.1
    assert (np.abs(gains(found.flow)) <= 1e-12 * passing(found.flow)).all()
    problem = mixing_problem(depth, water, grid, 1.0, 1e-5, found.flow, edges)
    load = np.where(water, 1.0, 0)
    assert balance(problem, load, concentration(problem, load)).error < 1e-6


def test_the_correction_is_the_least_there_is():
    # the least of sum c**2 / G with A c = gain is c = sqrt(G) y, y of least norm with A sqrt(G) y = gain: LSQR's answer
    grid, water, depth, eastward, northward = ragged(8, side=9)
    depth = np.where(water, depth, np.nan)
    found = flow_of_current(eastward, northward, depth, water, grid, ["west"]).flow
    pairs, weights, given = [], [], []
    deep = np.where(water, depth, 0)
    for i, j in np.argwhere(water):
        if j == 0:
            pairs.append((None, (i, j)))
            weights.append(2 * deep[i, j])
            given.append((eastward[i, j] * deep[i, j] * 20, found.eastward[i, 0]))
        for there, current, flow in (
            ((i, j + 1), eastward, found.eastward),
            ((i + 1, j), -northward, found.southward),
        ):
            if there[0] < water.shape[0] and there[1] < water.shape[1] and water[there]:
                pairs.append(((i, j), there))
                weights.append(2 * deep[i, j] * deep[there] / (deep[i, j] + deep[there]))
                mean = 0.5 * (current[i, j] * deep[i, j] + current[there] * deep[there]) * 20
                given.append((mean, flow[there]))
    given, weights = np.array(given), np.sqrt(weights)
    number = {tuple(cell): k for k, cell in enumerate(np.argwhere(water))}
    out = lil_matrix((len(number), len(pairs)))
    for face, (one, other) in enumerate(pairs):
        if one is not None:
            out[number[one], face] = 1
        out[number[tuple(other)], face] = -1
    out = out.tocsr()
    least = weights * lsqr(out.multiply(weights).tocsr(), -out @ given[:, 0], atol=1e-14, btol=1e-14)[0]
    np.testing.assert_allclose(given[:, 1] - given[:, 0], least, atol=1e-6)


def test_water_of_rivers_leaves_over_the_open_edge():
    grid, water, depth, eastward, northward = ragged(2)
    water[10] = True
    inflow = np.zeros(grid.shape)
    inflow[10, 3], inflow[10, 20] = 40, 2.5
    still = np.zeros(grid.shape)
    for currents in ((still, still), (np.nan_to_num(eastward), np.nan_to_num(northward))):
        flow = flow_of_current(*currents, depth, water, grid, ["east"], inflow).flow
        assert flow.eastward[:, -1].sum() == pytest.approx(42.5, rel=1e-9)
        assert (np.abs(gains(flow)) <= 1e-12 * (passing(flow) + inflow)).all()
    assert flow_of_current(still, still, depth, water, grid, ["east"], inflow).correction == np.inf
    assert flow_of_current(still, still, depth, water, grid, ["east"]).correction == 0


def test_a_canal_with_a_closed_end_has_no_discharge_at_all():
    grid = toy_grid(3, 40, cell=20)
    water = np.zeros(grid.shape, bool)
    water[1], water[:, 0] = True, True
    random = np.random.default_rng(1)
    current = random.normal(0, 0.3, grid.shape)
    flow = flow_of_current(current, current, 2.0, water, grid, ["west"]).flow
    assert not flow.eastward[1, 1:].any()
    assert flow.eastward[:, 0].any()
    mixing_problem(2.0, water, grid, 0.0, 1e-6, flow, ["west"])


@pytest.mark.parametrize("edges", [[], ["south"]])
def test_multigrid_gives_the_same_discharges_as_factors(edges, monkeypatch):
    # with ponds of a few cells, some of one
    grid, water, depth, eastward, northward = ragged(3, side=90)
    wanted = flow_of_current(eastward, northward, depth, water, grid, edges)
    monkeypatch.setattr(steady, "MOST_FACTORS", 100)
    found = flow_of_current(eastward, northward, depth, water, grid, edges)
    np.testing.assert_allclose(found.flow.eastward, wanted.flow.eastward, atol=1e-7)
    assert found.correction == pytest.approx(wanted.correction, rel=1e-9)
    assert (np.abs(gains(found.flow)) <= 1e-12 * passing(found.flow)).all()


@pytest.mark.parametrize("row", [row for row in rows("steady_transport.csv") if row.case == "stream plane"], ids=str)
def test_a_source_in_a_given_current_gives_the_closed_form(row, plane):
    near = np.hypot(row.x, row.y) < 500
    field, cell = plane[near]
    middle = field.shape[0] // 2
    found = field[middle - round(row.y / cell), middle + round(row.x / cell)]
    assert found == pytest.approx(row.value, rel=1e-2)


@pytest.fixture(scope="module")
def plane():
    """Fields of the source of the closed form in a current of 0.05 m/s to the east, for near and far places."""
    fields = {}
    for near, (cell, half) in {True: (20, 2_500), False: (50, 6_000)}.items():
        side = 2 * round(half / cell) + 1
        grid = toy_grid(side, side, cell=cell)
        water = np.ones(grid.shape, bool)
        flow = flow_of_current(np.full(grid.shape, 0.05), np.zeros(grid.shape), 2.0, water, grid).flow
        load = np.zeros(grid.shape)
        load[side // 2, side // 2] = 10
        fields[near] = concentration(mixing_problem(2.0, water, grid, 5, 0.5 / DAY, flow), load), cell
    return fields


def refused(message: str, **changed) -> None:
    grid = toy_grid(3, 4, cell=10)
    still = np.zeros(grid.shape)
    right = {"eastward": still, "northward": still, "depth": 1.0, "water": np.ones(grid.shape, bool), "grid": grid}
    with pytest.raises(ValueError, match=message):
        flow_of_current(**right | changed)


def test_currents_that_cannot_be_are_refused():
    hole = np.zeros((3, 4))
    hole[1, 2] = np.nan
    refused("northward has no value in 1 water cells, the first in row 1, column 2. Give a current", northward=hole)
    hole[1, 2] = 40
    refused(
        r"found 40 m/s in row 1, column 2, and more than 5 m/s in 1 water cells. Give m/s: cm/s .* by 100, knots",
        eastward=hole,
    )
    refused(r"eastward is an array of \(4, 3\). The grid has \(3, 4\) cells", eastward=np.zeros((4, 3)))
    refused("depth: found 0 m", depth=0.0)
    refused("open_edges: found up", open_edges=["up"])


def test_rivers_that_cannot_be_are_refused():
    river = np.zeros((3, 4))
    river[2, 1] = 5
    refused("river in row 2, column 1 enters water that has no way to an open edge", inflow=river, open_edges=[])
    refused("inflow: found -5 m3/s in row 2, column 1", inflow=-river)
    land = np.ones((3, 4), bool)
    land[2, 1] = False
    refused("inflow: found 5 m3/s in row 2, column 1. A river brings", inflow=river, water=land)
    refused(r"inflow: found an array of \(2,\)", inflow=np.zeros(2))
