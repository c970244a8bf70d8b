"""One formula for a number, an array, a labelled grid and a dask array, and the refusal of impossible values.

A formula that is not plain arithmetic (a library's, one with a limit) is written for float64 arrays and handed to
`cellwise`, so that a number in a published table and a grid of four million cells go through the same lines.
"""

from __future__ import annotations

import sys
from collections.abc import Callable
from typing import TYPE_CHECKING, TypeVar

import numpy as np

if TYPE_CHECKING:
    import xarray as xr

Numeric = TypeVar("Numeric", float, np.ndarray, "xr.DataArray")


def cellwise(formula: Callable[..., np.ndarray], *values: Numeric, kind: type | None = None) -> Numeric:
    """`formula` of `values`, cell by cell, of the same kind as they are.

    Parameters
    ----------
    formula
        Takes float64 arrays, one for each of `values`, and returns an array.
    values
        Numbers, arrays, grids or dask arrays, broadcast against each other. At least one.
    kind
        Type of the result, such as `numpy.uint8` for codes. Without it, that of the arrays among `values`.

    Returns
    -------
    same kind as `values`
        Worked out in double precision; float32 where every array is float32. A labelled grid comes back without
        name and attributes, dask unevaluated: a refusal in the formula is then raised when it is computed.

    Examples
    --------
    >>> cellwise(lambda depth: depth / 2, 3)
    1.5
    """
    kind = np.dtype(kind) if kind is not None else _precision(values)

    def rounded(*arrays):
        return np.asarray(formula(*(np.asarray(array, np.float64) for array in arrays))).astype(kind)

    if any(_is_labelled(value) for value in values):
        import xarray as xr

        options = {"dask": "parallelized", "output_dtypes": [kind], "join": "exact", "keep_attrs": False}
        return xr.apply_ufunc(rounded, *values, **options).rename(None)
    if any(hasattr(value, "dask") for value in values):
        from dask.array import map_blocks

        return map_blocks(rounded, *values, dtype=kind, meta=np.empty(0, kind))
    result = rounded(*values)
    return result.item() if all(np.isscalar(value) for value in values) else result


def refuse_outside(
    values: np.ndarray | float,
    name: str,
    units: str,
    *,
    above: float | None = None,
    least: float | None = None,
    most: float | None = None,
    advice: str = "",
) -> None:
    """Nothing, or an error that names the first value out of its limits. NaN passes: it is no data.

    Parameters
    ----------
    values : float or array
        What was given.
    name, units : str
        Its name and unit in the words of the message.
    above, least, most : float, optional
        The values must be greater than `above`, not less than `least`, and not more than `most`.
    advice : str
        A sentence on what to do, most often the mistake of units that gives such values.

    Raises
    ------
    ValueError
        If a value is out of its limits, or infinite.

    Examples
    --------
    >>> refuse_outside(-1.0, "depth", "m", above=0)
    Traceback (most recent call last):
    ...
    ValueError: depth: found -1 m. It must be above 0 m.
    """
    values = np.asarray(values, np.float64)
    wrong, limits = np.isinf(values), []
    for limit, words, is_wrong in (
        (above, "above", np.less_equal),
        (least, "at least", np.less),
        (most, "at most", np.greater),
    ):
        if limit is not None:
            wrong |= is_wrong(values, limit)
            limits.append(f"{words} {limit:g}{_unit(units)}")
    if wrong.any():
        found = f"{name}: found {values[wrong].flat[0]:g}{_unit(units)}."
        raise ValueError(" ".join([found, f"It must be {' and '.join(limits) or 'finite'}.", advice]).strip())


def _unit(units: str) -> str:
    return "" if units == "1" else f" {units}"


def _precision(values: tuple) -> np.dtype:
    # a plain number does not decide: a coefficient must not turn a grid of float32 into one twice the size
    kinds = [value.dtype for value in values if getattr(value, "ndim", 0)]
    return np.result_type(*kinds) if kinds and all(kind.kind == "f" for kind in kinds) else np.dtype(np.float64)


def _is_labelled(value: object) -> bool:
    # there is no grid before xarray is imported, which is costly: a formula of numbers works without it
    xarray = sys.modules.get("xarray")
    return xarray is not None and isinstance(value, xarray.DataArray)
