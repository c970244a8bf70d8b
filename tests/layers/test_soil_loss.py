import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from pytest import approx

from layers.grid import Grid
from layers.soil_loss import (
    METRIC_ERODIBILITY,
    METRIC_EROSIVITY,
    slope_length_factor,
    soil_loss,
    terrain_slope,
)
from tests.evidence import published

FOOT = 0.3048
TONNES_PER_HECTARE = 2.2417  # in a short ton per acre


@published("slope_length_factor.csv")
def test_the_factor_of_slope_is_that_of_the_handbooks_formula(row):
    # the printed precision is three decimals, the handbook's table itself is matched within 1 %
    assert slope_length_factor(row.length * FOOT, row.slope / 100) == approx(row.factor, abs=5.5e-4)


def test_the_example_of_the_handbook_in_its_own_units_and_in_metric_ones():
    # Fountain County, Indiana, clean-tilled fallow up and down the slope: 96.5 ton/(acre year); from memory
    assert soil_loss(185.0, 0.37, 1.41, 1.0) == approx(96.5, abs=0.05)
    metric = soil_loss(185.0 * METRIC_EROSIVITY, 0.37 * METRIC_ERODIBILITY, 1.41, 1.0)
    assert metric == approx(96.5 * TONNES_PER_HECTARE, rel=1e-3)


@pytest.mark.parametrize(("slope", "exponent"), [(0.005, 0.2), (0.02, 0.3), (0.04, 0.4), (0.05, 0.5), (0.2, 0.5)])
def test_a_slope_twice_as_long_counts_by_the_exponent_of_its_steepness(slope, exponent):
    assert slope_length_factor(60.0, slope) / slope_length_factor(30.0, slope) == approx(2**exponent)


@given(st.floats(23, 500), st.floats(0, 1), st.floats(0, 1))
def test_a_steeper_slope_longer_than_the_unit_plot_never_counts_less(length, one, other):
    gentle, steep = sorted((one, other))
    assert slope_length_factor(length, gentle) <= slope_length_factor(length, steep)


def test_no_data_stays_no_data():
    found = slope_length_factor(np.array([30.0, np.nan]), np.array([np.nan, 0.1]))
    assert np.isnan(found).all()
    assert np.isnan(soil_loss(5000.0, np.nan, 1.0, 0.1))


def test_the_slope_of_a_tilted_plane_is_its_tilt_at_every_cell():
    grid = Grid.from_bounds("EPSG:32745", 500_000, 7_770_000, 500_500, 7_770_400, 100)
    x, y = np.meshgrid(grid.x, grid.y)
    found = terrain_slope(0.03 * (x - x.min()) - 0.04 * (y - y.min()), grid)
    np.testing.assert_allclose(found, 0.05, rtol=1e-5)


def test_a_hole_in_the_terrain_spoils_no_neighbour():
    grid = Grid.from_bounds("EPSG:32745", 500_000, 7_770_000, 500_500, 7_770_300, 100)
    terrain = np.tile(10.0 * np.arange(5), (3, 1))
    terrain[1, 2] = np.nan
    found = terrain_slope(terrain, grid)
    assert np.isnan(found[1, 2]) and np.isnan(found).sum() == 1
    np.testing.assert_allclose(found[~np.isnan(found)], 0.1, rtol=1e-5)


@pytest.mark.parametrize(
    ("call", "words"),
    [
        (lambda: slope_length_factor(30.0, 8.0), "slope: found 8. It must be at least 0 and at most 1. Divide a perc"),
        (lambda: slope_length_factor(0.0, 0.1), "slope_length: found 0 m. It must be above 0 m."),
        (lambda: soil_loss(5000.0, 0.03, 1.0, 1.5), "cover_factor: found 1.5."),
        (lambda: soil_loss(-1.0, 0.03, 1.0, 0.5), "erosivity: found -1 MJ"),
    ],
)
def test_what_cannot_be_is_refused(call, words):
    with pytest.raises(ValueError, match=words):
        call()
