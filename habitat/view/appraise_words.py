"""The answers of an appraisal as text and tables of the page."""

from __future__ import annotations

from markupsafe import Markup

from habitat.appraisal_account import sentences
from habitat.colours import INK, MUTED_INK
from habitat.variant import variants_table
from habitat.view.bench import Bench
from habitat.view.desk import Work
from habitat.view.difference import WORSE
from habitat.view.theme import LINE

VERDICTS = {True: ("✓", "met"), False: ("✗", "not met"), None: ("?", "cannot be told")}
NOT_TOLD = "cannot be told"  # where no threat is known, nobody knows what it leaves
NO_PRESENCE = "This site has no file of sightings, so nothing can be said of animals. That is not absence."

WORDS_CSS = f"""
:host {{ container-type: inline-size; }}
.wide {{ overflow-x: auto; }}
li {{ margin: 0.3rem 0; max-width: 74ch; }}
.verdict {{ white-space: nowrap; font-weight: 600; }}
.verdict i {{ font-style: normal; display: inline-grid; place-items: center; width: 1.5em; height: 1.5em;
  border: 2px solid {INK}; border-radius: 50%; margin-right: 6px; font-size: 0.8rem; }}
.verdict.no i {{ background: {INK}; color: #fff; }}
summary {{ cursor: pointer; font-size: 0.85rem; }}
.track {{ background: #f0f0f0; border: 1px solid {LINE}; border-radius: 4px; height: 14px; min-width: 90px; }}
.track i {{ display: block; height: 100%; background: {WORSE[1]}; }} .track i.gain {{ background: #4a8fc7; }}
tr.shown td {{ font-weight: 600; }}
h3 {{ margin-top: 1rem; }}
ul {{ padding-left: 1.2rem; }}
table + table, .wide + .wide {{ margin-top: 0.8rem; }}
@container (max-width: 480px) {{
  .stacks thead {{ display: none; }}
  .stacks tr {{ display: block; padding: 0.6rem 0; border-bottom: 1px solid {LINE}; }}
  .stacks td, .stacks td.number {{ display: grid; grid-template-columns: 8.5rem 1fr; gap: 0.6rem; border: 0;
    padding: 0.12rem 0; text-align: left; white-space: normal; }}
  .stacks td::before {{ content: attr(data-head); color: {MUTED_INK}; font-weight: 600; font-size: 0.82rem; }}
  .stacks td[data-head=""] {{ display: block; }} .stacks td[data-head=""]::before {{ content: none; }}
}}
"""


def answers(bench: Bench) -> Markup:
    """The sentences of the variant in view, most telling first, and the remarks on its features."""
    if bench.account is None:
        return Markup("")
    said = Markup("").join(Markup("<li>{}</li>").format(line) for line in sentences(bench.account))
    notes = Markup("").join(Markup("<li>{}</li>").format(remark) for remark in bench.account.remarks)
    remarks = Markup("<h3>To know about the file</h3><ul>{}</ul>").format(notes) if notes else ""
    return Markup("<h2>What {} does</h2><ul>{}</ul>{}").format(bench.trial.name, said, remarks)


def at_a_glance(bench: Bench, season: str | None, name: str) -> Markup:
    """The figures of the variant in view in one line, where it is one of the proposal called `name`."""
    if bench.trial is None or bench.first.name != name:
        return Markup("")
    row = variants_table([bench.account], season or "").iloc[0]
    when = f"In the {season} season" if season else "Over the year"
    return Markup(
        '<p class="glance" role="status">{} the drawing changes <b>{}</b> habitat units, <b>{}</b> of those that '
        "threat leaves and <b>{}</b> ha of good habitat; <b>{}</b> conditions are not met. Maps and tables stand "
        "below.</p>"
    ).format(when, _signed(row.units_change), _signed(row.spared_change), _signed(row.good_change, 1), row.not_met)


def animals(bench: Bench) -> Markup:
    """Animals on record, in one sentence of coarse classes."""
    if bench.account is None:
        return Markup("")
    presence = bench.account.presence
    return Markup("<h2>Animals on record</h2><p>{}</p>").format(NO_PRESENCE if presence is None else presence)


