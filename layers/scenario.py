"""A site with changes applied: what a proposal adds to its files, and the layers that this alone makes again."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

from layers.feeds import FEEDS
from layers.inputs import Inputs

if TYPE_CHECKING:
    import geopandas as gpd

    from layers.derivation import Derivation
    from layers.site import FileEntry


@dataclass(frozen=True, kw_only=True)
class Addition:
    """Features that a proposal adds to a site, as if a file of the site held them."""

    entry: FileEntry  # what they feed, and where they come from
    features: gpd.GeoDataFrame  # in the grid's projection; `value` in the unit of the feed


def with_additions(inputs: Inputs, additions: Sequence[Addition], digests: dict[str, str]) -> Inputs:
    """`inputs` with the features of a proposal among its files.

    Parameters
    ----------
    additions : sequence of Addition
        Their entries have names that no file of the site has.
    digests : dict of str
        SHA-256 of the file that each entry comes from, under the entry's name.

    Raises
    ------
    ValueError
        If a name is taken, or something is fed that features cannot feed.
    """
    taken = {entry.name for entry in inputs.site.files}
    for addition in additions:
        entry = addition.entry
        if entry.name in taken:
            raise ValueError(f'"{entry.name}" is the name of a file of the site already. Give it another.')
        if not {"points", "lines", "polygons"} & set(FEEDS[entry.feeds].forms):
            raise ValueError(f"features cannot feed {entry.feeds}. Feed it by a file of the site.")
        taken.add(entry.name)
    site = replace(inputs.site, files=(*inputs.site.files, *(addition.entry for addition in additions)))
    features = {**inputs.features, **{addition.entry.name: addition.features for addition in additions}}
    return replace(inputs, site=site, features=features, digests={**inputs.digests, **digests})


def derive_after(before: Derivation, additions: Sequence[Addition], digests: dict[str, str]) -> Derivation:
    """The layers of `before` with the additions in place, bit for bit what a full run gives.

    Only what depends on the files added to is made again: a layer notes every feed it asked for, also in vain, and one
    whose feeds are untouched is what it was.
    """
    inputs = with_additions(before.inputs, additions, digests)
    after = before.after(inputs, frozenset(addition.entry.feeds for addition in additions))
    # also what the site could not give before and can give now
    wanted = ("surface", *before.settings.wanted, *before.made)
    for name in wanted:
        after.layer(name)
    for name in list(after.made):
        if f"{name}_error" in after.recipes:
            after.layer(f"{name}_error")
    return after
