"""Comments of reviewers: pinned to what there is, saved beside the record, read back with care, and printed."""

from __future__ import annotations

import io
import re
import shutil
import tomllib
from pathlib import Path

import pytest
from pypdf import PdfReader

from habitat.record import write_record
from habitat.record_file import open_record
from habitat.report.appraisal_format import report_html, report_pdf
from habitat.report.review import comments_document
from habitat.reproduce import reproduce
from habitat.review_comments import (
    Cell,
    cell_of,
    comment,
    comments_beside,
    comments_text,
    read_comments,
    save_comments,
)
from habitat.site_map import map_site
from layers.fault import RecordError
from tests.records import edited, write_brief_site

BY = {"author": "R. Viewer", "date": "2026-03-05"}


@pytest.fixture(scope="module")
def site(tmp_path_factory):
    return write_brief_site(tmp_path_factory.mktemp("site") / "small").parent


@pytest.fixture(scope="module")
def published(site, tmp_path_factory):
    path = tmp_path_factory.mktemp("record") / "record.zip"
    write_record(path, map_site(site), date="2026-03-01")
    return path


@pytest.fixture
def record(published, tmp_path):
    return open_record(shutil.copy(published, tmp_path / "record.zip"))


def three(record):
    cell = cell_of(record.grid, 500_912.3, 7_770_434.7)
    return (
        comment(record, "check", "inputs", "Who measured this tide?", **BY),
        comment(record, "layer", "water_depth", 'Too deep "by eye".\nTwo lines.', **BY),
        comment(record, "cell", "suitability", "Odd here.", cell=cell, **BY),
    )


def test_a_cell_is_told_by_row_column_and_centre_and_never_by_the_place_that_was_clicked(record):
    # 50 m cells from 500000 E and 7771500 N, by hand: 912 m is in column 19, 1065 m down in row 22
    cell = cell_of(record.grid, 500_912.3, 7_770_434.7)
    assert cell == Cell(row=22, column=19, easting=500_925.0, northing=7_770_425.0)
    assert cell_of(record.grid, 499_999, 7_770_434) is None
    text = comments_text(record, three(record))
    assert "912.3" not in text and "434.7" not in text


def test_comments_are_saved_beside_the_record_and_nothing_is_overwritten(record):
    before, digest = three(record), record.archive.path.read_bytes()
    first = save_comments(record, before, date="2026-03-05")
    held = first.read_bytes()
    second = save_comments(record, before[:1], date="2026-03-05")
    assert (first.parent, first.name) == (record.archive.path.parent, "record.comments-2026-03-05.toml")
    assert second.name == "record.comments-2026-03-05-2.toml"
    assert first.read_bytes() == held
    assert record.archive.path.read_bytes() == digest, "the record itself is as it was"
    assert comments_beside(record) == sorted([first, second])
    assert read_comments(first, record) == before
    told = tomllib.loads(first.read_text(encoding="utf-8"))
    assert told["digest"] == record.root
    assert [one["about"] for one in told["comments"]] == ["check", "layer", "cell"]
    assert told["comments"][2]["cell"] == {"row": 22, "column": 19, "easting": 500_925.0, "northing": 7_770_425.0}
    assert not [path for path in first.parent.iterdir() if "unfinished" in path.name]


