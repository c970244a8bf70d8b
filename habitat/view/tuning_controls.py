"""The controls of the tuning page: everything that can be dragged can also be typed. Each changes the profile."""

from __future__ import annotations

from functools import partial

import panel as pn

from habitat.combine import RULES
from habitat.curve import SuitabilityCurve
from habitat.pressure import Fade
from habitat.profile import Factor, Profile
from habitat.profile_edit import (
    curve_of,
    handles,
    part_of,
    value_step,
    with_breaks,
    with_demand,
    with_fade_shape,
    with_handle,
    with_point_after,
    with_rule,
    without_point,
)
from habitat.view import theme
from habitat.view.tuning_session import Tuning
from habitat.view.words import unit_sign
from layers.quantity import LAYERS

_LOOK_CSS = """
label { white-space: normal; line-height: 1.25; }
.bk-btn { white-space: normal; line-height: 1.2; padding: 8px 6px; }
"""
LOOK = {"stylesheets": [theme.WIDGET_CSS, _LOOK_CSS], "sizing_mode": "stretch_width", "margin": 0}

# not boxes to tick: the library gives those no name that can be heard
_YES_OR_NO = {"no": False, "yes": True}


def part_select(session: Tuning) -> pn.widgets.Select:
    """Choice of the need or pressure whose curve is in hand."""
    profile = session.site_map.profile
    groups = {
        "Needs": {part.label.capitalize(): part.name for part in profile.factors},
        "Pressures": {part.label.capitalize(): part.name for part in profile.pressures},
    }
    select = pn.widgets.Select(name="Need or pressure in hand", groups=groups, value=session.view.part, **LOOK)
    select.param.watch(lambda event: session.choose(part=event.new), "value")
    session.param.watch(lambda event: select.param.update(value=event.new.present.part), "history")
    return select


def step_buttons(session: Tuning) -> pn.Column:
    """A change taken back, made again, and the way back to the profile as published."""
    undo, redo, first = (pn.widgets.Button(name=name, **LOOK) for name in ("Undo", "Redo", "As published"))
    undo.on_click(lambda _: session.turn(session.coming.undone()))
    redo.on_click(lambda _: session.turn(session.coming.redone()))
    first.on_click(lambda _: session.tune(lambda _: session.site_map.profile))
    return theme.grid(undo, redo, first, least=80, gap=8)


def part_fields(session: Tuning) -> pn.Column:
    """Weight, demands and points of the part in hand, to be typed; built anew when another part is in hand."""
    place = theme.stack(gap=12)
    built: list[tuple] = [()]

    def lay_out() -> None:
        part = part_of(session.view.profile, session.view.part)
        shape = (part.name, len(handles(part)))
        if shape != built[0]:
            built[0] = shape
            place.objects = _fields_of(session, part.name)

    lay_out()
    session.param.watch(lambda _: lay_out(), "history")
    return place


def weight_input(session: Tuning, name: str, label: str = "Weight") -> pn.widgets.FloatInput:
    """The weight of a part; of pressures from 0 to 1."""
    is_factor = isinstance(part_of(session.view.profile, name), Factor)
    limits = {"start": 0.0, "step": 0.5} if is_factor else {"start": 0.0, "end": 1.0, "step": 0.05}
    return _number(
        session,
        label,
        lambda profile: part_of(profile, name).weight,
        lambda profile, value: _weighed(profile, name, value),
        **limits,
    )


def rule_fields(session: Tuning) -> list[object]:
    """How scores are combined, how many parts may lack, and where the classes part."""
    profile = session.view.profile
    rule = pn.widgets.Select(name="How the needs are combined", options=list(RULES), value=profile.rule, **LOOK)
    rule.param.watch(
        lambda event: session.tune(lambda p: with_rule(p, event.new, p.may_lack, p.threat_may_lack)), "value"
    )
    session.param.watch(lambda event: rule.param.update(value=event.new.present.profile.rule), "history")
    lack = _number(
        session,
        "Needs a score may lack",
        lambda p: p.may_lack,
        lambda p, value: with_rule(p, p.rule, round(value), p.threat_may_lack),
        start=0,
        end=max(len(profile.factors) - 1, 0),
        step=1,
    )
    threat_lack = _number(
        session,
        "Pressures the threat may lack",
        lambda p: p.threat_may_lack,
        lambda p, value: with_rule(p, p.rule, p.may_lack, round(value)),
        start=0,
        end=max(len(profile.pressures) - 1, 0),
        step=1,
    )
    labels = (
        ("suitability", 0, "Fair habitat from"),
        ("suitability", 1, "Good habitat from"),
        ("threat", 0, "Moderate threat from"),
        ("threat", 1, "High threat from"),
    )
    breaks = [
        _number(
            session,
            label,
            lambda p, kind=kind, k=k: getattr(p, f"{kind}_breaks")[k],
            lambda p, value, kind=kind, k=k: _cut(p, kind, k, value),
            start=0.01,
            end=0.99,
            step=0.01,
        )
        for kind, k, label in labels
    ]
    return [rule, theme.grid(lack, threat_lack, least=180, gap=12), theme.grid(*breaks, least=130, gap=12)]


