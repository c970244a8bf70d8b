"""The card on weights that several people gave: who weighs what, who contradicts himself, and what that widens."""

from __future__ import annotations

import io
import tempfile
from collections.abc import Mapping
from functools import partial
from pathlib import Path

import panel as pn
from markupsafe import Markup

from habitat.pairwise import MOST_RATIO
from habitat.pairwise_file import Judgements, read_judgements
from habitat.pairwise_weights import GROUP, with_judged_weights
from habitat.profile import Profile
from habitat.profile_text import profile_text
from habitat.site_weights import ANYBODYS, EXACT, STATED, judgements_file, spread_sentence
from habitat.view import appraise_words, theme
from habitat.view.desk import Desk
from habitat.view.fields import LOOK
from habitat.view.session import Picture, Session
from habitat.view.trust_charts import TRUST_CHART_CSS, Range, from_to, plain_list, range_chart, range_key
from habitat.view.trust_findings import Findings, with_people, with_spread
from habitat.view.words import hectares, percent
from layers.step import OnStep, ignore

ABOUT = Markup(
    "<h2>Weights from several people</h2><p>Each person says of every two needs which matters more, and how many "
    "times. The answers give weights, and show how far a person contradicts himself and how far people differ.</p>"
)
NOBODY = Markup(
    "<p>No file of judgements lies beside this site. Load one: CSV with the columns person, first, second and "
    "times_as_important (3, or 1/3), opened by a line that begins with # and says when, where and how people were "
    "asked.</p>"
)
LARGEST = "1MB"


def people_card(desk: Desk, session: Session) -> pn.Column:
    """The whole card; a file beside the site is opened by itself."""
    drop = pn.widgets.FileDropper(
        name="A file of judgements (CSV or TOML)", multiple=False, max_file_size=LARGEST, min_width=0, **LOOK
    )
    drop.param.watch(
        lambda event: (
            event.new and desk.do("the weights of a file", partial(of_upload, desk.site_map.profile, dict(event.new)))
        ),
        "value",
        onlychanged=False,
    )
    work = pn.widgets.Button(name="Work out what their differences do", button_type="primary", **LOOK)
    work.on_click(lambda _: desk.do("what their differences do", with_spread))
    save = pn.widgets.FileDownload(
        label="The profile with the group's weights (TOML)",
        filename="profile.toml",
        callback=lambda: saved_profile(desk.site_map.profile, desk.bench),
        embed=False,
        auto=True,
        **LOOK,
    )
    css = TRUST_CHART_CSS + appraise_words.WORDS_CSS
    buttons = theme.grid(work, save, least=230, gap=12)
    reasons = theme.stack(gap=10)

    def lay_out(findings: Findings) -> None:
        buttons.visible = findings.people is not None and findings.people.used is not None
        asked = () if findings.people is None else tuple(findings.people.everybody.accepted)
        if asked != tuple(field.tags[0] for field in reasons.objects):
            reasons.objects = _reasons(desk, asked)

    lay_out(desk.bench)
    desk.param.watch(lambda event: lay_out(event.new), "bench")
    _open_beside(desk)
    return theme.card(
        theme.text(ABOUT),
        theme.grid(
            theme.stack(theme.text(pn.bind(people_words, desk.param.bench), css=css), reasons, drop, gap=14),
            theme.stack(buttons, theme.text(pn.bind(spread_words, desk.param.bench, session.param.picture), css=css)),
            least=420,
            align="start",
            gap=30,
        ),
    )


def of_upload(
    profile: Profile, files: Mapping[str, bytes | str], findings: Findings, on_step: OnStep = ignore
) -> Findings:
    """With the people of a file from the browser."""
    return with_people(profile, uploaded(files), {}, findings)


def with_reasons(
    profile: Profile, reasons: Mapping[str, str], findings: Findings, on_step: OnStep = ignore
) -> Findings:
    """With the same people, and why the inconsistent among them are used."""
    return with_people(profile, findings.judgements, reasons, findings)


def uploaded(files: Mapping[str, bytes | str]) -> Judgements:
    """The judgements in a file from the browser.

    Raises
    ------
    ProfileError
        With everything that is wrong in it.
    """
    name, held = next(reversed(files.items()))
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / f"{Path(name).stem or 'judgements'}{'.toml' if name.endswith('.toml') else '.csv'}"
        path.write_bytes(held.encode() if isinstance(held, str) else held)
        return read_judgements(path)


