"""The members of a record: their digests as a list that `sha256sum` checks, and one zip file of the same bytes always.

The list is plain text, a line for each member: 64 hexadecimal digits, two spaces, the name. Its own SHA-256 is the
digest of the record; so one number that is printed in a report vouches for every byte.
"""

from __future__ import annotations

import hashlib
import zipfile
import zlib
from collections.abc import Iterator, Mapping
from pathlib import Path

from layers.atomic import whole_file

LIST = "members.sha256"
MADE = "made.toml"  # who, when and why: outside the digest
OUTSIDE = (LIST, MADE)
RATIO_FROM = 1 << 20  # bytes of a member from which its packing is looked at
MOST_RATIO = 200  # of the size of such a member to its packed size; text of numbers packs to a tenth
_TIME = (1980, 1, 1, 0, 0, 0)  # the earliest a zip can hold
_PACKED = (".tif", ".tiff", ".gz", ".zip", ".parquet", ".png", ".xlsx")  # gain nothing by being packed again
_BLOCK = 1 << 20

Content = bytes | Path


def digest_of(content: Content) -> str:
    """SHA-256 of bytes or of a file, in hexadecimal digits."""
    if isinstance(content, bytes):
        return hashlib.sha256(content).hexdigest()
    with content.open("rb") as stream:
        return hashlib.file_digest(stream, "sha256").hexdigest()


def size_of(content: Content) -> int:
    """Number of bytes."""
    return len(content) if isinstance(content, bytes) else content.stat().st_size


def digest_list(digests: Mapping[str, str]) -> str:
    """Digests by name as `sha256sum` writes them, in the order of the names.

    Examples
    --------
    >>> print(digest_list({"b": "22", "a": "11"}), end="")
    11  a
    22  b
    """
    return "".join(f"{digests[name]}  {name}\n" for name in sorted(digests))


def root_digest(listed: str) -> str:
    """The digest of a record: SHA-256 of its list of members."""
    return hashlib.sha256(listed.encode()).hexdigest()


def write_members(path: Path, members: Mapping[str, Content], outside: Mapping[str, bytes], *, replace: bool) -> str:
    """Write a record, whole or not at all, and give its digest.

    The file is the same to the bit for the same content: names in order, one time, one set of permissions. Members in
    `outside` are not in the list, so they do not touch the digest.

    Raises
    ------
    RecordError
        If the file exists and is not to be replaced, or its folder does not exist.
    """
    listed = digest_list({name: digest_of(content) for name, content in members.items()})
    whole = {**members, **outside, LIST: listed.encode()}
    # README and list first: a person who opens the file sees them at once
    first = [name for name in ("README.txt", LIST, MADE) if name in whole]
    with whole_file(path, replace=replace) as unfinished, zipfile.ZipFile(unfinished, "w") as archive:
        for name in [*first, *sorted(set(whole) - set(first))]:
            _add(archive, name, whole[name])
    return root_digest(listed)


def _add(archive: zipfile.ZipFile, name: str, content: Content) -> None:
    info = zipfile.ZipInfo(name, _TIME)
    info.create_system = 3  # permissions as Unix keeps them, whatever system writes
    info.external_attr = 0o100644 << 16
    info.compress_type = zipfile.ZIP_DEFLATED if _is_worth_packing(name, content) else zipfile.ZIP_STORED
    info.file_size = size_of(content)
    with archive.open(info, "w") as target:
        for block in _blocks(content):
            target.write(block)


def _is_worth_packing(name: str, content: Content) -> bool:
    """Whether deflate gains anything, and not so much that a reader would take it for a bomb."""
    if name.lower().endswith(_PACKED):
        return False
    if size_of(content) <= RATIO_FROM:
        return True
    packer = zlib.compressobj()
    packed = sum(len(packer.compress(block)) for block in _blocks(content)) + len(packer.flush())
    return size_of(content) < MOST_RATIO / 2 * packed


def _blocks(content: Content) -> Iterator[bytes]:
    if isinstance(content, bytes):
        yield content
        return
    with content.open("rb") as source:
        while block := source.read(_BLOCK):
            yield block
