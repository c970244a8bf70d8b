"""Two further questions of a planner: how sure is the loss, and which smallest change would meet a limit?"""

from __future__ import annotations

from dataclasses import replace
from functools import partial

import panel as pn
from markupsafe import Markup

from habitat.view import appraise_words as words
from habitat.view import theme
from habitat.view.appraise_forms import with_variation
from habitat.view.bench import Bench
from habitat.view.desk import Desk
from habitat.view.fields import LOOK
from layers.step import OnStep, ignore

QUANTITIES = {
    "how far it is moved": "distance",
    "how much smaller it is built": "size",
    "how much less is dug": "volume",
    "the season of the work": "season",
}
SEED = 1  # of the draws: the same question has the same answer
SURE = Markup(
    "<h2>How sure is the loss?</h2><p>Depths, curves and weights are in doubt. The loss is worked out again under "
    "hundreds of draws of all that is in doubt, before and after alike.</p>"
)
LEAST = Markup(
    "<h2>The smallest change that meets a limit</h2><p>The proposal as it was given is moved, built smaller, dug less "
    "or put in another season, step by step, until it takes no more than you allow and meets the conditions you "
    "choose.</p>"
)


def asking_cards(desk: Desk) -> list[pn.Column]:
    """The two questions, each with its answer."""
    limit = pn.widgets.FloatInput(name="Limit of the loss, habitat units (may be left empty)", value=None, **LOOK)
    asking = pn.widgets.Button(name="Work out how sure it is", button_type="primary", **LOOK)
    asking.on_click(lambda _: desk.do("how sure the loss is", partial(with_range, limit.value)))
    most = pn.widgets.FloatInput(name="Largest loss you allow, habitat units", value=None, **LOOK)
    wanted = pn.widgets.MultiSelect(
        name="Conditions it has to meet (none, or several with Ctrl)", options=conditions_offered(), size=6, **LOOK
    )
    quantity = pn.widgets.Select(name="What may be changed", options=QUANTITIES, **LOOK)
    seeking = pn.widgets.Button(name="Find the smallest change", button_type="primary", **LOOK)
    seeking.on_click(
        lambda _: desk.do(
            "the smallest change", partial(with_least_change, desk, quantity.value, most.value, tuple(wanted.value))
        )
    )
    said = (theme.text(pn.bind(part, desk.param.bench), css=words.WORDS_CSS) for part in (sure_words, least_words))
    return [
        theme.card(theme.text(SURE), theme.grid(limit, asking, least=200, gap=12, align="end"), next(said)),
        theme.card(
            theme.text(LEAST), theme.grid(quantity, most, least=200, gap=12, align="end"), wanted, seeking, next(said)
        ),
    ]


def conditions_offered() -> dict[str, str]:
    """Names of the conditions that a map can judge, by what they ask."""
    from habitat.conditions import read_conditions

    return {rule.label: rule.name for rule in read_conditions().rules if rule.form != "told"}


def with_range(limit: float | None, bench: Bench, on_step: OnStep = ignore) -> Bench:
    """The bench with the range of the loss to the variant in view, and the chance that it passes a limit. [ha]"""
    from habitat.appraisal_range import range_of_loss

    if bench.account is None:
        raise ValueError("There is no proposal yet. Load or draw one first.")
    return bench.with_range(range_of_loss(bench.account.appraisal, limit=limit, seed=SEED, on_step=on_step))


def with_least_change(
    desk: Desk,
    quantity: str,
    most: float | None,
    conditions: tuple[str, ...],
    bench: Bench,
    on_step: OnStep = ignore,
) -> Bench:
    """The bench with the smallest change that takes no more than `most` habitat units that threat leaves [ha], and
    meets these conditions."""
    from habitat.appraisal import outcome_of
    from habitat.conditions import read_conditions
    from habitat.least_change import Limits, least_change

    if bench.first is None:
        raise ValueError("There is no proposal yet. Load or draw one first.")
    if most is None and not conditions:
        raise ValueError("No limit is given. Say how large a loss you allow, in habitat units, or choose conditions.")
    before = desk.site_map
    if bench.approved:
        before = outcome_of(before, bench.approved, "what is approved").site_map
    sought = least_change(
        before,
        bench.first,
        Limits(at_most_loss=most, of="spared" if bench.account.knows_threat else "units", conditions=conditions),
        read_conditions(),
        quantity=quantity,
        on_step=on_step,
    )
    return replace(with_variation(desk, sought.variation, bench, on_step), sought=sought)


def sure_words(bench: Bench) -> Markup:
    """How sure the loss to the variant in view is; nothing before that is asked."""
    if bench.trial is None or bench.trial.loss_range is None:
        return Markup("")
    from habitat.appraisal_range import sentences, told_measure

    found = bench.trial.loss_range
    losses = found.losses[found.losses["measure"] == told_measure(found)]
    rows = [
        (
            row.season or "all the year",
            f"{row.taken:,.1f}",
            f"{row.low:,.1f} to {row.high:,.1f}",
            "no limit given" if row.chance != row.chance else f"{100 * row.chance:.0f} %",
        )
        for row in losses.itertuples()
    ]
    heads = ["Season", "Loss", "Nine draws in ten", "Passes the limit"]
    lines = Markup("").join(Markup("<li>{}</li>").format(line) for line in sentences(found))
    return words.table(heads, rows, 3) + Markup("<ul>{}</ul>").format(lines)


def least_words(bench: Bench) -> Markup:
    """What the search found, and all that it tried."""
    if bench.sought is None:
        return Markup("")
    from habitat.least_change_words import appraisals_words

    found = bench.sought
    rows = [
        (
            row.variant,
            "yes" if row.meets else "no",
            row.in_the_way or "nothing",
            row.season or "all the year",
            "cannot be" if row.loss != row.loss else f"{row.loss:,.2f}",
        )
        for row in found.tried.itertuples()
    ]
    heads = ["Tried", "Meets the limits", "What stands in the way", "Season of the loss", "Loss, habitat units"]
    return Markup(
        "<p><strong>{}</strong></p><details open><summary>All that was tried, {}</summary>{}</details>"
    ).format(found.sentence, appraisals_words(found), words.table(heads, rows, 1, stacks=True))
