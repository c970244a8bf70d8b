"""The form in which a planner says what is to be done otherwise."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import fields
from functools import partial

import panel as pn

from habitat.variant import ALL_YEAR, Variation
from habitat.view import theme
from habitat.view.appraise_forms import with_variation
from habitat.view.bench import Bench
from habitat.view.desk import Desk
from habitat.view.fields import LOOK
from layers.dredging import loss_fractions

AS_GIVEN, NOTHING = "as it was given", "nothing"
PERCENT = ("share", "volume")  # fields that are typed in percent


def variant_form(desk: Desk) -> list[object]:
    """Fields of a variant, the button that makes it and the one that takes it away."""
    seasons = {AS_GIVEN: "", **{name: name for name in desk.site_map.inputs.site.seasons}, ALL_YEAR: ALL_YEAR}
    equipment = {AS_GIVEN: "", **{name: name for name in loss_fractions()}}
    number, choice = partial(pn.widgets.FloatInput, **LOOK), partial(pn.widgets.Select, **LOOK)
    held = {
        "east": number(name="Moved to the east, m", value=0.0, step=50),
        "north": number(name="Moved to the north, m", value=0.0, step=50),
        "season": choice(name="Season of the work", options=seasons),
        "equipment": choice(name="Equipment", options=equipment),
        "share": number(name="Share of the size, %", value=100.0, step=10),
        "volume": number(name="Share of the volume dug, %", value=100.0, step=10),
        "without": choice(name="Leave out", options={NOTHING: ""}),
        "measure": pn.widgets.TextInput(name="Measure, such as a silt curtain", **LOOK),
        "left_share": number(name="Share of the loss it leaves, 0 to 1", value=1.0, step=0.1),
        "left_src": pn.widgets.TextInput(name="Who found that share", **LOOK),
    }
    desk.param.watch(lambda event: held["without"].param.update(options=parts_of(event.new)), "bench")
    making = pn.widgets.Button(name="Make this variant", button_type="primary", **LOOK)
    making.on_click(lambda _: make(desk, {name: one.value for name, one in held.items()}))
    dropping = pn.widgets.Button(name="Take the variant in view away", **LOOK)
    dropping.on_click(lambda _: desk.work.doing or desk.param.update(bench=desk.bench.without_shown()))
    return [theme.grid(*held.values(), making, dropping, least=170, gap=12, align="end")]


def make(desk: Desk, values: Mapping[str, object]) -> None:
    """Work out the variant that the fields ask for."""
    desk.do("what the variant does", partial(with_variation, desk, variation_of(values)))


def variation_of(values: Mapping[str, object]) -> Variation:
    """What the fields of a variant ask for; an empty field leaves things as they are.

    Examples
    --------
    >>> variation_of({"east": 50.0, "share": 40.0, "season": "wet", "north": None}) == Variation(
    ...     east=50.0, share=0.4, season="wet"
    ... )
    True
    """
    given = {name: value / 100 if name in PERCENT else value for name, value in values.items() if value is not None}
    return Variation(**{one.name: given.get(one.name, one.default) for one in fields(Variation)})


def parts_of(bench: Bench) -> dict[str, str]:
    """What may be left out of the proposal: one feature, where there are several."""
    features = () if bench.first is None else bench.first.features
    return {NOTHING: ""} | ({one.title: one.label for one in features} if len(features) > 1 else {})
