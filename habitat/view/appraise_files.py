"""What a planner takes home from an appraisal: its tables, and its report."""

from __future__ import annotations

import datetime
import io
import zipfile

import pandas as pd
import panel as pn
from markupsafe import Markup

from habitat.appraisal_account import Account, account_text
from habitat.view import theme
from habitat.view.appraise_words import VERDICTS
from habitat.view.bench import Bench
from habitat.view.desk import Desk
from habitat.view.fields import LOOK


def download_form(desk: Desk) -> list[object]:
    """The planner's name and words, and the buttons for report and tables."""
    author = pn.widgets.TextInput(name="Who answers for the report", **LOOK)
    words = pn.widgets.TextAreaInput(name="Your own words, which go into the report", rows=4, **LOOK)
    offered = (
        (
            "Report of the variant in view (ZIP: PDF, HTML, maps, tables)",
            "appraisal.zip",
            lambda: report_archive(desk.bench, author.value, words.value, date=today()),
            "primary",
        ),
        (
            "Tables of the variant in view (ZIP: CSV)",
            "appraisal_tables.zip",
            lambda: tables_archive(desk.bench.account),
            "default",
        ),
    )
    buttons = [
        pn.widgets.FileDownload(
            label=label, filename=name, callback=make, button_type=look, embed=False, auto=True, **LOOK
        )
        for label, name, make, look in offered
    ]
    about = Markup("<h2>Take it home</h2><p>The report takes some seconds to be written.</p>")
    return [theme.text(about), theme.grid(author, words, least=260), theme.grid(*buttons, least=260)]


def today() -> str:
    """The day, as the report bears it."""
    return datetime.date.today().isoformat()


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


def report_archive(bench: Bench, author: str, text: str, *, date: str) -> io.BytesIO:
    """The report as PDF and HTML with its maps, tables and proposals, in one zip.

    Parameters
    ----------
    bench : Bench
        The report is of the variant in view, with the others beside it and what else was asked of it.
    author : str
        Who answers for it.
    text : str
        The planner's own words; without any, the report keeps empty headings for them.
    date : str
        ISO date that it bears.
    """
    import tempfile
    from pathlib import Path

    from habitat.report.appraisal_folder import write_appraisal

    whole = io.BytesIO()
    with tempfile.TemporaryDirectory() as folder:
        place = Path(folder) / "appraisal"
        write_appraisal(
            place,
            bench.account,
            date=date,
            author=author.strip(),
            note_text=text.strip() or None,
            variants=[one.account for one in bench.trials if one is not bench.trial],
            sought=bench.sought,
            loss_range=bench.trial.loss_range,
        )
        with zipfile.ZipFile(whole, "w", zipfile.ZIP_DEFLATED) as archive:
            for path in sorted(place.rglob("*")):
                archive.write(path, f"appraisal/{path.relative_to(place).as_posix()}")
    whole.seek(0)
    return whole
