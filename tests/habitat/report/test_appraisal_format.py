"""The printed file and the page of a document that is made up, looked at by pypdf."""

import io

import pytest
from pypdf import PdfReader

from habitat.report.appraisal_document import Block, Document, code, heading, numbered, paragraph, points, table
from habitat.report.appraisal_format import report_html, report_pdf


def _document(*blocks: Block) -> Document:
    return Document(title="Made up", site="Nowhere", date="2026-03-05", author="", foot="foot", blocks=tuple(blocks))


def _pages(document: Document, folder) -> list[str]:
    pages = PdfReader(io.BytesIO(report_pdf(document, folder))).pages
    return ["".join(page.extract_text().split()) for page in pages]


@pytest.mark.parametrize("sentences", [3, 30, 38])
def test_a_summary_stays_on_one_page_however_much_it_has_to_say(sentences, tmp_path):
    said = [f"{number} of those: " + "a thing that should be said of it. " * 3 for number in range(sentences)]
    pages = _pages(
        _document(heading("Summary"), points(said), paragraph("so ends it"), Block(form="break"), heading("Next")),
        tmp_path,
    )
    assert len(pages) == 2
    assert "soendsit" in pages[0]
    assert "Next" in pages[1]


def test_a_document_without_a_break_is_one_chapter(tmp_path):
    (page,) = _pages(_document(heading("All"), paragraph("of it")), tmp_path)
    assert "Allofit" in page


def _text(document: Document, folder) -> str:
    return "".join(page.extract_text() for page in PdfReader(io.BytesIO(report_pdf(document, folder))).pages)


def test_what_is_to_be_pasted_keeps_its_lines(tmp_path):
    command = "shallows appraise site.toml \\\n  --out ../again"
    document = _document(heading("Again"), code(command))
    assert command in _text(document, tmp_path)
    assert f"<pre>{command}</pre>" in report_html(document, tmp_path)


def test_a_number_in_a_narrow_cell_is_not_torn_from_its_sign_or_at_its_point(tmp_path):
    # cells of every length, so that some lines would end within the number
    rows = [("w" * 30 + f" {'i' * number} leaves -1.25 m", *["w " * 40] * 3) for number in range(40)]
    text = _text(_document(table("Found", dict.fromkeys("abcd", False), rows)), tmp_path)
    assert text.count("-1.25") == len(rows)


def test_chapters_tables_and_figures_are_numbered_apart_and_lower_headings_are_not():
    blocks = numbered(
        [heading("One"), heading("Below", 2), table("Sums", {"a": True}, [("1",)]), heading("Two"), paragraph("text")]
    )
    assert [block.text for block in blocks] == ["1. One", "Below", "Table 1. Sums", "2. Two", "text"]
