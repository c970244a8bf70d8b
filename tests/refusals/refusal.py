"""One kind of bad input, and what the command must say to it; run as a person would, in a process of its own."""

from __future__ import annotations

import hashlib
import os
import re
import subprocess
import sys
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

ROOT = Path(__file__).parents[2]
PROGRESS = re.compile(r"\d+ of \d+: .+\n")


@dataclass(frozen=True, kw_only=True)
class Refusal:
    """A folder with a whole site in `site`, spoiled in one way, and a command that must refuse it."""

    kind: str  # the fault, as a sentence
    spoil: Callable[[Path], object]  # is given the folder
    says: str  # everything that stands on stderr, but for lines of progress
    command: tuple[str, ...] = ("check", "site")
    tables: tuple[str, ...] = ("coast",)  # which tables of the small site its site file keeps


@dataclass(frozen=True, kw_only=True)
class Outcome:
    """What a command left behind."""

    code: int
    stdout: str
    stderr: str
    before: dict[str, str]  # path: digest, of everything in the folder
    after: dict[str, str]

    @property
    def said(self) -> str:
        """stderr without the lines of progress."""
        return "".join(line for line in self.stderr.splitlines(True) if not PROGRESS.fullmatch(line))


def run(folder: Path, *command: str) -> Outcome:
    """The outcome of `shallows COMMAND` with `folder` as the working directory."""
    before = tree(folder)
    done = subprocess.run(
        [sys.executable, "-m", "habitat.cli", *command],
        cwd=folder,
        env=environment(),
        capture_output=True,
        text=True,
        timeout=300,
    )
    return Outcome(code=done.returncode, stdout=done.stdout, stderr=done.stderr, before=before, after=tree(folder))


def environment() -> dict[str, str]:
    """The environment in which the command finds this working copy, wherever it runs."""
    path = os.pathsep.join(part for part in (str(ROOT), os.environ.get("PYTHONPATH")) if part)
    return {**os.environ, "PYTHONPATH": path}


def tree(folder: Path) -> dict[str, str]:
    """Every path in `folder` with its size and SHA-256."""
    return {
        path.relative_to(folder).as_posix(): _digest(path) for path in sorted(folder.rglob("*"), key=lambda p: p.parts)
    }


def assert_refused(refusal: Refusal, outcome: Outcome) -> None:
    """The message word for word, exit code 2, and nothing touched or left behind."""
    assert "Traceback" not in outcome.stderr, outcome.stderr
    assert outcome.said == refusal.says
    assert outcome.code == 2
    assert outcome.stdout == ""
    assert outcome.after == outcome.before


def _digest(path: Path) -> str:
    if not path.is_file():
        return "folder" if path.is_dir() else "other"
    return f"{path.stat().st_size} bytes, {hashlib.sha256(path.read_bytes()).hexdigest()}"