def test_what_is_pinned_to_nothing_says_nothing_or_is_nobodys_is_refused_at_once(record):
    with pytest.raises(RecordError) as refused:
        comment(record, "heart", "inputs", "  ", author="", date="yesterday")
    assert str(refused.value) == (
        "comment: 4 problems\n"
        "  comment: it is pinned to nothing. Pin it to a check, a layer or a cell.\n"
        "  comment: it says nothing. Write what you found.\n"
        "  comment: nobody answers for it. Give the name of the reviewer.\n"
        '  comment: "yesterday" is not a date. Write it like "2026-03-05".'
    )
    off = Cell(row=31, column=1, easting=500_025.0, northing=7_769_975.0)
    between = Cell(row=22, column=19, easting=500_912.3, northing=7_770_434.7)
    for cell in (off, between):
        with pytest.raises(RecordError, match="is no cell of the map"):
            comment(record, "cell", "suitability", "Here.", cell=cell, **BY)
    with pytest.raises(RecordError, match="a cell is needed for a comment on a cell, and for no other"):
        comment(record, "cell", "suitability", "Here.", **BY)
    with pytest.raises(RecordError, match="4,001 letters"):
        comment(record, "layer", "salinity", "x" * 4_001, **BY)
    with pytest.raises(RecordError, match="there is none to save"):
        save_comments(record, (), date="2026-03-05")
    with pytest.raises(RecordError, match="is not a date"):
        save_comments(record, three(record), date="../../etc")
    assert comments_beside(record) == []


def test_a_file_of_comments_from_somebody_else_is_read_with_care(record, published, tmp_path):
    path = save_comments(record, three(record), date="2026-03-05")
    text = path.read_text(encoding="utf-8")

    def refused(changed):
        path.write_text(changed, encoding="utf-8")
        with pytest.raises(RecordError) as said:
            read_comments(path, record)
        return str(said.value)

    assert "is no cell of the map" in refused(text.replace("500925.0", "500912.3"))
    assert "This version reads format 1" in refused(text.replace("format = 1", "format = 9"))
    assert "animal" in refused(text + "\nanimal = 1\n")
    assert "is not TOML" in refused(text + '"')
    assert "nests tables and lists more than" in refused(text + "x = " + "[" * 40 + "]" * 40)
    path.write_text(text, encoding="utf-8")
    other = edited(published, tmp_path / "other.zip", "profile.toml", lambda held: held + "\n")
    with pytest.raises(RecordError, match="it belongs to a record of digest"):
        read_comments(path, open_record(other))
    with pytest.raises(RecordError, match="it is no file of comments"):
        read_comments(tmp_path / "nothing.toml", record)


def test_the_printed_report_holds_the_answer_the_cause_the_cells_and_the_comments(record, site, tmp_path):
    folder = shutil.copytree(site, tmp_path / "site")
    tide = folder / "tide.csv"
    tide.write_text(tide.read_text().replace("M2,0.5,", "M2,0.6,"))
    made = reproduce(record, folder)
    hostile = comment(record, "layer", "salinity", "<script>alert(1)</script> #panic() $x$ *y*", **BY)
    document = comments_document(made, (*three(record), hostile), **BY)
    pdf = report_pdf(document, Path())
    printed = re.sub(r"\s+", " ", "".join(page.extract_text() for page in PdfReader(io.BytesIO(pdf)).pages))
    cells = made.cause.first.cells
    for words in (
        "The map made again is not the same.",
        'First cause: tide.csv has other bytes than in the record (line 2: "M2,0.5,10.0" in the record',
        f"{cells.count:,} of {cells.of:,}",
        "Who measured this tide?",
        "R. Viewer, 2026-03-05",
        "row 22, column 19",
        "INVENTED SITE",
    ):
        assert words in printed, words
    # long words may break at their signs
    whole = re.sub(r"[\s\u200b]", "", printed)
    assert record.root in whole
    assert "<script>alert(1)</script>#panic()$x$*y*" in whole
    assert report_pdf(document, Path()) == pdf, "the same words give the same bytes"
    page = report_html(document, Path())
    assert "<script>alert" not in page and "&lt;script&gt;alert(1)" in page


def test_the_report_of_a_map_that_is_the_same_says_so_and_that_nothing_was_remarked(record):
    texts = list(comments_document(reproduce(record), (), **BY).texts())
    assert "The map made again is the same." in texts
    assert "None: every cell of every layer and result is the same, to the bit." in texts
    assert "None were written." in texts
    assert not any(text.startswith("First cause") for text in texts)
