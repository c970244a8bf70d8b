"""Whole or not at all: a file or folder appears under its name only when everything in it is written.

The work is done under a name that says it is unfinished, beside the place it will have, and renamed at the end.
A failure or an interrupt removes it; a run that is killed leaves the unfinished name and nothing else.
"""

from __future__ import annotations

import os
import shutil
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from layers.fault import Fault, RecordError


@contextmanager
def whole_file(path: str | Path, *, replace: bool = False) -> Iterator[Path]:
    """A path to write a file to, which becomes `path` when the block ends well.

    Raises
    ------
    RecordError
        If `path` exists and is not to be replaced, or its folder does not exist.
    """
    path = Path(path)
    _refuse_what_is_there(path, replace)
    unfinished = path.with_name(f".{path.stem}.unfinished-{os.getpid()}{path.suffix}")
    try:
        yield unfinished
        _to_disk(unfinished)
        os.replace(unfinished, path)
    finally:
        unfinished.unlink(missing_ok=True)
    _to_disk(path.parent)


@contextmanager
def whole_folder(path: str | Path, *, replace: bool = False) -> Iterator[Path]:
    """A new folder to fill, which becomes `path` when the block ends well.

    Where `path` exists and is replaced, the old folder keeps its place until the new one is complete.

    Raises
    ------
    RecordError
        If `path` exists and is not to be replaced, or the folder it lies in does not exist.
    """
    path = Path(os.path.abspath(path))
    _refuse_what_is_there(path, replace)
    unfinished = path.with_name(f"{path.name}.unfinished-{os.getpid()}")
    shutil.rmtree(unfinished, ignore_errors=True)  # left by a killed run that had the same number
    _make(unfinished)
    try:
        yield unfinished
        _exchange(unfinished, path)
    finally:
        shutil.rmtree(unfinished, ignore_errors=True)
    _to_disk(path.parent)


def refuse_unwritable(path: str | Path) -> None:
    """Refuse a place in which `whole_folder` could make nothing: found out by making and removing a folder.

    Raises
    ------
    RecordError
        If the system allows nothing to be written there.
    """
    path = Path(os.path.abspath(path))
    trial = path.with_name(f"{path.name}.unfinished-{os.getpid()}")
    _make(trial)
    trial.rmdir()


def _make(folder: Path) -> None:
    try:
        folder.mkdir()
    except OSError:
        fault = Fault(str(folder.parent), "nothing can be written in this folder.", "Choose one you may write to.")
        raise RecordError(folder.name.partition(".unfinished-")[0], [fault]) from None


def _exchange(new: Path, path: Path) -> None:
    if not path.exists():
        new.rename(path)
        return
    old = path.with_name(f"{path.name}.replaced-{os.getpid()}")
    path.rename(old)
    try:
        new.rename(path)
    except BaseException:
        old.rename(path)
        raise
    shutil.rmtree(old)


def _refuse_what_is_there(path: Path, replace: bool) -> None:
    if path.exists() and not replace:
        fault = Fault(path.name, "exists already.", "Choose another name, or move it away.")
        raise RecordError(path.name, [fault])
    if not path.parent.is_dir():
        place = path.parent.name or "."
        raise RecordError(path.name, [Fault(place, "there is no such folder.", "Make it first.")])


def _to_disk(path: Path) -> None:
    """Wait until the disk has what was written."""
    handle = os.open(path, os.O_RDONLY)
    try:
        os.fsync(handle)
    finally:
        os.close(handle)
