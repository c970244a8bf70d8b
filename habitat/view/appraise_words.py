"""The answers of an appraisal as text and tables of the page, and its tables to take home."""

from __future__ import annotations

import io
import zipfile

import pandas as pd
from markupsafe import Markup

from habitat.appraisal_account import Account, account_text, sentences
from habitat.colours import INK
from habitat.view.bench import Bench, name_of, variants_table
from habitat.view.difference import WORSE
from habitat.view.theme import LINE

VERDICTS = {True: ("✓", "met"), False: ("✗", "not met"), None: ("?", "cannot be told")}
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
"""


def answers(bench: Bench) -> Markup:
    """The sentences of the variant in view, most telling first, and the remarks on its features."""
    if bench.account is None:
        return Markup("")
    said = Markup("").join(Markup("<li>{}</li>").format(line) for line in sentences(bench.account))
    notes = Markup("").join(Markup("<li>{}</li>").format(remark) for remark in bench.account.remarks)
    remarks = Markup("<h3>To know about the file</h3><ul>{}</ul>").format(notes) if notes else ""
    return Markup("<h2>What {} does</h2><ul>{}</ul>{}").format(name_of(bench.account), said, remarks)


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
    most = found["spared_change"].abs().max() if len(found) else 1.0
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
        (*_season(row), _number(row.hectares), _number(row.metres_before), _number(row.metres_after), row.state)
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
                Markup("{}<br>{}").format(finding.rule, finding.feature),
                finding.found,
                Markup("{}{}").format(finding.needed, about),
            )
        )
    return Markup("<h2>Standing conditions: {}</h2>{}").format(
        bench.account.conditions_title, table(["", "Condition", "Found", "Needed"], rows, 0)
    )


def side_by_side(bench: Bench, season: str | None) -> Markup:
    """All variants in one table."""
    if bench.account is None:
        return Markup("")
    rows = [
        (row.variant, _signed(row.units_change), _signed(row.spared_change), row.not_met, row.unknown)
        for row in variants_table(bench.accounts, season).itertuples()
    ]
    heads = ["Variant", "Habitat units", "What threat leaves", "Not met", "Cannot be told"]
    return table(heads, rows, 4, shown=bench.shown)


def state(bench: Bench) -> Markup:
    """That work is going on, or what stood in the way of it."""
    if bench.doing:
        return Markup('<p role="status" class="doing">Working: {} …</p>').format(bench.doing)
    if bench.trouble:
        return Markup(
            '<div class="alert" role="alert"><h2>This cannot be appraised yet</h2><pre>{}</pre></div>'
        ).format(bench.trouble)
    return Markup("")


def tables_archive(account: Account) -> io.BytesIO:
    """The tables as CSV and the account as text, in one zip."""
    tables = {
        "habitat_units": account.units,
        "classes": account.classes,
        "classes_by_zone": account.classes_by_zone,
        "class_changes": account.moves,
        "causes": account.causes,
        "ways_to_fresh_water": account.ways,
        "conditions": pd.DataFrame(
            [
                {
                    "condition": one.rule,
                    "feature": one.feature,
                    "verdict": VERDICTS[one.met][1],
                    "found": one.found,
                    "needed": one.needed,
                    "source": one.source,
                    "decides": one.decides,
                }
                for one in account.conditions
            ]
        ),
    }
    whole = io.BytesIO()
    with zipfile.ZipFile(whole, "w", zipfile.ZIP_DEFLATED) as archive:
        archive.writestr("account.txt", account_text(account) + "\n")
        for name, one in tables.items():
            archive.writestr(f"{name}.csv", one.to_csv(index=False, lineterminator="\n"))
    whole.seek(0)
    return whole


def report_file(account: Account) -> io.BytesIO:
    """The report for the file, as PDF."""
    import datetime
    import tempfile
    from pathlib import Path

    from habitat.report.appraisal_folder import write_appraisal

    with tempfile.TemporaryDirectory() as folder:
        place = Path(folder) / "appraisal"
        write_appraisal(place, account, date=datetime.date.today().isoformat())
        return io.BytesIO((place / "report.pdf").read_bytes())


def table(heads: list[str], rows: list[tuple], figures: int, *, shown: int | None = None) -> Markup:
    """A table whose last `figures` columns are numbers; the row in view is told from the others."""
    first = len(heads) - figures
    kinds = ["number" if figures and number >= first else "" for number in range(len(heads))]
    head = Markup("").join(
        Markup('<th scope="col" class="{}">{}</th>').format(kind, word) for kind, word in zip(kinds, heads, strict=True)
    )
    body = Markup("").join(
        Markup("<tr{}>{}</tr>").format(
            Markup(' class="shown" aria-current="true"') if number == shown else "",
            Markup("").join(
                Markup('<td class="{}">{}</td>').format(kind, cell) for kind, cell in zip(kinds, row, strict=True)
            ),
        )
        for number, row in enumerate(rows)
    )
    return Markup(
        '<div class="wide" tabindex="0" role="region" aria-label="Table"><table><thead><tr>{}</tr></thead>'
        "<tbody>{}</tbody></table></div>"
    ).format(head, body)


def _season(row: object) -> tuple[str]:
    return (row.season or "all the year",)


def _number(value: float) -> str:
    return "no way" if value != value else f"{value:,.1f}"


def _signed(value: float) -> str:
    return f"{value:+,.2f}"
