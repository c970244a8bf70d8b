"""The bed from soundings: planes, exact soundings, waters apart, age, and errors that are honest on known fields."""

import os
import subprocess
import sys
from pathlib import Path

import gstools
import numpy as np
import pytest

from layers import kriging
from layers.kriging import bed_from_soundings
from layers.soundings import sounding_error
from layers.step import Step
from layers.variogram import Variogram
from tests.grids import toy_grid


def centres(grid, rows, columns):
    """Middles of cells. [m]"""
    return np.column_stack([grid.x[columns], grid.y[rows]])


def scattered(grid, count, seed=0):
    """Places at random in the grid. [m]"""
    west, south, east, north = grid.bounds
    random = np.random.default_rng(seed)
    return np.column_stack([random.uniform(west, east, count), random.uniform(south, north, count)])


def all_water(grid):
    return np.ones(grid.shape, bool)


def waves(places):
    """A bed that is no plane. [m]"""
    x, y = places[..., 0] - 500_000, places[..., 1] - 7_770_000
    return np.sin(x / 300) + np.cos(y / 250) - 4


def test_a_plane_is_given_back():
    grid = toy_grid(50, 60, cell=20)
    places = scattered(grid, 80)

    def plane(x, y):
        return -3 + 0.004 * (x - 500_000) - 0.002 * (y - 7_770_000)

    fit = bed_from_soundings(places, plane(*places.T), np.full(80, 0.01), all_water(grid), grid, reach=1e4)
    np.testing.assert_allclose(fit.elevation, plane(grid.x, grid.y[:, None]), atol=1e-4)
    assert fit.leave_out_error < 1e-4
    assert 0 < fit.error.max() < 0.01


def test_soundings_without_error_are_met():
    grid = toy_grid(40, 40, cell=25)
    cells = np.random.default_rng(2).choice(1600, 60, replace=False)
    rows, columns = np.divmod(cells, 40)
    places = centres(grid, rows, columns)
    fit = bed_from_soundings(places, waves(places), np.full(60, 1e-6), all_water(grid), grid, reach=1e4)
    # a nugget is relief between two soundings: the fit may hold a little
    np.testing.assert_allclose(
        fit.elevation[rows, columns], waves(places), atol=2 * np.sqrt(fit.variogram.nugget) + 1e-3
    )
    assert fit.variogram.nugget < 0.02
    assert fit.error[rows, columns].max() < 1.5 * np.sqrt(fit.variogram.nugget) + 1e-3
    assert fit.count == 60 and fit.ignored == 0


def test_the_error_grows_with_distance_and_age():
    grid = toy_grid(60, 60, cell=20)
    places = centres(grid, *np.divmod(np.arange(0, 3600, 7)[:260], 60))  # the northern half only
    south = np.arange(35, 60)
    new = bed_from_soundings(places, waves(places), np.full(260, 0.1), all_water(grid), grid, reach=1e4)
    assert (np.diff(new.error[south], axis=0) > -1e-4).all()
    assert new.error[59].min() > 2 * new.error[:28].max()
    told = sounding_error(0.1, 0.05, np.full(260, 30.0))
    old = bed_from_soundings(places, waves(places), told, all_water(grid), grid, reach=1e4)
    assert (old.error[:28] > new.error[:28]).all()
    assert old.error[:28].mean() > 1.5 * new.error[:28].mean()


