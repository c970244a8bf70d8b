"""What a map may show of layers that are sensitive: block means wide enough to hide a record."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    import xarray as xr

    from habitat.site_map import SiteMap

_WIDEST = 1 << 12  # cells a side of a block


def sensitive_layers(found: SiteMap) -> tuple[str, ...]:
    """Layers that were made from files marked sensitive."""
    secret = {entry.path.name for entry in found.inputs.site.files if entry.sensitive}
    return tuple(
        str(name)
        for name, layer in found.layers.data_vars.items()
        if secret & set(str(layer.attrs.get("files", "")).split("; "))
    )


def block_size(x: np.ndarray, y: np.ndarray, corner: tuple[float, float], cell: float, minimum: int) -> int:
    """Cells a side of the smallest blocks, doubled from 1, of which each holds no record or at least `minimum`.

    Parameters
    ----------
    x, y : (n,) arrays
        Places of the records. [m]
    corner : (west, north)
        Where the blocks start. [m]

    Raises
    ------
    ValueError
        If there are records, and fewer than `minimum` of them: no block can hide them.

    Examples
    --------
    >>> block_size(np.array([10.0, 110.0]), np.array([-10.0, -10.0]), (0.0, 0.0), 100.0, 2)
    2
    """
    if 0 < len(x) < minimum:
        raise ValueError("sensitive records: there are fewer than the minimum. Leave the layer out.")
    size = 1
    while size < _WIDEST:
        side = size * cell
        blocks = np.column_stack([np.floor((x - corner[0]) / side), np.floor((corner[1] - y) / side)])
        if not len(x) or np.unique(blocks, axis=0, return_counts=True)[1].min() >= minimum:
            break
        size *= 2
    return size


def block_means(layer: xr.DataArray, size: int) -> xr.DataArray:
    """A layer whose cells hold the mean of their block of `size` by `size` cells; NaN stays where it was.

    Where a block has no value at all it stays NaN; labels and grid are those of `layer`.
    """
    values = layer.to_numpy()
    rows, columns = np.arange(values.shape[-2]) // size, np.arange(values.shape[-1]) // size
    owner = rows[:, None] * (columns[-1] + 1) + columns
    flat = values.reshape(-1, *values.shape[-2:])
    made = np.full_like(flat, np.nan)
    for season, one in enumerate(flat):
        known = ~np.isnan(one)
        total = np.bincount(owner[known], one[known], owner.max() + 1)
        count = np.bincount(owner[known], minlength=owner.max() + 1)
        with np.errstate(invalid="ignore"):
            made[season] = np.where(known, (total / count)[owner], np.nan)
    return layer.copy(data=made.reshape(values.shape))
