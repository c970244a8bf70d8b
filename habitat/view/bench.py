"""What a planner has before him: a proposal and its variants side by side. One immutable value."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field, replace
from typing import TYPE_CHECKING

from habitat.appraisal import appraise
from habitat.appraisal_account import Account, account_of
from habitat.conditions import read_conditions
from habitat.proposal import Proposal
from habitat.site_map import SiteMap
from habitat.variant import Variation
from layers.step import OnStep, Step, ignore

if TYPE_CHECKING:
    from habitat.appraisal_range import LossRange
    from habitat.least_change import LeastChange
    from habitat.proposal_feature import Feature

UNVARIED = Variation()


@dataclass(frozen=True, kw_only=True)
class Trial:
    """A variant and what came of it."""

    name: str
    account: Account = field(repr=False)
    variation: Variation = UNVARIED  # of the proposal as it was given
    planted: tuple[Feature, ...] = field(default=(), repr=False)  # beside it
    loss_range: LossRange | None = field(default=None, repr=False)  # how sure the loss is, once that was asked


@dataclass(frozen=True, kw_only=True)
class Bench:
    """The proposal as it was given comes first, its variants after it, in the order they were made."""

    trials: tuple[Trial, ...] = field(default=(), repr=False)
    shown: int = 0
    sought: LeastChange | None = field(default=None, repr=False)  # the smallest change, once that was asked
    lies_with_site: bool = False  # whether the proposal is a file in the folder of the site

    @property
    def trial(self) -> Trial | None:
        """The variant in view."""
        return self.trials[self.shown] if self.trials else None

    @property
    def account(self) -> Account | None:
        """That of the variant in view."""
        return self.trials[self.shown].account if self.trials else None

    @property
    def first(self) -> Proposal | None:
        """The proposal as it was given."""
        return self.trials[0].account.appraisal.proposals[0] if self.trials else None

    @property
    def approved(self) -> tuple[Proposal, ...]:
        """What stands together with the proposal."""
        return self.trials[0].account.appraisal.proposals[1:] if self.trials else ()

    def begun(self, account: Account, *, lies_with_site: bool = False) -> Bench:
        """A bench with a new proposal and nothing else."""
        return Bench(trials=(Trial(name=name_of(account), account=account),), lies_with_site=lies_with_site)

    def with_variant(self, account: Account, variation: Variation, planted: tuple[Feature, ...] = ()) -> Bench:
        """With one more variant, in view; one that is there already is only shown."""
        names = [one.name for one in self.trials]
        if name_of(account) in names:
            return replace(self, shown=names.index(name_of(account)))
        fresh = Trial(name=name_of(account), account=account, variation=variation, planted=planted)
        return replace(self, trials=(*self.trials, fresh), shown=len(self.trials))

    def without_shown(self) -> Bench:
        """Without the variant in view; the proposal as it was given stays."""
        if self.shown == 0:
            return self
        kept = tuple(one for number, one in enumerate(self.trials) if number != self.shown)
        return replace(self, trials=kept, shown=self.shown - 1)

    def with_range(self, loss_range: LossRange) -> Bench:
        """With the doubt in the loss to the variant in view."""
        known = replace(self.trials[self.shown], loss_range=loss_range)
        return replace(self, trials=tuple(known if n == self.shown else one for n, one in enumerate(self.trials)))

    def showing(self, number: int) -> Bench:
        """With another variant in view."""
        return replace(self, shown=number) if 0 <= number < len(self.trials) else self


def name_of(account: Account) -> str:
    """The name of the variant; what is approved already stands behind it."""
    return account.appraisal.proposals[0].name


def weighed(
    site_map: SiteMap, proposal: Proposal, approved: Sequence[Proposal] = (), *, on_step: OnStep = ignore
) -> Account:
    """The account of a proposal, together with what is approved already, by the conditions that ship.

    `on_step` is told of each step; what it raises stops the work there.
    """
    appraisal = appraise(site_map, [proposal, *approved], on_step=on_step)
    on_step(Step(1, 1, "holding the result against the standing conditions"))
    account = account_of(appraisal, read_conditions())
    on_step(Step(1, 1, "drawing the answer"))
    return account
