"""What the page on trust has found so far: one immutable value, and the wishes that fill it."""

from __future__ import annotations

import datetime
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field, replace
from functools import partial
from typing import TYPE_CHECKING

from habitat.site_doubt import SiteDoubt, site_doubt, site_ranking
from habitat.site_evidence import SIDE, MovablePoint, SiteEvidence, proposed_point, site_evidence
from habitat.site_map import SiteMap
from habitat.site_weights import (
    WeighedPeople,
    WeightSpread,
    weighed_people,
    weight_spread,
    weights_of_people,
)
from layers.step import OnStep, Step, ignore

if TYPE_CHECKING:
    from habitat.doubt_ranking import DoubtRanking
    from habitat.evidence_suggestion import Suggestion
    from habitat.pairwise_file import Judgements
    from habitat.profile import Profile

NUMBERS = (200, 500, 1000, 2000)  # of draws to choose from; more are for the command
FIRST_NUMBER, FIRST_SEED = 500, 1
MOST_SEED = 2**31 - 1


@dataclass(frozen=True, kw_only=True)
class Findings:
    """None where something was not yet asked, or is not there."""

    doubt: SiteDoubt | None = field(default=None, repr=False)
    ranking: DoubtRanking | None = field(default=None, repr=False)  # of the same draws' seed
    evidence: SiteEvidence | None = field(default=None, repr=False)
    is_held: bool = False  # whether sightings were looked for
    point: Suggestion | None = field(default=None, repr=False)
    judgements: Judgements | None = field(default=None, repr=False)
    people: WeighedPeople | None = field(default=None, repr=False)
    spread: WeightSpread | None = field(default=None, repr=False)  # of the people above, under the same draws


Wish = Callable[[Findings, OnStep], Findings]


def with_doubt(site_map: SiteMap, number: int, seed: int, findings: Findings, on_step: OnStep = ignore) -> Findings:
    """With draws anew; what hung on the old ones goes."""
    ends = None if findings.doubt is None else findings.doubt.ends
    doubt = site_doubt(site_map, number=number, seed=seed, ends=ends, on_step=on_step)
    on_step(Step(1, 1, "drawing the maps"))
    return replace(findings, doubt=doubt, ranking=None, spread=None)


def with_ranking(findings: Findings, on_step: OnStep = ignore) -> Findings:
    """With what the hectares depend on."""
    return replace(findings, ranking=site_ranking(findings.doubt, on_step=on_step))


def with_evidence(
    site_map: SiteMap, side: float, date: datetime.date, findings: Findings, on_step: OnStep = ignore
) -> Findings:
    """With what the sightings say, in blocks of `side` metres; a proposal made with other blocks goes."""
    found = site_evidence(site_map, as_of=date, side=side, seed=FIRST_SEED, on_step=on_step)
    return replace(findings, evidence=found, is_held=True, point=None)


def with_point(
    site_map: SiteMap, asked: MovablePoint, date: datetime.date, findings: Findings, on_step: OnStep = ignore
) -> Findings:
    """With where the sightings would put a point of a curve."""
    side = SIDE if findings.evidence is None else findings.evidence.side
    return replace(
        findings, point=proposed_point(site_map, asked, as_of=date, side=side, seed=FIRST_SEED, on_step=on_step)
    )


def with_people(profile: Profile, judgements: Judgements, reasons: Mapping[str, str], findings: Findings) -> Findings:
    """With the weights of the people of a file; what hung on other people goes.

    Raises
    ------
    ProfileError
        If something compared is no factor of the profile.
    ValueError
        If too many things are compared.
    """
    people = weighed_people(judgements, reasons)
    weights_of_people(profile, people.everybody)  # what does not fit is refused now, not when it is taken home
    return replace(findings, judgements=judgements, people=people, spread=None)


def with_spread(findings: Findings, on_step: OnStep = ignore) -> Findings:
    """With what the differences between people do to the conclusions.

    Raises
    ------
    ValueError
        If there is nobody whose weights may be used, or no draw yet.
    """
    if findings.people is None or findings.people.used is None:
        raise ValueError("There are no weights of people that may be used. Load a file, or give a reason to use them.")
    if findings.doubt is None:
        raise ValueError("Nothing is drawn yet. Ask for the draws first.")
    return replace(findings, spread=weight_spread(findings.doubt, findings.people.used, on_step=on_step))


def next_wish(findings: Findings, site_map: SiteMap, date: datetime.date) -> tuple[str, Wish] | None:
    """What the page works out by itself once it has nothing else to do, in words and as a wish; None: nothing."""
    if findings.doubt is None:
        return None
    if not findings.is_held:
        return "what the sightings say", partial(with_evidence, site_map, SIDE, date)
    if findings.ranking is None:
        return "what the map depends on", with_ranking
    return None


def asked_of_query(query: dict[str, object]) -> tuple[int, int]:
    """Number of draws and seed that the address of the page asks for; from a stranger, so nothing in it is trusted."""
    number, seed = query.get("draws"), query.get("seed")
    is_seed = isinstance(seed, int) and not isinstance(seed, bool) and 0 <= seed <= MOST_SEED
    return number if number in NUMBERS else FIRST_NUMBER, seed if is_seed else FIRST_SEED
