"""The report as a page and as a printed file, both from one document: nothing is fetched, nothing lies beside them."""

from __future__ import annotations

import base64
import datetime
import json
import shutil
import tempfile
from importlib import resources
from pathlib import Path

from habitat.report.appraisal_document import Document

_TEMPLATES = "appraisal"


def report_html(document: Document, folder: Path) -> str:
    """The report as one HTML page that holds its pictures.

    Parameters
    ----------
    document : Document
    folder : path
        In which the files of its figures lie.
    """
    from jinja2 import Environment, StrictUndefined

    environment = Environment(autoescape=True, undefined=StrictUndefined, trim_blocks=True, lstrip_blocks=True)
    pictures = {
        block.file: base64.b64encode((folder / block.file).read_bytes()).decode("ascii")
        for block in document.blocks
        if block.form == "figure"
    }
    return environment.from_string(_template("report.html")).render(document=document, pictures=pictures)


def report_pdf(document: Document, folder: Path) -> bytes:
    """The report as PDF on A4 sheets; the same document gives the same bytes.

    Parameters
    ----------
    document : Document
        Its date is an ISO date, and the time that the file bears.
    folder : path
        In which the files of its figures lie.
    """
    import typst

    stamp = datetime.datetime.combine(datetime.date.fromisoformat(document.date), datetime.time(), tzinfo=datetime.UTC)
    # the typesetter reads from one folder only
    with tempfile.TemporaryDirectory() as bench:
        place = Path(bench)
        for block in document.blocks:
            if block.form == "figure":
                (place / block.file).parent.mkdir(parents=True, exist_ok=True)
                shutil.copyfile(folder / block.file, place / block.file)
        # data, not markup: no text of a proposal can be taken for a command of the typesetter
        (place / "document.json").write_text(json.dumps(document.as_dict(), ensure_ascii=False), encoding="utf-8")
        (place / "report.typ").write_text(_template("report.typ"), encoding="utf-8")
        return typst.compile(place / "report.typ", root=place, ignore_system_fonts=True, format="pdf", timestamp=stamp)


def _template(name: str) -> str:
    return (resources.files("habitat.report") / _TEMPLATES / name).read_text(encoding="utf-8")
