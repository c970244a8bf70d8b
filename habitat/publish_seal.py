"""What makes a folder a published one: publication.json, written before the search for places and true to the byte.

The seal finds a file that was changed, added or lost since. It is no signature: whoever can write to the folder can
make another seal.
"""

from __future__ import annotations

import hashlib
import json
from dataclasses import dataclass, field
from pathlib import Path
from typing import TYPE_CHECKING, Any

from layers.fault import Fault, RecordError

if TYPE_CHECKING:
    from habitat.publish_schema import PublicationTable

PUBLICATION_FILE = "publication.json"
_MOST = 1 << 24  # bytes of publication.json
_AGAIN = "Publish the map again: whatever has not been searched for places of animals is not shown."


@dataclass(frozen=True, kw_only=True)
class Publication:
    """A published folder whose every file was found as it was published."""

    folder: Path
    table: PublicationTable = field(repr=False)

    def read(self, name: str) -> bytes:
        """The bytes of a file of the list, held against its digest once more.

        Raises
        ------
        KeyError
            If the list does not have it.
        RecordError
            If it is not what was published.
        """
        told = self.table.files[name]
        path = self.folder / name
        try:
            content = b"" if _is_linked(path, self.folder) else path.read_bytes()
        except OSError:
            content = b""
        if len(content) != told.bytes or hashlib.sha256(content).hexdigest() != told.sha256:
            raise RecordError(self.folder.name, [Fault(name, "is not what was published.", _AGAIN)])
        return content


def seal_publication(folder: Path, told: dict[str, Any]) -> None:
    """Write publication.json into a folder that is otherwise complete.

    Parameters
    ----------
    folder : path
    told : dict
        What `publish_schema.PublicationTable` has besides `format`, `files` and `seal`.
    """
    from habitat.publish_schema import FORMAT, PublicationTable
    from habitat.record_members import digest_of

    files = {
        path.relative_to(folder).as_posix(): {"bytes": path.stat().st_size, "sha256": digest_of(path)}
        for path in sorted(folder.rglob("*"))
        if path.is_file()
    }
    content = {"format": FORMAT, **told, "files": files}
    content["seal"] = _seal(content)
    PublicationTable.model_validate(content)  # what could not be read again must not be written
    (folder / PUBLICATION_FILE).write_text(json.dumps(content, ensure_ascii=False, indent=1) + "\n", encoding="utf-8")


def open_publication(folder: str | Path) -> Publication:
    """A published folder, every file held against its digest.

    Raises
    ------
    RecordError
        If it is none, with every file that is changed, missing, new or a link.
    """
    from habitat.publish_schema import PublicationTable
    from layers.textfile import validate

    folder = Path(folder)
    if not folder.is_dir():
        raise RecordError(folder.name, [Fault("--public", "there is no such folder.", "Name a published folder.")])
    path = folder / PUBLICATION_FILE
    if _is_linked(path, folder) or not path.is_file() or path.stat().st_size > _MOST:
        found = f"it is not a published folder: it has no {PUBLICATION_FILE}."
        raise RecordError(folder.name, [Fault("--public", found, "Make one with: shallows publish SITE --out FOLDER")])
    faults: list[Fault] = []
    try:
        content = json.loads(path.read_text(encoding="utf-8"))
    except (ValueError, RecursionError):
        content = None
    if not isinstance(content, dict):
        raise RecordError(folder.name, [Fault(PUBLICATION_FILE, "it cannot be read.", _AGAIN)])
    table = validate(PublicationTable, content, "", faults)
    if table is None:
        raise RecordError(f"{folder.name}, {PUBLICATION_FILE}", faults)
    if _seal({name: value for name, value in content.items() if name != "seal"}) != table.seal:
        faults.append(Fault(PUBLICATION_FILE, "its words are not those that were published.", _AGAIN))
    faults += _not_listed(folder, set(table.files))
    publication = Publication(folder=folder, table=table)
    for name in table.files:
        try:
            publication.read(name)
        except RecordError as changed:
            faults += changed.faults
    missing = {one.picture for one in table.maps} - set(table.files)
    faults += [Fault(name, "a map names it, and it is not listed.", _AGAIN) for name in sorted(missing)]
    if faults:
        raise RecordError(folder.name, faults)
    return publication


def require_place(folder: str | Path, *, replace: bool) -> None:
    """Refuse a place where no folder can be published; with `replace`, one that holds anything but a publication.

    Raises
    ------
    RecordError
        Also where a file of the publication there has been changed: it may be somebody's work.
    """
    from habitat.report.results import refuse_existing

    folder = Path(folder)
    if folder.exists() and replace:
        try:
            open_publication(folder)
        except RecordError as refused:
            why = f"it is not a publication as it was made ({refused.faults[0]})."
            remedy = "Choose another name, or move it away; nothing else is ever deleted."
            raise RecordError(folder.name, [Fault("--replace", why, remedy)]) from None
        return
    refuse_existing(folder)


def _not_listed(folder: Path, listed: set[str]) -> list[Fault]:
    """Everything that lies there without having been searched."""
    folders = {parent.as_posix() for name in listed for parent in Path(name).parents}
    faults = []
    for path in sorted(folder.rglob("*")):
        name = path.relative_to(folder).as_posix()
        if path.is_symlink():
            faults.append(Fault(name, "it is a link.", _AGAIN))
        elif name != PUBLICATION_FILE and name not in (folders if path.is_dir() else listed):
            faults.append(Fault(name, "it was not there when the folder was published.", _AGAIN))
    return faults


def _is_linked(path: Path, folder: Path) -> bool:
    return path.resolve() != folder.resolve() / path.relative_to(folder)


def _seal(content: dict[str, Any]) -> str:
    words = json.dumps(content, ensure_ascii=False, sort_keys=True, separators=(",", ":"))
    return hashlib.sha256(words.encode("utf-8")).hexdigest()
