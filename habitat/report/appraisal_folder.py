"""The folder of an appraisal: the report as page and print, its maps and tables, the proposals, notes and a record.

It is written whole or not at all. The planner's notes outlive it: a folder that is replaced hands them on.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from importlib import resources
from pathlib import Path
from textwrap import fill
from typing import TYPE_CHECKING

from habitat.record_file import RECORD_FILE
from habitat.report.account import CAUTION, RECORD
from habitat.report.appraisal_again import CONDITIONS, PROFILE, Given, keep_proposals, rerun_command
from habitat.report.appraisal_asked import Asked
from habitat.report.results import refuse_existing
from layers.atomic import whole_folder
from layers.fault import Fault, RecordError
from layers.step import OnStep, Step, ignore

if TYPE_CHECKING:
    import pandas as pd

    from habitat.appraisal_account import Account
    from habitat.appraisal_range import LossRange
    from habitat.least_change import LeastChange
    from habitat.report.appraisal_table import Numbers

NOTES_FILE = "notes.md"
NOTHING_MORE = Given()
_CONTENTS = (
    ("report.html, report.pdf", "The report, to read and to print: one text in two forms. Nothing else is needed."),
    ("notes.md", "Your own words. Write in it and run again with --replace: it is kept and comes into the report."),
    ("maps/", "Suitability and threat before, after and their difference in each season; the plates of the report."),
    ("tables/", "Every table of the report as CSV, all rows, in the digits of the report."),
    ("proposals/", "What was appraised, as GeoPackage in the projection of the site, a layer for each kind."),
    ("proposals/as_given/", "The files as they were handed in, byte for byte, where there were files."),
    ("site.toml, profile.toml, conditions.toml", "The site file, copied, the profile, and the standing conditions."),
    RECORD,
)


@dataclass(frozen=True, kw_only=True)
class _Job:
    account: Account
    tables: dict[str, Numbers]
    date: str
    author: str
    notes: str
    folder: Path  # that is being made, under its final name
    conditions: bytes  # the file of conditions; empty where it is not known
    asked: Asked
    given: Given

    @property
    def command(self) -> str:
        """What makes it again."""
        return rerun_command(
            self.account,
            self.folder,
            self.given,
            date=self.date,
            author=self.author,
            has_conditions=bool(self.conditions),
        )


def write_appraisal(
    folder: str | Path,
    account: Account,
    *,
    date: str,
    author: str = "",
    note_text: str | None = None,
    conditions_file: str | Path | None = None,
    variants: Sequence[Account] = (),
    sought: LeastChange | None = None,
    loss_range: LossRange | None = None,
    cumulative: pd.DataFrame | None = None,
    given: Given = NOTHING_MORE,
    replace: bool = False,
    on_step: OnStep = ignore,
) -> None:
    """Write the report of an appraisal, for the file.

    Parameters
    ----------
    folder : path
        To make.
    account : Account
        As `habitat.appraisal_account.account_of` gives it.
    date : str
        ISO date that report and maps bear, such as "2026-03-05".
    author : str
        Who answers for the report.
    note_text : str, optional
        The planner's own text. Without it, the notes of the folder that is replaced; without that, empty headings.
    conditions_file : str or path, optional
        What the standing conditions were read from, as `habitat.conditions.read_conditions` takes it, to be kept.
    variants : sequence of Account, optional
        Of variants of the proposal, as `habitat.variant.varied` makes them.
    sought : LeastChange, optional
        The least change that would do, as `habitat.least_change` found it.
    loss_range : LossRange, optional
        How sure the loss is, as `habitat.appraisal_range.range_of_loss` gives it.
    cumulative : DataFrame, optional
        What is approved already and what is appraised take together, as `habitat.approved.cumulative_changes` gives it.
    given : Given, optional
        What the command was given beside what the account holds, so that the report can print it whole.
    replace : bool
        Whether a folder of an earlier appraisal may be replaced.
    on_step : callable
        Told of each step before it starts.

    Raises
    ------
    RecordError
        If the folder cannot be written (see `habitat.report.results.refuse_existing`), the date is none, or the notes
        that lie there cannot be read.
    """
    from habitat.report.appraisal_numbers import report_tables
    from habitat.report.appraisal_report import NOTES_HEADINGS

    folder = Path(folder)
    _require_date(date)
    refuse_existing(folder, replace=replace)
    notes = _kept_notes(folder) if note_text is None else note_text
    notes = NOTES_HEADINGS if notes is None else notes
    approved = tuple(one.name for one in given.approved)
    asked = Asked(
        variants=tuple(variants), sought=sought, loss_range=loss_range, approved=approved, cumulative=cumulative
    )
    job = _Job(
        account=account,
        tables=report_tables(account, asked),
        date=date,
        author=author,
        notes=notes,
        folder=folder,
        conditions=_conditions_bytes(conditions_file, account),
        asked=asked,
        given=given,
    )
    with whole_folder(folder, replace=replace) as unfinished:
        for number, (label, write) in enumerate(_PARTS, start=1):
            on_step(Step(number, len(_PARTS), f"writing {label}"))
            write(unfinished, job)


def _write_proposals(folder: Path, job: _Job) -> None:
    keep_proposals(folder, job.account, job.given)


def _write_tables(folder: Path, job: _Job) -> None:
    from habitat.report.appraisal_table import write_report_tables

    write_report_tables(folder / "tables", job.tables)


def _write_maps(folder: Path, job: _Job) -> None:
    from habitat.report.appraisal_maps import write_appraisal_maps

    write_appraisal_maps(folder / "maps", job.account, date=job.date)


def _write_report(folder: Path, job: _Job) -> None:
    from habitat.report.appraisal_format import report_html, report_pdf
    from habitat.report.appraisal_report import report_document

    document = report_document(
        job.account,
        job.tables,
        date=job.date,
        author=job.author,
        notes=job.notes,
        command=job.command,
        asked=job.asked,
    )
    (folder / NOTES_FILE).write_text(job.notes, encoding="utf-8", newline="")
    (folder / "report.html").write_text(report_html(document, folder), encoding="utf-8", newline="")
    (folder / "report.pdf").write_bytes(report_pdf(document, folder))


def _write_account(folder: Path, job: _Job) -> None:
    from habitat.profile_text import profile_text

    before = job.account.appraisal.before
    (folder / "site.toml").write_bytes(before.inputs.site.path.read_bytes())
    (folder / PROFILE).write_text(profile_text(before.profile), encoding="utf-8", newline="")
    if job.conditions:
        (folder / CONDITIONS).write_bytes(job.conditions)
    (folder / "README.txt").write_text(_readme(job), encoding="utf-8", newline="")


def _write_sealed(folder: Path, job: _Job) -> None:
    from habitat.record import write_record

    drawn = job.asked.loss_range
    write_record(
        folder / RECORD_FILE,
        job.account.appraisal.before,
        date=job.date,
        author=job.author,
        account=job.account,
        approved=job.given.approved,
        conditions=folder / CONDITIONS if job.conditions else None,
        files=folder,
        seeds={} if drawn is None else {"range of the loss": drawn.seed},
    )


_PARTS: tuple[tuple[str, Callable[[Path, _Job], None]], ...] = (
    ("the proposals", _write_proposals),
    ("tables", _write_tables),
    ("maps", _write_maps),
    ("the report", _write_report),
    ("the account", _write_account),
    ("the record", _write_sealed),
)


def _readme(job: _Job) -> str:
    site = job.account.appraisal.before.inputs.site
    title = f"{site.title}: appraisal of {', '.join(one.name for one in job.account.appraisal.proposals)}"
    lines = [title, "=" * len(title), "", *(["INVENTED SITE - not a real place.", ""] if site.invented else [])]
    lines += [fill(f"{CAUTION} Printed {job.date}.", 100), "", "What is what", "------------"]
    for name, words in _CONTENTS:
        lines += [name, fill(words, 100, initial_indent="    ", subsequent_indent="    ")]
    return "\n".join(lines) + "\n"


def _conditions_bytes(given: str | Path | None, account: Account) -> bytes:
    """The file of conditions: the one that was given, or the shipped one of that title; nothing where none is known."""
    from habitat.conditions import read_conditions, shipped_conditions

    for name in [given] if given is not None else shipped_conditions():
        path = Path(name)
        if path.suffix != ".toml" and not path.exists():
            path = Path(str(resources.files("habitat") / "conditions" / f"{name}.toml"))
        if read_conditions(path).title == account.conditions_title:
            return path.read_bytes()
    return b""


def _kept_notes(folder: Path) -> str | None:
    path = folder / NOTES_FILE
    if not path.is_file():
        return None
    try:
        return path.read_bytes().decode("utf-8")
    except (UnicodeDecodeError, OSError):
        fault = Fault(NOTES_FILE, "it cannot be read as text in UTF-8.", "Save it as UTF-8; nothing was replaced.")
        raise RecordError(folder.name, [fault]) from None


def _require_date(date: str) -> None:
    import datetime

    try:
        datetime.date.fromisoformat(date)
    except (TypeError, ValueError):
        fault = Fault("date", f'"{date}" is not a date.', 'Write it like "2026-03-05".')
        raise RecordError("report", [fault]) from None
