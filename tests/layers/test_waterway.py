"""Through-water distance against a visibility graph, scikit-image, closed forms, and its laws."""

import numpy as np
import pytest
import shapely
from geopandas import GeoSeries
from hypothesis import given, settings
from hypothesis import strategies as st
from skimage.graph import MCP_Geometric

from layers.distance import straight_distance
from layers.grid import Grid
from layers.starts import UNIT, Starts
from layers.waterway import through_water_distance, through_water_field
from tests.estuary import dendritic_estuary
from tests.evidence import published, rows
from tests.grids import toy_grid
from tests.visibility import visibility_graph_distance

FAR = 1e6


def starts(columns, rows, begins=None):
    """Starts at positions in cells."""
    return Starts(
        columns=np.rint(np.asarray(columns, float) * UNIT).astype(np.int64),
        rows=np.rint(np.asarray(rows, float) * UNIT).astype(np.int64),
        begins=np.zeros(len(columns)) if begins is None else np.asarray(begins, float),
    )


def random_water(seed, shape, share):
    """A mask with about this share of water, and some positions in its water cells."""
    rng = np.random.default_rng(seed)
    water = rng.random(shape) < share
    water.flat[rng.integers(water.size)] = True
    row, column = np.nonzero(water)
    chosen = rng.integers(len(row), size=3)
    return water, column[chosen] + rng.choice([0.25, 0.5, 0.75], 3), row[chosen] + rng.choice([0.5, 0.125], 3)


@pytest.mark.parametrize("seed", range(24))
def test_distance_is_that_of_a_visibility_graph_of_shapely_and_scipy(seed):
    water, columns, rows = random_water(seed, (11, 13), share=(0.6, 0.75, 0.9)[seed % 3])
    expected = np.minimum(visibility_graph_distance(water, columns, rows), 1000)
    found = through_water_field(starts(columns, rows), water, 1.0, 1000)
    np.testing.assert_allclose(found, expected, rtol=2e-7, atol=1e-6)


@pytest.mark.parametrize("seed", range(4))
def test_distance_up_the_creeks_of_an_estuary_is_that_of_a_visibility_graph(seed):
    side = 48
    water = dendritic_estuary(seed, side)
    columns, rows = [np.flatnonzero(water[-1]).mean() + 0.5], [side - 0.5]  # in the mouth
    expected = visibility_graph_distance(water, columns, rows)
    found = through_water_field(starts(columns, rows), water, 1.0, FAR)
    np.testing.assert_allclose(found, expected, rtol=2e-7, atol=1e-6)
    # the creeks wind: somewhere it is farther by a fifth and more than in a straight line
    y, x = np.nonzero(water)
    straight = np.hypot(y + 0.5 - rows[0], x + 0.5 - columns[0])
    assert (found[y, x] > 1.2 * straight)[straight > 5].any()


def test_distance_up_a_tree_of_creeks_one_cell_wide_is_the_sum_along_its_inner_corners():
    """Closed form: legs of 6, 4 and 3 cells that turn at right angles, left and right alike at every fork."""
    water = np.zeros((12, 12), bool)
    water[6:12, 5] = True  # the trunk, up to the first fork
    water[5, 1:10] = True  # both arms
    for end in (1, 9):
        water[2:5, end] = True  # up from the end of each arm
    # from the middle of the lowest cell to the inner corner 5.5 above and half a cell aside; from there 3 cells along
    # and one up to the inner corner of the next turn; from that 2.5 up and half a cell aside to the last middle
    expected = np.hypot(5.5, 0.5) + np.hypot(3, 1) + np.hypot(2.5, 0.5)
    found = through_water_field(starts([5.5], [11.5]), water, 1.0, FAR)
    assert found[2, 1] == pytest.approx(expected, rel=1e-7)
    assert found[2, 9] == pytest.approx(expected, rel=1e-7)
    # eight neighbours may cut both corners of land, and still go farther
    assert eight_neighbours(water, (11, 5), (2, 1)) > expected


@pytest.mark.parametrize("spacing", [10, 5, 2.5, 1.25])
def test_way_round_a_wall_is_the_closed_form_of_a_wall_of_squares(spacing):
    # nodes are cell centres: the wall is one cell thick and ends half a cell behind its last node
    end, across = 700 + spacing / 2, 300 - spacing / 2
    expected = 2 * np.hypot(across, end - 200) + spacing
    assert wall(spacing) == pytest.approx(expected, rel=1e-7)


@published("wall_distance.csv")
def test_way_round_a_wall_beside_what_other_methods_give(row):
    if row.method == "eight neighbours":
        assert row.metres == pytest.approx(eight_neighbours(*wall_water(10)) * 10, abs=5e-5)
        assert wall(10) < 0.94 * row.metres
    elif row.method == "turning at the first water node":  # half a cell farther out than the corners of the land
        assert 0.995 * row.metres < wall(row.spacing) < row.metres
    elif row.method == "wall ends at 700 m":  # the limit of ever smaller cells, approached from above
        assert row.metres < wall(1.25) < wall(2.5) < wall(5) < wall(10) < 1.012 * row.metres
        assert wall(1.25) == pytest.approx(row.metres, rel=2e-3)
    else:  # first order at the wall's corner, from above
        assert row.metres * (1 - 0.013) < wall(row.spacing) < row.metres


