"""Text files of a record as plain tables, read with care: their size and depth are looked at before they are parsed."""

from __future__ import annotations

import re
import tomllib
from pathlib import Path
from typing import Any

from habitat.record_archive import Archive, refuse

MOST_TEXT_BYTES = 2_000_000
DEEPEST = 16  # tables and lists within each other; ours have five
_QUOTED = re.compile(r'"""[\s\S]*?"""|' + r"'''[\s\S]*?'''" + r'|"(?:\\.|[^"\\\n])*"' + r"|'[^'\n]*'|#[^\n]*")
_LONG_KEY = re.compile(rf"(?:[\w-]+[ \t]*\.[ \t]*){{{DEEPEST}}}")


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
    if _is_deep(text):
        refuse(path, f"{name} nests tables and lists more than {DEEPEST} deep.", anew)
    try:
        document = tomllib.loads(text)
    except (tomllib.TOMLDecodeError, RecursionError):
        refuse(path, f"{name} is not TOML.", anew)
    return document


def _is_deep(text: str) -> bool:
    bare = _QUOTED.sub("x", text)
    if _LONG_KEY.search(bare):
        return True
    depth = 0
    for bracket in re.findall(r"[\[\]{}]", bare):
        depth = depth + 1 if bracket in "[{" else max(depth - 1, 0)
        if depth > DEEPEST:
            return True
    return False
