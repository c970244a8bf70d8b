"""The cells that a map draws, as a small site of their own: scored while a hand still moves."""

from __future__ import annotations

import xarray as xr

from habitat.view.window import Window, nearest
from layers.grid import Grid


def thinned(layers: xr.Dataset, view: Window) -> xr.Dataset:
    """The layers on the middle cell of every block of a window, on the grid of these blocks.

    Parameters
    ----------
    layers : Dataset, (y, x) or (season, y, x)
        Layers of one grid.
    view : Window
        What a map of that grid shows.
    """
    grid = Grid.of(layers)
    west, _, _, north = view.bounds
    side = view.step * grid.cell
    cells = {}
    for name, layer in layers.data_vars.items():
        values = layer.to_numpy()
        if values.ndim == 3:
            part = xr.DataArray([nearest(one, view) for one in values], dims=("season", "y", "x"))
        else:
            part = xr.DataArray(nearest(values, view), dims=("y", "x"))
        cells[name] = part.assign_attrs(layer.attrs)
    small = xr.Dataset(cells, attrs=layers.attrs)
    coarse = Grid.from_bounds(
        grid.crs, west, north - small.sizes["y"] * side, west + small.sizes["x"] * side, north, side
    )
    small = small.assign_coords(coarse.coordinates)
    return small.assign_coords(season=layers["season"].to_numpy()) if "season" in small.dims else small
