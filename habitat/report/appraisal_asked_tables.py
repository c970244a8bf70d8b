"""Tables of what was asked for beside the account: variants, the search for the least change, the range of the loss."""

from __future__ import annotations

from typing import TYPE_CHECKING

from habitat.report.appraisal_asked import (
    Asked,
    approved_rows,
    is_telling,
    range_rows,
    settling_rows,
    tried_rows,
    variant_rows,
)
from habitat.report.appraisal_table import Numbers, numbers_of

if TYPE_CHECKING:
    from habitat.appraisal_account import Account

_LEAST_SHARE = 5.0  # of a doubt that is printed [%]; all are in the CSV file


def asked_tables(account: Account, asked: Asked) -> list[Numbers]:
    """Tables of what was asked for beside the account."""
    made = []
    if asked.cumulative is not None:
        made.append(
            numbers_of(
                "cumulative",
                "What is approved already and what is appraised, against the site as it is",
                approved_rows(asked.cumulative),
                {"season": "Season", "what": "What", "units_change": "Change [habitat units]"}
                | {"spared_change": "Of what threat leaves [habitat units]"},
            )
        )
    if asked.variants:
        made.append(
            numbers_of(
                "variants",
                "What was given and its variants",
                variant_rows(account, asked),
                {"variant": "Variant", "steps": "Step", "season": "Season", "units_change": "Habitat units"}
                | {"spared_change": "Of what threat leaves", "good_change": "Good habitat [ha]"}
                | {"not_met": "Not met", "unknown": "Not told"},
                places={"not_met": 0, "unknown": 0},
            )
        )
    if asked.sought is not None:
        made.append(
            numbers_of(
                "least_change",
                "Variants tried in the search for the least change",
                tried_rows(asked.sought),
                {
                    "variant": "Variant",
                    "loss": "Loss [habitat units]",
                    "season": "In season",
                    "meets": "Meets the limits",
                }
                | {"in_the_way": "What stands in the way"},
                places={"rank": 0},
                kept=is_telling,
            )
        )
    if asked.loss_range is not None:
        limit = asked.loss_range.limit
        chance = {"chance_percent": f"Chance of more than {limit:g} [%]"} if limit is not None else {}
        made += [
            numbers_of(
                "loss_range",
                "Range of the loss: nine draws in ten lie between low and high",
                range_rows(asked.loss_range),
                {"season": "Season", "measure": "Of", "taken": "Taken", "low": "Low", "median": "Middle"}
                | {"high": "High", **chance},
                places={"chance_percent": 1},
            ),
            numbers_of(
                "loss_settling",
                f"Where the doubt comes from: shares of the variance of the loss, those of {_LEAST_SHARE:g} % and more",
                settling_rows(asked.loss_range),
                {"season": "Season", "measure": "Of", "label": "Doubt", "share_percent": "Share [%]"}
                | ({"certainty_if_known_percent": "Sure of the limit if known [%]"} if limit is not None else {}),
                places=dict.fromkeys(("share_percent", "certainty_percent", "certainty_if_known_percent"), 1),
                kept=lambda frame: frame["share_percent"] >= _LEAST_SHARE,
            ),
        ]
    return made
