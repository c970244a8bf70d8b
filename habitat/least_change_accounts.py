"""Accounts of what a search tried: of the proposal as it was handed in, and of the changes worth setting beside it."""

from __future__ import annotations

from typing import TYPE_CHECKING

from habitat.appraisal import Appraisal
from habitat.appraisal_account import account_of
from habitat.variant import Variation

if TYPE_CHECKING:
    from habitat.appraisal_account import Account
    from habitat.conditions import Conditions
    from habitat.least_change import LeastChange, Trial


def given_and_changed(
    answer: LeastChange, conditions: Conditions, *, recovery: float | None = None
) -> tuple[Account, list[Account]]:
    """The account of the proposal as it was handed in, and those of the answer and of the best changes beside it.

    Parameters
    ----------
    conditions : Conditions
        The rules that the accounts are held against.
    recovery : float, optional
        As for `habitat.appraisal_account.account_of`, and as the search was given it. [year]

    Raises
    ------
    ValueError
        If what was handed in could not be appraised.
    """

    def of(trial: Trial) -> Account:
        if trial.variation == answer.variation:
            return answer.account
        whole = Appraisal(before=answer.account.appraisal.before, together=trial.outcome, alone=(trial.outcome,))
        return account_of(whole, conditions, recovery=recovery)

    if answer.given.outcome is None:
        raise ValueError(f"what was handed in cannot be appraised: {answer.given.why_not}")
    changed = [] if answer.variation == Variation() else [answer.account]
    return of(answer.given), [*changed, *map(of, answer.others)]
