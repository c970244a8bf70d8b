"""An assessment: a function of layers and a profile.

The composites (suitability, threat, their classes and concern) always come with the parts they were made of,
so that every score can be taken apart.
"""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np
import xarray as xr

from habitat import result
from habitat.profile import Factor, Pressure, Profile
from layers.provenance import CARRIED, joined
from layers.quantity import LAYERS, Quantity, describe
from layers.step import OnStep, Step, ignore


def assess(layers: xr.Dataset, profile: Profile, *, on_step: OnStep = ignore, workers: int | None = None) -> xr.Dataset:
    """Suitability, threat and concern of every cell, with each factor's index and each pressure's exposure.

    Parameters
    ----------
    layers : Dataset
        Layers of one grid, or of a window or a thinned copy of it, `surface` among them. Layers the profile
        needs but that are absent are missing data, layers it does not need are ignored. Dask-backed layers
        are scored block by block when the result is asked for.
    profile : Profile
        What the animal needs and what presses it.
    workers : int, optional
        Number of threads; by default one for each core. The result does not depend on it.

    Returns
    -------
    Dataset
        Dimensions (y, x), with season first where any layer in use has seasons. Land and unknown ground are no
        data everywhere: NaN in float32, 0 in uint8.

        - ``suitability``, ``threat``: 0 to 1; NaN where too much is missing. [1]
        - ``suitability_class``, ``threat_class``, ``concern``: see `habitat.result`; 0 is no data.
        - ``limiting_factor``: place, from 1, of the factor with the lowest index; of equals, the first in the
          profile's order. 0 where there is no score and where every index is 1.
        - ``missing_factors``, ``missing_pressures``: how many have no data.
        - ``index_<factor>``, ``exposure_<pressure>``: 0 to 1; NaN where missing. With a season only if their
          layer has one. [1]

    Raises
    ------
    ValueError
        If there is no `surface`, a layer is not in its catalogue unit, or a distance layer saturates nearer
        than the profile looks.
    """
    refuse_unfit(layers, profile)
    used = {name: layers[name] for name in profile.layers_needed if name in layers}
    on_step(Step(1, 1, f"scoring {layers['surface'].size:,} cells for {profile.title}"))
    if any(layer.chunks for layer in (*used.values(), layers["surface"])):
        scores = _scores_of_blocks(layers["surface"], used, profile)
    else:
        scores = _scores(layers["surface"], used, profile, workers)
    return _labelled(scores, layers, profile, used)


def labelled(rows: Mapping[str, np.ndarray], layers: xr.Dataset, profile: Profile) -> xr.Dataset:
    """The assessment that rows of scored cells amount to.

    Parameters
    ----------
    rows : mapping of name to (1, N) or (S, N) array
        As `habitat.cells.score_cells` gives them for all N cells of the layers.
    layers : Dataset
        What was scored.
    profile : Profile
        What it was scored by.
    """
    used = {name: layers[name] for name in profile.layers_needed if name in layers}
    return _labelled(_variables(rows, layers["surface"].shape, used, profile), layers, profile, used)


def _labelled(scores: Mapping[str, xr.Variable], layers: xr.Dataset, profile: Profile, used) -> xr.Dataset:
    # the coordinates once for all: they are most of the work on a small window
    kept = [key for key in ("season", "y", "x", "spatial_ref") if key in layers.coords]
    assessment = xr.Dataset(scores, coords=layers.coords.to_dataset()[kept].coords)
    if not _seasons(used):
        assessment = assessment.drop_vars("season", errors="ignore")
    for name in scores:
        assessment[name].attrs.update(_attributes(assessment[name], used, profile))
        assessment[name].encoding["grid_mapping"] = "spatial_ref"
    assessment.attrs = {
        "title": layers.attrs.get("title", ""),
        "profile_title": profile.title,
        "factors": [factor.name for factor in profile.factors],
        "pressures": [pressure.name for pressure in profile.pressures],
    }
    if "invented" in layers.attrs:
        assessment.attrs["invented"] = layers.attrs["invented"]
    return assessment


def refuse_unfit(layers: xr.Dataset, profile: Profile) -> None:
    """Nothing, or the error that `assess` raises where layers are not what the profile can be scored on."""
    if "surface" not in layers or layers["surface"].dims != ("y", "x"):
        raise ValueError("layers must hold `surface` with dimensions (y, x), which says what is water.")
    for name in profile.layers_needed:
        if name not in layers:
            continue
        layer, quantity = layers[name], LAYERS[name]
        if layer.dims not in (("y", "x"), ("season", "y", "x")):
            raise ValueError(f"{name} has dimensions {layer.dims}; a layer has (y, x) or (season, y, x).")
        if layer.attrs.get("units", quantity.units) != quantity.units:
            raise ValueError(f'{name} is in "{layer.attrs["units"]}"; its unit is "{quantity.units}".')
        if quantity.saturates and float(layer.attrs.get("reach", "inf")) < profile.reach_of(name):
            raise ValueError(
                f"{name} saturates at {float(layer.attrs['reach']):g} m, but the profile looks as far as "
                f"{profile.reach_of(name):g} m. Make the layer with the profile's reach."
            )


