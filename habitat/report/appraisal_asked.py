"""Answers that are asked for beside the account: variants, the least change that would do, and how sure the loss is.

Each takes minutes of work, so none is worked out unasked; where one was not asked for, the report says so.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

import pandas as pd

from habitat.report.appraisal_document import Block, paragraph, points
from layers.quantity import LAYERS

if TYPE_CHECKING:
    from habitat.appraisal_account import Account
    from habitat.appraisal_range import LossRange
    from habitat.conditions import Finding
    from habitat.least_change import LeastChange
    from habitat.report.appraisal_table import Numbers

_BEST_TRIED = 8  # of a search, that are printed
_STEPS = ("avoid", "minimise", "restore", "offset")  # the order in which harm is met


@dataclass(frozen=True, kw_only=True)
class Asked:
    """What was asked for; empty where it was not."""

    variants: Sequence[Account] = ()
    sought: LeastChange | None = None
    loss_range: LossRange | None = None
    approved: tuple[str, ...] = ()  # names of proposals that are in place before
    cumulative: pd.DataFrame | None = None  # what these and the appraised take together


NOTHING = Asked()


def layers_lacking(account: Account) -> list[str]:
    """Names of the layers that the profile asks for and the site cannot give."""
    before = account.appraisal.before
    return [name for name in before.profile.layers_needed if name not in before.layers]


def sure_in_short(account: Account, asked: Asked) -> str:
    """How sure the loss is, for the summary."""
    if asked.loss_range is None:
        said = [
            "The range of the loss was not asked for: the numbers above are middle values, and near a limit either "
            "side of it may be true. The chapter on how sure this is says which errors are known, and which are not."
        ]
    else:
        said = _range_in_short(account, asked.loss_range)
    lacking = [LAYERS[name].label for name in layers_lacking(account)]
    if lacking:
        said.append(f"The site has no data on {', '.join(lacking)}: what is lost of these is in no number here.")
    if account.remarks:
        many = f"{len(account.remarks)} things" if len(account.remarks) > 1 else "One thing"
        said.append(f"{many} to mind in the drawing: see the chapter on what is proposed.")
    return " ".join(said)


def change_in_short(asked: Asked, broken: list[Finding]) -> list[str]:
    """What would make it acceptable, for the summary."""
    if not broken:
        return ["Nothing that a map can judge stands against it. What no map can tell, the decision has to say."]
    said = "No change was sought." if asked.sought is None else asked.sought.sentence
    if asked.variants:
        best = min(asked.variants, key=_not_met)
        name = best.appraisal.proposals[0].name
        said += (
            f" Of the {len(asked.variants)} variants that were tried, {name} breaks the fewest conditions: "
            f"{_not_met(best)} against {len(broken)}."
        )
    return [
        f"{said} What is needed of each condition stands above; ask the applicant for a drawing that meets it, and "
        "appraise it beside this one. Meeting every condition does not undo the loss of habitat."
    ]


def variant_in_short(account: Account, asked: Asked) -> list[str]:
    """That the numbers are those of the variant that a search found, where they are; else nothing."""
    from habitat.variant import Variation

    if asked.sought is None or asked.sought.variation == Variation():
        return []
    given, name = asked.sought.tried.iloc[0], account.appraisal.proposals[0].name
    if name != asked.sought.account.appraisal.proposals[0].name:
        return []
    when = f" in the {given['season']} season" if given["season"] else ""
    return [
        f"All that follows is of a variant that was sought ({name}), not of what was handed in, which takes "
        f"{given['loss']:,.1f} habitat units{when}."
    ]


def variant_rows(account: Account, asked: Asked) -> pd.DataFrame:
    """What was given and its variants, in the order of mitigation, as `habitat.variant.variants_table` tells them."""
    from habitat.variant import variants_table

    table = variants_table([account, *sorted(asked.variants, key=_first_step)])
    table["steps"] = table["steps"].where(table["steps"] != "", "as given")
    return table


def range_rows(found: LossRange) -> pd.DataFrame:
    """The range of the loss: season, measure (in words), taken, low, median, high, chance_percent."""
    from habitat.appraisal_range import MEASURES

    table = found.losses.assign(measure=[MEASURES[name] for name in found.losses["measure"]])
    table["chance_percent"] = 100 * table["chance"]
    return table.drop(columns="chance")


def settling_rows(found: LossRange) -> pd.DataFrame:
    """Which doubt settles it: season, measure (in words), label, share_percent, and certainties as percentages."""
    from habitat.appraisal_range import MEASURES

    table = found.settling.assign(measure=[MEASURES[name] for name in found.settling["measure"]])
    for column in ("share", "certainty", "certainty_if_known"):
        table[f"{column}_percent"] = 100 * table[column]
    return table.drop(columns=["share", "certainty", "certainty_if_known", "confidence", "key"])


def tried_rows(found: LeastChange) -> pd.DataFrame:
    """What was tried in a search, as `habitat.least_change_words.tried_table` gives it, its answers in words."""
    table = found.tried.assign(meets=found.tried["meets"].map({True: "yes", False: "no"}))
    return table.assign(rank=table["loss"].rank(method="first"))


def is_telling(tried: pd.DataFrame) -> pd.Series:
    """Which rows of `tried_rows` are printed: what meets the limits, what was given, and what takes least."""
    return (tried["meets"] == "yes") | (tried["rank"] <= _BEST_TRIED) | (tried.index == 0)


def approved_rows(cumulative: pd.DataFrame) -> pd.DataFrame:
    """What is approved and what is appraised take, season by season, `what` in words."""
    words = {"approved": "Approved already", "appraised": "Appraised here, beside it", "together": "Both together"}
    rows = cumulative.assign(what=cumulative["what"].map(words))
    return rows.sort_values("season", kind="stable", key=lambda names: names.map(_place_of(names))).reset_index(
        drop=True
    )


def approved_told(tables: dict[str, Numbers], asked: Asked) -> list[Block]:
    """What is in place before, and what it takes together with what is appraised; nothing where nothing is."""
    if not asked.approved:
        return []
    said = (
        f"In place before, as approved already: {', '.join(asked.approved)}. What these take is not in the losses "
        "elsewhere in this report, and the habitat before is what they leave."
    )
    if asked.cumulative is None:
        return [paragraph(said)]
    against = "Small losses add up: the table tells them against the site as it is without any of them."
    return [paragraph(f"{said} {against}"), tables["cumulative"].block()]


def variants_told(tables: dict[str, Numbers], asked: Asked) -> list[Block]:
    """The variants that were tried."""
    if not asked.variants:
        return [paragraph("None was asked for. A decision should rest on more than one drawing, and on doing nothing.")]
    return [
        paragraph(
            "In the order avoid, minimise, restore, offset. Doing nothing changes nothing: it is the site before. A "
            "loss is below 0; conditions are counted over the whole year."
        ),
        tables["variants"].block(),
    ]


def change_told(tables: dict[str, Numbers], asked: Asked) -> list[Block]:
    """The least change that would do."""
    if asked.sought is None:
        return [paragraph("It was not asked for.")]
    found = asked.sought
    evenly = {
        True: " In every direction tried the loss fell, or stayed, with each larger change.",
        False: " The loss does not fall evenly with the change: a smaller one between two steps may have been missed.",
    }
    return [
        paragraph(found.sentence, "strong"),
        paragraph(
            f"{found.appraisals} variants were appraised, each as a whole.{evenly.get(found.monotone, '')} The table "
            f"holds what meets the limits and the {_BEST_TRIED} that take least; all that were tried are in "
            "tables/least_change.csv."
        ),
        tables["least_change"].block(),
    ]


def range_told(account: Account, tables: dict[str, Numbers], asked: Asked) -> list[Block]:
    """The range of the loss, the chance that it passes a limit, and what would settle it."""
    if asked.loss_range is None:
        return [paragraph("The range of the loss was not asked for.")]
    from habitat.appraisal_range import sentences

    found = asked.loss_range
    blocks = [
        paragraph(
            f"Before and after were scored under the same {found.number:,} draws of all that the profile and the files "
            "say is in doubt. Here a loss is above 0 and a gain below."
        ),
        points(sentences(found)),
    ]
    return [*blocks, *(block for name in ("loss_range", "loss_settling") if (block := tables[name].block()))]


def not_carried(asked: Asked) -> list[str]:
    """What the range does not hold, among the things that are not quantified."""
    if asked.loss_range is None:
        return ["What the errors of layers do to scores, hectares and habitat units: they were not carried through."]
    return ["What the errors do to hectares of classes, to ways and to conditions: only habitat units have a range."]


def _range_in_short(account: Account, found: LossRange) -> list[str]:
    measure, of = ("spared", "what threat leaves") if account.knows_threat else ("units", "habitat units")
    said = []
    for row in found.losses[found.losses["measure"] == measure].itertuples():
        when = f" in the {row.season} season" if row.season else ""
        sentence = f"Nine draws in ten put the loss of {of}{when} between {row.low:,.1f} and {row.high:,.1f}"
        if found.limit is not None:
            passing = round(row.chance * found.number)
            sentence += f"; {passing:,} of {found.number:,} draws put it above {found.limit:,.1f}"
        said.append(f"{sentence}.")
    table = found.settling[found.settling["measure"] == measure]
    if len(table):
        most = table.sort_values("share", ascending=False, kind="stable").iloc[0]
        said.append(f"What would settle it most is to know {most.label} better.")
    return said


def _place_of(names: pd.Series) -> dict[str, int]:
    return {name: place for place, name in enumerate(dict.fromkeys(names))}


def _not_met(account: Account) -> int:
    return sum(finding.met is False for finding in account.conditions)


def _first_step(account: Account) -> int:
    steps = getattr(account.appraisal.proposals[0], "steps", ())
    return min((_STEPS.index(step) for step in steps), default=0)
