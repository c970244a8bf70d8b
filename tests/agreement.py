"""One formula gives the same for a number, an array, a labelled grid and a dask array."""

from __future__ import annotations

from collections.abc import Callable

import dask.array
import numpy as np
import xarray as xr

from layers.quantity import Quantity


def assert_kinds_agree(formula: Callable, quantity: Quantity, *values: list[list[float]]) -> None:
    """All kinds of the same cells give the same, labelled as `quantity`, NaN where any is NaN, dask unevaluated."""
    arrays = [np.array(value, np.float32) for value in values]
    array = formula(*arrays)
    grid = formula(*(xr.DataArray(value, dims=("y", "x"), attrs={"units": "old"}) for value in arrays))
    lazy = formula(*(xr.DataArray(dask.array.from_array(a, chunks=(1, 2)), dims=("y", "x")) for a in arrays))
    assert isinstance(lazy.data, dask.array.Array), "it was computed early"
    assert array.dtype == grid.dtype == lazy.dtype == lazy.compute().dtype
    np.testing.assert_array_equal(grid.to_numpy(), array)
    np.testing.assert_array_equal(lazy.to_numpy(), array)
    for place in np.ndindex(array.shape):
        single = formula(*(float(value[place]) for value in arrays))
        assert isinstance(single, (float, int))
        np.testing.assert_allclose(array[place], single, rtol=1e-6)
    assert grid.name == quantity.name
    assert grid.attrs["long_name"] == quantity.label
    missing = np.isnan(sum(arrays))
    assert missing.any(), "give a cell without data"
    if quantity.categories:
        assert array.dtype == np.uint8
        assert (array[missing] == 0).all()
        assert (array[~missing] > 0).all()
    else:
        assert array.dtype == np.float32
        np.testing.assert_array_equal(np.isnan(array), missing)
        assert grid.attrs["units"] == quantity.units
