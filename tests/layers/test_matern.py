"""Station fields with errors: dense kriging with the closed form, simulated fields, and what land must do to them."""

import numpy as np
import pytest
from scipy.ndimage import label
from scipy.spatial.distance import cdist
from scipy.special import k1

import layers.averaging
import layers.matern
from layers.matern import station_field
from tests.grids import toy_grid


def matern(distance: np.ndarray, length: float) -> np.ndarray:
    """Matern correlation with nu = 1 in the plane: kappa d K1(kappa d), kappa = sqrt(8) / length (from memory)."""
    scaled = np.sqrt(8) / length * distance
    with np.errstate(invalid="ignore"):
        return np.where(scaled > 0, scaled * k1(scaled), 1.0)


def dense_kriging(stations, values, places, length, deviation, noise):
    """Ordinary kriging in a straight line, by the system with a Lagrange multiplier; and the variance of the mean."""
    count = len(stations)
    covariance = deviation**2 * matern(cdist(stations, stations), length) + noise**2 * np.eye(count)
    system = np.block([[covariance, np.ones((count, 1))], [np.ones((1, count)), np.zeros((1, 1))]])
    right = np.vstack([deviation**2 * matern(cdist(stations, places), length), np.ones(len(places))])
    solved = np.linalg.solve(system, right)
    variance = deviation**2 - (solved * right).sum(axis=0)
    return values @ solved[:-1], np.sqrt(variance), 1 / np.linalg.inv(covariance).sum()


def places_of(grid, cells) -> np.ndarray:
    """Centres of cells given as rows of (row, column)."""
    rows, columns = np.transpose(cells)
    return np.column_stack([grid.x[columns], grid.y[rows]])


def fixed(monkeypatch, length: float = 1.0, ratio: float = 0.01):
    """One range (in reaches) and one ratio of noise, so that values come back as a sum over stations."""
    monkeypatch.setattr(layers.matern, "RANGES", np.array([length]))
    monkeypatch.setattr(layers.averaging, "FITTED_RATIOS", np.array([ratio]))


def lagoon() -> np.ndarray:
    """Two basins behind each other, a spit one cell thick between them, and a mouth at its southern end."""
    water = np.ones((60, 61), bool)
    water[:57, 30] = False
    return water


