"""Published numbers as test cases: each file under `tests/published` opens with its citation as `#` lines."""

from __future__ import annotations

import csv
from pathlib import Path
from types import SimpleNamespace

import pytest

FOLDER = Path(__file__).parent / "published"


def rows(name: str) -> list[SimpleNamespace]:
    """The rows of a published table, numbers as floats, with the citation checked to be there."""
    lines = (FOLDER / name).read_text(encoding="utf-8").splitlines()
    citation = [line for line in lines if line.startswith("#")]
    assert citation, f"{name} does not say where its numbers come from"
    return [
        SimpleNamespace(**{key: _number(value) for key, value in row.items()})
        for row in csv.DictReader(line for line in lines if not line.startswith("#"))
    ]


def published(name: str):
    """Run a test once for each row of a published table, given as its argument `row`."""
    cases = rows(name)
    return pytest.mark.parametrize("row", cases, ids=[" ".join(str(v) for v in vars(case).values()) for case in cases])


def _number(text: str) -> float | str:
    try:
        return float(text)
    except ValueError:
        return text