def test_an_old_survey_gives_way_to_a_new_one_beside_it():
    grid = toy_grid(40, 40, cell=25)
    new, old = scattered(grid, 150, seed=1), scattered(grid, 150, seed=2)
    old[:75] = new[:75] + 3.0  # beside a new one, within a quarter of a cell; the others are anywhere
    bed = np.concatenate([waves(new), waves(old) + 0.8])  # it has filled in, or so it seems
    places, water = np.vstack([new, old]), all_water(grid)
    today = sounding_error(0.05, 0.0, np.zeros(150))
    truth = waves(np.stack(np.meshgrid(grid.x, grid.y), axis=-1))

    def bias(error_of_old):
        fit = bed_from_soundings(places, bed, np.concatenate([today, error_of_old]), water, grid, reach=1e4)
        return np.mean(fit.elevation - truth)

    alike, aged = bias(today), bias(sounding_error(0.05, 0.2, np.full(150, 23.0)))
    assert alike > 0.35  # both surveys believed alike: half way
    assert abs(aged) < 0.06
    # an age without end is as if the old survey were not there
    alone = bed_from_soundings(new, waves(new), today, water, grid, reach=1e4)
    assert bias(np.full(150, 1e4)) == pytest.approx(np.mean(alone.elevation - truth), abs=1e-3)


