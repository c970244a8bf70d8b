"""Layers at the ends of what is in doubt: a standard error up and down, a published range low and high.

The layers that depend on an amount are made again once at its low and once at its high end, by the same recipes as
the site itself, and a draw goes straight from what was taken towards one end. That is exact where a layer is
linear in the amount, such as the concentration of a load; what follows from it by a curve of its own (the forage
that the light leaves) is right at the three points and near it between them.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from typing import TYPE_CHECKING

import numpy as np

from layers.derivation import Derivation
from layers.quantity import LAYERS

if TYPE_CHECKING:
    import xarray as xr

    from layers.inputs import Inputs
    from layers.recipes.loads import OutletLoads

SIDES = ("low", "high")
_LOADS = ("nitrogen", "phosphorus", "sediment")
_ERROR = "_error"
# what stands for a layer whose error is stated as that of another: its sign beside it
_OF_BED = ("water_depth", "bed_elevation_error", -1.0)


@dataclass(frozen=True, kw_only=True)
class Ends:
    """The layers that one doubt moves, at both ends of it; those it does not move are absent."""

    kind: str  # "layer" (one standard error down and up) or "amount" (low and high end of the published range)
    name: str
    label: str
    units: str
    source: str
    low: Mapping[str, xr.DataArray] = field(repr=False)
    high: Mapping[str, xr.DataArray] = field(repr=False)

    @property
    def layers(self) -> tuple[str, ...]:
        """Names of the layers it moves."""
        return tuple(dict.fromkeys((*self.low, *self.high)))


def site_ends(
    layers: xr.Dataset, made: Derivation, wanted: tuple[str, ...], *, workers: int | None = None
) -> dict[str, Ends]:
    """Everything that the files of a site say is in doubt, under its key: errors and published ranges.

    Parameters
    ----------
    layers : Dataset
        Of the site, or of the site with proposals in place.
    made : Derivation
        That made them.
    wanted : names of layers
        Those the profile looks at.
    workers : int, optional
        Threads; the result does not depend on it.
    """
    plans = {**_measurements(made, wanted), **_amounts(made)}
    return {**error_ends(layers, wanted), **_made_at(plans, made, wanted, workers)}


def error_ends(layers: xr.Dataset, wanted: tuple[str, ...]) -> dict[str, Ends]:
    """Ends of the layers in `wanted` that come with a standard error, and of the depth if the bed does.

    Parameters
    ----------
    layers : Dataset
        A layer `<name>_error` holds the standard error of `<name>`, NaN where none is known: there it is exact.
    wanted : names of layers

    Returns
    -------
    dict of str to Ends
        Under "layer <name>". The error of the bed moves `water_depth` alone: the share of time within feeding depths
        is left as it is.
    """
    found = {}
    pairs = [(name, f"{name}{_ERROR}", 1.0) for name in wanted if f"{name}{_ERROR}" in layers]
    if _OF_BED[0] in wanted and _OF_BED[1] in layers and f"water_depth{_ERROR}" not in layers:
        pairs.append(_OF_BED)
    for name, error, sign in pairs:
        if name not in layers:
            continue
        layer, spread = layers[name], np.nan_to_num(layers[error]) * sign
        held = layers[error].copy(data=spread)
        low, high = ((layer + side * held).transpose(*_dimensions(layer, held)).astype(np.float32) for side in (-1, 1))
        found[f"layer {name}"] = _error_of(name, error, low={name: low}, high={name: high})
    return found


def amount_ends(made: Derivation, wanted: tuple[str, ...], *, workers: int | None = None) -> dict[str, Ends]:
    """Ends of the losses of dredges and of the loads of the land, where their published range is known.

    Parameters
    ----------
    made : Derivation
        Of the site, or of the site with proposals in place.
    wanted : names of layers
        Those that are to be made at both ends.
    workers : int, optional
        Threads; the result does not depend on it.

    Returns
    -------
    dict of str to Ends
        Under "amount dredge losses" and "amount land loads", where some layer of `wanted` depends on them. All works
        lose their least at once, or their most; so do all covers of the land: the widest that the ranges allow. An
        end that was not published is what was taken.
    """
    return _made_at(_amounts(made), made, wanted, workers)


def measured_ends(made: Derivation, wanted: tuple[str, ...], *, workers: int | None = None) -> dict[str, Ends]:
    """Ends of what is measured in the water and reaches the layers of `wanted` by way of others, such as the light.

    One standard error down and up, the layers made again from there. Measured layers that are in `wanted` themselves
    are left to `error_ends`.
    """
    return _made_at(_measurements(made, wanted), made, wanted, workers)


@dataclass(frozen=True, kw_only=True)
class _Otherwise:
    """What a derivation is given otherwise at one end: files, and nodes that hold something else."""

    inputs: Inputs
    feeds: frozenset[str]
    nodes: Mapping[object, object]


def _made_at(
    plans: Mapping[str, tuple[Ends, list[_Otherwise | None]]], made: Derivation, wanted: tuple[str, ...], workers
) -> dict[str, Ends]:
    """The layers at both ends of each plan, made several at a time: what the ends share is only read."""
    from layers.threads import results_in_order

    every = [side for _, sides in plans.values() for side in sides]
    layers = list(results_in_order(lambda side: _again(made, side, wanted), every, workers=workers))
    found = {
        key: replace(blank, low=layers[2 * number], high=layers[2 * number + 1])
        for number, (key, (blank, _)) in enumerate(plans.items())
    }
    return {key: ends for key, ends in found.items() if ends.layers}


def _again(made: Derivation, side: _Otherwise | None, wanted: tuple[str, ...]) -> dict[str, xr.DataArray]:
    """The layers of `wanted` that come out differently at one end."""
    if side is None:
        return {}
    again = made.after(side.inputs, side.feeds)
    for key, value in side.nodes.items():
        again.once(key, lambda _, value=value: value)
    for name in wanted:
        again.layer(name)
    return {name: again.made[name] for name in again.made_again if name in wanted}


def _amounts(made: Derivation) -> dict[str, tuple[Ends, list[_Otherwise | None]]]:
    plans = {}
    losses = [_at_loss(made, side) for side in range(2)]
    if any(side is not None for side in losses):
        blank = Ends(
            kind="amount",
            name="dredge losses",
            label="the share of fines that dredges lose",
            units="1",
            source="published loss fractions of each equipment",
            low={},
            high={},
        )
        plans["amount dredge losses"] = blank, losses
    if made.entries("land_cover"):
        blank = Ends(
            kind="amount",
            name="land loads",
            label="what the land sends to the water",
            units="kg/year",
            source="published ranges of export coefficients and concentrations",
            low={},
            high={},
        )
        plans["amount land loads"] = blank, [_at_load(made, side) for side in SIDES]
    return plans


def _measurements(made: Derivation, wanted: tuple[str, ...]) -> dict[str, tuple[Ends, list[_Otherwise | None]]]:
    from layers.recipes.fields import Measured

    plans = {}
    for error in [name for name in made.made if name.endswith(_ERROR)]:
        name = error.removesuffix(_ERROR)
        if name in wanted or name == "bed_elevation" or name not in made.made:
            continue
        layer, spread = made.layer(name), made.layer(error)
        sides = []
        for sign in (-1, 1):
            values = (layer + sign * spread.fillna(0)).transpose(*layer.dims).astype(np.float32).to_numpy()
            moved = Measured(field=layer.copy(data=np.maximum(values, 0)), error=spread)
            nodes = {("measured", name): moved}
            sides.append(_Otherwise(inputs=made.inputs, feeds=frozenset({name}), nodes=nodes))
        plans[f"layer {name}"] = _error_of(name, error, low={}, high={}), sides
    return plans


def _error_of(name: str, error: str, *, low, high) -> Ends:
    return Ends(
        kind="layer",
        name=name,
        label=f"the {LAYERS[name].label}",
        units=LAYERS[name].units,
        source=f"the standard error of the layer ({error})",
        low=low,
        high=high,
    )


def _dimensions(layer: xr.DataArray, spread: xr.DataArray) -> tuple[str, ...]:
    return ("season", "y", "x") if "season" in (*layer.dims, *spread.dims) else ("y", "x")


def _at_loss(made: Derivation, side: int) -> _Otherwise | None:
    """Every dredge work at the low (0) or high (1) end of its loss; None where no end is known."""
    from layers.dredge_work import works_of

    features, is_known = dict(made.inputs.features), False
    for entry in made.entries("dredge_work"):
        table = features[entry.name].copy()
        works = works_of(table, entry, made.site, [])
        ends = [work.loss[2 * side] for work in works]
        is_known = is_known or any(end is not None for end in ends)
        table["loss_share"] = [
            work.loss[1] if end is None else float(end) for work, end in zip(works, ends, strict=True)
        ]
        table["loss_src"] = "end of the published range"
        features[entry.name] = table
    if not is_known:
        return None
    return _Otherwise(inputs=replace(made.inputs, features=features), feeds=frozenset({"dredge_work"}), nodes={})


def _at_load(made: Derivation, side: str) -> _Otherwise:
    """What the land sends at one end."""
    from layers.recipes.loads import outlet_loads

    nodes = {}
    for substance in _LOADS:
        taken = outlet_loads(made, substance)
        nodes[("loads", substance)] = {
            season: _load_at(made, loads, substance, season, side) for season, loads in taken.items()
        }
    feeds = frozenset(f"{substance}_load" for substance in _LOADS)
    return _Otherwise(inputs=made.inputs, feeds=feeds, nodes=nodes)


def _load_at(made: Derivation, loads: OutletLoads, substance: str, season: str | None, side: str) -> OutletLoads:
    """Loads with those of the land at one end; what comes from files of outlets, and unpublished ends, as they were."""
    from layers.recipes.loads import catchment_result, median_load

    outlets = catchment_result(made).load.outlets
    middle = median_load(outlets, substance, season)
    words = [substance, season or "", side, "kg_per_year"]
    end = outlets["_".join(word for word in words if word)].fillna(middle)[middle.notna()].to_numpy(float)
    amounts = loads.kilograms_a_year.copy()
    amounts[len(amounts) - len(end) :] = end  # the outlets of the land come last
    return replace(loads, kilograms_a_year=amounts)
