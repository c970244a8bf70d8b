"""The whole report of an appraisal as a document, from the account of it and the planner's notes."""

from __future__ import annotations

from typing import TYPE_CHECKING

from habitat.appraisal_account import PERIOD
from habitat.record_contents import software
from habitat.report.account import CAUTION as WHOLE_CAUTION
from habitat.report.appraisal_asked import NOTHING, Asked
from habitat.report.appraisal_document import Block, Document, code, heading, numbered, paragraph, points
from habitat.report.appraisal_effects import conditions, effects, maps, proposed, summary, ways_and_years
from habitat.report.appraisal_grounds import animals, certainty, limits, method, mitigation
from habitat.report.print_map import CAUTION, INVENTED

if TYPE_CHECKING:
    from habitat.appraisal_account import Account
    from habitat.report.appraisal_table import Numbers

NOTES_HEADINGS = """# Notes of the planner

## Site visit

## Who was asked, and what they said

## What was asked of the applicant

## Decision and reasons
"""


def report_document(
    account: Account,
    tables: dict[str, Numbers],
    *,
    date: str,
    author: str = "",
    notes: str = "",
    command: str = "",
    asked: Asked = NOTHING,
) -> Document:
    """The report.

    Parameters
    ----------
    account : Account
    tables : mapping of str to Numbers
        As `habitat.report.appraisal_numbers.report_tables` gives them.
    date : str
        ISO date of the report.
    author : str
        Who answers for it.
    notes : str
        The planner's own text, with headings that start with "#" and points that start with "- ".
    command : str
        What makes the report again, see `habitat.report.appraisal_again.rerun_command`.
    asked : Asked
        Answers that were asked for beside the account.
    """
    site = account.appraisal.before.inputs.site
    names = ", ".join(proposal.name for proposal in account.appraisal.proposals)
    blocks = [
        *summary(account, asked),
        Block(form="contents"),
        *proposed(account, tables, asked),
        *maps(account),
        *effects(account, tables),
        *ways_and_years(account, tables),
        *conditions(account, tables),
        *animals(account),
        *mitigation(account, tables, asked),
        *certainty(account, tables, asked),
        *limits(account),
        *method(account),
        *_notes(notes),
        *_again(account, command),
    ]
    return Document(
        title=f"Appraisal of {names}",
        site=site.title,
        date=date,
        author=author,
        foot=CAUTION,
        banner=INVENTED if site.invented else "",
        blocks=numbered(blocks),
    )


def _again(account: Account, command: str) -> list[Block]:
    before = account.appraisal.before
    more = "" if account.period == PERIOD else f" The period of analysis was set to {account.period:g} years in Python."
    inputs = [
        f"{entry.path.name}: SHA-256 {before.inputs.digests[entry.name]}"
        for entry in before.inputs.site.files
        if not entry.sensitive
    ]
    versions = ", ".join(f"{name} {number}" for name, number in software().items())
    return [
        heading("Cautions, and who decides"),
        paragraph(WHOLE_CAUTION),
        points(list(dict.fromkeys(finding.decides for finding in account.conditions)) or [CAUTION]),
        heading("How to make this again"),
        paragraph(
            "In a command line, in the folder of this report, with the site's folder where it was; the tables of the "
            f"new report are those of this one to the last digit. The profile is {before.profile.title}; cells are "
            f"{before.inputs.site.grid.cell:g} m.{more}"
        ),
        code(command),
        paragraph(f"Made with {versions}."),
        heading("Digests of the files", 2),
        points(
            [
                *(f"{proposal.name}: SHA-256 {proposal.digest}" for proposal in account.appraisal.proposals),
                *dict.fromkeys(inputs),
            ]
        ),
        paragraph(
            "Digests of layers, results and tables are in record.zip, from which shallows reproduce makes it again.",
            "small",
        ),
    ]


def _notes(text: str) -> list[Block]:
    """The notes as blocks; headings alone are no notes."""
    blocks, plain, listed = [heading("Notes of the planner")], [], []

    def close() -> None:
        if plain:
            blocks.append(paragraph(" ".join(plain)))
        if listed:
            blocks.append(points(listed.copy()))
        plain.clear()
        listed.clear()

    for line in (line.strip() for line in text.splitlines()):
        if line.startswith("#") or not line:
            close()
            title = line.lstrip("#").strip()
            if title and title != "Notes of the planner":
                blocks.append(heading(title, 2))
        elif line.startswith(("- ", "* ")):
            if plain:
                close()
            listed.append(line[2:].strip())
        elif listed:
            listed[-1] += f" {line}"
        else:
            plain.append(line)
    close()
    if all(block.form == "heading" for block in blocks):
        return [blocks[0], paragraph("None were written. They belong in notes.md, and come into the next report.")]
    return blocks
