"""The folder of a site, built again from a record and, where they are given, from files that may have changed."""

from __future__ import annotations

import shutil
from dataclasses import dataclass, field
from pathlib import Path, PurePosixPath
from typing import TYPE_CHECKING, Any

import tomlkit

from habitat.compare_parameters import ParameterChange, parameter_changes
from habitat.record_contents import SENSITIVE, companions
from habitat.record_members import digest_of
from layers.fault import Fault, LayerError, RecordError
from layers.feeds import FEEDS

if TYPE_CHECKING:
    from habitat.record_file import Record
    from habitat.record_schema import InputTable, PartTable

_TEXT = (".csv", ".tsv", ".txt", ".geojson", ".json", ".asc")
_HEAD = 4096
_POINTERS = (b"<VRT", b"<OGRVRT", b"<GDAL_", b"<WMS", b"<WMTS", b"<WCS", b"<TileMap")  # content that names other files
_LONGEST = 60  # letters of a line that are shown


@dataclass(frozen=True, kw_only=True)
class InputChange:
    """An input whose bytes are not those of the record."""

    name: str  # of the entry of the site file
    file: str
    feeds: str
    where: str  # the first line that differs, or the sizes

    def __str__(self) -> str:
        return f"{self.file} has other bytes than in the record ({self.where})"


@dataclass(frozen=True, kw_only=True)
class RebuiltSite:
    """A folder to make a map from again."""

    place: Path  # the site file
    cell: float  # of the grid [m]
    inputs: tuple[InputChange, ...]
    parameters: tuple[ParameterChange, ...]  # of the site file
    left_out: tuple[InputTable, ...] = field(repr=False)  # withheld, and no layer asked for them


def rebuild_site(record: Record, room: Path, inputs: Path | None = None) -> RebuiltSite:
    """Write the site of a record into `room`.

    Parameters
    ----------
    record : Record
    room : path
        An empty folder.
    inputs : path, optional
        Folder of a site whose files are taken where it has them, `site.toml` among them.

    Raises
    ------
    RecordError
        If a file that a layer was made from is neither in the record nor in `inputs`, with all such files.
    LayerError
        If the site file in `inputs` cannot be read.
    """
    if inputs is not None and not inputs.is_dir():
        raise RecordError(str(inputs), [Fault("--inputs", "there is no such folder.", "Name the folder of the site.")])
    text, document = _site_document(record, inputs)
    secret = _secret_files(document)
    asked = {feed for step in record.table.steps for feed in step.feeds}
    told = {one.file: one for one in record.table.inputs}
    faults: list[Fault] = []
    changes, left_out = [], []
    for one in record.table.inputs:
        came = _bring(record, one, room, inputs, secret, faults)
        if came is None and one.withheld and one.feeds not in asked:
            left_out.append(one)
        elif came is None:
            why = f"it is not in the record ({one.withheld})" if one.withheld else "it is not in the record"
            remedy = f"Give a folder that has it with --inputs; it comes from: {one.source} ({one.licence})."
            faults.append(Fault(one.file, f"{why}, and layers were made from it.", remedy))
        elif came:
            changes.append(InputChange(name=one.name, file=one.file, feeds=one.feeds, where=came))
    for file in _files_of(document):
        if file not in told and inputs is not None and (inputs / file).exists():
            _copy_all(inputs, inputs / file, room)
    if faults:
        raise RecordError(record.name, faults)
    place = room / "site.toml"
    place.write_text(_without(text, left_out) if left_out else text, encoding="utf-8", newline="")
    own = record.site.get("grid", {}).get("cell")
    changed = document.get("grid", {}).get("cell") if isinstance(document.get("grid"), dict) else None
    is_own = own == record.table.grid.cell and isinstance(changed, (int, float))
    return RebuiltSite(
        place=place,
        cell=float(changed) if is_own else record.table.grid.cell,
        inputs=tuple(changes),
        parameters=tuple(parameter_changes("site", record.site, document)),
        left_out=tuple(left_out),
    )


def _site_document(record: Record, inputs: Path | None) -> tuple[str, dict[str, Any]]:
    from layers.textfile import read_document

    if inputs is None or not (inputs / "site.toml").is_file():
        return record.archive.read("site.toml").decode("utf-8-sig"), record.site
    faults: list[Fault] = []
    document = read_document(inputs / "site.toml", faults)
    if document is None:
        raise LayerError("site.toml", faults)
    return (inputs / "site.toml").read_text(encoding="utf-8-sig"), document


