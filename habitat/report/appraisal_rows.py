"""What stands in the tables of a report beside the tables of the account: shares, conditions, features."""

from __future__ import annotations

import re
from typing import TYPE_CHECKING

import pandas as pd

if TYPE_CHECKING:
    from habitat.appraisal_account import Account

_VERDICTS = {True: "met", False: "not met", None: "cannot be told"}


def shares(account: Account) -> pd.DataFrame:
    """Each alone and all together; the share is of what threat leaves of the habitat."""
    together = account.units.assign(proposal="all together")
    table = pd.concat([account.shares, together], ignore_index=True) if len(account.appraisal.alone) > 1 else together
    whole = table["season"].map(account.units.set_index("season")["spared_change"])
    share = (100 * table["spared_change"] / whole).where(whole.abs() >= 0.005)
    return table[["proposal", "season", "units_change", "spared_change"]].assign(share_percent=share)


def conditions(account: Account) -> pd.DataFrame:
    """What each condition says of each feature: verdict, form, condition, found, needed, basis; all text."""
    return pd.DataFrame(
        [
            {
                "verdict": _VERDICTS[finding.met],
                "form": finding.form,
                "condition": f"{finding.rule[:1].upper()}{finding.rule[1:]}: {finding.feature}",
                "found": finding.found,
                "needed": finding.needed,
                "basis": f"{finding.source.rstrip('.')}. {finding.decides}",
            }
            for finding in account.conditions
        ],
        columns=["verdict", "form", "condition", "found", "needed", "basis"],
    )


def features(account: Account) -> pd.DataFrame:
    """All that is said of what is proposed: proposal, feature, means, value, units; all text."""
    from habitat.proposal_kinds import COMMON, KINDS

    rows = []
    for proposal in account.appraisal.proposals:
        for feature in proposal.features:
            kind = KINDS[feature.kind]
            shape = feature.shape
            extent = {"Polygon": ("area", shape.area / 1e4, "ha"), "Line": ("length", shape.length, "m")}
            for form, (means, size, units) in extent.items():
                if form in feature.shape.geom_type:
                    rows.append((proposal.name, feature.title, means, f"{size:.2f}", units))
            if "Point" in feature.shape.geom_type:
                rows.append((proposal.name, feature.title, "drawn as", "point", ""))
            for attribute in (*kind.attributes, *COMMON):
                value = feature.get(attribute.column)
                if value is None or attribute.column == "name":
                    continue
                shown = f"{value:.10g}" if isinstance(value, (int, float)) else str(value)
                units = {"1": "share"}.get(attribute.units, attribute.units)
                rows.append((proposal.name, feature.title, _signs(attribute.means), shown, _signs(units)))
    return pd.DataFrame(rows, columns=["proposal", "feature", "means", "value", "units"])


def _signs(text: str) -> str:
    """Units with the signs that print has for them.

    Examples
    --------
    >>> _signs("kg/m3"), _signs("finer than 63 um")
    ('kg/m³', 'finer than 63 µm')
    """
    return re.sub(r"\bum\b", "µm", re.sub(r"\bm([23])\b", lambda found: "m" + "²³"[int(found[1]) - 2], text))
