import dask.array
import numpy as np
import pytest
import xarray as xr

from habitat.cellwise import cellwise


def _half(values):
    assert values.dtype == np.float64, "formulas work in double precision"
    return values / 2


@pytest.mark.parametrize("kind", [np.float32, np.float64])
def test_an_array_comes_back_in_its_own_precision(kind):
    assert cellwise(_half, np.ones(3, kind)).dtype == kind
    assert cellwise(_half, xr.DataArray(np.ones(3, kind), dims="x")).dtype == kind
    assert cellwise(_half, dask.array.ones(3, dtype=kind)).dtype == kind


def test_codes_come_back_in_double_precision():
    assert cellwise(_half, np.array([3], np.uint8)).dtype == np.float64


def test_a_number_comes_back_as_a_number():
    assert cellwise(_half, 3) == 1.5
    assert type(cellwise(_half, 3)) is float


def test_a_grid_comes_back_without_the_name_and_attributes_of_what_it_was():
    grid = xr.DataArray([1.0], dims="x", coords={"x": [5.0]}, name="depth", attrs={"units": "m"})
    half = cellwise(_half, grid)
    assert (half.name, half.attrs) == (None, {})
    assert half["x"].item() == 5.0


def test_kinds_may_be_mixed_and_dask_waits():
    grid = xr.DataArray(np.ones((2, 3), np.float32), dims=("y", "x"))
    both = cellwise(lambda a, b: a + b, grid.chunk(x=1), 2.0)
    assert both.chunks is not None
    assert both.dtype == np.float32
    assert (both.to_numpy() == 3).all()