def wall_water(spacing):
    count = round(1000 / spacing)
    water = np.ones((count + 1, count + 1), bool)
    water[: round(700 / spacing) + 1, round(500 / spacing)] = False
    at = round(200 / spacing)
    return water, (at, at), (at, round(800 / spacing))


def wall(spacing):
    water, (row, column), end = wall_water(spacing)
    return float(through_water_field(starts([column + 0.5], [row + 0.5]), water, spacing, 3000)[end])


def eight_neighbours(water, start, end=None):
    costs, _ = MCP_Geometric(np.where(water, 1.0, -1.0)).find_costs([start])
    return costs if end is None else costs[end]


def test_every_row_of_the_wall_table_is_used():
    assert {row.method for row in rows("wall_distance.csv")} == {
        "eight neighbours",
        "turning at the first water node",
        "wall ends at 700 m",
        "fast marching",
    }


@given(seed=st.integers(0, 10**6), share=st.sampled_from([0.55, 0.75, 0.95]))
@settings(max_examples=40, deadline=None)
def test_distance_is_never_longer_than_over_eight_neighbours_nor_shorter_than_straight(seed, share):
    water, columns, rows = random_water(seed, (25, 30), share)
    row, column = int(rows[0]), int(columns[0])
    found = through_water_field(starts([column + 0.5], [row + 0.5]), water, 1.0, FAR)
    y, x = np.indices(water.shape)
    assert (found[water] >= (1 - 1e-7) * np.hypot(y - row, x - column)[water]).all()
    # the outside is land and so is a corner between two land cells: moves that slip past it are not counted
    longest = slipless_eight_neighbours(water, (row, column))
    reached = water & np.isfinite(longest)
    assert (found[reached] <= (1 + 1e-6) * longest[reached]).all()
    np.testing.assert_array_equal(found[water] < FAR, reached[water])


def slipless_eight_neighbours(water, start):
    """Eight-neighbour distance on a mask refined threefold, where slipping past a corner is impossible."""
    fine = np.kron(water, np.ones((3, 3), bool))
    land = np.pad(~water, 1, constant_values=True)
    for row, column in np.ndindex(water.shape[0] + 1, water.shape[1] + 1):
        four = land[row : row + 2, column : column + 2]
        if four.sum() == 2 and four[0, 0] == four[1, 1]:
            fine[max(3 * row - 1, 0) : 3 * row + 1, max(3 * column - 1, 0) : 3 * column + 1] = False
    return eight_neighbours(fine, (3 * start[0] + 1, 3 * start[1] + 1))[1::3, 1::3] / 3


@given(
    seed=st.integers(0, 10**6),
    share=st.sampled_from([0.6, 0.8, 0.97, 1.0]),
    reach=st.sampled_from([2.5, 7.0, 19.0]),
    top=st.integers(0, 40),
    left=st.integers(0, 40),
    size=st.sampled_from([3, 12, 40]),
)
@settings(max_examples=60, deadline=None)
def test_a_block_with_a_rim_as_wide_as_the_reach_gives_the_bits_of_the_whole(seed, share, reach, top, left, size):
    water, columns, rows = random_water(seed, (45, 50), share)
    whole = through_water_field(starts(columns, rows), water, 30.0, reach * 30)
    rim = int(np.ceil(reach)) + 1
    first_row, first_column = max(top - rim, 0), max(left - rim, 0)
    part = water[first_row : top + size + rim, first_column : left + size + rim]
    near = (rows < first_row + part.shape[0]) & (rows > first_row)
    near &= (columns < first_column + part.shape[1]) & (columns > first_column)
    block = through_water_field(starts(columns[near] - first_column, rows[near] - first_row), part, 30.0, reach * 30)
    core = block[top - first_row :, left - first_column :][:size, :size]
    np.testing.assert_array_equal(core, whole[top : top + size, left : left + size])


def test_any_number_of_threads_gives_the_same_bits():
    water, columns, rows = random_water(7, (700, 60), share=0.9)
    many = starts(np.append(columns, [20.5, 31.5]), np.append(rows, [340.5, 351.5]))
    one = through_water_field(many, water, 10.0, 400.0, workers=1)
    for workers in (2, 3, 7):
        np.testing.assert_array_equal(through_water_field(many, water, 10.0, 400.0, workers=workers), one)