def _scores(surface, used, profile, workers) -> dict[str, xr.Variable]:
    from habitat.cells import score_cells

    values = {name: layer.to_numpy().reshape(-1, surface.size) for name, layer in used.items()}
    codes = surface.to_numpy().ravel()
    scores = score_cells(values, codes, profile, seasons=_seasons(used) or 1, workers=workers)
    return _variables(scores, surface.shape, used, profile)


def _variables(rows: Mapping[str, np.ndarray], shape: tuple[int, int], used, profile) -> dict[str, xr.Variable]:
    has_season = _has_season(rows, used, profile)
    return {
        name: xr.Variable(("season", "y", "x"), cells.reshape(-1, *shape))
        if has_season[name]
        else xr.Variable(("y", "x"), cells.reshape(shape))
        for name, cells in rows.items()
    }


def _scores_of_blocks(surface, used, profile) -> dict[str, xr.Variable]:
    """The scores as dask arrays, each block scored once by the same kernels when it is asked for."""
    from habitat.cells import score_cells

    seasons = _seasons(used)
    nothing = {name: np.empty((layer.sizes.get("season", 1), 0)) for name, layer in used.items()}
    pattern = score_cells(nothing, np.empty(0, np.uint8), profile, seasons=seasons or 1, workers=1)
    has_season = _has_season(pattern, used, profile)

    def of_block(codes, *arrays):  # season comes last in a block
        rows = (np.moveaxis(array, -1, 0) if array.ndim == 3 else array for array in arrays)
        values = {name: array.reshape(-1, codes.size) for name, array in zip(used, rows, strict=True)}
        scores = score_cells(values, codes.ravel(), profile, seasons=seasons or 1, workers=1)
        return tuple(
            np.moveaxis(part.reshape(-1, *codes.shape), 0, -1) if has_season[name] else part.reshape(codes.shape)
            for name, part in scores.items()
        )

    whole = [
        layer.variable.chunk({"season": -1}) if "season" in layer.dims else layer.variable for layer in used.values()
    ]
    results = xr.apply_ufunc(
        of_block,
        surface.variable,
        *whole,
        input_core_dims=[[], *(["season"] if "season" in layer.dims else [] for layer in used.values())],
        output_core_dims=[["season"] if has_season[name] else [] for name in pattern],
        dask="parallelized",
        output_dtypes=[part.dtype for part in pattern.values()],
        dask_gufunc_kwargs={"output_sizes": {"season": seasons}} if seasons else {},
    )
    return {
        name: scores.transpose("season", "y", "x") if has_season[name] else scores
        for name, scores in zip(pattern, results, strict=True)
    }


def _seasons(used) -> int:
    """Number of seasons, 0 where no layer has any."""
    return next((layer.sizes["season"] for layer in used.values() if "season" in layer.dims), 0)


def _has_season(names, used, profile: Profile) -> dict[str, bool]:
    """Which results have a season: the composites if any layer has, a part if its own layer has."""
    seasonal = {name for name, layer in used.items() if "season" in layer.dims}
    parts = {name: _part(name, profile) for name in names}
    return {name: bool(seasonal) if part is None else part.layer in seasonal for name, part in parts.items()}


def _part(name: str, profile: Profile) -> Factor | Pressure | None:
    kind, _, short = name.partition("_")
    parts = {"index": profile.factors, "exposure": profile.pressures}.get(kind, ())
    return next((part for part in parts if part.name == short), None)


def _attributes(layer: xr.DataArray, used, profile: Profile) -> dict[str, object]:
    """What `describe` says of a result, with how it was made and whatever its layers carry."""
    name, part = layer.name, _part(layer.name, profile)
    if part is not None:
        make = result.index_quantity if isinstance(part, Factor) else result.exposure_quantity
        return _described(layer, make(part.name, part.layer), part.source, [part], used)
    factors, pressures = profile.factors, profile.pressures
    rule = f"{profile.rule} of {len(factors)} factors, at most {profile.may_lack} missing"
    quantity, method, parts = {
        "suitability": (result.SUITABILITY, rule, factors),
        "threat": (result.THREAT, f"1 - prod(1 - weight x exposure) of {len(pressures)} pressures", pressures),
        "suitability_class": (result.SUITABILITY_CLASS, f"breaks {list(profile.suitability_breaks)}", factors),
        "threat_class": (result.THREAT_CLASS, f"breaks {list(profile.threat_breaks)}", pressures),
        "concern": (result.CONCERN, "both classes read together", (*factors, *pressures)),
        "limiting_factor": (
            result.limiting_factor(tuple(factor.name for factor in factors)),
            "factor of the lowest index, of equals the first in the profile's order",
            factors,
        ),
        "missing_factors": (result.MISSING_FACTORS, "count of factors without data", factors),
        "missing_pressures": (result.MISSING_PRESSURES, "count of pressures without data", pressures),
    }[name]
    return _described(layer, quantity, method, parts, used)


def _described(layer: xr.DataArray, quantity: Quantity, method: str, parts, used) -> dict[str, object]:
    origins = [used[part.layer].attrs for part in parts if part.layer in used]
    carried = {
        key: joined(word for origin in origins for word in origin.get(key, "").split("; "))
        for key in CARRIED
        if key != "method"
    }
    return describe(layer, quantity, method=method, **carried).attrs
