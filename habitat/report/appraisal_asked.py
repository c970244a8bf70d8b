"""Answers that are asked for beside the account: variants, the least change that would do, and how sure the loss is.

Each takes minutes of work, so none is worked out unasked; where one was not asked for, the report says so.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from habitat.report.appraisal_document import Block, paragraph
from layers.quantity import LAYERS

if TYPE_CHECKING:
    import pandas as pd

    from habitat.appraisal_account import Account
    from habitat.conditions import Finding
    from habitat.report.appraisal_numbers import Numbers


@dataclass(frozen=True, kw_only=True)
class Asked:
    """What was asked for; None where it was not."""

    variants: pd.DataFrame | None = None
    sought: object | None = None
    loss_range: object | None = None


NOTHING = Asked()


def sure_in_short(account: Account, asked: Asked) -> str:
    """How sure the loss is, for the summary."""
    said = (
        "The range of the loss was not asked for: the numbers above are middle values, and near a limit either side of "
        "it may be true. The chapter on how sure this is says which errors are known, and which are not."
    )
    lacking = [LAYERS[name].label for name in layers_lacking(account)]
    if lacking:
        said += f" The site has no data on {', '.join(lacking)}: what is lost of these is in no number here."
    return said


def layers_lacking(account: Account) -> list[str]:
    """Names of the layers that the profile asks for and the site cannot give."""
    before = account.appraisal.before
    return [name for name in before.profile.layers_needed if name not in before.layers]


def change_in_short(asked: Asked, broken: list[Finding]) -> list[str]:
    """What would make it acceptable, for the summary."""
    if not broken:
        return ["Nothing that a map can judge stands against it. What no map can tell, the decision has to say."]
    return [
        "No change was sought. What is needed of each condition stands above; ask the applicant for a drawing that "
        "meets it, and appraise it beside this one. Meeting every condition does not undo the loss of habitat."
    ]


def variants_told(tables: dict[str, Numbers], asked: Asked) -> list[Block]:
    """The variants that were tried."""
    return [paragraph("None was asked for. A decision should rest on more than one drawing, and on doing nothing.")]


def change_told(tables: dict[str, Numbers], asked: Asked) -> list[Block]:
    """The least change that would do."""
    return [paragraph("It was not asked for.")]


def range_told(account: Account, tables: dict[str, Numbers], asked: Asked) -> list[Block]:
    """The range of the loss."""
    return [paragraph("The range of the loss was not asked for.")]


def not_carried(asked: Asked) -> list[str]:
    """What the range does not hold, among the things that are not quantified."""
    return ["What the errors of layers do to scores, hectares and habitat units: they were not carried through."]
