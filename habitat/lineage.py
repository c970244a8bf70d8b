"""Where a layer comes from: the function that made it, the numbers and files it took, and the layers before it."""

from __future__ import annotations

import difflib
import textwrap
from dataclasses import dataclass
from typing import TYPE_CHECKING

from layers.fault import Fault, RecordError
from layers.quantity import LAYERS
from layers.recipe import RECIPES

if TYPE_CHECKING:
    from habitat.site_map import SiteMap

WIDTH = 118


@dataclass(frozen=True, kw_only=True)
class Ancestor:
    """One layer on the way from files to a layer."""

    name: str
    label: str
    units: str
    seasons: tuple[str, ...]
    function: str  # as it is imported
    method: str
    numbers: tuple[str, ...]  # of the site file and the profile, each with unit and source
    files: tuple[tuple[str, str, str], ...]  # name, source and SHA-256 of each file asked for directly
    made_from: tuple[str, ...]  # names of layers
    generation: int  # 0 for the layer asked for


def lineage(found: SiteMap, layer: str) -> list[Ancestor]:
    """The layer and all it is made from, each once, nearest first.

    Raises
    ------
    RecordError
        If there is no such layer, or the site's files cannot give it.
    """
    refuse_absent(found, layer)
    told: dict[str, Ancestor] = {}
    waiting = [(layer, 0)]
    while waiting:
        name, generation = waiting.pop(0)
        if name not in told and found.derivation.layer(name) is not None:
            told[name] = _ancestor(found, name, generation)
            waiting += [(before, generation + 1) for before in told[name].made_from]
    return list(told.values())


def refuse_absent(found: SiteMap, layer: str) -> None:
    """Nothing, or the error of `lineage`: the layer is not known, or cannot be made of what there is."""
    if layer not in RECIPES:
        near = difflib.get_close_matches(layer, RECIPES, 1)
        remedy = f'Did you mean "{near[0]}"?' if near else f"Layers: {', '.join(RECIPES)}."
        raise RecordError("command line", [Fault("--layer", f'there is no layer "{layer}".', remedy)])
    if LAYERS[layer].saturates and layer not in found.derivation.settings.reach:
        said = f"the profile does not use {layer}, so nothing says how far it reaches."
        remedy = "Name a profile that uses it with --profile, or add it to this one."
        raise RecordError("command line", [Fault("--layer", said, remedy)])
    if found.derivation.layer(layer) is None:
        feeds = RECIPES[layer].feeds
        if any(found.inputs.having(feed) for feed in feeds):
            remedy = "Its file is there, so something else is not: look for a tide, a number with its source, a season."
        else:
            remedy = f"Add a file that feeds {' or '.join(feeds)}, and the numbers it needs."
        raise RecordError("command line", [Fault("--layer", f"the site cannot give {layer}.", remedy)])


def lineage_text(found: SiteMap, layer: str) -> str:
    """The recipe of a layer, as plain text."""
    paragraphs = []
    for ancestor in lineage(found, layer):
        unit = "" if ancestor.units == "1" else f" [{ancestor.units}]"
        seasons = f", by season ({', '.join(ancestor.seasons)})" if ancestor.seasons else ""
        lines = [f"{ancestor.name}: {ancestor.label}{unit}{seasons}"]
        lines += _wrapped("made by", ancestor.function)
        lines += _wrapped("how", ancestor.method)
        for number in ancestor.numbers:
            lines += _wrapped("number", number)
        for file, source, digest in ancestor.files:
            lines += _wrapped("file", f"{file} (SHA-256 {digest[:16]}...; {source})")
        if ancestor.made_from:
            lines += _wrapped("from", ", ".join(ancestor.made_from))
        paragraphs.append("\n".join(lines))
    return "\n\n".join(paragraphs)


def _wrapped(word: str, text: str) -> list[str]:
    return textwrap.wrap(text, WIDTH, initial_indent=f"  {word:<8} ", subsequent_indent=" " * 11)


def _ancestor(found: SiteMap, name: str, generation: int) -> Ancestor:
    layer, trace = found.derivation.layer(name), found.derivation.trace(name)
    inputs = found.inputs
    used = layer.attrs.get("files", "").split("; ")
    entries = [entry for entry in inputs.site.files if entry.feeds in trace.feeds and entry.path.name in used]
    files = {entry.path.name: (entry.path.name, entry.source, inputs.digests[entry.name]) for entry in entries}
    return Ancestor(
        name=name,
        label=LAYERS[name].label,
        units=LAYERS[name].units,
        seasons=tuple(str(season) for season in layer["season"].values) if "season" in layer.dims else (),
        function=layer.attrs["function"],
        method=layer.attrs["method"],
        numbers=tuple(f"{key} = {shown}" for key, shown in sorted(trace.numbers.items())),
        files=tuple(files.values()),
        made_from=tuple(made for made in RECIPES if made in trace.layers),
        generation=generation,
    )
