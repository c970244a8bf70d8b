"""What a planner has before him: the proposal and its variants side by side. One value; nothing of it is in a link.

Work that takes a while runs beside the page, one piece at a time, and the page says that it is at work.
"""

from __future__ import annotations

import threading
from collections.abc import Callable
from dataclasses import dataclass, field, replace

import pandas as pd
import panel as pn
import param

from habitat.appraisal import appraise
from habitat.appraisal_account import Account, account_of
from habitat.conditions import read_conditions
from habitat.proposal import Proposal
from habitat.site_map import SiteMap

_TURN = threading.Lock()  # of all visitors: two at once would only make each other slow


@dataclass(frozen=True, kw_only=True)
class Drawn:
    """One shape that was drawn, with what was said of it."""

    said: dict[str, object]  # its kind and attributes
    shape: object  # shapely geometry, in the grid's projection


@dataclass(frozen=True, kw_only=True)
class Bench:
    """The proposal as it was given comes first, its variants after it, in the order they were made."""

    accounts: tuple[Account, ...] = field(default=(), repr=False)
    shown: int = 0
    drawing: tuple[Drawn, ...] = ()
    doing: str = ""  # what is being worked out
    trouble: str = ""  # what stood in the way of the last wish

    @property
    def account(self) -> Account | None:
        """That of the variant in view."""
        return self.accounts[self.shown] if self.accounts else None

    @property
    def first(self) -> Proposal | None:
        """The proposal as it was given."""
        return self.accounts[0].appraisal.proposals[0] if self.accounts else None

    def begun(self, account: Account) -> Bench:
        """A bench with a new proposal and nothing else."""
        return replace(self, accounts=(account,), shown=0)

    def with_variant(self, account: Account) -> Bench:
        """With one more variant, in view; one that is there already is only shown."""
        names = [name_of(one) for one in self.accounts]
        if name_of(account) in names:
            return replace(self, shown=names.index(name_of(account)))
        return replace(self, accounts=(*self.accounts, account), shown=len(self.accounts))

    def showing(self, number: int) -> Bench:
        """With another variant in view."""
        return replace(self, shown=number) if 0 <= number < len(self.accounts) else self


class Desk(param.Parameterized):
    """Holds the bench of one visitor."""

    bench = param.ClassSelector(class_=Bench)

    def __init__(self, site_map: SiteMap):
        super().__init__()
        self.site_map = site_map
        self.bench = Bench()

    def do(self, doing: str, wish: Callable[[Bench], Bench]) -> None:
        """Replace the bench by `wish(bench)`, worked out beside the page; what stands in the way is said on it."""
        if self.bench.doing:
            return
        document = pn.state.curdoc
        self.bench = replace(self.bench, doing=doing, trouble="")
        if document is None or document.session_context is None:
            self._finish(_tried(wish, self.bench))
            return

        def work() -> None:
            with _TURN:
                bench = _tried(wish, self.bench)
            if not document.session_context.destroyed:
                document.add_next_tick_callback(lambda: self._finish(bench))

        threading.Thread(target=work, daemon=True).start()

    def _finish(self, bench: Bench) -> None:
        self.bench = replace(bench, doing="")


def name_of(account: Account) -> str:
    """The name of the variant."""
    return account.appraisal.together.name


def weighed(site_map: SiteMap, proposal: Proposal) -> Account:
    """The account of a proposal by the conditions that ship."""
    return account_of(appraise(site_map, [proposal]), read_conditions())


def variants_table(accounts: tuple[Account, ...], season: str | None) -> pd.DataFrame:
    """The variants side by side in one season.

    Returns
    -------
    DataFrame
        Columns variant, units_change, spared_change (habitat units, and what threat leaves of them [ha]), not_met,
        unknown (numbers of conditions).
    """
    rows = []
    for account in accounts:
        units = account.units
        row = units[units["season"].isin([season or "", ""])].iloc[0]
        judged = [finding for finding in account.conditions if finding.form != "told"]
        broken = sum(finding.met is False for finding in judged)
        unknown = sum(finding.met is None for finding in judged)
        rows.append((name_of(account), row.units_change, row.spared_change, broken, unknown))
    return pd.DataFrame(rows, columns=["variant", "units_change", "spared_change", "not_met", "unknown"])


def _tried(wish: Callable[[Bench], Bench], bench: Bench) -> Bench:
    try:
        return wish(bench)
    except ValueError as error:  # what a person can mend; FaultyFileError is one
        return replace(bench, trouble=str(error))