@pytest.mark.parametrize("reach", [30, 4000])
def test_many_starts_give_the_bits_of_the_nearer_of_any_two_parts_of_them(reach):
    rng = np.random.default_rng(11)
    water = rng.random((150, 160)) < 0.93
    row, column = np.nonzero(water)
    chosen = rng.permutation(len(row))[:1500]
    columns, rows, begins = column[chosen] + 0.25, row[chosen] + 0.75, rng.uniform(0, 40, 1500)
    one, other = slice(0, 400), slice(400, None)
    parts = [
        through_water_field(starts(columns[part], rows[part], begins[part]), water, 1.0, reach) for part in (one, other)
    ]
    whole = through_water_field(starts(columns, rows, begins), water, 1.0, reach)
    np.testing.assert_array_equal(whole, np.fmin(*parts))


@given(seed=st.integers(0, 10**6))
@settings(max_examples=25, deadline=None)
def test_less_land_never_makes_anything_farther(seed):
    water, columns, rows = random_water(seed, (20, 24), share=0.7)
    less = water | (np.random.default_rng(seed).random(water.shape) < 0.2)
    before = through_water_field(starts(columns, rows), water, 1.0, 60)
    after = through_water_field(starts(columns, rows), less, 1.0, 60)
    assert (after[water] <= before[water] * (1 + 1e-6)).all()


@given(seed=st.integers(0, 10**6))
@settings(max_examples=25, deadline=None)
def test_there_and_back_are_equally_far(seed):
    water, columns, rows = random_water(seed, (20, 20), share=0.75)
    places = [(int(row), int(column)) for row, column in zip(rows, columns, strict=True)]
    fields = [through_water_field(starts([c + 0.5], [r + 0.5]), water, 1.0, 500) for r, c in places]
    between = np.array([[field[place] for place in places] for field in fields])
    np.testing.assert_allclose(between, between.T, rtol=1e-6)


def test_no_path_slips_between_two_land_cells_that_touch_at_a_corner():
    water = np.array([[1, 1, 0], [1, 0, 1], [0, 1, 1]], bool)
    field = through_water_field(starts([0.5], [0.5]), water, 10.0, 500)
    nan = np.nan
    expected = [[0, 10, nan], [10, nan, 500], [nan, 500, 500]]
    np.testing.assert_array_equal(field, np.array(expected, np.float32))


def test_a_path_may_graze_a_single_corner_of_land():
    water = np.array([[1, 1], [0, 1]], bool)
    field = through_water_field(starts([0.5], [0.5]), water, 1.0, 50)
    assert field[1, 1] == pytest.approx(np.sqrt(2))
    assert np.isnan(field[1, 0])


def test_a_lagoon_that_is_cut_off_holds_the_reach():
    water = np.ones((20, 20), bool)
    water[:, 10] = False
    field = through_water_field(starts([2.5], [2.5]), water, 10.0, 5000)
    assert (field[:, 11:] == 5000).all()
    assert np.isnan(field[:, 10]).all()
    assert field[:, :10].max() < 250


def test_starts_along_a_dense_line_agree_with_straight_distance_in_open_water():
    grid = toy_grid(90, 120, cell=20)
    line = GeoSeries.from_wkt(["LINESTRING (500310 7770900, 501000 7771033, 501800 7770500)"], crs=grid.crs)
    found = through_water_distance(line, np.ones(grid.shape, bool), grid, 800)
    straight = straight_distance(line, grid, 800)
    assert (found >= straight * (1 - 1e-6) - 0.02).all()  # positions are rounded to 1/1024 cell
    assert (found - straight).max() < 0.26 * grid.cell
    far = straight > 2.5 * grid.cell
    assert (found[far] / straight[far]).max() < 1.005


def test_geometries_on_the_water_give_the_same_bits_on_a_window_of_the_grid():
    grid = toy_grid(60, 80, cell=40)
    water, _, _ = random_water(3, grid.shape, share=0.9)
    places = np.column_stack([grid.x[[5, 40, 70]] + 7, grid.y[[10, 30, 50]] - 3])
    for x, y in places:
        water[grid.cell_at(x, y)] = True
    points = GeoSeries(shapely.points(places), crs=grid.crs)
    whole = through_water_distance(points, water, grid, 400)
    window = slice(12, 52), slice(20, 75)
    block = through_water_distance(points, water[window], grid.window(*window), 400)
    np.testing.assert_array_equal(block[11:-11, 11:-11], whole[window][11:-11, 11:-11])


@pytest.mark.parametrize("reach", [0, -5, np.nan, np.inf])
def test_a_reach_that_is_nothing_or_without_end_is_refused(reach):
    with pytest.raises(ValueError, match=r"^reach: found .* m\. It must be greater than 0 and finite\.$"):
        through_water_field(starts([0.5], [0.5]), np.ones((2, 2), bool), 1.0, reach)


def test_one_cell_and_a_grid_without_water():
    grid = Grid.from_bounds("EPSG:32745", 0, 0, 10, 10, cell=10)
    here = GeoSeries([shapely.Point(5, 5)], crs=grid.crs)
    assert through_water_distance(here, np.ones((1, 1), bool), grid, 100).tolist() == [[0.0]]
    assert np.isnan(through_water_distance(here, np.zeros((1, 1), bool), grid, 100)).all()