def _bring(
    record: Record, one: InputTable, room: Path, inputs: Path | None, secret: set[str], faults: list[Fault]
) -> str | None:
    """Put the files of an entry into `room`: "" where they are as recorded, what differs, or None where there are none.

    A folder that has the file itself is taken at its word for its companions too.
    """
    if inputs is not None and (inputs / one.file).exists():
        _copy_all(inputs, inputs / one.file, room)
        now = {part.relative_to(inputs).as_posix(): part for part in companions(inputs / one.file)}
        told = {part.file: part for part in one.parts}
        for file in sorted({*now, *told}):
            if file not in now or file not in told:
                return f"{file} is {'missing' if file in told else 'new'}"
            if digest_of(now[file]) != told[file].sha256:
                return _first_difference(
                    record, told[file], now[file], hidden=one.withheld == SENSITIVE or one.file in secret
                )
        return ""
    if one.withheld:
        return None
    for part in one.parts:
        member = f"inputs/{part.file}"
        if member not in record.archive.digests:
            return None
        content = record.archive.read(member)
        if digest_of(content) != part.sha256:
            faults.append(Fault(part.file, "it is not the file that record.toml tells of.", "Get the record again."))
        if any(pointer in content[:_HEAD] for pointer in _POINTERS):
            faults.append(Fault(part.file, "it points to other files, which a record must not.", "Ask who made it."))
        target = room / part.file
        target.parent.mkdir(parents=True, exist_ok=True)
        target.write_bytes(content)
    return ""


def _first_difference(record: Record, told: PartTable, now: Path, *, hidden: bool) -> str:
    size = now.stat().st_size
    sizes = f"{told.bytes:,} bytes in the record, {size:,} now" if size != told.bytes else f"{size:,} bytes as before"
    member = f"inputs/{told.file}"
    if hidden or now.suffix.lower() not in _TEXT or member not in record.archive.digests:
        return sizes
    before = record.archive.read(member).decode("utf-8", "replace").splitlines()
    after = now.read_bytes().decode("utf-8", "replace").splitlines()
    for number, (old, new) in enumerate(zip(before, after, strict=False), start=1):
        if old != new:
            alike = next((at for at, (one, other) in enumerate(zip(old, new, strict=False)) if one != other), 0)
            return f'line {number}: "{_cut(old, alike)}" in the record, "{_cut(new, alike)}" now'
    return f"{len(before):,} lines in the record, {len(after):,} now" if len(before) != len(after) else "line ends"


def _copy_all(folder: Path, path: Path, room: Path) -> None:
    for part in companions(path):
        target = room / part.relative_to(folder)
        target.parent.mkdir(parents=True, exist_ok=True)
        if not target.exists():
            shutil.copyfile(part, target)


def _secret_files(document: dict[str, Any]) -> set[str]:
    """Files that the site file at hand holds to be sensitive, whatever a record says of them."""
    tables = document.get("files")
    tables = [table for table in tables.values() if isinstance(table, dict)] if isinstance(tables, dict) else []
    return {
        str(table.get("file"))
        for table in tables
        if table.get("sensitive", False) or (table.get("feeds") in FEEDS and FEEDS[table["feeds"]].sensitive)
    }


def _files_of(document: dict[str, Any]) -> list[str]:
    """Files that a site file names and that lie in its folder; the others are refused when it is read."""
    tables = document.get("files")
    tables = tables.values() if isinstance(tables, dict) else []
    named = [table.get("file") for table in tables if isinstance(table, dict)]
    return [
        file
        for file in named
        if isinstance(file, str) and not PurePosixPath(file).is_absolute() and ".." not in PurePosixPath(file).parts
    ]


def _without(text: str, left_out: list[InputTable]) -> str:
    document = tomlkit.parse(text)
    for one in left_out:
        document["files"].pop(one.name, None)
    return tomlkit.dumps(document)


def _cut(line: str, alike: int) -> str:
    """The part of a line from a little before its letter `alike`; all of it where it is short."""
    first = 0 if len(line) <= _LONGEST else max(0, alike - _LONGEST // 3)
    part = line[first : first + _LONGEST]
    return ("..." if first else "") + part + ("..." if first + _LONGEST < len(line) else "")
