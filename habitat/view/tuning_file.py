"""The tuned profile as a file with its reasons: what was changed, what still lacks a reason, who signs."""

from __future__ import annotations

import io
import tempfile
from collections.abc import Mapping
from dataclasses import replace
from pathlib import Path

import panel as pn
from markupsafe import Markup

from habitat.profile import Profile, read_profile
from habitat.profile_change import argued_text, changes, without_reason, words_of
from habitat.view import theme
from habitat.view.tuning_controls import LOOK
from habitat.view.tuning_session import Tuning

SAYS_SO = "The file will say so beside each."
ASKS_FOR_A_NAME = "Who gives these reasons? Put the name under Author: a changed profile is saved signed."


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


def before_saving(profile: Profile, published: Profile, reasons: Mapping[str, str], author: str) -> Markup:
    """What the file would lack: reasons that nobody gave yet, and the name of who answers for them."""
    made = changes(published, profile)
    silent = without_reason(made, reasons)
    said = Markup("")
    if silent:
        count = "1 change has" if len(silent) == 1 else f"{len(silent)} changes have"
        which = "; ".join(change.words for change in silent)
        said += Markup('<p role="status"><strong>{} no reason yet:</strong> {}. {}</p>').format(count, which, SAYS_SO)
    if made and not author.strip():
        said += Markup('<p role="status"><strong>{}</strong></p>').format(ASKS_FOR_A_NAME)
    return said


def cell_words(value: object) -> str:
    """A value of a profile in plain words."""
    if value is None:
        return "nothing"
    if isinstance(value, dict):
        return "; ".join(
            f"{key.replace('_', ' ')} {cell_words(part)}" for key, part in value.items() if key != "source"
        )
    if isinstance(value, list):
        return ", ".join(cell_words(part) for part in value)
    if isinstance(value, bool):
        return "yes" if value else "no"
    return f"{value:g}" if isinstance(value, float) else str(value)


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
        return saved_file(view.profile, published, dict(view.reasons), title.value, author.value_input, date.value)

    button = pn.widgets.FileDownload(
        callback=file, filename="profile.toml", label="Save the profile (TOML)", button_type="primary", **LOOK
    )

    def lacks(_, name: str) -> Markup:
        return before_saving(session.view.profile, session.site_map.profile, dict(session.view.reasons), name)

    def sign(*_) -> None:
        is_changed = session.view.profile != session.site_map.profile
        button.disabled = is_changed and not author.value_input.strip()

    session.param.watch(sign, "history")
    author.param.watch(sign, "value_input")
    told = theme.text(pn.bind(lacks, session.param.history, author.param.value_input))
    return [theme.grid(title, author, date, least=170, gap=12), told, button]


def _reason(session: Tuning, change) -> pn.widgets.TextInput:
    known = dict(session.view.reasons).get(change.place, "")
    field = pn.widgets.TextInput(
        name=f"Why {words_of(change.place)}: {cell_words(change.was)} → {cell_words(change.now)}", value=known, **LOOK
    )
    field.param.watch(lambda event: _give_reason(session, change.place, event.new), "value")
    return field


def _give_reason(session: Tuning, place: str, reason: str) -> None:
    reasons = tuple(sorted({**dict(session.coming.present.reasons), place: reason}.items()))
    session.turn(session.coming.changed(reasons=reasons))