def _fields_of(session: Tuning, name: str) -> list[object]:
    part = part_of(session.view.profile, name)
    rows: list[object] = [
        theme.grid(weight_input(session, name), *_demands(session, name), least=120, gap=12, align="end")
    ]
    points, curve = handles(part), curve_of(part)
    unit = unit_sign(LAYERS[part.layer].units)
    what = "index" if isinstance(part, Factor) else "exposure"
    fields = []
    for number, point in enumerate(points):
        label = f"Point {number + 1}"
        if isinstance(curve, Fade):
            label = ("Full exposure up to", "No exposure from")[number]
        pair = []
        if point.moves_along:
            title = f"{label}{': value' if point.moves_up else ''}{', ' + unit if unit else ''}"
            pair.append(_point(session, name, number, title, along=True, step=value_step(part)))
        if point.moves_up:
            title = f"{label}: {what}"
            if not point.moves_along:
                title = f"{curve.categories[int(point.value)].replace('_', ' ').capitalize()}: {what}"
            pair.append(_point(session, name, number, title, along=False, step=0.05))
        fields.append(theme.grid(*pair, least=110, gap=8))
    rows.append(theme.grid(*fields, least=240, gap=8, fit="auto-fill"))
    if isinstance(curve, SuitabilityCurve):
        rows.append(_more_or_fewer(session, name))
    return rows


def _more_or_fewer(session: Tuning, name: str) -> pn.Column:
    count = len(handles(part_of(session.view.profile, name)))
    which = pn.widgets.Select(name="At point", options=list(range(1, count + 1)), value=1, **LOOK)
    more = pn.widgets.Button(name="Add a point after it", disabled=count < 2, **LOOK)
    fewer = pn.widgets.Button(name="Take it away", disabled=count <= 2, **LOOK)
    more.on_click(lambda _: session.tune(partial(with_point_after, name=name, number=which.value - 1)))
    fewer.on_click(lambda _: session.tune(partial(without_point, name=name, number=which.value - 1)))
    return theme.grid(which, more, fewer, least=130, gap=8, align="end")


def _demands(session: Tuning, name: str) -> list[object]:
    part = part_of(session.view.profile, name)
    if isinstance(part, Factor):
        veto = pn.widgets.Select(name="Veto at an index of 0", options=_YES_OR_NO, value=part.veto, **LOOK)
        needed = name in session.view.profile.essential
        essential = pn.widgets.Select(name="No score without it", options=_YES_OR_NO, value=needed, **LOOK)

        def demand(_) -> None:
            session.tune(partial(with_demand, name=name, veto=veto.value, essential=essential.value))

        def follow(event) -> None:
            profile = event.new.present.profile
            wanted = (part_of(profile, name).veto, name in profile.essential)
            if wanted != (veto.value, essential.value):
                veto.value, essential.value = wanted

        veto.param.watch(demand, "value")
        essential.param.watch(demand, "value")
        session.param.watch(follow, "history")
        return [veto, essential]
    if not isinstance(part.exposure, Fade):
        return []
    shape = pn.widgets.Select(
        name="How it fades", options=["linear", "exponential", "gaussian"], value=part.exposure.shape, **LOOK
    )
    shape.param.watch(lambda event: session.tune(partial(with_fade_shape, name=name, shape=event.new)), "value")
    session.param.watch(
        lambda event: shape.param.update(value=curve_of(part_of(event.new.present.profile, name)).shape), "history"
    )
    return [shape]


def _point(session: Tuning, name: str, number: int, title: str, *, along: bool, step: float):
    def read(profile: Profile) -> float:
        points = handles(part_of(profile, name))
        point = points[min(number, len(points) - 1)]
        return point.value if along else point.index

    def change(profile: Profile, typed: float) -> Profile:
        part = part_of(profile, name)
        point, reach = handles(part)[number], session.reach(part.layer)
        pair = (typed, point.index) if along else (point.value, typed)
        return with_handle(profile, name, number, *pair, reach=reach)

    limits = {} if along else {"start": 0.0, "end": 1.0}
    return _number(session, title, read, change, step=step, **limits)


def _number(session: Tuning, title: str, read, change, **limits) -> pn.widgets.FloatInput:
    """A number that is typed; what is held back springs to where it can be."""
    field = pn.widgets.FloatInput(name=title, value=float(read(session.view.profile)), **limits, **LOOK)

    def typed(event) -> None:
        if event.new is not None and event.new != read(session.coming.present.profile):
            session.tune(lambda profile: change(profile, float(event.new)))
        field.value = float(read(session.coming.present.profile))

    field.param.watch(typed, "value")
    session.param.watch(lambda event: field.param.update(value=float(read(event.new.present.profile))), "history")
    return field


def _weighed(profile: Profile, name: str, weight: float) -> Profile:
    others = [factor.weight for factor in profile.factors if factor.name != name]
    is_last = any(factor.name == name for factor in profile.factors) and not any(others)
    return profile if weight == 0 and is_last else profile.with_weight(name, weight)


def _cut(profile: Profile, kind: str, number: int, value: float) -> Profile:
    pair = list(getattr(profile, f"{kind}_breaks"))
    pair[number] = value
    return with_breaks(profile, kind, *pair)
