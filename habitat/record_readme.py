"""The README of a record: what it is, how to check it without this software, what is not in it, where to get that."""

from __future__ import annotations

from textwrap import fill
from typing import TYPE_CHECKING

from habitat.record_members import LIST, MADE

if TYPE_CHECKING:
    from habitat.record_schema import RecordTable

_WIDTH = 100
_CONTENTS = (
    ("record.toml", "Inputs, the steps that made every layer, results, versions: text, for people and for machines."),
    ("site.toml, profile.toml", "The site file and the profile, as they were used."),
    ("inputs/", "The files that the site file names, but for those listed below."),
    ("layers/", "The layers, as GeoTIFF, a band for each season. Large ones are told by their digest alone."),
    ("results/", "Classes and scores, as GeoTIFF, unrounded; names of classes beside them; hectares by class."),
    ("files.sha256", "Digests of rasters and tables of the folder of results: run `sha256sum -c` in that folder."),
    (
        "conditions.toml, proposals/, approved/, after/",
        "Only of an appraisal: what was proposed, what is approved and in place before, the site with both in place.",
    ),
    (LIST, "SHA-256 of every member. Its own SHA-256 is the digest of the record."),
    (MADE, "Who made the record, when and why: not part of the digest."),
)


def readme_text(record: RecordTable) -> str:
    """The README as plain text; the same for the same content."""
    title = f"{record.title}: the record of {'an appraisal' if record.appraisal else 'a map'}"
    lines = [title, "=" * len(title), ""]
    if record.invented:
        lines += ["INVENTED SITE - not a real place.", ""]
    lines += [
        _filled(
            "This file holds what a map was made from, how, and what came out, so that anybody can check it and make "
            f'it again. The profile is "{record.profile.title}"; the software is Shallows '
            f"{record.software['shallows']}. Screening-level evidence; local law and licensed practice decide."
        ),
        "",
        *_heading("What is what"),
        *(f"{name}\n{_filled(words, '    ')}" for name, words in _CONTENTS),
        "",
        *_heading("To check it without our software"),
        _filled("Unpack it into an empty folder and, in that folder, run"),
        "",
        f"    sha256sum -c {LIST}      (every member is what it was)",
        f"    sha256sum {LIST}         (the digest of the record)",
        "",
        _filled(
            "The digest of the record shows that nothing was changed only if you have it from somewhere else as well: "
            "a printed report, a letter, a public register. Who changes the file can write another list into it."
        ),
        "",
        *_heading("To make the map again"),
        "    shallows reproduce record.zip",
        "",
        _filled(
            "It says whether the same map comes out and, if not, what differs first: a file, a number, a version or a "
            f"layer. {_seeds(record)}"
        ),
        "",
        *_heading("What is not in it"),
        *_absent(record),
        "",
        *_heading("Whose data these are"),
        *_rights(record),
    ]
    return "\n".join(lines) + "\n"


def _absent(record: RecordTable) -> list[str]:
    lines = ["- Where animals were seen: files of sightings are never put into a record."]
    for one in record.inputs:
        if one.withheld:
            size = sum(part.bytes for part in one.parts)
            lines.append(
                fill(
                    f"- {one.file} ({one.withheld}): {size:,} bytes, SHA-256 {one.sha256}. Get it from: {one.source}; "
                    f"licence: {one.licence}.",
                    _WIDTH,
                    subsequent_indent="  ",
                    break_long_words=False,
                )
            )
    return lines


def _seeds(record: RecordTable) -> str:
    if not record.seeds:
        return "No step of a map draws random numbers."
    drawn = ", ".join(f"{name} {seed}" for name, seed in sorted(record.seeds.items()))
    return f"Random numbers were drawn from these seeds: {drawn}."


def _rights(record: RecordTable) -> list[str]:
    files: dict[str, list[str]] = {}
    for one in record.inputs:
        said = f"{one.source}. Licence: {one.licence}. Credit: {one.credit}."
        if one.file not in files.setdefault(said, []):
            files[said].append(one.file)
    return [f"{_filled(', '.join(names))}\n{_filled(said, '    ')}" for said, names in files.items()]


def _heading(words: str) -> list[str]:
    return [words, "-" * len(words)]


def _filled(words: str, indent: str = "") -> str:
    return fill(words, _WIDTH, initial_indent=indent, subsequent_indent=indent)
