"""A record opened with care: it may come from anybody, so nothing in it is believed before it is checked.

Only the standard library is used, so a record can be checked by any Python from 3.11 on.
"""

from __future__ import annotations

import hashlib
import re
import stat
import unicodedata
import zipfile
import zlib
from dataclasses import dataclass, field
from pathlib import Path, PurePosixPath
from typing import NoReturn

from habitat.record_members import LIST, MADE, MOST_RATIO, OUTSIDE, RATIO_FROM, root_digest
from layers.fault import Fault, RecordError

MOST_MEMBERS = 2_000
MOST_BYTES = 4 << 30  # of all members together, unpacked
MOST_LIST_BYTES = 1 << 20
LONGEST_NAME = 240  # letters; file systems take 255 bytes for a part of a path
_BLOCK = 1 << 20
_LINE = re.compile(r"([0-9a-f]{64})  (.+)")
_DRIVE = re.compile(r"[A-Za-z]:")
_ENCRYPTED, _UTF_8 = 0x1, 0x800  # bits of a member's flags
_FAILURES = (zipfile.BadZipFile, zlib.error, EOFError, NotImplementedError, RuntimeError, ValueError, OSError)
_ANEW = "Get the file again from who made it."


@dataclass(frozen=True, kw_only=True)
class Archive:
    """A zip file whose every member was checked against its list."""

    path: Path
    digests: dict[str, str] = field(repr=False)  # SHA-256 by name, of the members in the list
    root: str  # digest of the record

    def read(self, name: str) -> bytes:
        """The bytes of a member.

        Raises
        ------
        RecordError
            If there is no such member, or it is not what it was when the record was opened.
        """
        if name not in self.digests and name != MADE:
            refuse(self.path, f"{name} is not in it.", _ANEW)
        try:
            with zipfile.ZipFile(self.path) as archive:
                content = archive.read(name)
        except (KeyError, *_FAILURES):
            refuse(self.path, f"{name} cannot be read.", _ANEW)
        if name != MADE and hashlib.sha256(content).hexdigest() != self.digests[name]:
            refuse(self.path, f"{name} was changed since the record was opened.", "Leave the file alone.")
        return content

    def extract(self, name: str, target: Path) -> None:
        """Write a member to `target`, whose folder is made if need be."""
        target.parent.mkdir(parents=True, exist_ok=True)
        target.write_bytes(self.read(name))


def open_archive(path: str | Path) -> Archive:
    """The record at `path`, every member checked.

    Raises
    ------
    RecordError
        In one sentence, if the file is no zip, is cut short, is encrypted, holds too much, holds names that lead out
        of a folder, are doubled or differ by case alone, or if any member is not what the list says.
    """
    path = Path(path)
    if not path.is_file():
        refuse(path, "there is no such file.", "Name a record, a file that ends in .zip.")
    try:
        with zipfile.ZipFile(path) as archive:
            members = archive.infolist()
            _refuse_hostile(path, members)
            listed = _listed(path, archive, members)
            for member in members:
                if member.filename not in OUTSIDE:
                    _refuse_changed(path, archive, member, listed[1])
    except _FAILURES as problem:
        if isinstance(problem, RecordError):
            raise
        refuse(path, "it is no whole zip file, or a part of it is damaged.", _ANEW)
    return Archive(path=path, digests=listed[1], root=root_digest(listed[0]))


def refuse(path: Path, found: str, remedy: str) -> NoReturn:
    """Raise a RecordError with one fault of the record at `path`."""
    raise RecordError(path.name, [Fault(path.name, found, remedy)])


