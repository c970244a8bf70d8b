"""What differs between two profiles, number by number, and a file in which each change says why it was made.

A changed number carries, on its own line, what it was, the reason, who gave it and when, so that the difference of
two files reads as an argument. Remarks and sources that stood in the file stay.
"""

from __future__ import annotations

import json
import re
import tomllib
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, replace

import tomlkit
from tomlkit.items import Array

from habitat.compare_parameters import Difference, differences
from habitat.profile import Profile
from habitat.profile_mark import latest_marks, put_list, put_mark, tables_of
from habitat.profile_text import profile_text
from habitat.toml_list import with_values

NO_REASON = "no reason given"
UNSIGNED = "unsigned"
_LISTS = ("points", "breaks", "essential")


@dataclass(frozen=True, kw_only=True)
class Change:
    """One value that differs."""

    place: str  # tables and key as in the file; points of a curve are counted from 1: "factors.salinity.points[2]"
    was: object = None  # None where there was nothing
    now: object = None  # None where there is nothing any more

    @property
    def words(self) -> str:
        """The place in plain words."""
        return words_of(self.place)


def changes(before: Profile, after: Profile) -> tuple[Change, ...]:
    """Every value in which `after` differs from `before`, in the order of a file.

    Examples
    --------
    >>> from habitat.profile import read_profile
    >>> before = read_profile("estuarine_grazer")
    >>> changes(before, before.with_weight("salinity", 2))
    (Change(place='factors.salinity.weight', was=1, now=2),)
    """
    told = (tomllib.loads(profile_text(replace(each, text=""))) for each in (before, after))
    return tuple(change for found in differences(*told) for change in _changes_of(found))


def without_reason(made: Iterable[Change], reasons: Mapping[str, str]) -> tuple[Change, ...]:
    """Those of the changes for which no reason is given; a new title needs none.

    Examples
    --------
    >>> made = [Change(place=place, was=0, now=1) for place in ("threat.may_lack", "suitability.may_lack", "title")]
    >>> [change.place for change in without_reason(made, {"threat.may_lack": "the survey was lost"})]
    ['suitability.may_lack']
    """
    return tuple(change for change in made if change.place != "title" and not _reason(reasons.get(change.place, "")))


def argued_text(
    profile: Profile, before: Profile, reasons: Mapping[str, str], *, author: str = "", date: str = ""
) -> str:
    """TOML text that reads back as `profile`, each change from `before` marked with what it was and why.

    Parameters
    ----------
    profile : Profile
        What is saved.
    before : Profile
        What it was changed from; remarks and layout of its file are kept.
    reasons : mapping of place to str
        Why; a change without one is marked so, and listed at the top. One that is given now for a change that `before`
        was saved with for no reason is put beside that change.
    author, date : str
        Who gives the reasons, and when.
    """
    made = changes(before, profile)
    text = _with_lists(before.text or profile_text(before), profile)
    document = tomlkit.parse(profile_text(replace(profile, text=text)))
    signed = ", ".join(_clean(part) for part in (author or UNSIGNED, date) if part)
    homeless = []
    for change in made:
        reason = _reason(reasons.get(change.place, "")) or NO_REASON
        mark = f"{'new' if change.was is None else f'was {_short(change.was)}'}: {reason} ({signed})"
        if change.now is None or not put_mark(document, change.place, mark):
            homeless.append(f"# {change.place} {mark}\n")
    here = {change.place for change in made}
    for place, mark in latest_marks(before.text).items():
        late = _reason(reasons.get(place, ""))
        if late and place not in here and not _reason(mark["reason"]):
            put_mark(document, place, f"{mark['was']}: {late} ({signed})")
    if not made:
        return tomlkit.dumps(document)
    count = "1 change" if len(made) == 1 else f"{len(made)} changes"
    head = f'# {count} from "{_clean(before.title)}" ({signed}). Each is marked where it stands.\n'
    if silent := without_reason(made, reasons):
        head += f"# No reason is given for {len(silent)} of them: {', '.join(change.place for change in silent)}.\n"
    return head + "".join(homeless) + tomlkit.dumps(document)


def words_of(place: str) -> str:
    """A place in plain words.

    Examples
    --------
    >>> words_of("factors.water_depth.points[2]"), words_of("classes.threat.breaks"), words_of("title")
    ('water depth: point 2', 'classes of threat: breaks', 'title')
    """
    parts = re.sub(r"\.points\[(\d+)\]$", r".point \1", place).replace("_", " ").split(".")
    if parts[0] in ("factors", "pressures"):
        parts = parts[1:]
    if parts[0] == "classes":
        parts[:2] = [f"classes of {parts[1]}"]
    return ": ".join(parts) if len(parts) < 3 else f"{parts[0]}: {' '.join(parts[1:])}"


def _changes_of(found: Difference) -> Iterator[Change]:
    if found.place.endswith(".points") and isinstance(found.was, list) and isinstance(found.now, list):
        yield from _moved_points(found.place, found.was, found.now)
    else:
        yield Change(place=found.place, was=found.was, now=found.now)


def _moved_points(place: str, before: list, after: list) -> Iterator[Change]:
    """Points one by one; where their number changed, those that are in both are left out."""
    pairs = list(zip(before, after, strict=False))
    if len(before) != len(after):
        left = [point for point in before if point not in after]
        added = [(number, point) for number, point in enumerate(after, 1) if point not in before]
        for number, point in added:
            yield Change(place=f"{place}[{number}]", was=left.pop(0) if left else None, now=point)
        if left:
            yield Change(place=place, was=left, now=after)
        elif not added:
            yield Change(place=place, was=before, now=after)
        return
    for number, (was, now) in enumerate(pairs, 1):
        if was != now:
            yield Change(place=f"{place}[{number}]", was=was, now=now)


def _with_lists(text: str, profile: Profile) -> str:
    """The text with the values of its lists made those of `profile`, remarks inside them untouched."""
    document, wanted = tomlkit.parse(text), tomllib.loads(profile_text(profile))
    for place, table in tables_of("", document):
        for key in _LISTS:
            values = _at(wanted, f"{place}.{key}".lstrip("."))
            if isinstance(table.get(key), Array) and isinstance(values, list):
                if key == "essential" and sorted(values) == sorted(table[key].unwrap()):
                    continue
                put_list(table, key, with_values(table[key].as_string(), values))
    return tomlkit.dumps(document)


def _at(content: object, place: str) -> object:
    for key in place.split("."):
        if not isinstance(content, dict) or key not in content:
            return None
        content = content[key]
    return content


def _short(value: object) -> str:
    return json.dumps(value, ensure_ascii=False).replace("|", "/").replace(":", "")


def _reason(given: str) -> str:
    """A reason without what would break a mark; empty where none is given."""
    said = _clean(given)
    return "" if said == NO_REASON else said


def _clean(text: str) -> str:
    """One line without the signs that part the pieces of a mark."""
    text = "".join(sign if sign.isprintable() else " " for sign in text)
    return " ".join(text.translate({ord("|"): "/", ord("("): "[", ord(")"): "]"}).split())