def saved_profile(profile: Profile, findings: Findings) -> io.BytesIO:
    """The profile with the weights of the group, each with its source."""
    return io.BytesIO(profile_text(with_judged_weights(profile, findings.people.used)).encode())


def people_words(findings: Findings) -> Markup:
    """Everybody's weights with the consistency of each, the group's, and who contradicts himself."""
    people = findings.people
    if people is None:
        return NOBODY
    everybody, used = people.everybody, people.used
    rows = [
        (
            who + (" (left out)" if who in people.left_out else ""),
            *(percent(everybody.people.loc[who, name]) for name in everybody.names),
            f"{everybody.consistency[who].ratio:.2f}",
        )
        for who in everybody.people.index
    ]
    if used is not None:
        joint = used.consistency[GROUP]
        rows.append((GROUP, *(percent(used.weights[name]) for name in used.names), f"{joint.ratio:.2f}"))
    heads = ["Who", *(name.replace("_", " ") for name in everybody.names), "Contradiction"]
    table = appraise_words.table(heads, rows, len(heads) - 1, shown=len(rows) - 1 if used else None, stacks=True)
    said = [_odd_sentence(findings, who) for who in everybody.accepted]
    said += [] if used is None else [line.replace("_", " ") for line in used.sentences[1:]]
    note = Markup(
        "<p class='quiet'>Contradiction is the consistency ratio: 0 is none, about 1 is as if by lot, and above "
        "{:g} judgements are not used without a reason.</p>"
    ).format(MOST_RATIO)
    return table + note + plain_list(said)


def spread_words(findings: Findings, picture: Picture) -> Markup:
    """What the differences between people do to the hectares of good habitat."""
    if findings.spread is None:
        return Markup("")
    rows = [findings.spread.row(picture.season, weights) for weights in (STATED, EXACT, ANYBODYS)]
    most = max(float(max(row.high, row.taken)) for row in rows)
    names = (
        "The profile's weights, as doubtful as it says",
        "The group's weights, taken as exact",
        "Anybody's weights",
    )
    chart = range_chart(
        [
            Range(
                name=name,
                low=row.low,
                high=row.high,
                middle=row["median"],
                figure=hectares(row["median"]),
                range_words=from_to(row.low, row.high),
            )
            for name, row in zip(names, rows, strict=True)
        ],
        0,
        most,
    )
    head = Markup("<h3>Hectares of good habitat by whose weights are taken</h3><p>{}</p>")
    return head.format(spread_sentence(findings.spread, picture.season)) + chart + range_key("middle of the draws")


def _odd_sentence(findings: Findings, who: str) -> str:
    everybody = findings.people.everybody
    odd = f" {everybody.odd[who]}".replace("_", " ") if who in everybody.odd else ""
    ending = (
        "left out until a reason to use them is given"
        if who in findings.people.left_out
        else f"used all the same: {findings.people.used.accepted[who]}"
    )
    return f"The judgements of {who} contradict each other and are {ending}.{odd}"


def _reasons(desk: Desk, asked: tuple[str, ...]) -> list[pn.widgets.TextInput]:
    """A field for each person, for why his judgements are used all the same."""
    fields = [
        pn.widgets.TextInput(name=f"Why the judgements of {who} are used all the same", tags=[who], **LOOK)
        for who in asked
    ]

    def given(_: object) -> None:
        reasons = {who: field.value for who, field in zip(asked, fields, strict=True)}
        desk.do("the weights with these reasons", partial(with_reasons, desk.site_map.profile, reasons))

    for field in fields:
        field.param.watch(given, "value")
    return fields


def _open_beside(desk: Desk) -> None:
    """Put the people of the site's own file on the desk, or say what is wrong with it."""
    path = judgements_file(desk.site_map.inputs.site.path.parent)
    if path is None:
        return
    try:
        desk.bench = with_people(desk.site_map.profile, read_judgements(path), {}, desk.bench)
    except ValueError as error:  # what a person can mend
        desk.refuse(str(error))
