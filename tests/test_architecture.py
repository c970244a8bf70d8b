"""The house holds: imports point down, the command starts light, files keep to one topic."""

from __future__ import annotations

import ast
import subprocess
import sys
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[1]
MODULES = sorted([*ROOT.glob("layers/**/*.py"), *ROOT.glob("habitat/**/*.py")])
# packages that only the pages may know, and only the printed maps
ONLY_PAGES = {"panel", "holoviews", "bokeh"}
ONLY_PRINT = {"matplotlib"}
HEAVY = {
    "numba",
    "panel",
    "geopandas",
    "dask",
    "matplotlib",
    "xarray",
    "numpy",
    "pandas",
    "pydantic",
    "scipy",
    "rasterio",
}


def _imports(module: Path) -> set[str]:
    names = set()
    for node in ast.walk(ast.parse(module.read_text(encoding="utf-8"))):
        if isinstance(node, ast.Import):
            names.update(alias.name for alias in node.names)
        elif isinstance(node, ast.ImportFrom):
            assert node.level == 0, f"{module.name} imports relatively"
            names.add(node.module)
            names.update(f"{node.module}.{alias.name}" for alias in node.names)
    return names


@pytest.mark.parametrize("module", MODULES, ids=lambda path: path.relative_to(ROOT).as_posix())
def test_imports_point_down(module):
    place = module.relative_to(ROOT).parts
    imported = _imports(module)
    roots = {name.split(".")[0] for name in imported}
    assert "notebooks" not in roots
    if place[0] == "layers":
        assert "habitat" not in roots
    if place[:2] != ("habitat", "view"):
        assert not roots & ONLY_PAGES
        if place[1:] not in (("cli.py",),):
            assert not any(name.startswith("habitat.view") for name in imported)
    if place[:2] != ("habitat", "report"):
        assert not roots & ONLY_PRINT


@pytest.mark.parametrize("module", MODULES, ids=lambda path: path.relative_to(ROOT).as_posix())
def test_a_file_has_one_topic(module):
    text = module.read_text(encoding="utf-8")
    assert len(text.splitlines()) <= 300, "past 300 lines there is a second topic in it"
    assert ast.get_docstring(ast.parse(text)), "a file opens by saying what it is for"
    assert module.stem not in {"utils", "util", "helpers", "misc", "common", "tools"}


def test_what_the_command_needs_to_start_is_light():
    code = f"import sys, layers, habitat, habitat.cli; print(*sorted(m for m in {sorted(HEAVY)} if m in sys.modules))"
    ran = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True, cwd=ROOT)
    assert ran.stdout.split() == []
