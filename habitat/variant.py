"""Variants of a proposal, each with its place in the order avoid, minimise, restore, offset; and drawn proposals.

A variant is checked as a whole, as a file would be: nothing that could not be proposed is ever shown.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import geopandas as gpd
import numpy as np
import shapely

from habitat.proposal import Feature, Proposal, moved, proposal_of_features, with_changes
from habitat.proposal_footing import depth_for_share
from habitat.proposal_kinds import KINDS
from layers.inputs import Inputs

if TYPE_CHECKING:
    import pandas as pd

    from habitat.appraisal_account import Account

# the order in which harm is met, the surest first: common practice, no single source
AVOID, MINIMISE, RESTORE, OFFSET = MITIGATION = ("avoid", "minimise", "restore", "offset")
GOOD = "good habitat"
# what shrinks with the share of a proposal that is built
AMOUNTS = ("volume_m3", "n_kg_year", "p_kg_year", "s_kg_year", "berths", "trips_day")
ALL_YEAR = "all the year"
_STEPS = 40  # halvings of the depth by which an area is drawn in


@dataclass(frozen=True, kw_only=True)
class Variation:
    """What is done otherwise; the defaults leave all as it is. Numbers and words only, so that an address holds it."""

    east: float = 0.0  # [m]
    north: float = 0.0  # [m]
    season: str = ""  # a season of the site, or ALL_YEAR; empty leaves it
    equipment: str = ""  # empty leaves it
    share: float = 1.0  # of every area and amount, above 0 [1]
    volume: float = 1.0  # share of the volume dug: the same ground, dug less deep [1]
    measure: str = ""  # against the loss of a dredge, such as a silt curtain; stands in for one stated before
    left_share: float = 1.0  # of the loss, that the measure leaves [1]
    left_src: str = ""  # who found left_share; none ships, as few studies show how well curtains work
    without: str = ""  # labels of features that are left out, with semicolons between them


def shifted(distance: float, bearing: float) -> Variation:
    """The variation that moves a proposal so far in a direction, to the decimetre.

    Parameters
    ----------
    distance : float
        0 or more. [m]
    bearing : float
        Clockwise from the north of the grid: 90 is east. [degree]

    Examples
    --------
    >>> variation_words(shifted(500, 270)), variation_words(shifted(100, 45))
    ('500 m west', '70.7 m east, 70.7 m north')
    """
    angle = np.radians(bearing)
    # adding 0 makes a zero of a negative zero
    return Variation(
        east=round(float(distance * np.sin(angle)), 1) + 0.0, north=round(float(distance * np.cos(angle)), 1) + 0.0
    )


def season_of_months(months: Sequence[int], inputs: Inputs) -> str:
    """The season of the site that holds all these months: maps are by season, so work is shown in a whole one.

    Raises
    ------
    ValueError
        If no season holds them all.
    """
    for season, its_months in inputs.site.seasons.items():
        if months and set(months) <= set(its_months):
            return season
    known = "; ".join(f"{season}: {', '.join(map(str, held))}" for season, held in inputs.site.seasons.items())
    asked = ", ".join(map(str, months)) or "none"
    raise ValueError(f"months {asked}: no season of the site holds them all. Choose within one of: {known or 'none'}.")


def varied(proposal: Proposal, variation: Variation, inputs: Inputs, *, planted: Sequence[Feature] = ()) -> Proposal:
    """The proposal with a variation, under a name that says which and with its `steps` of mitigation.

    Season, equipment and measure change in features whose kind has them. With a share below 1 each area is drawn in
    from its edges until that share of it is left, and volumes, loads, berths and trips shrink alike; lines and points
    stay. With a share of the volume the ground stays and is dug less deep, as far as the bed of the site says.

    Parameters
    ----------
    planted : sequence of Feature
        Seagrass or mangrove planted besides, in the grid's projection; it is not moved with the rest.

    Raises
    ------
    ValueError
        If nothing would change or nothing be left, a share is not above 0 and at most 1, a feature that is to be left
        out is not there, what is planted is no plant, or a volume is to change where the site has no raster of its bed.
    ProposalError
        If what comes out could not be proposed, such as an outfall on land, or a measure without its source.
    """
    for name, share in (("size", variation.share), ("volume", variation.volume)):
        if not 0 < share <= 1:
            raise ValueError(f"share of the {name}: found {share:g}. Give a share above 0, at most 1.")
    for feature in planted:
        if not feature.kind.endswith(" planted"):
            raise ValueError(f"{feature.title} is not planted. Give seagrass planted or mangrove planted.")
    features = [_varied(feature, variation, inputs) for feature in _kept(proposal, variation.without)]
    if features == list(proposal.features) and not planted:
        raise ValueError("this variant is the proposal as it is. Move it, or choose another season, equipment or size.")
    rows = [({"kind": one.kind, **one.attributes}, one.shape) for one in (*features, *planted)]
    name = f"{proposal.name}, {_words(variation, planted)}"
    made = proposal_of_features(name, table_of(rows, inputs), inputs)
    return replace(made, steps=mitigation_steps(variation, proposal, planted))


def mitigation_steps(
    variation: Variation, proposal: Proposal | None = None, planted: Sequence[Feature] = ()
) -> tuple[str, ...]:
    """Which of `MITIGATION` a variation takes, in that order.

    Another place or season, or leaving a feature out, avoids. Other equipment, a measure, a smaller size or volume
    minimises. Planting restores where it touches what the proposal itself builds or clears, and offsets elsewhere.

    Examples
    --------
    >>> mitigation_steps(Variation(east=300, share=0.5)), mitigation_steps(Variation())
    (('avoid', 'minimise'), ())
    """
    own = [] if proposal is None else [feature.shape for feature in proposal.features]
    at_home = [any(one.shape.intersects(shape) for shape in own) for one in planted]
    taken = {
        AVOID: variation.east or variation.north or variation.season or variation.without,
        MINIMISE: variation.equipment or variation.measure or min(variation.share, variation.volume) < 1,
        RESTORE: any(at_home),
        OFFSET: not all(at_home),
    }
    return tuple(step for step in MITIGATION if taken[step])


def variation_words(variation: Variation) -> str:
    """The variation in a few words.

    Examples
    --------
    >>> variation_words(Variation(east=-500, north=200, share=0.5))
    '500 m west, 200 m north, 50% of the size'
    >>> variation_words(Variation(measure="silt curtain", left_share=0.6, without="outfall 1"))
    'silt curtain that leaves 60% of the loss, without outfall 1'
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
    if variation.volume < 1:
        words.append(f"{100 * variation.volume:g}% of the volume")
    if variation.measure:
        words.append(f"{variation.measure} that leaves {100 * variation.left_share:g}% of the loss")
    if variation.without:
        words.append(f"without {' and '.join(_labels(variation.without))}")
    return ", ".join(words)


