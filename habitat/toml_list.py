"""A list in a TOML file taken apart and put together again: values change, remarks beside them stay.

The library that writes our files replaces a list as a whole, and with it every remark inside it.
"""

from __future__ import annotations

import difflib
import json
import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

_STRING = re.compile(r'"""[\s\S]*?"""|\'\'\'[\s\S]*?\'\'\'|"(?:\\.|[^"\\\n])*"|\'[^\'\n]*\'')
_REMARK = re.compile(r"#[^\n]*")


@dataclass(frozen=True)
class Entry:
    """One value of a list, with what stands before it and after it on its line."""

    lead: str  # white space and whole lines of remarks
    value: str
    tail: str  # its comma and a remark on the same line

    @property
    def remark(self) -> str:
        """The remark that ends its last line, without the sign; empty where there is none."""
        found = _REMARK.search(self.tail.rpartition("\n")[2])
        return found[0][1:].strip() if found else ""


def entries_of(text: str) -> tuple[list[Entry], str]:
    """The entries of a list and what stands between the last one and the bracket that closes it.

    Parameters
    ----------
    text : str
        From its opening bracket to its closing one, valid TOML.

    Examples
    --------
    >>> entries, end = entries_of('[1, [2, 3], # three\\n]')
    >>> [(entry.value, entry.remark) for entry in entries], end
    ([('1', ''), ('[2, 3]', 'three')], '\\n')
    """
    entries, at, last = [], 1, len(text) - 1
    while True:
        start = _past_blanks(text, at)
        if start >= last:
            return entries, text[at:last]
        stop = _past_value(text, start)
        comma = _past_blanks(text, stop)
        after = comma + 1 if text[comma] == "," else stop
        line = re.compile(r"[ \t]*(#[^\n]*)?").match(text, after)
        end = line.end() if line[1] or text[comma] == "," else stop
        if not line[1]:
            end = after
        entries.append(Entry(text[at:start], text[start:stop], text[stop:end]))
        at = end


def list_text(entries: Sequence[Entry], end: str) -> str:
    """The list as text again; every entry but the last gets its comma if it lacks one, a remark its line's end."""
    pieces = []
    for number, entry in enumerate(entries):
        is_last = number == len(entries) - 1
        rest = end if is_last else entries[number + 1].lead
        tail = entry.tail if is_last or _has_comma(entry.tail) else "," + entry.tail
        pieces.append(entry.lead + entry.value + tail)
        if entry.remark and not rest.startswith(("\n", "\r\n")):
            pieces.append("\n")
    return "[" + "".join(pieces) + end + "]"


def with_values(text: str, values: Sequence[object]) -> str:
    """The list holding `values`; an entry that did not change is left as it was written.

    Examples
    --------
    >>> print(with_values('[ [0, 1.0], # sea\\n [40.0, 0.2] ]', [[0, 1], [35, 0.2]]))
    [ [0, 1.0], # sea
     [35, 0.2] ]
    """
    entries, end = entries_of(text)
    old = [_plain(json_of(entry.value)) for entry in entries]
    new = [_plain(value) for value in values]
    if len(old) == len(new):
        kept = [
            entry if before == after else replace(entry, value=_written(after))
            for entry, before, after in zip(entries, old, new, strict=True)
        ]
        return list_text(kept, end)
    steps = difflib.SequenceMatcher(None, [repr(one) for one in old], [repr(one) for one in new], autojunk=False)
    result: list[Entry] = []
    orphans = ""  # remarks whose value is gone: they stay, on a line of their own
    for step, first, stop, new_first, new_stop in steps.get_opcodes():
        for number, before in enumerate(range(first, stop)):
            entry, after = entries[before], new_first + number
            if step == "equal":
                result.append(replace(entry, lead=orphans + entry.lead))
                orphans = ""
            elif after < new_stop:
                result.append(replace(entry, lead=orphans + entry.lead, value=_written(new[after])))
                orphans = ""
            else:
                orphans += "".join(f"\n# {found[1:].strip()}" for found in _REMARK.findall(entry.lead + entry.tail))
        for after in range(new_first + (stop - first), new_stop):
            lead = re.sub(r"#[^\n]*\n\s*", "", entries[-1].lead) if entries else ""
            result.append(Entry(orphans + (lead or " " * bool(result)), _written(new[after]), ","))
            orphans = ""
    if result and entries and not entries[-1].tail and result[-1].tail == ",":
        result[-1] = replace(result[-1], tail="")  # as the list ended before
    end = orphans + (end if end.startswith("\n") or not orphans else "\n" + end)
    return list_text(result, end)


def with_remarks(text: str, remarks: Mapping[int, str]) -> str:
    """The list with a remark added to some of its entries, one entry a line.

    Examples
    --------
    >>> print(with_remarks("[[0, 1], [40, 0.2]]", {1: "was [40, 0.3]"}))
    [
      [0, 1],
      [40, 0.2],  # was [40, 0.3]
    ]
    """
    if not remarks:
        return text
    entries, end = entries_of(text)
    lines = []
    for number, entry in enumerate(entries):
        lead = entry.lead if "\n" in entry.lead else "\n  " + entry.lead.strip(" \t")
        lines.append(replace(entry, lead=lead, tail=_remarked(entry, remarks.get(number, ""))))
    return list_text(lines, end if "\n" in end else "\n")


def json_of(text: str) -> object:
    """The value of one entry."""
    import tomllib

    return tomllib.loads(f"value = {text}")["value"]


def _remarked(entry: Entry, remark: str) -> str:
    tail = entry.tail if _has_comma(entry.tail) else "," + entry.tail
    if not remark:
        return tail
    return f"{tail.rstrip()} | {remark}" if entry.remark else f"{tail.rstrip()}  # {remark}"


def _has_comma(tail: str) -> bool:
    return "," in _REMARK.sub("", tail)


def _past_blanks(text: str, at: int) -> int:
    return re.compile(r"(?:[ \t\r\n]|#[^\n]*)*").match(text, at).end()


def _past_value(text: str, at: int) -> int:
    depth = 0
    while at < len(text):
        sign = text[at]
        if (quoted := _STRING.match(text, at)) is not None:
            at = quoted.end()
            continue
        if sign == "#":
            at = _REMARK.match(text, at).end()
            continue
        if depth == 0 and sign in ",] \t\r\n":
            return at
        depth += (sign in "[{") - (sign in "]}")
        at += 1
    return at


def _plain(value: object) -> object:
    if isinstance(value, list | tuple):
        return [_plain(part) for part in value]
    return int(value) if isinstance(value, float) and value.is_integer() and abs(value) < 1e15 else value


def _written(value: object) -> str:
    return json.dumps(value, ensure_ascii=False)
