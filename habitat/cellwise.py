"""One formula for a number, an array, a labelled grid and a dask array."""

from __future__ import annotations

import sys
from collections.abc import Callable
from typing import TYPE_CHECKING, TypeVar

import numpy as np

if TYPE_CHECKING:
    import xarray as xr

Numeric = TypeVar("Numeric", float, np.ndarray, "xr.DataArray")


def cellwise(formula: Callable[..., np.ndarray], *values: Numeric) -> Numeric:
    """`formula` of `values`, cell by cell, of the same kind as they are.

    Parameters
    ----------
    formula
        Takes float64 arrays, one for each of `values`, and returns a float64 array.
    values
        Numbers, arrays, grids or dask arrays, broadcast against each other. At least one.

    Returns
    -------
    same kind as `values`
        Worked out in double precision; float32 where every value is float32. A labelled grid comes back
        without name and attributes, dask unevaluated.
    """

    def rounded(*arrays):
        kinds = [array.dtype for array in map(np.asarray, arrays) if array.dtype.kind == "f"]
        precise = [np.asarray(array, np.float64) for array in arrays]
        return formula(*precise).astype(np.result_type(*kinds) if kinds else np.float64)

    if any(_is_labelled(value) for value in values):
        import xarray as xr

        kind = np.result_type(*(value.dtype for value in values if getattr(value, "dtype", None) is not None))
        kind = kind if kind.kind == "f" else np.dtype(np.float64)
        options = {"dask": "parallelized", "output_dtypes": [kind], "join": "exact", "keep_attrs": False}
        return xr.apply_ufunc(rounded, *values, **options).rename(None)
    if any(hasattr(value, "dask") for value in values):
        from dask.array import map_blocks

        return map_blocks(rounded, *values, meta=np.empty(0, rounded(*(np.empty(0, v.dtype) for v in values)).dtype))
    result = rounded(*values)
    return float(result) if all(isinstance(value, (int, float)) for value in values) else result


def _is_labelled(value: object) -> bool:
    # there is no grid before xarray is imported, which is costly: a broken profile is refused without it
    xarray = sys.modules.get("xarray")
    return xarray is not None and isinstance(value, xarray.DataArray)
