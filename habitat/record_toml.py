"""Text files of a record as plain tables, read with care: their size and depth are looked at before they are parsed."""

from __future__ import annotations

import re
import tomllib
from pathlib import Path
from typing import Any

from habitat.record_archive import Archive, refuse

MOST_TEXT_BYTES = 2_000_000
DEEPEST = 16  # tables and lists within each other; ours have five
_OPENS = re.compile(r'"""|\'\'\'|"|\'|#')
# what follows the opening, to the end of the text or comment; possessive, so that no input is looked at twice
_CLOSES = {
    '"""': re.compile(r'(?:[^\\"]|\\[\s\S]|"(?!""))*+"{3,5}'),
    "'''": re.compile(r"(?:[^']|'(?!''))*+'{3,5}"),
    '"': re.compile(r'(?:[^\\"\n]|\\.)*+"'),
    "'": re.compile(r"[^'\n]*+'"),
    "#": re.compile(r"[^\n]*+"),
}
_MARKS = re.compile(r"[\[\]{}.,=\n]")


def document_of(archive: Archive, name: str) -> dict[str, Any]:
    """A TOML member of a record.

    Raises
    ------
    RecordError
        In one sentence, if it is not there, too long, nested too deeply, no UTF-8 or no TOML.
    """
    return parsed(archive.path, name, archive.read(name))


def parsed(path: Path, name: str, content: bytes) -> dict[str, Any]:
    """The table in the bytes of a TOML file; errors as of `document_of`, told of the record at `path`."""
    anew = "Get the file again from who made it."
    if len(content) > MOST_TEXT_BYTES:
        refuse(path, f"{name} is longer than {MOST_TEXT_BYTES:,} bytes.", anew)
    try:
        text = content.decode("utf-8-sig")
    except UnicodeDecodeError:
        refuse(path, f"{name} is not text in UTF-8.", anew)
    bare = _without_texts(text)
    if bare is None:
        refuse(path, f"{name} is not TOML.", anew)
    if _is_deep(bare):
        refuse(path, f"{name} nests tables and lists more than {DEEPEST} deep.", anew)
    try:
        document = tomllib.loads(text)
    except (tomllib.TOMLDecodeError, RecursionError):
        refuse(path, f"{name} is not TOML.", anew)
    return document


def _without_texts(text: str) -> str | None:
    """The text with quoted texts and comments taken out; None where a quotation mark is not closed."""
    pieces, place = [], 0
    while opening := _OPENS.search(text, place):
        pieces.append(text[place : opening.start()])
        closing = _CLOSES[opening[0]].match(text, opening.end())
        if closing is None:
            return None
        place = closing.end()
    return "x".join([*pieces, text[place:]])


def _is_deep(bare: str) -> bool:
    """Whether brackets, or the parts of a dotted key, go too deep; every mark is looked at once."""
    depth = dots = 0
    for found in _MARKS.finditer(bare):
        mark = found[0]
        dots = dots + 1 if mark == "." else 0
        depth += (mark in "[{") - (mark in "]}")
        depth = max(depth, 0)
        if depth > DEEPEST or dots >= DEEPEST:
            return True
    return False
