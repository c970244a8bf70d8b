"""Variants of a proposal: moved, in another season, dug by other equipment, or smaller; and proposals that are drawn.

A variant is checked as a whole, as a file would be: nothing that could not be proposed is ever shown.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

import geopandas as gpd
import shapely

from habitat.proposal import Feature, Proposal, moved, proposal_of_features, with_changes
from habitat.proposal_kinds import KINDS
from layers.inputs import Inputs

# what shrinks with the share of a proposal that is built
AMOUNTS = ("volume_m3", "n_kg_year", "p_kg_year", "s_kg_year", "berths", "trips_day")
ALL_YEAR = "all the year"
_STEPS = 40  # halvings of the depth by which an area is drawn in


@dataclass(frozen=True, kw_only=True)
class Variation:
    """What is done otherwise; the defaults leave all as it is."""

    east: float = 0.0  # [m]
    north: float = 0.0  # [m]
    season: str = ""  # a season of the site, or ALL_YEAR; empty leaves it
    equipment: str = ""  # empty leaves it
    share: float = 1.0  # of every area and amount, above 0 [1]


def varied(proposal: Proposal, variation: Variation, inputs: Inputs) -> Proposal:
    """The proposal with a variation, under a name that says which.

    Season and equipment change in features whose kind has them. With a share below 1 each area is drawn in from its
    edges until that share of it is left, and volumes, loads, berths and trips shrink alike; lines and points stay.

    Raises
    ------
    ValueError
        If nothing would change, or the share is not above 0 and at most 1.
    ProposalError
        If what comes out could not be proposed, such as an outfall on land.
    """
    if not 0 < variation.share <= 1:
        raise ValueError(f"share of the size: found {variation.share:g}. Give a share above 0, at most 1.")
    features = [_varied(feature, variation) for feature in proposal.features]
    if features == list(proposal.features):
        raise ValueError("this variant is the proposal as it is. Move it, or choose another season, equipment or size.")
    rows = [({"kind": one.kind, **one.attributes}, one.shape) for one in features]
    name = f"{proposal.name}, {variation_words(variation)}"
    return proposal_of_features(name, table_of(rows, inputs), inputs)


def variation_words(variation: Variation) -> str:
    """The variation in a few words.

    Examples
    --------
    >>> variation_words(Variation(east=-500, north=200, share=0.5))
    '500 m west, 200 m north, 50% of the size'
    """
    words = []
    for metres, ahead, back in ((variation.east, "east", "west"), (variation.north, "north", "south")):
        if metres:
            words.append(f"{abs(metres):,g} m {ahead if metres > 0 else back}")
    if variation.season:
        words.append(variation.season if variation.season == ALL_YEAR else f"in the {variation.season} season")
    if variation.equipment:
        words.append(variation.equipment)
    if variation.share < 1:
        words.append(f"{100 * variation.share:g}% of the size")
    return ", ".join(words)


def table_of(rows: Sequence[tuple[Mapping[str, object], shapely.Geometry]], inputs: Inputs) -> gpd.GeoDataFrame:
    """Features as a table in the grid's projection: what is said of each, and its shape."""
    columns = dict.fromkeys(column for said, _ in rows for column in said)
    held = {column: [said.get(column) for said, _ in rows] for column in columns}
    return gpd.GeoDataFrame(held, geometry=[shape for _, shape in rows], crs=inputs.site.grid.crs)


def drawn_in(shape: shapely.Geometry, share: float) -> shapely.Geometry:
    """An area drawn in from its edges until a share of it is left; lines and points as they are.

    Examples
    --------
    >>> half = drawn_in(shapely.box(0, 0, 100, 10), 0.5)
    >>> round(half.area, 3), round(half.bounds[2] - half.bounds[0]) > 90
    (500.0, True)
    """
    if share >= 1 or not shape.area > 0:
        return shape
    least, most = 0.0, float(shape.area**0.5)  # no area is wider than that everywhere
    for _ in range(_STEPS):
        middle = (least + most) / 2
        too_little = shape.buffer(-middle, join_style="mitre").area < share * shape.area
        least, most = (least, middle) if too_little else (middle, most)
    return shape.buffer(-least, join_style="mitre")


def _varied(feature: Feature, variation: Variation) -> Feature:
    kind = KINDS[feature.kind]
    own = {attribute.column for attribute in kind.attributes}
    changes: dict[str, object] = {}
    if variation.season and "season" in own:
        changes["season"] = None if variation.season == ALL_YEAR else variation.season
    if variation.equipment and "equipment" in own and feature.get("equipment") != variation.equipment:
        # a loss that was found for the one equipment is not that of another
        changes |= {"equipment": variation.equipment, "loss_share": None, "loss_src": None}
    if variation.share < 1:
        amounts = {column: feature.get(column) for column in AMOUNTS if column in own}
        changes |= {column: value * variation.share for column, value in amounts.items() if value is not None}
        feature = replace(feature, shape=drawn_in(feature.shape, variation.share))
    if variation.east or variation.north:
        feature = moved(feature, variation.east, variation.north)
    return with_changes(feature, **changes) if changes else feature
