"""How an appraisal is made again: what of it is kept beside the report, and the command that reads it back."""

from __future__ import annotations

import os
import shlex
import shutil
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

from layers.export import write_geopackage
from layers.inputs import file_digest

if TYPE_CHECKING:
    from habitat.appraisal_account import Account
    from habitat.proposal import Proposal

PROPOSALS, AS_GIVEN, CONDITIONS, PROFILE = "proposals", "as_given", "conditions.toml", "profile.toml"


@dataclass(frozen=True, kw_only=True)
class Given:
    """What a command was given beside what the account holds."""

    proposals: Sequence[Proposal] = ()  # as handed in, where the account is that of a variant that was sought
    approved: Sequence[Proposal] = ()  # in place before
    words: Sequence[str] = ()  # further options, such as those of a search


def keep_proposals(folder: Path, account: Account, given: Given) -> None:
    """Write what was appraised into the folder of a report: as layers by kind, and the files as they were given."""
    import geopandas as gpd

    place = folder / PROPOSALS
    place.mkdir()
    crs = account.appraisal.before.inputs.site.grid.crs
    for proposal in _all(account, given):
        tables = {}
        for kind in dict.fromkeys(feature.kind for feature in proposal.features):
            features = proposal.of_kind(kind)
            rows = [{"kind": kind, **feature.attributes} for feature in features]
            tables[kind.replace(" ", "_")] = gpd.GeoDataFrame(rows, geometry=[one.shape for one in features], crs=crs)
        write_geopackage(tables, place / stored_name(proposal, account, given))
        if is_as_given(proposal):
            (place / AS_GIVEN).mkdir(exist_ok=True)
            shutil.copyfile(proposal.path, place / AS_GIVEN / proposal.name)


def rerun_command(
    account: Account, folder: Path, given: Given, *, date: str, author: str = "", has_conditions: bool = False
) -> str:
    """The command that makes the report again, to be given in its folder; one argument a line.

    Parameters
    ----------
    account : Account
    folder : path
        Of the report.
    date, author : str
        That it bears.
    has_conditions : bool
        Whether the file of conditions is kept beside it.
    """
    grid = account.appraisal.before.inputs.site.grid
    site = account.appraisal.before.inputs.site.path
    lines = [
        ["shallows", "appraise", _from(folder, site)],
        *([stored_path(one, account, given)] for one in given.proposals or account.appraisal.proposals),
        *(["--approved", stored_path(one, account, given)] for one in given.approved),
        ["--profile", PROFILE],
        ["--cell", f"{grid.cell:.10g}"],
        *([["--conditions", CONDITIONS]] if has_conditions else []),
        *([["--years", f"{account.recovery:.10g}"]] if account.recovery is not None else []),
        ["--date", date],
        *([["--author", author]] if author else []),
        *_by_option(given.words),
        ["--out", "../again"],
    ]
    return " \\\n  ".join(shlex.join(words) for words in lines)


def stored_path(proposal: Proposal, account: Account, given: Given) -> str:
    """Where a proposal is kept, from the folder of the report: as it was given, if there is such a file."""
    if is_as_given(proposal):
        return f"{PROPOSALS}/{AS_GIVEN}/{proposal.name}"
    return f"{PROPOSALS}/{stored_name(proposal, account, given)}"


def stored_name(proposal: Proposal, account: Account, given: Given) -> str:
    """The stem of its file, or its whole name where two stems are the same."""
    stems = [one.name.partition(".")[0] for one in _all(account, given)]
    stem = proposal.name.partition(".")[0]
    stem = stem if stems.count(stem) == 1 and stem else proposal.name
    return "".join(letter if letter.isalnum() or letter in "-_" else "_" for letter in stem) + ".gpkg"


def is_as_given(proposal: Proposal) -> bool:
    """Whether its file is there and still what was appraised; a variant, or a drawing on a page, has none."""
    return proposal.path is not None and proposal.path.is_file() and file_digest(proposal.path) == proposal.digest


def _by_option(words: Sequence[str]) -> list[list[str]]:
    """Each option with its value.

    Examples
    --------
    >>> _by_option(["--draws", "200", "--seek", "size"])
    [['--draws', '200'], ['--seek', 'size']]
    """
    lines: list[list[str]] = []
    for word in words:
        if word.startswith("--") or not lines:
            lines.append([])
        lines[-1].append(word)
    return lines


def _all(account: Account, given: Given) -> list[Proposal]:
    """What was appraised, handed in and approved, each once."""
    everything = (*account.appraisal.proposals, *given.proposals, *given.approved)
    return list({one.name: one for one in everything}.values())


def _from(folder: Path, path: Path) -> str:
    """A path as it reads from a folder; as it is where the two are on different drives."""
    try:
        return Path(os.path.relpath(path.resolve(), folder.resolve())).as_posix()
    except ValueError:
        return str(path.resolve())
