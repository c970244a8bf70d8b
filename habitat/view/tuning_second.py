"""A saved profile to go on tuning, or a second one laid beside: what differs, and the site read for it."""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import partial

import panel as pn
from markupsafe import Markup

from habitat.profile import Profile, read_profile, shipped_profiles
from habitat.profile_change import NO_REASON, changes
from habitat.profile_mark import reasons_in
from habitat.site_map import SiteMap, map_site
from habitat.view import appraise_words, theme
from habitat.view.desk import Desk, Work
from habitat.view.frame import fault_alert
from habitat.view.tuning_controls import LOOK
from habitat.view.tuning_file import cell_words, profile_of_upload
from habitat.view.tuning_session import Tuning
from habitat.view.waiting import progress
from layers.fault import FaultyFileError
from layers.step import OnStep, ignore

NONE = "None"


@dataclass(frozen=True, kw_only=True)
class Second:
    """What lies on the desk: the site by the second profile, if there is one."""

    site_map: SiteMap | None = None


def site_by(site_map: SiteMap, profile: Profile, on_step: OnStep = ignore) -> SiteMap:
    """The site read for another profile: on the layers there are where they serve, made anew where they do not."""
    from habitat.assessment import assess

    first = site_map.profile
    serves = (first.feeding_depth, first.amounts) == (profile.feeding_depth, profile.amounts)
    if serves and set(profile.layers_needed) <= set(site_map.layers):
        try:
            return replace(site_map, profile=profile, assessment=assess(site_map.layers, profile))
        except ValueError:  # it looks farther than the layers do
            pass
    return map_site(site_map.inputs.site.path, profile, cell=site_map.inputs.site.grid.cell, on_step=on_step)


def why_beside(profile: Profile, here: Profile) -> str:
    """Why a loaded profile cannot be gone on with on the page of another; empty where it can.

    Examples
    --------
    >>> why_beside(read_profile("estuarine_grazer"), read_profile("estuarine_grazer"))
    ''
    """
    theirs, own = ([part.label for part in (*one.factors, *one.pressures)] for one in (profile, here))
    names = ({part.name: part.layer for part in (*one.factors, *one.pressures)} for one in (profile, here))
    first, second = names
    if first == second:
        return ""
    said = [
        f"{verb} {', '.join(labels)}"
        for verb, labels in (
            ("asks for", [label for label in theirs if label not in own]),
            ("does without", [label for label in own if label not in theirs]),
        )
        if labels
    ]
    differs = " and ".join(said) or "looks at other layers under the same names"
    return (
        f"It cannot be tuned on this page, which has the curves of “{here.title}”: “{profile.title}” {differs}. "
        "So it is laid beside. To tune it, open the site with it as its profile."
    )


def comparison_table(first: Profile, second: Profile) -> Markup:
    """Where two profiles differ, what each says, and the reason the second one gives."""
    reasons = reasons_in(second.text) if second.text else {}
    rows = Markup("").join(
        Markup("<tr><th scope='row'>{}</th><td>{}</td><td>{}</td><td>{}</td></tr>").format(
            change.words,
            *(cell_words(part) for part in (change.was, change.now)),
            reasons.get(change.place, "none in the file"),
        )
        for change in changes(first, second)
        if change.place != "source"
    )
    if not rows:
        return Markup("<p>The two profiles are the same in every number.</p>")
    return Markup(
        "<div class='wide'><table><thead><tr><th scope='col'>Where</th><th scope='col'>Was</th>"
        "<th scope='col'>Is</th><th scope='col'>Reason</th></tr></thead><tbody>{}</tbody></table></div>"
    ).format(rows)


def load_form(session: Tuning) -> list[object]:
    """A saved profile to go on tuning, or a second one to lay beside; the site is read for it beside the page."""
    drop = pn.widgets.FileDropper(name="A saved profile (TOML)", max_file_size="1MB", multiple=False, **LOOK)
    go_on = pn.widgets.Button(name="Go on with it", disabled=True, **LOOK)
    beside = pn.widgets.Button(name="Lay it beside", disabled=True, **LOOK)
    shipped = pn.widgets.Select(
        name="Or one that is shipped, to lay beside", options=[NONE, *shipped_profiles()], **LOOK
    )
    trouble = theme.stack()
    desk = Desk(session.site_map, Second())
    desk.param.watch(lambda event: session.param.update(other=event.new.site_map), "bench")

    def allow(event) -> None:
        go_on.disabled = beside.disabled = not event.new

    drop.param.watch(allow, "value")

    def attempt(wish) -> None:
        try:
            trouble.objects = []
            wish()
        except FaultyFileError as error:
            trouble.objects = [fault_alert(error)]

    def lay_beside(profile: Profile | None) -> None:
        if profile is None:
            desk.stop()
            desk.bench = Second()
        else:
            desk.do(f"the site by “{profile.title}”", partial(_second_by, session.site_map, profile))

    def take_up() -> None:
        profile = profile_of_upload(drop.value)
        why = why_beside(profile, session.site_map.profile)
        if why:
            trouble.objects = [theme.text(Markup('<p role="status">{}</p>').format(why))]
            lay_beside(profile)
        else:
            session.turn(session.coming.changed(profile=profile, reasons=_reasons_of(profile)))

    go_on.on_click(lambda _: attempt(take_up))
    beside.on_click(lambda _: attempt(lambda: lay_beside(profile_of_upload(drop.value))))
    shipped.param.watch(
        lambda event: attempt(lambda: lay_beside(None if event.new == NONE else read_profile(event.new))), "value"
    )
    return [drop, theme.grid(go_on, beside, least=120, gap=8), shipped, trouble, progress(desk, state)]


def state(work: Work) -> Markup:
    """That the site is being read for a second profile, or what stood in the way."""
    if work.doing or not work.trouble:
        return appraise_words.state(work)
    return Markup(
        '<div class="alert" role="alert"><h2>The site cannot be read for this profile</h2><pre>{}</pre>'
        "<p>Nothing else on this page has changed.</p></div>"
    ).format(work.trouble)


def _second_by(site_map: SiteMap, profile: Profile, second: Second, on_step: OnStep) -> Second:
    return Second(site_map=site_by(site_map, profile, on_step))


def _reasons_of(profile: Profile) -> tuple[tuple[str, str], ...]:
    given = ((place, said.rpartition(" (")[0]) for place, said in reasons_in(profile.text).items())
    return tuple((place, reason) for place, reason in given if reason != NO_REASON)
