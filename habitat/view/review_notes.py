"""Comments on the page of review: written, pinned, saved beside the record, and taken home with the report."""

from __future__ import annotations

import io
import zipfile
from collections.abc import Sequence
from functools import partial
from pathlib import Path

import panel as pn
from markupsafe import Markup

from habitat.review_comments import Comment, cell_of, comment, comments_text, is_date, save_comments
from habitat.view import theme
from habitat.view.appraise_files import today
from habitat.view.fields import LOOK
from habitat.view.review_checks import checks_of
from habitat.view.review_desk import Review, ReviewDesk
from habitat.view.review_pairs import AFTER
from habitat.view.review_words import REVIEW_CSS
from habitat.view.session import Session
from layers.fault import FaultyFileError

WHOLE = "the answer as a whole"
ABOUT = Markup(
    "<h2>Comments</h2><p>Pinned to a check, a layer or the cell you clicked. <strong>Never write where an animal was "
    "seen</strong>: comments go into the report, and on to whoever reads it.</p>"
)


def notes_card(desk: ReviewDesk, session: Session) -> pn.Column:
    """The form, the comments so far, and the buttons to save and to take them home."""
    pin = pn.widgets.Select(name="It is about", groups=pins(desk.bench, session), **LOOK)
    session.param.watch(lambda _: _offer_again(pin, desk, session), ["place", "shown"])
    text = pn.widgets.TextAreaInput(name="Comment", rows=3, **LOOK)
    author = pn.widgets.TextInput(name="Your name", **LOOK)
    date = pn.widgets.TextInput(name="Date", value=today(), **LOOK)
    keep = pn.widgets.Button(name="Keep this comment", button_type="primary", **LOOK)
    undo = pn.widgets.Button(name="Take the last one back", **LOOK)
    said = theme.text("", css=REVIEW_CSS)

    def write(_: object) -> None:
        fields = {"text": text.value_input or text.value, "author": author.value_input or author.value}
        if _told(said, desk, lambda: kept(desk, session, pin.value, date=date.value, **fields)):
            text.value = ""

    keep.on_click(write)
    undo.on_click(lambda _: desk.param.update(comments=desk.comments[:-1]))
    save = pn.widgets.Button(name="Save them beside the record", visible=desk.bench.lies_with_site, **LOOK)
    save.on_click(lambda _: _told(said, desk, lambda: saved(desk, date.value)))
    home = pn.widgets.FileDownload(
        callback=lambda: io.StringIO(comments_text(desk.bench.record, _all(desk))),
        filename=f"{desk.bench.record.archive.path.stem}.comments.toml",
        label="Take the comments home (TOML)",
        embed=False,
        auto=True,
        **LOOK,
    )
    report = pn.widgets.FileDownload(
        callback=lambda: report_archive(desk.bench, _all(desk), author=author.value.strip(), date=_day(date.value)),
        filename="review.zip",
        label="Report of the review (ZIP: PDF, HTML, comments)",
        button_type="primary",
        embed=False,
        auto=True,
        **LOOK,
    )
    return theme.card(
        theme.text(ABOUT),
        theme.grid(pin, author, date, least=220, gap=12, align="end"),
        text,
        theme.grid(keep, undo, least=220, gap=12),
        said,
        theme.text(pn.bind(partial(notes_words, desk), desk.param.comments), css=REVIEW_CSS),
        theme.grid(save, home, report, least=240, gap=12),
    )


def pins(review: Review, session: Session) -> dict[str, dict[str, str]]:
    """What a comment can be pinned to, by kind: label to value."""
    checks = checks_of(review)
    offered = {
        "Checks": {WHOLE.capitalize(): f"check/{WHOLE}"}
        | {one.label.partition(":")[0]: f"check/{one.name}" for one in checks if one.group == "record"},
        "Layers and results": {one.label: f"layer/{one.name}" for one in checks if one.group != "record"},
    }
    cell = None if session.place is None else cell_of(review.record.grid, *session.place)
    if cell is not None:
        name = session.shown.removeprefix(AFTER)
        offered["The clicked cell"] = {f"Row {cell.row}, column {cell.column}": f"cell/{name}"}
    return {kind: held for kind, held in offered.items() if held}


