import dask.array
import numpy as np
import pytest
import xarray as xr
from pytest import approx

from layers.quantity import INTERTIDAL, LAND, UNKNOWN, WATER
from layers.water import (
    HOURS_OF_TIDE,
    constituent_speed,
    share_of_time_wet,
    share_of_time_within,
    surface_codes,
    tide_levels,
    water_depth,
)
from tests.evidence import published, rows

COSINE = np.cos(2 * np.pi * (np.arange(200_000) + 0.5) / 200_000)


@published("tide_heights.csv")
def test_predicted_tide_gives_the_closed_form(row):
    levels = tide_levels(
        np.array([1.0, 0.3, 0.2, 0.15]), np.array([30.0, 60.0, 200.0, 180.0]), ["M2", "S2", "K1", "O1"]
    )
    # the two tables of speeds differ in the eighth digit: 1e-5 m over 100 hours
    assert levels[int(row.hour)] == approx(row.height, abs=1e-5)


@pytest.mark.parametrize(
    ("name", "speed"),
    [("M2", 28.9841042), ("S2", 30.0), ("N2", 28.4397295), ("K1", 15.0410686), ("O1", 13.9430356)],
)
def test_constituent_speeds_are_those_of_schureman_1958_from_memory(name, speed):
    assert constituent_speed(name) == approx(speed, abs=2e-6)


def test_a_year_of_tide_has_the_mean_level_it_was_given():
    levels = tide_levels(np.array([1.0]), np.array([0.0]), ["M2"], mean_level=0.4)
    assert len(levels) == HOURS_OF_TIDE
    assert levels.mean() == approx(0.4, abs=1e-3)


def test_an_unknown_constituent_is_refused():
    with pytest.raises(ValueError, match=r'^"X9" is not a known tidal constituent\.$'):
        constituent_speed("X9")


@published("time_within_depth.csv")
def test_share_of_time_within_a_depth_gives_the_arcsine_law(row):
    levels = row.amplitude * COSINE
    assert share_of_time_within(-row.depth_at_mean_level, levels, row.lowest, row.highest) == approx(
        row.share, abs=2e-5
    )


def test_share_of_time_wet_is_the_arcsine_law_without_an_upper_limit():
    for row in rows("time_within_depth.csv")[:2]:
        assert share_of_time_wet(-row.depth_at_mean_level, row.amplitude * COSINE) == approx(row.share, abs=2e-5)


def test_float_array_grid_and_dask_agree():
    bed = np.array([[-2.0, -0.5, 0.2], [np.nan, 0.9, 1.4]], dtype=np.float32)
    levels = np.array([-1.0, -0.4, 0.1, 0.8, 1.1])
    array = share_of_time_within(bed, levels, 0.25, 1.5)
    grid = share_of_time_within(xr.DataArray(bed, dims=("y", "x")), levels, 0.25, 1.5)
    lazy = share_of_time_within(
        xr.DataArray(dask.array.from_array(bed, chunks=(1, 2)), dims=("y", "x")), levels, 0.25, 1.5
    )
    assert isinstance(lazy.data, dask.array.Array)
    np.testing.assert_array_equal(grid.to_numpy(), array)
    np.testing.assert_array_equal(lazy.to_numpy(), array)
    singles = [[share_of_time_within(float(value), levels, 0.25, 1.5) for value in row] for row in bed]
    np.testing.assert_allclose(array, singles, atol=1e-7)
    assert np.isnan(array[1, 0])


@pytest.mark.parametrize(("shallowest", "deepest"), [(1.0, 1.0), (2.0, 1.0)])
def test_a_depth_range_must_be_a_range(shallowest, deepest):
    with pytest.raises(ValueError, match="must be less than"):
        share_of_time_within(-1.0, COSINE, shallowest, deepest)


def test_depth_is_positive_down_from_the_mean_level():
    np.testing.assert_array_equal(water_depth(np.array([-3.0, 1.0]), 0.5), [3.5, -0.5])


def test_surface_codes_by_hand():
    is_water = np.array([[True, True, True], [False, True, True]])
    bed = np.array([[-3.0, 0.5, 2.0], [-3.0, np.nan, -1.0]])
    # the tide runs from -1 m to +1 m
    expected = [[WATER, INTERTIDAL, UNKNOWN], [LAND, WATER, WATER]]
    np.testing.assert_array_equal(surface_codes(is_water, bed, -1.0, 1.0), expected)
