"""One kind of bad input, and what the command must say to it; run as a person would, in a process of its own."""

from __future__ import annotations

import hashlib
import multiprocessing
import os
import re
import sys
import tempfile
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

ROOT = Path(__file__).parents[2]
READ_ONCE = [
    "habitat.assessment",
    "habitat.inventory",
    "habitat.lineage",
    "habitat.profile_schema",
    "layers.code_table",
    "layers.conductivity",
    "layers.kriging",
    "layers.matern",
    "layers.mixing",
    "layers.raster",
    "layers.recipe",
    "layers.site_schema",
    "layers.stations",
    "layers.tide",
    "layers.wind",
]
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
    # a process of its own for each, from a server that has read the libraries once
    server = multiprocessing.get_context("forkserver")
    server.set_forkserver_preload(READ_ONCE)
    with tempfile.TemporaryDirectory() as aside:
        streams = {name: Path(aside) / name for name in ("stdout", "stderr")}
        ended = Path(aside) / "code"  # the server loses the exit code of one process in some hundreds
        process = server.Process(target=_command, args=(folder, command, *streams.values(), ended))
        process.start()
        process.join(timeout=300)
        if process.exitcode is None:
            process.kill()
        said = {name: path.read_text(encoding="utf-8") for name, path in streams.items()}
        code = int(ended.read_text(encoding="utf-8")) if ended.exists() else process.exitcode
    return Outcome(code=code, **said, before=before, after=tree(folder))


def _command(folder: Path, command: tuple[str, ...], stdout: Path, stderr: Path, ended: Path) -> None:
    """What `shallows COMMAND` does, with its streams and its exit code in files."""
    for stream, path in ((1, stdout), (2, stderr)):
        os.dup2(os.open(path, os.O_WRONLY | os.O_CREAT), stream)
    os.chdir(folder)
    from habitat.cli import main

    code = main(list(command))
    sys.stdout.flush()
    sys.stderr.flush()
    ended.write_text(str(code), encoding="utf-8")
    os._exit(code)


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
