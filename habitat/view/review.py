"""The page for a reviewer: is the map that was published the one that its files and numbers give?"""

from __future__ import annotations

from functools import partial
from pathlib import Path

import panel as pn
from markupsafe import Markup

from habitat.assessment import assess
from habitat.profile import shipped_profiles
from habitat.reproduce import TOLERANCE
from habitat.site_map import SiteMap
from habitat.view import appraise_words, theme
from habitat.view.appraise_forms import CHOOSE, UPLOAD_CSS
from habitat.view.controls import place_inputs
from habitat.view.desk import Work
from habitat.view.fields import LOOK
from habitat.view.frame import whole_page
from habitat.view.map_cards import MapTable
from habitat.view.review_checks import CHECKS_CSS, checks_words
from habitat.view.review_desk import (
    LARGEST,
    Review,
    ReviewDesk,
    made_again,
    opened_from_site,
    opened_upload,
    site_records,
)
from habitat.view.review_maps import apart_card, divided_card
from habitat.view.review_notes import notes_card
from habitat.view.review_pairs import Pairs
from habitat.view.review_words import REVIEW_CSS, about_record, answer, cell_words, changes
from habitat.view.session import Session, View
from habitat.view.waiting import progress

LEAD = "Is this the map that its files and numbers give, what parts it from them first, and where?"
CONCLUSIONS = Markup(
    "<h2>What we may and may not conclude</h2>"
    "<p><strong>We may</strong> say whether this software makes the same map from the same files and numbers, and "
    "name the file, number, version or layer that parts them first.</p>"
    "<p><strong>We may not</strong> take the same map for a right one: that the files tell the truth and the profile "
    "fits the animals is not shown. Nor is a seal a signature: who changes a record can seal it again, so hold its "
    "digest against one from another source.</p>"
)
OPENING = Markup(
    "<h2>Open a record</h2><p>The <code>record.zip</code> of a folder of results. Every member is held against its "
    "list before anything in it is believed, and the map is then made again.</p>"
)
AGAIN = Markup(
    "<h2>Make it again, otherwise</h2><p>With the files of this site in place of those in the record, or with another "
    "profile on purpose, to see what that changes.</p>"
)
ITS_OWN, THIS_SITE = "its own", "that of this site"
FILES = {"those in the record": False, "those of this site, where it has them": True}


def review_page() -> pn.Column:
    """The whole page; records are opened on it whatever site is served."""
    return whole_page("review", LEAD, _body)


def state(work: Work) -> Markup:
    """That work is going on and at which step, or what is wrong with a record."""
    if work.doing or not work.trouble:
        return appraise_words.state(work)
    return Markup(
        '<div class="alert" role="alert"><h2>This cannot be done</h2><pre>{}</pre>'
        "<p>Nothing else on this page has changed.</p></div>"
    ).format(work.trouble)


def _body(opened: SiteMap) -> list[object]:
    desk = ReviewDesk(opened)
    about = theme.text(pn.bind(about_record, desk.param.bench), css=REVIEW_CSS)
    told = theme.card(about, *_again_form(desk, opened))
    checks = theme.card(theme.text(pn.bind(checks_words, desk.param.bench, desk.param.work), css=CHECKS_CSS))
    verdict = theme.card(theme.text(pn.bind(answer, desk.param.bench), css=REVIEW_CSS))
    results = theme.stack()
    told.visible = checks.visible = verdict.visible = False

    def lay_out(before: Review, review: Review) -> None:
        told.visible = checks.visible = review.record is not None
        verdict.visible = review.made is not None
        if review.record is not before.record:
            desk.comments = ()
        if review.made is None:
            results.objects = []
        elif review.made is not before.made:
            results.objects = _results(desk, review)

    def go_on(work: Work) -> None:
        # a record that has just been opened is made again at once
        if not work.doing and not work.trouble and not work.note and desk.bench.is_due:
            desk.do("the map of the record again", partial(made_again, desk))

    at_work = progress(desk, state)
    desk.param.watch(lambda event: lay_out(event.old, event.new), "bench")
    # last of those who are told of work: it begins the next, and nobody may hear of that before of the end of the last
    desk.param.watch(lambda event: go_on(event.new), "work")
    opening = theme.card(theme.text(OPENING), *_open_form(desk, site_records(opened)))
    return [
        at_work,
        theme.grid(opening, told, least=420, align="start"),
        verdict,
        checks,
        results,
        theme.card(theme.text(CONCLUSIONS)),
    ]


def _open_form(desk: ReviewDesk, held: dict[str, Path]) -> list[object]:
    look = {**LOOK, "stylesheets": [*LOOK["stylesheets"], UPLOAD_CSS]}
    field = pn.widgets.FileDropper(
        name=f"Record, at most {LARGEST[:-2]} MB", multiple=False, max_file_size=LARGEST, min_width=0, **look
    )
    field.param.watch(
        lambda event: event.new and desk.do("what the record holds", partial(opened_upload, dict(event.new))),
        "value",
        onlychanged=False,
    )
    if not held:
        return [field]
    pick = pn.widgets.Select(name="Or one in the folder of this site", options=[CHOOSE, *held], **LOOK)

    def open_named(name: str) -> None:
        if name in held:
            desk.do(f"what {name} holds", partial(opened_from_site, held[name]))

    pick.param.watch(lambda event: open_named(event.new), "value")
    return [field, pick]


def _again_form(desk: ReviewDesk, opened: SiteMap) -> list[object]:
    files = pn.widgets.Select(name="Files", options=FILES, **LOOK)
    profiles = {ITS_OWN: None, THIS_SITE: opened.profile} | {name: name for name in shipped_profiles()}
    # names alone travel: a profile is no value of a field
    profile = pn.widgets.Select(name="Profile", options=list(profiles), **LOOK)
    tolerance = pn.widgets.FloatInput(name="Tolerance of a score, 0 to 1", value=TOLERANCE, format="0.0000000", **LOOK)
    button = pn.widgets.Button(name="Make the map again", button_type="primary", **LOOK)

    def again(_: object) -> None:
        wish = partial(
            made_again,
            desk,
            with_site_files=files.value,
            profile=profiles[profile.value],
            tolerance=tolerance.value,
        )
        desk.do("the map of the record again", wish)

    button.on_click(again)
    return [theme.text(AGAIN), theme.grid(files, profile, tolerance, button, least=210, gap=12, align="end")]


def _results(desk: ReviewDesk, review: Review) -> list[object]:
    """The parts that stand below the checks, for one making of the map."""
    pairs = Pairs(review.made)
    found = review.made.after or review.made.found
    start = View(profile=found.profile, season=pairs.first_season(), shown=pairs.first)
    session = Session(found, start, assess)
    parts: list[object] = []
    changed = changes(review)
    if changed:
        parts.append(theme.card(theme.text(changed, css=appraise_words.WORDS_CSS + REVIEW_CSS)))
    if pairs.are_on_one_grid:
        table = MapTable(session, with_zones=False)
        said = pn.bind(partial(cell_words, pairs), session.param.picture, session.param.shown, session.param.place)
        parts += [
            apart_card(pairs, session, table),
            theme.card(theme.text(said, css=REVIEW_CSS), place_inputs(session)),
            *(part for part in [divided_card(pairs, session, table)] if part is not None),
        ]
    return [*parts, notes_card(desk, session)]
