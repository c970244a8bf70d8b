"""Proposals that are approved already: what stands before a new one, and what all of them take together.

Decided so: "before" is the site as it is with all that is approved in place; what is appraised is added to that. A
loss that grew step by step would then never show, so the loss of the whole against the site as it is is told beside it.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

from habitat.appraisal import outcome_of
from habitat.appraisal_tables import unit_changes
from layers.step import OnStep, Step, ignore

if TYPE_CHECKING:
    import pandas as pd

    from habitat.proposal import Proposal
    from habitat.site_map import SiteMap


def with_approved(
    as_it_is: SiteMap, approved: Sequence[Proposal], *, on_step: OnStep = ignore, workers: int | None = None
) -> SiteMap:
    """The site with what is approved in place: the `before` of `habitat.appraisal.appraise`.

    Where a new dredged area crosses an approved one, the level of the later stands: it is filled or dug to that.

    Raises
    ------
    LayerError
        If the site cannot be made with them in place.
    ValueError
        If two have one name.
    """
    if not approved:
        return as_it_is
    on_step(Step(1, 1, f"putting {', '.join(one.name for one in approved)} in place, approved already"))
    return outcome_of(as_it_is, approved, "what is approved", workers=workers).site_map


def cumulative_changes(as_it_is: SiteMap, before: SiteMap, after: SiteMap) -> pd.DataFrame:
    """Habitat units against the site as it is: of what is approved, of what is new, and of both.

    Parameters
    ----------
    as_it_is, before, after : SiteMap
        The site without any of them, with what is approved, and with the appraised besides.

    Returns
    -------
    DataFrame
        Columns season, what ("approved", "appraised", "together"), units_change, spared_change [ha]. What is appraised
        is the change from `before`, so the first two add up to the third where every cell has a score throughout.
        What threat leaves is NaN where no cell of the site as it is has a threat.
    """
    import pandas as pd

    pairs = {"approved": (as_it_is, before), "appraised": (before, after), "together": (as_it_is, after)}
    tables = [
        unit_changes(old.assessment, new.assessment)[["season", "units_change", "spared_change"]].assign(what=what)
        for what, (old, new) in pairs.items()
    ]
    whole = pd.concat(tables, ignore_index=True)[["season", "what", "units_change", "spared_change"]]
    if not as_it_is.assessment["threat"].notnull().any():
        whole["spared_change"] = float("nan")
    return whole


def cumulative_text(as_it_is: SiteMap, before: SiteMap, after: SiteMap, names: Sequence[str]) -> str:
    """`cumulative_changes` as plain text, under a sentence for each season."""
    table = cumulative_changes(as_it_is, before, after)
    lines = [f"Approved already, and in place before: {', '.join(names)}. All numbers above are added to that."]
    for row in table[table["what"] == "together"].itertuples():
        season = f"in the {row.season} season" if row.season else "over the year"
        word = "takes" if row.units_change < 0 else "adds"
        lines.append(
            f"Against the site as it is, what is approved and what is appraised together {word} "
            f"{abs(row.units_change):,.1f} habitat units {season}."
        )
    return "\n".join([*lines, table.to_string(index=False, float_format="{:,.2f}".format)])