def test_two_waters_do_not_mix():
    grid = toy_grid(40, 41, cell=25)
    water = all_water(grid)
    water[:, 20] = False
    places = scattered(grid, 200)
    column = ((places[:, 0] - grid.bounds[0]) // 25).astype(int)
    places, column = places[column != 20], column[column != 20]
    west = column < 20
    bed = np.where(west, waves(places), waves(places) + 30)
    error = np.full(len(bed), 0.05)
    fit = bed_from_soundings(places, bed, error, water, grid, reach=1e4)
    assert fit.elevation[:, :20].max() < 0 < 20 < fit.elevation[:, 21:].min()
    assert np.isnan(fit.elevation[:, 20]).all() and np.isnan(fit.error[:, 20]).all()
    # the same relief on both sides, 30 m apart: the step is nobody's roughness
    level = bed_from_soundings(places, waves(places), error, water, grid, reach=1e4)
    np.testing.assert_allclose(fit.elevation[:, :20], level.elevation[:, :20], atol=1e-4)
    np.testing.assert_allclose(fit.elevation[:, 21:], level.elevation[:, 21:] + 30, atol=1e-4)
    # a water that nobody sounded stays without data
    alone = bed_from_soundings(places[west], bed[west], error[west], water, grid, reach=1e4)
    assert np.isfinite(alone.elevation[:, :20]).all() and np.isnan(alone.elevation[:, 20:]).all()


def test_a_pond_with_one_sounding_has_its_level_and_a_large_error():
    grid = toy_grid(30, 41, cell=25)
    water = all_water(grid)
    water[:, 30] = False
    places = scattered(grid, 150)
    places = places[places[:, 0] < grid.bounds[0] + 29 * 25]
    places = np.vstack([places, centres(grid, [15], [36])])
    bed = np.append(waves(places[:-1]), 7.0)
    fit = bed_from_soundings(places, bed, np.full(len(bed), 0.05), water, grid, reach=1e4)
    np.testing.assert_allclose(fit.elevation[:, 31:], 7, atol=1e-5)
    # one sounding has all the weight: 2 sills and its error variance, less twice the covariance at that distance
    away = 25 * np.hypot(np.arange(30)[:, None] - 15, np.arange(31, 41) - 36)
    variance = 2 * fit.variogram.sill + 0.05**2 - 2 * fit.variogram.model().covariance(away)
    np.testing.assert_allclose(fit.error[:, 31:], np.sqrt(variance), rtol=1e-5)


def test_the_reach_ends_the_map_and_land_has_none():
    grid = toy_grid(40, 90, cell=20)
    water = all_water(grid)
    water[:, 8:10] = False
    water[20, 8:10] = True
    places = scattered(grid, 60)
    places = places[places[:, 0] < grid.bounds[0] + 400]
    places = np.vstack([places, np.array([[499_000.0, 7_770_400.0]])])  # off the grid, far from its water
    fit = bed_from_soundings(places, waves(places), np.full(len(places), 0.1), water, grid, reach=330)
    away = np.hypot(*(np.stack(np.meshgrid(grid.x, grid.y))[:, None] - places[:-1].T[:, :, None, None])).min(axis=0)
    np.testing.assert_array_equal(np.isfinite(fit.elevation), water & (away <= 330))
    np.testing.assert_array_equal(np.isfinite(fit.error), np.isfinite(fit.elevation))
    assert (fit.reach, fit.ignored, fit.count) == (330, 1, len(places) - 1)
    unsaid = bed_from_soundings(places, waves(places), np.full(len(places), 0.1), water, grid)
    assert unsaid.reach == unsaid.variogram.range / 2


def test_the_order_of_soundings_and_the_threads_do_not_change_a_bit():
    grid = toy_grid(50, 50, cell=20)
    places = np.vstack([scattered(grid, 200)] * 2 + [scattered(grid, 100, seed=4)])  # 200 of them twice
    random = np.random.default_rng(3)
    bed, error = waves(places) + 0.1 * random.standard_normal(500), random.choice([0.1, 0.3], 500)
    first = bed_from_soundings(places, bed, error, all_water(grid), grid, workers=1)
    mixed = random.permutation(500)
    again = bed_from_soundings(places[mixed], bed[mixed], error[mixed], all_water(grid), grid, workers=3)
    np.testing.assert_array_equal(again.elevation, first.elevation)
    np.testing.assert_array_equal(again.error, first.error)
    assert again.variogram == first.variogram
    assert (again.leave_out_error, again.standardised) == (first.leave_out_error, first.standardised)


def test_the_number_of_library_threads_does_not_show():
    code = (
        "import hashlib, numpy as np; from layers.kriging import bed_from_soundings; "
        "from tests.grids import toy_grid; grid = toy_grid(40, 40, cell=30); rng = np.random.default_rng(1); "
        "places = np.column_stack([rng.uniform(5e5, 501_200, 400), rng.uniform(7.77e6, 7_771_200, 400)]); "
        "fit = bed_from_soundings(places, np.sin(places[:, 0] / 200), np.full(400, 0.05), np.ones(grid.shape, bool), "
        "grid); print(hashlib.sha256(fit.elevation.tobytes() + fit.error.tobytes()).hexdigest(), fit.variogram)"
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
        for threads in ("1", "4")
    }
    assert len(prints) == 1


@pytest.mark.parametrize(
    "model",
    [
        gstools.Exponential(dim=2, var=1.5, len_scale=250),
        gstools.Matern(dim=2, var=1.5, nu=1.5, len_scale=150),
    ],
    ids=["rough", "smooth"],
)
def test_the_error_is_honest_on_fields_of_gstools(model):
    # 2.4 km of bed, three or four ranges across; 400 soundings of two surveys; the seeds are as they came
    grid = toy_grid(48, 48, cell=50)
    water = all_water(grid)
    field = gstools.SRF(model)
    shares, ratios, spreads, misses = [], [], [], []
    for seed in range(5):
        random = np.random.default_rng(seed)
        places = scattered(grid, 400, seed)
        error = np.where(np.arange(400) < 250, 0.05, 0.4)
        truth = field((grid.x, grid.y), mesh_type="structured", seed=seed, store=False).T
        bed = field(tuple(places.T), seed=seed, store=False) + error * random.standard_normal(400)
        fit = bed_from_soundings(places, bed, error, water, grid, reach=1e4)
        off = (fit.elevation - truth) / fit.error
        shares.append([(np.abs(off) < 1).mean(), (np.abs(off) < 2).mean()])
        ratios.append(fit.standardised)
        spreads.append(np.sqrt(np.mean(off**2)))
        misses.append(np.mean(off))
    assert np.mean(ratios) == pytest.approx(1, abs=0.1)  # left out by blocks
    assert np.mean(spreads) == pytest.approx(1, abs=0.15)  # against the field itself
    assert np.abs(np.mean(misses)) < 0.1
    np.testing.assert_allclose(np.mean(shares, axis=0), [0.683, 0.954], atol=0.08)  # a normal distribution's


def test_soundings_in_the_wrong_place_show_when_left_out():
    grid = toy_grid(60, 60, cell=30)
    places = scattered(grid, 400)
    told = np.full(400, 0.05)
    bed = waves(places) + 0.05 * np.random.default_rng(0).standard_normal(400)
    honest = bed_from_soundings(places, bed, told, all_water(grid), grid)
    spoilt = bed.copy()
    spoilt[::25] += 3  # 16 soundings in the wrong place
    wrong = bed_from_soundings(places, spoilt, told, all_water(grid), grid)
    assert wrong.leave_out_error > 4 * honest.leave_out_error


def test_a_fine_grid_is_filled_from_a_coarser_lattice(monkeypatch):
    grid = toy_grid(101, 133, cell=8)
    water = np.hypot(*np.meshgrid(np.linspace(-1, 1, 133), np.linspace(-1, 1, 101))) < 0.95
    places = scattered(grid, 120)
    bed, error = waves(places), np.full(120, 0.05)
    every = bed_from_soundings(places, bed, error, water, grid, reach=150)
    assert kriging._lattice_step([places], grid.cell) == 1
    assert kriging._lattice_step([places], 2.0) == 5
    monkeypatch.setattr(kriging, "FINE", 0.8)
    assert kriging._lattice_step([places], grid.cell) == 4
    lattice = bed_from_soundings(places, bed, error, water, grid, reach=150)
    np.testing.assert_array_equal(np.isfinite(lattice.elevation), np.isfinite(every.elevation))
    known = np.isfinite(every.elevation)
    # nodes are the kriged values; between them the bed is straight
    off = np.abs(lattice.elevation - every.elevation)[known]
    assert np.sqrt(np.mean(off**2)) < 0.1 * every.error[known].mean()
    np.testing.assert_allclose(lattice.error[known], every.error[known], rtol=0.35)


def test_it_tells_its_steps():
    grid, told = toy_grid(20, 20, cell=30), []
    places = scattered(grid, 30)
    bed_from_soundings(places, waves(places), np.full(30, 0.1), all_water(grid), grid, on_step=told.append)
    assert told[0] == Step(1, 4, "sorting the soundings by water body")
    assert [step.number for step in told] == [1, 2, 3, 4]


def test_what_cannot_be_mapped_is_refused():
    grid = toy_grid(20, 20, cell=30)
    places, water = scattered(grid, 30), all_water(grid)
    bed, error = waves(places), np.full(30, 0.1)
    with pytest.raises(ValueError, match=r"^water: found shape \(20, 19\), the grid has \(20, 20\)\. Give one value"):
        bed_from_soundings(places, bed, error, water[:, 1:], grid)
    with pytest.raises(ValueError, match=r"^reach: found -3 m\. It must be above 0 m\.$"):
        bed_from_soundings(places, bed, error, water, grid, reach=-3)
    away = places + np.where(np.arange(30) < 25, 1e5, 0)[:, None]
    with pytest.raises(
        ValueError, match=r"^soundings: found 5 in or beside the water, and 25 on land or off the grid\. "
    ):
        bed_from_soundings(away, bed, error, water, grid)
    one_place = np.repeat(places[:1], 30, axis=0)
    with pytest.raises(ValueError, match=r"^soundings: found 1 once those at one place are merged\. At least 10 are"):
        bed_from_soundings(one_place, bed, error, water, grid)
    with pytest.raises(ValueError, match=r"^error of soundings: found -0\.1 m\."):
        bed_from_soundings(places, bed, -error, water, grid)


def test_a_fit_says_what_it_was_made_with():
    grid = toy_grid(20, 20, cell=30)
    places = scattered(grid, 60)
    fit = bed_from_soundings(places, waves(places), np.full(60, 0.1), all_water(grid), grid)
    assert isinstance(fit.variogram, Variogram)
    assert fit.elevation.dtype == fit.error.dtype == np.float32
    assert fit.elevation.shape == fit.error.shape == grid.shape