def numbers(bench: Bench) -> Markup:
    """Habitat units before and after, and the hectares that cross a class."""
    account = bench.account
    if account is None:
        return Markup("")
    units = [
        (*_season(row), what, _number(before), _number(after), _signed(change))
        for row in account.units.itertuples()
        for what, before, after, change in (
            ("habitat units", row.units_before, row.units_after, row.units_change),
            ("what threat leaves", row.spared_before, row.spared_after, row.spared_change),
        )
    ]
    moves = [
        (*_season(row), row.class_before, row.class_after, _number(row.hectares)) for row in account.moves.itertuples()
    ]
    return Markup("<h2>Habitat units</h2>{}<h3>Water that changes its class</h3>{}").format(
        table(["Season", "What", "Before", "After", "Change"], units, 3),
        table(["Season", "From", "To", "Hectares"], moves, 1) if moves else Markup("<p>None.</p>"),
    )


def causes(bench: Bench) -> Markup:
    """What does it, as ranked bars."""
    if bench.account is None:
        return Markup("")
    found = bench.account.causes
    if not bench.account.knows_threat:
        found = found.assign(spared_change=found["units_change"])
    most = (found["spared_change"].abs().max() if len(found) else 0.0) or 1.0
    rows = [
        (
            *_season(row),
            row.label,
            Markup('<div class="track"><i class="{}" style="width:{:.0f}%"></i></div>').format(
                "gain" if row.spared_change > 0 else "loss", 100 * abs(row.spared_change) / most
            ),
            _signed(row.spared_change),
        )
        for row in found.itertuples()
    ]
    body = table(["Season", "Need or pressure", "", "Habitat units"], rows, 1)
    return Markup(
        "<h2>What does it</h2><p class='quiet'>Each by itself, all else as before; they need not add up.</p>{}"
    ).format(body if rows else Markup("<p>Nothing changes.</p>"))


def ways(bench: Bench) -> Markup:
    """Ways from good habitat to fresh water that change."""
    if bench.account is None:
        return Markup("")
    found = bench.account.ways
    changed = found[found["state"] != "as before"] if len(found) else found
    rows = [
        (
            *_season(row),
            _number(row.hectares),
            *(_number(metres, "no way") for metres in (row.metres_before, row.metres_after)),
            row.state,
        )
        for row in changed.itertuples()
    ]
    heads = ["Season", "Habitat, ha", "Before, m", "After, m", "State"]
    body = table(heads, rows, 0) if rows else Markup("<p>No way changes.</p>")
    return Markup("<h2>Ways to fresh water</h2><p class='quiet'>{} ways looked at.</p>{}").format(len(found), body)


def conditions(bench: Bench) -> Markup:
    """Standing conditions: what is not met first, each with a sign, a word and its source."""
    if bench.account is None:
        return Markup("")
    ordered = sorted(bench.account.conditions, key=lambda one: (one.met is not False, one.met is True))
    rows = []
    for finding in ordered:
        sign, word = VERDICTS[finding.met]
        verdict = Markup('<span class="verdict {}"><i aria-hidden="true">{}</i>{}</span>').format(
            "no" if finding.met is False else "", sign, word
        )
        about = Markup("<details><summary>Source, and who decides</summary><p>{} {}</p></details>").format(
            finding.source, finding.decides
        )
        rows.append(
            (
                verdict,
                Markup("<div>{}<br><span class='quiet'>{}</span></div>").format(finding.rule, finding.feature),
                Markup("<div>{}</div>").format(finding.found),
                Markup("<div>{}{}</div>").format(finding.needed, about),
            )
        )
    return Markup("<h2>Standing conditions: {}</h2>{}").format(
        bench.account.conditions_title, table(["", "Condition", "Found", "Needed"], rows, 0, stacks=True)
    )


def side_by_side(bench: Bench, season: str | None) -> Markup:
    """All variants in one table."""
    if bench.account is None:
        return Markup("")
    rows = [
        (
            row.variant,
            row.steps or "none",
            _signed(row.units_change),
            _signed(row.spared_change),
            _signed(row.good_change),
            row.not_met,
            row.unknown,
        )
        for row in variants_table([one.account for one in bench.trials], season or "").itertuples()
    ]
    heads = [
        "Variant",
        "Kind of change",
        "Habitat units",
        "What threat leaves",
        "Good habitat, ha",
        "Not met",
        "Cannot be told",
    ]
    when = f"In the {season} season; " if season else ""
    about = Markup('<p class="quiet">{}the variant in view stands in bold. The last two columns count conditions.</p>')
    return table(heads, rows, 5, shown=bench.shown, stacks=True) + about.format(when)


