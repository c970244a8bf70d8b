"""What a search for the least change has to say: its table of variants tried, and its answer in plain words."""

from __future__ import annotations

from typing import TYPE_CHECKING

from habitat.variant import variation_words

if TYPE_CHECKING:
    from collections.abc import Sequence

    import pandas as pd

    from habitat.least_change import LeastChange, Limits, Trial

DIRECTIONS = {
    "north": 0.0,
    "north-east": 45.0,
    "east": 90.0,
    "south-east": 135.0,
    "south": 180.0,
    "south-west": 225.0,
    "west": 270.0,
    "north-west": 315.0,
}  # clockwise from the north of the grid [degree]
LOSSES = {"spared": "habitat units that threat leaves", "units": "habitat units"}
AS_GIVEN = "as it was given"


def tried_table(trials: Sequence[Trial], limits: Limits) -> pd.DataFrame:
    """The variants that were tried under these limits, in the order of trying.

    Returns
    -------
    DataFrame
        Columns variant (in words), direction, change (metres, or the share taken away; NaN of a season), loss (of the
        worst season, a gain below 0; NaN where the variant cannot be [ha]), season, meets, in_the_way (words).
    """
    import pandas as pd

    rows = [
        (
            words_of(one),
            one.direction,
            float("nan") if one.amount is None else one.amount,
            one.loss,
            one.season,
            one.meets,
            one.why_not or ", ".join([*_too_much(one, limits), *dict.fromkeys(finding.rule for finding in one.broken)]),
        )
        for one in trials
    ]
    return pd.DataFrame(rows, columns=["variant", "direction", "change", "loss", "season", "meets", "in_the_way"])


def words_of(trial: Trial) -> str:
    """What is done otherwise in a trial."""
    if trial.direction and trial.amount:
        where = trial.direction if trial.direction in DIRECTIONS else f"towards {trial.direction}"
        return f"{trial.amount:,.0f} m {where}"
    return variation_words(trial.variation) or AS_GIVEN


def limits_words(limits: Limits) -> str:
    """The limits in a few words."""
    words = []
    if limits.at_most_loss is not None:
        words.append(f"a loss of at most {limits.at_most_loss:,.10g} {LOSSES[limits.of]} in any season")
    words += [f"{name.replace('_', ' ')} met" for name in limits.conditions]
    return ", ".join(words)


def sentence_of(best: Trial, search, quantity: str, farthest: float, bearing: float | None) -> str:
    """The answer of a search in plain words."""
    limits, name = limits_words(search.limits), search.proposal.name
    took = f"{best.loss:,.1f} {LOSSES[search.limits.of]}{f' in the {best.season} season' if best.season else ''}"
    if best.meets and best.variation == search.trials[0].variation:
        return f"{name} meets the limits as it was given ({limits}): it takes {took}."
    if best.meets:
        what = {"distance": "shortest move", "season": "season"}.get(quantity, f"smallest cut of the {quantity}")
        said = (
            f"The {what} of {name} that was found to meet the limits ({limits}) is {words_of(best)}: it takes {took}."
        )
        return f"{said} The search stopped early, at {search.most} appraisals." if search.is_spent else said
    ways = "in any of eight directions" if bearing is None else f"towards {bearing:g} degrees"
    sought = {"distance": f"distance up to {farthest:,.0f} m {ways}", "season": "other season"}.get(
        quantity, f"smaller {quantity} down to a tenth"
    )
    if search.is_spent:
        begun = (
            f"None of the {search.appraisals} variants appraised meets the limits ({limits}), and no more were allowed."
        )
    else:
        begun = f"No {sought} meets the limits ({limits})."
    return f"{begun} What stands in the way at the best one tried, {words_of(best)}: {_in_the_way(best, search, took)}"


def appraisals_words(answer: LeastChange) -> str:
    """How many appraisals a search took."""
    return "1 appraisal" if answer.appraisals == 1 else f"{answer.appraisals} appraisals"


def least_change_text(answer: LeastChange) -> str:
    """The answer and the table of variants tried, as plain text."""
    told = {
        True: "In every direction tried the loss fell, or stayed, with each larger change.",
        False: "The loss does not fall evenly with the change: a smaller one between two steps may have been missed.",
    }
    lines = [answer.sentence, *([told[answer.monotone]] if answer.monotone is not None else [])]
    table = answer.tried.assign(meets=answer.tried["meets"].map({True: "yes", False: "no"}))
    table = table.drop(columns=["direction", "change"])
    lines += ["", f"Variants tried ({appraisals_words(answer)})"]
    return "\n".join([*lines, table.to_string(index=False, float_format="{:,.2f}".format, na_rep="cannot be")])


def _too_much(trial: Trial, limits: Limits) -> list[str]:
    return ["the loss"] if limits.at_most_loss is not None and trial.loss > limits.at_most_loss else []


def _in_the_way(best: Trial, search, took: str) -> str:
    limit, reasons = search.limits.at_most_loss, []
    if limit is not None and best.loss > limit:
        reasons.append(f"it takes {took}")
    for finding in best.broken:
        verdict = "is not met" if finding.met is False else "cannot be told"
        reasons.append(f"{finding.rule} {verdict}, {finding.feature}: {finding.found.rstrip('.')}")
    return "; ".join(reasons) + "."