def variants_table(accounts: Sequence[Account], season: str | None = None) -> pd.DataFrame:
    """A proposal and its variants side by side, in the order given; the first of each account's proposals names it.

    Parameters
    ----------
    season : str, optional
        Only this season; without it all of them, season after season within each variant.

    Returns
    -------
    DataFrame
        Columns variant, steps (of mitigation, in words; "" for what was given), season ("" without seasons),
        units_change, spared_change (habitat units, and what threat leaves of them [ha]), good_change (hectares of good
        habitat), not_met, unknown (numbers of conditions; of the whole year).
    """
    import pandas as pd

    rows = []
    for account in accounts:
        first = account.appraisal.proposals[0]
        judged = [finding.met for finding in account.conditions if finding.form != "told"]
        for row in account.units.itertuples():
            if season is not None and row.season not in (season, ""):
                continue
            classes = account.classes[account.classes["season"] == row.season]
            good = classes.loc[classes["class"] == GOOD, "hectares_change"].sum()
            numbers = (row.units_change, row.spared_change, good, judged.count(False), judged.count(None))
            rows.append((first.name, ", ".join(first.steps), row.season, *numbers))
    changes = ["units_change", "spared_change", "good_change"]
    return pd.DataFrame(rows, columns=["variant", "steps", "season", *changes, "not_met", "unknown"])


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


def _labels(without: str) -> list[str]:
    return [label.strip() for label in without.split(";") if label.strip()]


def _words(variation: Variation, planted: Sequence[Feature]) -> str:
    words = [variation_words(variation)] if variation_words(variation) else []
    return ", ".join([*words, *(f"{100 * one.get('share', 1):g}% {one.kind}" for one in planted)])


def _kept(proposal: Proposal, without: str) -> list[Feature]:
    """The features of a proposal less those that are left out."""
    labels, known = _labels(without), [feature.label for feature in proposal.features]
    for label in labels:
        if label not in known:
            raise ValueError(f'"{label}" is not in {proposal.name}. It holds: {", ".join(known)}.')
    kept = [feature for feature in proposal.features if feature.label not in labels]
    if not kept:
        raise ValueError(
            f"nothing of {proposal.name} is left. Leave one feature in; doing nothing is the site as it is."
        )
    return kept


def _varied(feature: Feature, variation: Variation, inputs: Inputs) -> Feature:
    kind = KINDS[feature.kind]
    own = {attribute.column for attribute in kind.attributes}
    changes: dict[str, object] = {}
    if variation.season and "season" in own:
        changes["season"] = None if variation.season == ALL_YEAR else variation.season
    if variation.equipment and "equipment" in own and feature.get("equipment") != variation.equipment:
        # a loss that was found for the one equipment is not that of another
        changes |= {"equipment": variation.equipment, "loss_share": None, "loss_src": None}
    if variation.measure and "measure" in own:
        changes |= {"measure": variation.measure, "left_share": variation.left_share}
        changes["left_src"] = variation.left_src or None
    if variation.volume < 1 and feature.kind == "dredged area":
        changes["depth_m"] = depth_for_share(feature, variation.volume, inputs)
        changes["volume_m3"] = feature.get("volume_m3") * variation.volume
        feature = with_changes(feature, **{column: changes.pop(column) for column in ("depth_m", "volume_m3")})
    if variation.share < 1:
        amounts = {column: feature.get(column) for column in AMOUNTS if column in own}
        changes |= {column: value * variation.share for column, value in amounts.items() if value is not None}
        feature = replace(feature, shape=drawn_in(feature.shape, variation.share))
    if variation.east or variation.north:
        feature = moved(feature, variation.east, variation.north)
    return with_changes(feature, **changes) if changes else feature