def _refuse_hostile(path: Path, members: list[zipfile.ZipInfo]) -> None:
    if len(members) > MOST_MEMBERS:
        refuse(path, f"it holds {len(members):,} members; a record has {MOST_MEMBERS:,} at most.", _ANEW)
    seen: dict[str, str] = {}
    for member in members:
        shown = ascii(member.orig_filename)[1:-1][:80]
        reason = _what_is_wrong(member)
        if reason:
            refuse(path, f"the member {shown} {reason}.", "Do not unpack it; ask who made it.")
        plain = unicodedata.normalize("NFC", member.filename).casefold()
        if plain in seen:
            same = (
                "stands in it twice" if seen[plain] == member.filename else f"differs from {seen[plain]} by case only"
            )
            refuse(path, f"the member {shown} {same}.", "Do not unpack it; ask who made it.")
        seen[plain] = member.filename
    for name in seen.values():
        parents = {str(parent).casefold() for parent in PurePosixPath(name).parents} & set(seen)
        if parents:
            refuse(path, f"{parents.pop()} is a file in it and a folder too.", "Do not unpack it; ask who made it.")
    total = sum(member.file_size for member in members)
    if total > MOST_BYTES:
        refuse(path, f"it would unpack to {total:,} bytes; {MOST_BYTES:,} are the most.", _ANEW)


def _what_is_wrong(member: zipfile.ZipInfo) -> str | None:
    name, kind = member.orig_filename, stat.S_IFMT(member.external_attr >> 16)
    parts = name.split("/")
    if member.flag_bits & _ENCRYPTED:
        return "is encrypted"
    if not name.isascii() and not member.flag_bits & _UTF_8:
        return "has a name that is not UTF-8"
    if not name.isprintable() or "\\" in name or len(name) > LONGEST_NAME:
        return "has a name that cannot be a file's"
    if kind not in (0, stat.S_IFREG) or member.is_dir():
        return "is a link or a folder, and no file"
    if name.startswith("/") or _DRIVE.match(name) or not all(part.strip(" .") for part in parts):
        return "has a name that leads out of the folder"
    if member.compress_type not in (zipfile.ZIP_STORED, zipfile.ZIP_DEFLATED):
        return "is packed in a way that a record does not use"
    if member.file_size > RATIO_FROM and member.file_size > MOST_RATIO * member.compress_size:
        return f"would unpack to more than {MOST_RATIO} times its size"
    return None


def _listed(path: Path, archive: zipfile.ZipFile, members: list[zipfile.ZipInfo]) -> tuple[str, dict[str, str]]:
    """The list of members as text and as digests by name, the names those of the members."""
    names = {member.filename: member for member in members}
    if LIST not in names:
        refuse(path, f"it holds no {LIST}, so it is no record.", "Name a record.zip as `shallows map` writes it.")
    if names[LIST].file_size > MOST_LIST_BYTES:
        refuse(path, f"{LIST} is longer than that of any record.", _ANEW)
    text = archive.read(LIST).decode("utf-8")
    digests = {}
    for number, line in enumerate(text.splitlines(), start=1):
        read = _LINE.fullmatch(line)
        if read is None or read[2] in digests:
            refuse(path, f"{LIST}, line {number}, is not a digest and a name.", _ANEW)
        digests[read[2]] = read[1]
    absent = sorted(set(digests) - set(names))
    unlisted = sorted(set(names) - set(digests) - set(OUTSIDE))
    if absent:
        refuse(path, f"{absent[0]} is in the list of members and not in the file.", _ANEW)
    if unlisted:
        refuse(path, f"{ascii(unlisted[0])[1:-1]} is in the file and not in the list of members.", _ANEW)
    return text, digests


def _refuse_changed(path: Path, archive: zipfile.ZipFile, member: zipfile.ZipInfo, digests: dict[str, str]) -> None:
    digest = hashlib.sha256()
    try:
        with archive.open(member) as stream:
            while block := stream.read(_BLOCK):
                digest.update(block)
    except _FAILURES:
        refuse(path, f"{member.filename} is damaged.", _ANEW)
    if digest.hexdigest() != digests[member.filename]:
        refuse(path, f"{member.filename} is not what the list of members says: it was changed.", _ANEW)