def together(bench: Bench) -> Markup:
    """What each proposal does alone, where several stand together."""
    account = bench.account
    if account is None or len(account.appraisal.alone) < 2:
        return Markup("")
    rows = [
        (*_season(row), row.proposal, _signed(row.units_change), _signed(row.spared_change))
        for row in account.shares.itertuples()
    ]
    rows += [
        (*_season(row), "all of them together", _signed(row.units_change), _signed(row.spared_change))
        for row in account.units.itertuples()
    ]
    rows.sort(key=lambda row: row[0])
    return Markup(
        "<h2>Each alone, and all together</h2><p class='quiet'>Changes in habitat units against the site as it is. The "
        "parts need not add up: what one takes, another cannot take again.</p>{}"
    ).format(table(["Season", "Proposal", "Habitat units", "What threat leaves"], rows, 2))


def hectares(bench: Bench, season: str | None) -> Markup:
    """Hectares of every class before and after, in the season in view."""
    if bench.account is None:
        return Markup("")
    found = bench.account.classes
    found = found[found["season"].isin([season or "", ""])]
    parts = []
    for kind, title in (("suitability", "Habitat"), ("threat", "Threat")):
        rows = [
            (
                row.named,
                _number(row.hectares_before),
                _number(row.hectares_after),
                _signed(row.hectares_change, 1),
            )
            for row in found[found["kind"] == kind].rename(columns={"class": "named"}).itertuples()
        ]
        parts.append(table([title, "Before, ha", "After, ha", "Change"], rows, 3))
    when = f" in the {season} season" if season else ""
    return Markup("<h2>Hectares by class{}</h2>{}").format(when, Markup("").join(parts))


def state(work: Work) -> Markup:
    """That work is going on and at which step, or what stood in the way of it."""
    note = Markup('<p class="note" role="status">{}</p>').format(work.note) if work.note else Markup("")
    if work.doing:
        step = Markup("<span>{} …</span>").format(work.step) if work.step else ""
        said = Markup('<p role="status" class="doing"><strong>Working out {}.</strong> {}</p>')
        return said.format(work.doing, step) + note
    return trouble_words(work.trouble) if work.trouble else note


def trouble_words(trouble: str) -> Markup:
    """What stands in the way, in an alert."""
    return Markup(
        '<div class="alert" role="alert"><h2>This cannot be appraised yet</h2><pre>{}</pre>'
        "<p>Nothing else on this page has changed: mend it and try again.</p></div>"
    ).format(trouble)


def table(
    heads: list[str], rows: list[tuple], figures: int, *, shown: int | None = None, stacks: bool = False
) -> Markup:
    """A table whose last `figures` columns are numbers; the row in view is told from the others.

    One that `stacks` lays the cells of a row under one another where there is little room.
    """
    first = len(heads) - figures
    kinds = ["number" if figures and number >= first else "" for number in range(len(heads))]
    head = Markup("").join(
        Markup('<th scope="col" class="{}">{}</th>').format(kind, word) for kind, word in zip(kinds, heads, strict=True)
    )
    body = Markup("").join(
        Markup("<tr{}>{}</tr>").format(
            Markup(' class="shown" aria-current="true"') if number == shown else "",
            Markup("").join(
                Markup('<td class="{}" data-head="{}">{}</td>').format(kind, head, cell)
                for kind, head, cell in zip(kinds, heads, row, strict=True)
            ),
        )
        for number, row in enumerate(rows)
    )
    return Markup(
        '<div class="wide" tabindex="0" role="region" aria-label="Table"><table class="{}"><thead><tr>{}</tr></thead>'
        "<tbody>{}</tbody></table></div>"
    ).format("stacks" if stacks else "", head, body)


def _season(row: object) -> tuple[str]:
    return (row.season or "all the year",)


def _number(value: float, unknown: str = NOT_TOLD) -> str:
    return unknown if value != value else f"{value:,.1f}"


def _signed(value: float, places: int = 2) -> str:
    return NOT_TOLD if value != value else f"{value:+,.{places}f}"
