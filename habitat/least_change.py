"""The smallest change of one thing, such as the distance a proposal is moved, that meets stated limits.

Each step appraises the site again with a variant in place. The loss need not fall evenly with the change: a basin moved
off one meadow may land on the next. So even steps are scanned from the smallest up, the first that meets the limits is
refined by halving back to the step before it, and whether the loss fell evenly is told. A smaller change between two
scanned steps can be missed.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field, replace
from typing import TYPE_CHECKING

import numpy as np

from habitat.appraisal import Appraisal, Outcome, outcome_of
from habitat.appraisal_account import account_of
from habitat.appraisal_tables import unit_changes
from habitat.conditions import findings
from habitat.least_change_words import DIRECTIONS, LOSSES, sentence_of, tried_table
from habitat.proposal_check import A_TRACE, share_outside
from habitat.proposal_kinds import KINDS
from habitat.variant import ALL_YEAR, Variation, shifted, varied
from layers.fault import FaultyFileError
from layers.step import OnStep, Step, ignore

if TYPE_CHECKING:
    import pandas as pd

    from habitat.appraisal_account import Account
    from habitat.conditions import Conditions, Finding
    from habitat.proposal import Proposal
    from habitat.site_map import SiteMap

QUANTITIES = ("distance", "size", "season", "volume")
FARTHEST = 3000.0  # that a proposal is moved, unless another is asked for [m]; our choice
STEPS = 10  # scanned, of a distance or a share; our choice
MOST = 120  # appraisals, unless another number is asked for; our choice
OTHERS = 2  # changes that are kept beside the answer, to be compared with it; our choice
_SAID = {"season": "season", "volume": "volume_m3"}  # columns that a kind must have
FINEST_SHARE = 0.01  # to which a share is refined; a distance is refined to a cell, below which no map can tell


@dataclass(frozen=True, kw_only=True)
class Limits:
    """What has to hold: a loss that is small enough, conditions that are met, or both."""

    at_most_loss: float | None = None  # in the worst season; habitat units, which are hectares [ha]
    of: str = "spared"  # "spared": of what threat leaves; "units": of the habitat units themselves
    conditions: tuple[str, ...] = ()  # names or labels of rules; one that cannot be told is not met

    def __post_init__(self) -> None:
        if self.at_most_loss is None and not self.conditions:
            raise ValueError("no limit is given. Give the largest loss, the conditions that have to be met, or both.")
        if self.at_most_loss is not None and not 0 <= self.at_most_loss < float("inf"):
            raise ValueError(f"largest loss: found {self.at_most_loss:g}. Give 0 or more habitat units.")
        if self.of not in LOSSES:
            raise ValueError(f'loss of "{self.of}": this is not counted. Give one of {", ".join(LOSSES)}.')


@dataclass(frozen=True, kw_only=True)
class Trial:
    """One variant that was tried."""

    amount: float | None  # metres, or the share taken away; None of a season
    direction: str  # "" of what is not moved
    variation: Variation
    outcome: Outcome | None = field(repr=False, default=None)  # None where it cannot be
    loss: float = float("nan")  # the largest of the seasons
    season: str = ""  # of that loss
    broken: tuple[Finding, ...] = ()  # findings of the named conditions that are not met
    why_not: str = ""  # why it cannot be proposed
    meets: bool = False


@dataclass(frozen=True, kw_only=True)
class LeastChange:
    """The answer to a search."""

    quantity: str
    limits: Limits
    found: bool
    variation: Variation  # the least that meets the limits; where none does, the best that was tried
    account: Account = field(repr=False)  # of that variant
    tried: pd.DataFrame = field(repr=False)  # as `habitat.least_change_words.tried_table` gives it, in order of trying
    monotone: (
        bool | None
    )  # whether in every direction the loss fell, or stayed, with each larger change; None: no order
    appraisals: int  # that were made
    sentence: str
    given: Trial = field(repr=False)  # the proposal as it was handed in
    others: tuple[Trial, ...] = field(repr=False)  # the best changes tried beside the answer, at most `OTHERS`


def least_change(
    before: SiteMap,
    proposal: Proposal,
    limits: Limits,
    conditions: Conditions,
    *,
    quantity: str,
    bearing: float | None = None,
    farthest: float = FARTHEST,
    most: int = MOST,
    recovery: float | None = None,
    on_step: OnStep = ignore,
    workers: int | None = None,
) -> LeastChange:
    """The smallest change of one quantity that meets limits, all features of a proposal changed alike.

    Parameters
    ----------
    before : SiteMap
        The site as it is, with what has been approved already.
    conditions : Conditions
        The rules that the names in `limits` are taken from.
    quantity : str
        One of `QUANTITIES`. A distance is scanned up to `farthest`, a share of the size or the volume down to a tenth,
        of seasons each one, and all the year.
    bearing : float, optional
        Direction of a move, clockwise from the north of the grid; by default the best of eight. [degree]
    farthest : float
        [m]
    most : int
        Appraisals after which the search stops, above 0.
    recovery : float, optional
        As for `habitat.appraisal_account.account_of`, for the account of the answer. [year]
    on_step : callable
        Told of each appraisal before it starts; what it raises stops the search.

    Returns
    -------
    LeastChange
        The same for the same arguments. A variant of which more lies outside the site than of the proposal cannot be
        an answer, as nothing is known there.

    Raises
    ------
    ValueError
        If the quantity or a condition is not known, a number is out of bounds, or no loss can be told.
    """
    if quantity not in QUANTITIES:
        raise ValueError(f'"{quantity}" is not sought. Seek one of {", ".join(QUANTITIES)}.')
    if most < 1 or not 0 < farthest < float("inf"):
        raise ValueError("appraisals and the farthest distance must be above 0.")
    if quantity in ("season", "volume") and not any(
        KINDS[one.kind].attribute(_SAID[quantity]) for one in proposal.features
    ):
        raise ValueError(f"nothing of {proposal.name} has a {quantity}. Seek another quantity.")
    search = _Search(before, proposal, limits, conditions, most, on_step, workers)
    first = search.attempt(None if quantity == "season" else 0.0, "", Variation())
    if not first.meets:
        if quantity == "season":
            for season in (*before.inputs.site.seasons, ALL_YEAR):
                search.attempt(None, "", Variation(season=season))
        else:
            _scan(search, quantity, bearing, farthest)
    return search.answer(quantity, farthest, bearing, recovery)


class _Search:
    """The trials made so far."""

    def __init__(self, before, proposal, limits, conditions, most, on_step, workers):
        self.before, self.proposal, self.limits, self.conditions = before, proposal, limits, conditions
        self.most, self.on_step, self.workers = most, on_step, workers
        self.trials: list[Trial] = []
        self.appraisals, self.is_spent = 0, False
        self.rules = _named(conditions, limits.conditions)
        self.cell = before.inputs.site.grid.cell
        if limits.of == "spared" and not before.assessment["threat"].notnull().any():
            raise ValueError('no cell of the site has a threat. Seek by the loss of "units".')
        self.outside = sum(share_outside(one, before.inputs) for one in proposal.features)

    def attempt(self, amount: float | None, direction: str, variation: Variation) -> Trial:
        """A trial of one variation; not made any more once the appraisals are spent."""
        nothing = Trial(amount=amount, direction=direction, variation=variation)
        if self.appraisals >= self.most:
            self.is_spent = True
            return nothing
        try:
            trial = self._tried(nothing)
        except FaultyFileError as fault:
            trial = replace(nothing, why_not=fault.faults[0].found)
        except ValueError as refusal:
            if variation.season:  # it works in that season already
                return nothing
            trial = replace(nothing, why_not=str(refusal))
        self.trials.append(trial)
        return trial

    def _tried(self, trial: Trial) -> Trial:
        proposal, inputs = self.proposal, self.before.inputs
        if trial.variation != Variation():
            proposal = varied(proposal, trial.variation, inputs)
            if sum(share_outside(one, inputs) for one in proposal.features) > self.outside + A_TRACE:
                return replace(trial, why_not="part of it would lie outside the site, where nothing is known.")
        self.appraisals += 1
        self.on_step(Step(self.appraisals, self.most, f"appraising {proposal.name}"))
        outcome = outcome_of(self.before, [proposal], proposal.name, workers=self.workers)
        units = unit_changes(self.before.assessment, outcome.assessment)
        losses = -units[f"{self.limits.of}_change"].to_numpy()
        worst = int(np.argmax(losses))
        said = findings(self.rules, proposal.features, self.before, outcome.site_map)
        broken = tuple(one for one in said if one.met is not True)
        limit = self.limits.at_most_loss
        return replace(
            trial,
            outcome=outcome,
            loss=float(losses[worst]),
            season=str(units["season"].iloc[worst]),
            broken=broken,
            meets=not broken and (limit is None or bool(losses[worst] <= limit)),
        )

    def answer(self, quantity: str, farthest: float, bearing: float | None, recovery: float | None) -> LeastChange:
        made = [one for one in self.trials if one.outcome is not None]
        if not made:
            raise ValueError(f"{self.proposal.name} cannot be appraised: {self.trials[0].why_not}")
        meeting = [one for one in made if one.meets]
        # of seasons, which have no order, the one that takes least
        order = (lambda one: (one.amount, one.loss)) if quantity != "season" else (lambda one: one.loss)
        by_harm = sorted(made, key=lambda one: (len(one.broken), one.loss))
        best = min(meeting, key=order) if meeting else by_harm[0]
        appraisal = Appraisal(before=self.before, together=best.outcome, alone=(best.outcome,))
        return LeastChange(
            quantity=quantity,
            limits=self.limits,
            found=bool(meeting),
            variation=best.variation,
            account=account_of(appraisal, self.conditions, recovery=recovery),
            tried=tried_table(self.trials, self.limits),
            monotone=None if quantity == "season" else _falls_evenly(made),
            appraisals=self.appraisals,
            sentence=sentence_of(best, self, quantity, farthest, bearing),
            given=self.trials[0],
            others=tuple(one for one in by_harm if one is not best and one is not self.trials[0])[:OTHERS],
        )


def _scan(search: _Search, quantity: str, bearing: float | None, farthest: float) -> None:
    """Even steps from the smallest up, in all directions at once; the first that meets the limits is refined."""
    if quantity == "distance":
        lines = DIRECTIONS if bearing is None else {f"{bearing:g} degrees": bearing}
        amounts, finest = [farthest * step / STEPS for step in range(1, STEPS + 1)], search.cell

        def vary(amount: float, line: str) -> Variation:
            return shifted(amount, lines[line])
    else:
        lines, finest = {"": 0.0}, FINEST_SHARE
        amounts = [step / STEPS for step in range(1, STEPS)]

        def vary(amount: float, line: str) -> Variation:
            left = round(1 - amount, 6)
            return Variation(share=left) if quantity == "size" else Variation(volume=left)

    low = 0.0
    for amount in amounts:
        meeting = [line for line in lines if search.attempt(amount, line, vary(amount, line)).meets]
        if meeting or search.is_spent:
            break
        low = amount
    best = amount
    for line in meeting:
        # a direction that does not meet the limits where another already does is no better
        if best < amount and not search.attempt(best, line, vary(best, line)).meets:
            continue
        fails, high = low, best
        while high - fails > finest * (1 + 1e-9) and not search.is_spent:
            middle = round((fails + high) / 2, 6)
            fails, high = (fails, middle) if search.attempt(middle, line, vary(middle, line)).meets else (middle, high)
        best = high


def _falls_evenly(made: Sequence[Trial]) -> bool:
    """Whether the loss never rose with the change in any direction tried."""
    start = [one for one in made if one.amount == 0]
    for direction in {one.direction for one in made}:
        line = start + [one for one in made if one.direction == direction and one.amount]
        losses = np.array([one.loss for one in sorted(line, key=lambda one: one.amount)])
        if (np.diff(losses) > 1e-9 * max(abs(losses).max(), 1.0)).any():
            return False
    return True


def _named(conditions: Conditions, names: Sequence[str]) -> Conditions:
    """The conditions less the rules that are not named."""
    from difflib import get_close_matches

    known = {name: rule for rule in conditions.rules for name in (rule.name, rule.label)}
    for name in names:
        if name not in known:
            near = get_close_matches(name, list(known), n=1)
            hint = f'Did you mean "{near[0]}"?' if near else f"It holds: {', '.join(r.name for r in conditions.rules)}."
            raise ValueError(f'"{name}" is no condition of {conditions.file}. {hint}')
    return replace(conditions, rules=tuple(rule for rule in conditions.rules if {rule.name, rule.label} & set(names)))
