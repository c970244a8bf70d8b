"""Weights that several people gave for a site's factors, and how far their differences move what is concluded."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import TYPE_CHECKING

import pandas as pd

from habitat.pairwise_file import Judgements
from habitat.pairwise_weights import GROUP, JudgedWeights, judged_weights, with_judged_weights
from habitat.result import SUITABILITY_CLASSES
from habitat.site_doubt import SiteDoubt, conclusion, site_doubt
from habitat.uncertainty import SPARED, UNITS
from layers.step import OnStep, Step, ignore

if TYPE_CHECKING:
    from habitat.profile import Profile

FILES = ("weight_judgements.csv", "weight_judgements.toml")  # beside the site file
STATED = "as the profile states and doubts them"
EXACT = "those of the group, taken as exact"
ANYBODYS = "those of one person or another"
_LOOKED_AT = "looked at only"


@dataclass(frozen=True, kw_only=True)
class WeighedPeople:
    """Everybody's weights to be looked at, and those that are used."""

    everybody: JudgedWeights  # inconsistent ones among them
    used: JudgedWeights | None  # of the consistent, and of those for whom a reason is given; None where nobody is left
    left_out: tuple[str, ...]  # people whose judgements contradict each other too much, and no reason is given


@dataclass(frozen=True, kw_only=True, eq=False)
class WeightSpread:
    """What is concluded with the profile's weights, with the group's, and with anybody's."""

    # season, weights (STATED, EXACT or ANYBODYS), kind, class, taken, low, median, high [ha]
    table: pd.DataFrame
    people: tuple[str, ...] = field(default=())

    def row(self, season: str | None, weights: str, kind: str = "suitability", name: str = SUITABILITY_CLASSES[-1]):
        """One row of the table."""
        part = self.table.set_index(["season", "weights", "kind", "class"])
        return part.loc[(season or "", weights, kind, name)]


def judgements_file(folder: str | Path) -> Path | None:
    """The file of judgements in the folder of a site, or None."""
    return next((Path(folder) / name for name in FILES if (Path(folder) / name).is_file()), None)


def weighed_people(judgements: Judgements, reasons: Mapping[str, str] | None = None) -> WeighedPeople:
    """The weights of everybody, and of those whose judgements may be used.

    Parameters
    ----------
    judgements : Judgements
    reasons : of str by person, optional
        Why inconsistent judgements are used all the same, beside those of the file.
    """
    given = {**judgements.accepted, **{who: why for who, why in (reasons or {}).items() if why.strip()}}
    everybody = judged_weights(judgements, accepted={who: given.get(who) or _LOOKED_AT for who in judgements.people})
    left_out = tuple(who for who, why in everybody.accepted.items() if why == _LOOKED_AT)
    kept = {who: pairs for who, pairs in judgements.people.items() if who not in left_out}
    used = judged_weights(replace(judgements, people=kept), accepted=given) if kept else None
    return WeighedPeople(everybody=everybody, used=used, left_out=left_out)


def weights_of_people(profile: Profile, judged: JudgedWeights) -> pd.DataFrame:
    """Each person's weights as those of the profile: a row for each, a column for each factor compared. [1]

    The weights of a row add up to what the profile gives the factors compared.

    Raises
    ------
    ProfileError
        If something compared is no factor of the profile, or its factors have no weight to share out.
    """
    with_judged_weights(profile, judged)  # refuses what does not fit
    total = sum(factor.weight for factor in profile.factors if factor.name in judged.names)
    return judged.people * total


def weight_spread(doubt: SiteDoubt, judged: JudgedWeights, *, on_step: OnStep = ignore) -> WeightSpread:
    """How far the differences between people widen what is concluded.

    Everything else stays as doubtful as it is in `doubt`, under the same number of draws and the same seed.

    Raises
    ------
    ProfileError
        As `weights_of_people`.
    """
    people = weights_of_people(doubt.site_map.profile, judged)
    group = pd.DataFrame([judged.weights * float(people.iloc[0].sum())], index=[GROUP])
    found = {STATED: doubt}
    for step, (name, table) in enumerate(((EXACT, group), (ANYBODYS, people)), start=1):
        on_step(Step(step, 2, f"drawing again with the weights {name}"))
        found[name] = site_doubt(doubt.site_map, number=doubt.number, seed=doubt.seed, experts=table, ends=doubt.ends)
    rows = [
        (season, name, kind, of, *conclusion(one, kind, of, season)[["taken", "low", "median", "high"]])
        for season in doubt.found.conclusions["season"].unique()
        for name, one in found.items()
        for kind, of in (("suitability", SUITABILITY_CLASSES[-1]), ("units", UNITS), ("units", SPARED))
    ]
    columns = ["season", "weights", "kind", "class", "taken", "low", "median", "high"]
    return WeightSpread(table=pd.DataFrame(rows, columns=columns), people=tuple(map(str, people.index)))


def spread_sentence(found: WeightSpread, season: str | None) -> str:
    """What the differences between people do to the hectares of good habitat of a season."""
    exact, anybodys = (found.row(season, weights) for weights in (EXACT, ANYBODYS))
    narrow, wide = exact.high - exact.low, anybodys.high - anybodys.low
    when = f"in the {season} season " if season else ""
    told = (
        f"With the group's weights taken as exact, nine draws in ten {when}have between {exact.low:,.0f} and "
        f"{exact.high:,.0f} ha of good habitat; with the weights of one person or another, between "
        f"{anybodys.low:,.0f} and {anybodys.high:,.0f}."
    )
    if len(found.people) < 2:
        return f"{told} One person judged, so nothing tells how far others would differ."
    if narrow <= 0:
        return told
    change = wide / narrow - 1
    if abs(change) < 0.05:
        return f"{told} That these people differ hardly matters beside all else that is in doubt."
    return f"{told} Their differences make the range {abs(change):.0%} {'wider' if change > 0 else 'narrower'}."