def kept(desk: ReviewDesk, session: Session, pin: str, *, text: str, author: str, date: str) -> str:
    """Add a comment to those of the visitor; gives what to say. Errors as of `comment`."""
    about, _, name = pin.partition("/")
    record = desk.bench.record
    cell = cell_of(record.grid, *session.place) if about == "cell" and session.place is not None else None
    desk.comments = (*desk.comments, comment(record, about, name, text, author=author, date=date, cell=cell))
    return "Kept. It is not saved yet."


def saved(desk: ReviewDesk, date: str) -> str:
    """Save the visitor's comments beside the record, of his site; gives what to say."""
    if not desk.bench.lies_with_site:
        raise ValueError("The record was uploaded, so nothing lies beside it. Take the comments home.")
    path = save_comments(desk.bench.record, desk.comments, date=date)
    desk.bench, desk.comments = _with_found(desk), ()
    return f"Saved as {path.name}, beside the record."


def notes_words(desk: ReviewDesk, comments: Sequence[Comment]) -> Markup:
    """Comments that lay beside the record, and those written here."""
    parts = []
    for heading, listed in (("Beside the record", desk.bench.found_comments), ("Written now", comments)):
        lines = Markup("").join(
            Markup("<li><strong>{}</strong> <span class='quiet'>{}, {}</span>\n{}</li>").format(
                one.pin, one.author, one.date, one.text
            )
            for one in listed
        )
        if lines:
            parts.append(Markup("<h3>{}</h3><ul class='notes'>{}</ul>").format(heading, lines))
    return Markup("").join(parts)


def report_archive(review: Review, comments: Sequence[Comment], *, author: str, date: str) -> io.BytesIO:
    """The report of the review as PDF and HTML, and its comments, in one zip.

    Raises
    ------
    ValueError
        If the map was not made again yet, or the date is none.
    """
    from habitat.report.appraisal_format import report_html, report_pdf
    from habitat.report.review import comments_document

    if review.made is None:
        raise ValueError("There is nothing to report yet: the map was not made again.")
    document = comments_document(review.made, comments, date=date, author=author)
    nowhere = Path()  # the report has no pictures
    whole = io.BytesIO()
    with zipfile.ZipFile(whole, "w", zipfile.ZIP_DEFLATED) as archive:
        archive.writestr("review/review.html", report_html(document, nowhere))
        archive.writestr("review/review.pdf", report_pdf(document, nowhere))
        archive.writestr("review/comments.toml", comments_text(review.record, comments))
    whole.seek(0)
    return whole


def _day(date: str) -> str:
    """The date if it is one; a button to take something home cannot say that it is none."""
    return date if is_date(date) else today()


def _all(desk: ReviewDesk) -> tuple[Comment, ...]:
    return (*desk.bench.found_comments, *desk.comments)


def _with_found(desk: ReviewDesk) -> Review:
    from dataclasses import replace

    return replace(desk.bench, found_comments=_all(desk))


def _told(said: pn.widgets.StaticText, desk: ReviewDesk, act) -> bool:
    """Do it and say what came of it; a fault is said as one alert at the head of the page."""
    try:
        words = act()
    except (FaultyFileError, ValueError) as error:
        said.value = ""
        desk.refuse(str(error))
        return False
    desk.clear()
    said.value = str(Markup('<p role="status">{}</p>').format(words))
    return True


def _offer_again(pin: pn.widgets.Select, desk: ReviewDesk, session: Session) -> None:
    groups, before = pins(desk.bench, session), pin.value
    held = [value for options in groups.values() for value in options.values()]
    clicked = list(groups.get("The clicked cell", {}).values())
    # whoever clicks a cell means to speak of it
    pin.param.update(groups=groups, value=clicked[0] if clicked else before if before in held else held[0])
