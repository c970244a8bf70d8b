"""The tuned profile as a file with its reasons, and a second profile to lay beside it."""

from __future__ import annotations

import io
import tempfile
from collections.abc import Mapping
from dataclasses import replace
from functools import partial
from pathlib import Path

import panel as pn
from markupsafe import Markup

from habitat.profile import Profile, read_profile, shipped_profiles
from habitat.profile_change import argued_text, changes, reasons_in, words_of
from habitat.site_map import SiteMap, map_site
from habitat.view import theme
from habitat.view.frame import fault_alert
from habitat.view.tuning_controls import LOOK
from habitat.view.tuning_session import Tuning
from layers.fault import FaultyFileError

NONE = "None"


def saved_file(profile: Profile, published: Profile, reasons: Mapping[str, str], title: str, author: str, date: str):
    """The profile under its name, each change marked with what it was, why, by whom and when."""
    # a file that was loaded keeps its own remarks and reasons: only what changed since is marked
    before = published if profile.text == published.text else profile_of_upload({"loaded.toml": profile.text})
    named = replace(profile, title=title.strip() or profile.title)
    return io.BytesIO(argued_text(named, before, reasons, author=author, date=date).encode())


def profile_of_upload(upload: Mapping[str, bytes]) -> Profile | None:
    """The profile in a file from the browser, under no name but its own.

    Raises
    ------
    ProfileError
        With everything that is wrong in it.
    """
    if not upload:
        return None
    name, held = next(iter(upload.items()))
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / (Path(name).stem + ".toml")
        path.write_bytes(held.encode() if isinstance(held, str) else held)
        return read_profile(path)


def site_by(site_map: SiteMap, profile: Profile) -> SiteMap:
    """The site read for another profile: on the layers there are where they serve, made anew where they do not."""
    from habitat.assessment import assess

    first = site_map.profile
    serves = (first.feeding_depth, first.amounts) == (profile.feeding_depth, profile.amounts)
    if serves and set(profile.layers_needed) <= set(site_map.layers):
        try:
            return replace(site_map, profile=profile, assessment=assess(site_map.layers, profile))
        except ValueError:  # it looks farther than the layers do
            pass
    return map_site(site_map.inputs.site.path, profile, cell=site_map.inputs.site.grid.cell)


def comparison_table(first: Profile, second: Profile) -> Markup:
    """Where two profiles differ, what each says, and the reason the second one gives."""
    reasons = reasons_in(second.text) if second.text else {}
    rows = Markup("").join(
        Markup("<tr><th scope='row'>{}</th><td>{}</td><td>{}</td><td>{}</td></tr>").format(
            change.words,
            *(_cell(part) for part in (change.was, change.now)),
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


def reason_fields(session: Tuning) -> pn.Column:
    """A field for the reason of each number that was changed."""
    place = theme.stack(gap=10)
    built: list[tuple] = [("nothing",)]

    def lay_out() -> None:
        made = changes(session.site_map.profile, session.view.profile)
        if tuple(made) != built[0]:
            built[0] = tuple(made)
            place.objects = [_reason(session, change) for change in made] or [
                theme.text("Nothing is changed yet. Each number you change asks for its reason here.")
            ]

    lay_out()
    session.param.watch(lambda _: lay_out(), "history")
    return place


def save_form(session: Tuning) -> list[object]:
    """Name, author and date, and the button that gives the file."""
    title = pn.widgets.TextInput(name="Name of the profile", value=session.site_map.profile.title, **LOOK)
    author = pn.widgets.TextInput(name="Author", placeholder="who signs these reasons", **LOOK)
    date = pn.widgets.TextInput(name="Date", placeholder="as 2026-05-01", **LOOK)

    def file():
        view = session.view
        published = session.site_map.profile
        return saved_file(view.profile, published, dict(view.reasons), title.value, author.value, date.value)

    button = pn.widgets.FileDownload(
        callback=file, filename="profile.toml", label="Save the profile (TOML)", button_type="primary", **LOOK
    )
    return [theme.grid(title, author, date, least=170, gap=12), button]


def load_form(session: Tuning) -> list[object]:
    """A saved profile to go on tuning, or a second one to lay beside."""
    drop = pn.widgets.FileDropper(name="A saved profile (TOML)", max_file_size="1MB", multiple=False, **LOOK)
    go_on = pn.widgets.Button(name="Go on with it", disabled=True, **LOOK)
    beside = pn.widgets.Button(name="Lay it beside", disabled=True, **LOOK)
    shipped = pn.widgets.Select(
        name="Or one that is shipped, to lay beside", options=[NONE, *shipped_profiles()], **LOOK
    )
    trouble = theme.stack()

    def allow(event) -> None:
        go_on.disabled = beside.disabled = not event.new

    drop.param.watch(allow, "value")

    def attempt(wish) -> None:
        try:
            trouble.objects = []
            wish()
        except FaultyFileError as error:
            trouble.objects = [fault_alert(error)]

    def take_up(_) -> None:
        attempt(lambda: _take_up(session, profile_of_upload(drop.value)))

    go_on.on_click(take_up)
    beside.on_click(lambda _: attempt(lambda: _lay_beside(session, profile_of_upload(drop.value))))
    shipped.param.watch(
        lambda event: attempt(partial(_lay_beside, session, None if event.new == NONE else read_profile(event.new))),
        "value",
    )
    return [drop, theme.grid(go_on, beside, least=120, gap=8), shipped, trouble]


def _take_up(session: Tuning, profile: Profile | None) -> None:
    if profile is None:
        return
    names = {part.name for part in (*profile.factors, *profile.pressures)}
    here = {part.name for part in (*session.site_map.profile.factors, *session.site_map.profile.pressures)}
    if names != here:
        _lay_beside(session, profile)  # other needs have no place in this page; it can be compared all the same
        return
    reasons = tuple((place, reason.rpartition(" (")[0]) for place, reason in reasons_in(profile.text).items())
    session.turn(session.coming.changed(profile=profile, reasons=reasons))


def _lay_beside(session: Tuning, profile: Profile | None) -> None:
    session.other = None if profile is None else site_by(session.site_map, profile)


def _reason(session: Tuning, change) -> pn.widgets.TextInput:
    known = dict(session.view.reasons).get(change.place, "")
    field = pn.widgets.TextInput(
        name=f"Why {words_of(change.place)}: {_cell(change.was)} → {_cell(change.now)}", value=known, **LOOK
    )
    field.param.watch(lambda event: _give_reason(session, change.place, event.new), "value")
    return field


def _give_reason(session: Tuning, place: str, reason: str) -> None:
    reasons = tuple(sorted({**dict(session.coming.present.reasons), place: reason}.items()))
    session.turn(session.coming.changed(reasons=reasons))


def _cell(value: object) -> str:
    if value is None:
        return "nothing"
    if isinstance(value, dict):
        return "; ".join(f"{key.replace('_', ' ')} {_cell(part)}" for key, part in value.items() if key != "source")
    if isinstance(value, list):
        return ", ".join(_cell(part) for part in value)
    if isinstance(value, bool):
        return "yes" if value else "no"
    return f"{value:g}" if isinstance(value, float) else str(value)
