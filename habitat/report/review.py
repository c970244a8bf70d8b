"""The report of a review: whether the map came out the same, what parted first, the differences, and the comments."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

from habitat.report.appraisal_document import Block, Document, code, heading, numbered, paragraph, points, table
from habitat.report.print_map import CAUTION, INVENTED
from habitat.reproduce_text import reproduction_text

if TYPE_CHECKING:
    from habitat.compare_maps import MapComparison
    from habitat.reproduce import Reproduction
    from habitat.review_comments import Comment

SCOPE = (
    "A map that comes out the same was made by this software from these files and numbers. That says nothing about "
    "whether the files tell the truth, or whether the profile is right for the animals."
)
UNPROVEN = (
    "The seal shows that no member was changed since its list was written. Whether that list is the one that was "
    "published, only the digest of the record can tell, held against one from another source."
)
MOST_ROWS = 60  # of a table of differences


def comments_document(
    made: Reproduction, comments: Sequence[Comment], *, date: str, author: str, title: str = "Review of a record"
) -> Document:
    """The report as a document, for `habitat.report.appraisal_format`.

    Parameters
    ----------
    made : Reproduction
        The map made again.
    comments : sequence of Comment
    date : str
        ISO date that the report bears.
    author : str
        Who reviewed.
    """
    record = made.record
    blocks = [
        heading("The answer"),
        paragraph(f"The map made again is {made.verdict}.", "strong"),
        *_cause(made),
        paragraph(SCOPE),
        heading("What was checked"),
        paragraph(f"{record.name}, {record.table.title}, with {record.table.profile.title}. Digest of the record:"),
        code(record.root),
        paragraph(UNPROVEN),
        heading("Differences"),
        *_differences(made),
        *_classes(made),
        Block(form="break"),
        heading("Comments"),
        *_comments(comments),
        heading("The answer of the command line, word for word"),
        # one piece of it never breaks over two sheets
        *(code(part) for part in reproduction_text(made).split("\n\n")),
    ]
    return Document(
        title=title,
        site=record.table.title,
        date=date,
        author=author,
        foot=CAUTION,
        banner=INVENTED if record.table.invented else "",
        blocks=numbered(blocks),
    )


def class_comparisons(made: Reproduction) -> list[MapComparison]:
    """Every map of classes, as recorded and as made again; none where the grids differ."""
    from habitat.compare import class_maps
    from habitat.compare_maps import CLASSES, map_comparisons

    before, after = made.record.grid, made.found.inputs.site.grid
    if before.shape != after.shape or before.bounds != after.bounds:
        return []
    now = (made.after or made.found).assessment
    found = {name: now[name] for name in CLASSES if name in now}
    return map_comparisons(class_maps(made.record), found, cell_hectares=before.cell_hectares)


def _cause(made: Reproduction) -> list[Block]:
    if made.cause is None:
        return []
    others = [f"And perhaps: {one}." for one in made.cause.others]
    return [paragraph(f"First cause: {made.cause.said}."), *([points(others)] if others else [])]


def _differences(made: Reproduction) -> list[Block]:
    if not made.changes:
        return [paragraph("None: every cell of every layer and result is the same, to the bit.")]
    rows = [_row(change) for change in made.changes[:MOST_ROWS]]
    more = len(made.changes) - len(rows)
    headings = {"Layer or result": False, "Cells": True, "Worst cell": False, "Recorded": True, "Now": True}
    blocks = [table("What came out differently, in the order it is made", headings, rows)]
    return blocks + ([paragraph(f"And {more} more.")] if more else [])


def _row(change) -> tuple[str, ...]:
    name = f"{change.name.replace('_', ' ')}{' (with the proposals in place)' if change.after else ''}"
    cells = change.cells
    if cells is None:
        return (name, "", change.what, "", "")
    season = f", {cells.season}" if cells.season else ""
    where = f"row {cells.row}, column {cells.column} ({cells.easting:.0f} E, {cells.northing:.0f} N{season})"
    return (name, f"{cells.count:,} of {cells.of:,}", where, _figure(cells.recorded), _figure(cells.found))


def _figure(value: float) -> str:
    return "no data" if value != value else f"{value:.7g}"


def _classes(made: Reproduction) -> list[Block]:
    said = [
        f"{one.name.replace('_', ' ')}{f', {one.season}' if one.season else ''}: {' '.join(one.sentences)}"
        for one in class_comparisons(made)
        if not one.is_same
    ]
    return [heading("What it changes", 2), points(said)] if said else []


def _comments(comments: Sequence[Comment]) -> list[Block]:
    if not comments:
        return [paragraph("None were written.")]
    rows = [(one.pin, one.text, f"{one.author}, {one.date}") for one in comments]
    return [table("What reviewers said", {"Of": False, "Comment": False, "By": False}, rows)]
