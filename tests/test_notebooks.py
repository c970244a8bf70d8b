"""The notebooks tell a story and define nothing; each runs from top to bottom in a fresh kernel."""

import ast
import itertools
import re
from pathlib import Path

import nbformat
import pytest
from nbclient import NotebookClient

from tests.sites import write_small_site

ROOT = Path(__file__).parents[1]
NOTEBOOKS = sorted((ROOT / "notebooks").glob("*.ipynb"))
by_name = pytest.mark.parametrize("path", NOTEBOOKS, ids=lambda path: path.stem)

DEFINING = (
    ast.FunctionDef,
    ast.AsyncFunctionDef,
    ast.ClassDef,
    ast.Lambda,
    ast.For,
    ast.While,
    ast.If,
    ast.With,
    ast.Try,
    ast.ListComp,
    ast.DictComp,
    ast.SetComp,
    ast.GeneratorExp,
)
READING = {"open", "read_csv", "read_file", "read_text", "read_bytes", "Path", "open_dataset"}


def cells(path, kind):
    return [cell for cell in nbformat.read(path, as_version=4).cells if cell.cell_type == kind]


def test_there_is_a_notebook_for_each_page():
    assert {path.stem for path in NOTEBOOKS} == {
        "start",
        "overview",
        "appraise",
        "water",
        "tuning",
        "trust",
        "review",
        "sources",
    }


@by_name
def test_a_notebook_defines_nothing_and_reads_no_file(path):
    for cell in cells(path, "code"):
        tree = ast.parse(cell.source)
        found = [type(node).__name__ for node in ast.walk(tree) if isinstance(node, DEFINING)]
        assert not found, f"{path.name} holds {found}"
        names = {node.id for node in ast.walk(tree) if isinstance(node, ast.Name)}
        names |= {node.attr for node in ast.walk(tree) if isinstance(node, ast.Attribute)}
        assert not names & READING
        modules = {node.module for node in ast.walk(tree) if isinstance(node, ast.ImportFrom)}
        assert all(module.split(".")[0] in ("habitat", "layers") for module in modules)
        assert not any(isinstance(node, ast.Import) for node in ast.walk(tree))


@by_name
def test_each_code_cell_is_short_and_follows_a_sentence(path):
    all_cells = nbformat.read(path, as_version=4).cells
    assert all_cells[0].cell_type == "markdown"
    for before, cell in itertools.pairwise(all_cells):
        if cell.cell_type == "code":
            assert before.cell_type == "markdown"
            assert len(cell.source.splitlines()) <= 10


@by_name
def test_a_notebook_opens_with_its_question_and_ends_with_its_caution(path):
    said = cells(path, "markdown")
    question = said[0].source.partition("\n\n")[2]
    assert len(re.findall(r"[.?](?:\s|$)", question)) == 2
    assert "?" in question
    last = nbformat.read(path, as_version=4).cells[-1]
    assert "may conclude" in last.source and "may not" in last.source
    assert "Local law and licensed practice decide." in last.source


@by_name
def test_no_output_is_committed(path):
    for cell in cells(path, "code"):
        assert cell.outputs == []
        assert cell.execution_count is None


@by_name
def test_a_notebook_runs_in_a_fresh_kernel_and_shows_its_page(path, tmp_path, monkeypatch):
    monkeypatch.setenv("SHALLOWS_SITE", str(write_small_site(tmp_path / "site").parent))
    monkeypatch.setenv("PYTHONPATH", str(ROOT))
    monkeypatch.setenv("IPYTHONDIR", str(tmp_path / "ipython"))
    notebook = nbformat.read(path, as_version=4)
    place = {"metadata": {"path": str(tmp_path)}}
    NotebookClient(notebook, timeout=300, kernel_name="python3", resources=place).execute()
    (shown,) = [cell.outputs for cell in notebook.cells if "servable" in cell.source]
    page = "".join(output.data.get("text/html", "") for output in shown if "data" in output)
    assert "panel.models.layout.Column" in page
    assert "Small site" in page
    # the scripts travel inside the notebook: no tag asks another host for one
    sent = [output.data for cell in notebook.cells for output in cell.get("outputs", []) if "data" in output]
    everything = "".join(str(part) for data in sent for part in data.values())
    assert "Bokeh" in everything
    assert not re.findall(r"<(?:script|link|img)\b[^>]*?(?:src|href)\s*=\s*\\*[\"']https?://[^>]{0,120}", everything)