def against_dense_kriging(seed: int, cells_in_range: int) -> tuple[float, float, float, float]:
    """Greatest and root mean square misfit of value and of error to dense kriging, over the standard deviation."""
    side, cell = 6 * cells_in_range, 1000 / cells_in_range
    grid = toy_grid(side, side, cell=cell)
    rng = np.random.default_rng(seed)
    # two ranges from every edge
    spots, values = rng.choice(20 * 20, 12, replace=False), rng.normal(20, 5, 12)
    cells = (np.column_stack([20 + spots // 20, 20 + spots % 20]) * cells_in_range) // 10
    field = station_field(places_of(grid, cells), values, np.ones(grid.shape, bool), grid, reach=1000)
    near = tuple(np.argwhere(np.isfinite(field.mean)).T)
    # Student's t with 12 - 1 degrees, because the standard deviation is fitted to the stations
    wider = np.sqrt(11 / 9)
    spread, noise, stations = wider * field.standard_deviation, wider * field.noise, places_of(grid, cells)
    value, error, of_mean = dense_kriging(stations, values, places_of(grid, np.transpose(near)), 1000.0, spread, noise)
    # never above what is known without any station near, never at a station above the noise of one
    assert field.error[near].max() <= np.sqrt(spread**2 + of_mean)
    assert field.error[tuple(cells.T)].max() < noise
    missed, off = (field.mean[near] - value) / spread, (field.error[near] - error) / spread
    return np.abs(missed).max(), np.sqrt(np.mean(missed**2)), np.abs(off).max(), np.sqrt(np.mean(off**2))


@pytest.mark.parametrize("seed", [1, 2])
def test_in_open_water_value_and_error_come_to_those_of_dense_kriging_as_cells_shrink(monkeypatch, seed):
    fixed(monkeypatch, ratio=0.02)
    coarse, fine = (against_dense_kriging(seed, cells) for cells in (10, 18))
    assert (np.array(fine) < 0.07).all()
    assert fine[1] < 0.012
    assert fine[3] < 0.012
    assert (np.array(fine) < 0.6 * np.array(coarse)).all()


def test_errors_of_simulated_fields_are_as_large_as_foretold():
    grid = toy_grid(64, 64, cell=80)
    rng = np.random.default_rng(11)
    cells = rng.choice(40 * 40, 80, replace=False)
    cells = np.column_stack([12 + cells // 40, 12 + cells % 40])
    at = places_of(grid, cells)
    root = np.linalg.cholesky(matern(cdist(at, at), 1200.0) + 1e-9 * np.eye(80))
    truth = 15 + 3 * (root @ rng.normal(0, 1, (80, 20))).T
    values = truth[:, :40] + rng.normal(0, 0.6, (20, 40))
    water = np.ones(grid.shape, bool)
    for noise in (None, np.full(40, 0.6)):
        fields = station_field(at[:40], values, water, grid, reach=2000, noise=noise)
        misses = np.array([(one - field.mean[tuple(cells.T)])[40:] for one, field in zip(truth, fields, strict=True)])
        scales = np.array([field.error[tuple(cells.T)][40:] for field in fields])
        assert np.sqrt(np.mean((misses / scales) ** 2)) == pytest.approx(1, abs=0.12)
        assert np.sqrt(np.mean([field.standardised**2 for field in fields])) == pytest.approx(1, abs=0.06)
        assert np.median([field.range for field in fields]) == pytest.approx(1200, rel=0.42)  # one step of the ladder
        assert np.median([field.standard_deviation for field in fields]) == pytest.approx(3, rel=0.25)
        # without it being known, stations so far apart can hardly tell the noise from the field
        assert np.median([field.noise for field in fields]) == pytest.approx(0.6, abs=0.5 if noise is None else 1e-9)


@pytest.mark.parametrize("count", [5, 12, 40])
def test_nominal_intervals_of_95_percent_hold_the_truth_about_as_often_however_few_the_stations(count):
    grid, rng = toy_grid(40, 40, cell=100), np.random.default_rng(2)
    inner = rng.choice(26 * 26, count + 30, replace=False)
    cells = np.column_stack([7 + inner // 26, 7 + inner % 26])
    at = places_of(grid, cells)
    truth = []
    for length in (700.0, 1500.0, 3000.0):  # a quarter of the water to all of it
        root = np.linalg.cholesky(matern(cdist(at, at), length) + 1e-9 * np.eye(len(at)))
        truth.extend(20 + 4 * (root @ rng.normal(0, 1, (len(at), 16))).T)
    values = np.array(truth)[:, :count] + rng.normal(0, 1, (48, count))
    fields = station_field(at[:count], values, np.ones(grid.shape, bool), grid, reach=2500)
    averaged, plugged_in, aside = [], [], tuple(cells[count:].T)
    for one, measured, field in zip(truth, values, fields, strict=True):
        known = np.isfinite(field.mean[aside])
        averaged.extend((np.abs(one[count:] - field.mean[aside]) <= 1.96 * field.error[aside])[known])
        likeliest = (field.range, field.standard_deviation, field.noise)  # taken for true
        value, error, _ = dense_kriging(at[:count], measured, at[count:], *likeliest)
        plugged_in.extend((np.abs(one[count:] - value) <= 1.96 * error)[known])
    assert 0.88 < np.mean(averaged) < 0.98
    if count < 40:
        assert np.mean(averaged) > np.mean(plugged_in) + 0.03


def test_a_station_across_a_spit_has_next_to_no_say_where_a_straight_line_gives_the_wrong_value(monkeypatch):
    grid, water = toy_grid(60, 61, cell=20), lagoon()
    fixed(monkeypatch)
    cells = np.array([[6, 12], [25, 10], [30, 24], [50, 14], [10, 32], [28, 36], [30, 50], [50, 48]])
    values = np.array([10.0, 10.2, 9.9, 10.1, 30.0, 29.8, 30.1, 30.2])
    stations, beside = places_of(grid, cells), (10, 29)
    field = station_field(stations, values, water, grid, reach=800)
    value, _, _ = dense_kriging(
        stations, values, places_of(grid, [beside]), 800.0, field.standard_deviation, field.noise
    )
    assert value[0] > 25  # 60 m in a straight line from a station of 30, some 2 km by water
    assert field.mean[beside] < 12
    assert np.nanmax(field.mean[:40, :30]) < 13  # far from any station it leans to the mean of all, 20
    assert np.nanmin(field.mean[:40, 31:]) > 25
    raised = station_field(stations, values + (np.arange(8) == 4), water, grid, reach=800)
    straight, _, _ = dense_kriging(
        stations, np.eye(8)[4], places_of(grid, [beside]), 800.0, field.standard_deviation, field.noise
    )
    assert abs(raised.mean[beside] - field.mean[beside]) < 0.05
    assert straight[0] > 0.7
    # without the spit it would have its say
    open_field = station_field(stations, values, np.ones_like(water), grid, reach=800)
    assert open_field.mean[beside] == pytest.approx(value[0], abs=1)


def test_behind_a_closed_dyke_nothing_changes_to_the_bit(monkeypatch):
    grid, water = toy_grid(60, 61, cell=20), lagoon()
    water[:, 30] = False
    fixed(monkeypatch)
    cells = np.array([[6, 12], [25, 10], [50, 14], [10, 32], [30, 50]])
    stations = places_of(grid, cells)
    one = station_field(stations, [1.0, 2.0, 4.0, 7.0, 9.0], water, grid, reach=800)
    two = station_field(stations, [1.0, 2.0, 4.0, 70.0, 10.0], water, grid, reach=800)
    np.testing.assert_array_equal(one.mean[:, :30], two.mean[:, :30])
    assert (one.mean[:, 31:] != two.mean[:, 31:])[np.isfinite(one.mean[:, 31:])].all()


def test_in_a_channel_the_error_grows_with_the_way_from_the_stations_and_ends_at_the_reach():
    grid = toy_grid(1, 200, cell=10)
    cells = np.column_stack([np.zeros(8, int), [5, 10, 15, 22, 30, 34, 40, 45]])
    values = np.array([3.0, 4, 3.5, 5, 6.2, 6, 7.5, 7])
    field = station_field(places_of(grid, cells), values, np.ones(grid.shape, bool), grid, reach=800)
    known = np.isfinite(field.mean[0])
    np.testing.assert_array_equal(known, np.arange(200) < 45 + 80)
    np.testing.assert_array_equal(np.isfinite(field.error[0]), known)
    beyond = field.error[0, 45:125]
    assert (np.diff(beyond) > 0).all()
    # as wide as Student's t with 8 - 1 degrees makes the noise of one
    assert field.error[0, cells[:, 1]].max() < np.sqrt(7 / 5) * field.noise < beyond.max() / 2


def test_leaving_one_out_is_what_the_others_give(monkeypatch):
    grid, water = toy_grid(60, 61, cell=20), lagoon()
    monkeypatch.setattr(layers.matern, "RANGES", np.array([2.0, 0.7, 0.3]))
    monkeypatch.setattr(layers.matern, "LEAST_SHARE", 0.0)
    monkeypatch.setattr(layers.averaging, "KNOWN_RATIOS", np.array([0.01, 0.05, 0.5]))
    rng = np.random.default_rng(4)
    cells = np.argwhere(water)[rng.choice(int(water.sum()), 9, replace=False)]
    values, noise = rng.normal(8, 2, 9), np.full(9, 0.4)
    stations = places_of(grid, cells)
    field = station_field(stations, values, water, grid, reach=2000, noise=noise)
    gaps = np.where(np.eye(9, dtype=bool), np.nan, values)
    others = station_field(stations, gaps, water, grid, reach=2000, noise=noise)
    missed = np.array([values[n] - one.mean[tuple(cells[n])] for n, one in enumerate(others)])
    scale = np.array([np.hypot(one.error[tuple(cells[n])], 0.4) for n, one in enumerate(others)])
    assert [one.count for one in others] == [8] * 9
    assert field.leave_one_out == pytest.approx(np.sqrt(np.mean(missed**2)), rel=1e-5)
    assert field.standardised == pytest.approx(np.sqrt(np.mean((missed / scale) ** 2)), rel=1e-5)


def test_ranges_that_hardly_count_are_left_out_and_change_next_to_nothing(monkeypatch):
    grid, water = toy_grid(60, 61, cell=20), lagoon()
    stations = places_of(grid, np.argwhere(water)[::180])
    values = stations[:, 0] / 100 + np.cos(stations[:, 1] / 200)
    field = station_field(stations, values, water, grid, reach=1500)
    monkeypatch.setattr(layers.matern, "LEAST_SHARE", 0.0)
    whole = station_field(stations, values, water, grid, reach=1500)
    assert len(field.shares) < len(whole.shares)
    assert field.range == whole.range == max(whole.shares, key=whole.shares.get)
    assert [sum(one.shares.values()) for one in (field, whole)] == pytest.approx([1, 1])
    assert np.nanmax(np.abs(field.mean - whole.mean) / whole.error) < 0.02
    np.testing.assert_allclose(field.error, whole.error, rtol=0.03)


def test_order_of_stations_and_number_of_threads_change_no_bit():
    grid, water = toy_grid(60, 61, cell=20), lagoon()
    rng = np.random.default_rng(9)
    cells = np.argwhere(water)[rng.choice(int(water.sum()), 11, replace=False)]
    cells[10] = cells[3]  # two stations in one cell
    stations, values, noise = places_of(grid, cells), rng.normal(30, 3, (2, 11)), rng.uniform(0.1, 0.5, 11)
    values[1, 4] = np.nan
    turned = rng.permutation(11)
    options = {"reach": 1500, "most_patches": 500}
    for given in (None, noise):
        first = station_field(stations, values, water, grid, noise=given, workers=1, **options)
        mixed = None if given is None else given[turned]
        again = station_field(stations[turned], values[:, turned], water, grid, noise=mixed, workers=3, **options)
        for one, other in zip(first, again, strict=True):
            for name, found in vars(one).items():
                np.testing.assert_array_equal(found, getattr(other, name), err_msg=name)


def test_larger_patches_give_the_field_of_single_cells(monkeypatch):
    grid, water = toy_grid(60, 61, cell=20), lagoon()
    fixed(monkeypatch, length=1.0)
    rng = np.random.default_rng(3)
    cells = np.argwhere(water)[rng.choice(int(water.sum()), 12, replace=False)]
    values = 20 + 0.1 * cells[:, 1] + 5 * (cells[:, 1] > 30)
    stations = places_of(grid, cells)
    fine, coarse = (
        station_field(stations, values, water, grid, reach=900, most_patches=most) for most in (10**6, 1000)
    )
    spread = np.nanmedian(fine.error)
    assert np.sqrt(np.nanmean((fine.mean - coarse.mean) ** 2)) < 0.15 * spread
    assert np.sqrt(np.nanmean((fine.error - coarse.error) ** 2)) < 0.1 * spread
    # no step from block to block: steps between neighbouring cells are as even as those of the fine field
    for field in (fine, coarse):
        bends = np.diff(field.mean, n=2, axis=1)
        field_bend = np.nanquantile(np.abs(bends), 0.99)
        assert field_bend < 0.1 * spread


def test_water_without_a_station_is_no_data_and_land_too():
    grid, water = toy_grid(60, 61, cell=20), lagoon()
    water[:, 30] = False
    stations = places_of(grid, np.array([[6, 12], [25, 10], [50, 14], [40, 25]]))
    field = station_field(stations, [1.0, 2.0, 4.0, 3.0], water, grid, reach=5000)
    np.testing.assert_array_equal(np.isfinite(field.mean), (label(water)[0] == 1))
    np.testing.assert_array_equal(np.isfinite(field.error), np.isfinite(field.mean))


def test_too_few_stations_give_a_mean_and_no_error():
    grid = toy_grid(1, 30, cell=10)
    water = np.ones(grid.shape, bool)
    stations = places_of(grid, np.array([[0, 4], [0, 24], [0, 14], [0, 8]]))
    gap = np.nan
    sets = [[7.0, gap, gap, gap], [7.0, 9.0, gap, gap], [gap] * 4, [7.0, 9.0, 8.5, gap], [7.0, 9.0, 8.5, 7.5]]
    one, two, none, three, four = station_field(stations, sets, water, grid, reach=1000)
    np.testing.assert_allclose(one.mean, 7, rtol=1e-6)
    assert two.mean[0, [4, 24]] == pytest.approx([7, 9], abs=1e-3)
    assert (np.diff(two.mean[0, 4:25]) > 0).all()
    for few in (one, two, none, three):
        assert np.isnan(few.error).all()
        assert np.isnan([few.standard_deviation, few.noise, few.standardised]).all()
    assert np.isnan(none.mean).all()
    assert [field.count for field in (one, two, none, three, four)] == [1, 2, 0, 3, 4]
    assert np.isfinite(three.mean).all()
    assert np.isfinite(four.error).all()
    assert np.isnan(four.standardised)  # without one of them there would be three
    assert np.isfinite(four.leave_one_out)
    assert two.leave_one_out == pytest.approx(2, abs=1e-3)  # either is all the other knows


def test_one_value_everywhere_stays_that_value():
    grid, water = toy_grid(60, 61, cell=20), lagoon()
    stations = places_of(grid, np.array([[6, 12], [25, 10], [50, 14], [10, 40]]))
    field = station_field(stations, [21.5] * 4, water, grid, reach=5000)
    np.testing.assert_allclose(field.mean[water], 21.5, rtol=1e-6)
    assert np.nanmax(field.error) < 1e-5


def test_steps_are_told_and_refusals_name_the_station():
    grid, steps = toy_grid(1, 9, cell=10), []
    water = np.array([[False] * 6 + [True] * 3])
    stations = places_of(grid, np.array([[0, 7], [0, 5]]))
    field = station_field(stations, [3.0, 5.0], water, grid, reach=100, on_step=steps.append)
    assert [step.number for step in steps] == [1, 2, 3]
    assert field.mean[0, 6] > field.mean[0, 7]  # the one ashore is taken to the water beside it
    with pytest.raises(ValueError, match=r"^stations: no water within 30 m of station 1\. Check the coordinates"):
        station_field(places_of(grid, np.array([[0, 7], [0, 0]])), [1, 2], water, grid, reach=100)
    with pytest.raises(ValueError, match=r"^reach: found -5 m\. It must be greater than 0 and finite\.$"):
        station_field(stations, [1, 2], water, grid, reach=-5)
