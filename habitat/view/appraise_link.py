"""The view of an appraisal in the address of its page, so that another sees the same.

A proposal is named only where it lies in the folder of the site; one that was drawn or uploaded is in no link, nor is
any place.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import fields
from pathlib import Path
from urllib.parse import urlencode

from habitat.proposal_file import ARCHIVES, IN_ARCHIVES
from habitat.variant import Variation
from habitat.view.bench import UNVARIED, Bench
from habitat.view.session import View
from layers.site import Site

PROPOSAL, VARIED = "proposal", "variant_"
FOLDER = "proposals"  # of the site


def site_proposals(site: Site) -> dict[str, Path]:
    """Files of proposals that lie with a site, by name: those in its folder `proposals`, and vector files beside the
    site file that are none of its layers."""
    place = site.path.parent
    own = {entry.path.resolve() for entry in site.files}
    found = sorted([*(place / FOLDER).glob("*"), *place.glob("*")], key=lambda path: path.name)
    return {
        path.name: path
        for path in found
        if path.is_file() and path.suffix.lower() in {*ARCHIVES, *IN_ARCHIVES} and path.resolve() not in own
    }


def query_of_appraisal(view: View, bench: Bench) -> dict[str, object]:
    """The query that brings back season, map, proposal and variant; None for what the address is to drop."""
    known = bench.lies_with_site and bench.first is not None
    # what is planted is in no link, so neither is the variant that it stands beside
    variation = bench.trial.variation if known and not bench.trial.planted else UNVARIED
    query: dict[str, object] = {
        "season": view.season,
        "layer": view.shown,
        PROPOSAL: bench.first.name if known else None,
    }
    for one in fields(Variation):
        value = getattr(variation, one.name)
        query[f"{VARIED}{one.name}"] = None if value == one.default else value
    return query


def search_of(present: Mapping[str, object], query: Mapping[str, object]) -> str:
    """The part of an address behind its path: what stands there already, with `query` in its place.

    Examples
    --------
    >>> search_of({"profile": "a", "season": "dry"}, {"season": "wet", "proposal": None})
    '?profile=a&season=wet'
    """
    held = {key: value for key, value in {**present, **query}.items() if value is not None}
    return f"?{urlencode(held)}" if held else ""


def wish_of_query(query: Mapping[str, object]) -> tuple[str, Variation]:
    """Name of the proposal and the variation that a query asks for; what it says wrongly is left as it is.

    Examples
    --------
    >>> name, wish = wish_of_query({"proposal": "marina.gpkg", "variant_east": 300, "variant_share": "much"})
    >>> name, wish.east, wish.share
    ('marina.gpkg', 300.0, 1.0)
    """
    held = {}
    for one in fields(Variation):
        value = query.get(f"{VARIED}{one.name}", one.default)
        if isinstance(one.default, float):
            is_number = isinstance(value, int | float) and math.isfinite(value)
            held[one.name] = float(value) if is_number else one.default
        else:
            held[one.name] = type(one.default)(value)
    return str(query.get(PROPOSAL, "")), Variation(**held)
