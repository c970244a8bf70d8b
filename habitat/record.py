"""The sealed record of a map or an appraisal: one zip file to check it by and to make it again from.

The same run gives the same digest; author, date and reason lie outside it. Places of animals are never in it.
"""

from __future__ import annotations

import os
import tempfile
import tomllib
from collections.abc import Mapping, Sequence
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path
from typing import TYPE_CHECKING

from habitat.record_contents import (
    LARGEST_INPUT,
    grid_table,
    input_tables,
    machine,
    result_tables,
    software,
    step_tables,
)
from habitat.record_members import MADE, Content, digest_list, digest_of, write_members
from habitat.record_readme import readme_text
from habitat.record_schema import FORMAT, AppraisalTable, ProfileTable, RecordTable
from layers.step import OnStep, Step, ignore

if TYPE_CHECKING:
    import xarray as xr

    from habitat.appraisal_account import Account
    from habitat.proposal import Proposal
    from habitat.site_map import SiteMap

MOST_CELL_BYTES = 64_000_000  # of layers and parts that are kept cell by cell; beyond it, digests only
COMPOSITES = (
    *("suitability", "threat", "suitability_class", "threat_class", "concern", "limiting_factor"),
    *("missing_factors", "missing_pressures"),
)
_LISTED = (".tif", ".csv", ".nc", ".gpkg")  # files of a folder of results that bear no date


def write_record(
    path: str | Path,
    found: SiteMap,
    *,
    date: str,
    author: str = "",
    reason: str = "",
    account: Account | None = None,
    approved: Sequence[Proposal] = (),
    conditions: str | Path | None = None,
    files: Path | None = None,
    seeds: Mapping[str, int] | None = None,
    largest_input: int = LARGEST_INPUT,
    most_cell_bytes: int = MOST_CELL_BYTES,
    replace: bool = False,
    on_step: OnStep = ignore,
) -> str:
    """Write the record of a map and give its digest.

    Parameters
    ----------
    path : path
        Of the zip file to write.
    found : SiteMap
        The map; of an appraisal, the site before.
    date, author, reason : str
        When, by whom and why the record was made: kept beside the content, not in its digest.
    account : Account, optional
        The appraisal whose record it is.
    approved : sequence of Proposal
        What stands in the site before, of an appraisal.
    conditions : path or name of shipped conditions, optional
        What the proposals were held against.
    files : path, optional
        Folder of results whose rasters and tables are to be listed with their digests.
    seeds : mapping of int, optional
        Of random numbers, by what they were drawn for.
    largest_input : int
        Inputs above it are named with digest, source and licence, and left out. [bytes]
    most_cell_bytes : int
        Layers and parts are kept cell by cell if all of them together take no more. [bytes]
    replace : bool
        Whether an existing file may be replaced.
    on_step : callable
        Told of each step before it starts.

    Returns
    -------
    str
        SHA-256 of the list of members, in hexadecimal digits.

    Raises
    ------
    RecordError
        If the file cannot be written, or an input was changed since the map was made.
    ValueError
        If the map has more in place than its files and `approved` give.
    """
    _refuse_unnamed(found, approved)
    on_step(Step(1, 3, "looking at the inputs again"))
    inputs = input_tables(found, largest=largest_input)
    folder = found.inputs.site.path.parent
    members: dict[str, Content] = {
        f"inputs/{part.file}": folder / part.file for one in inputs if not one.withheld for part in one.parts
    }
    with tempfile.TemporaryDirectory() as workspace:
        room = Path(workspace)
        on_step(Step(2, 3, "keeping layers and results"))
        of_layers, of_results = _kept_rasters(room, members, found.layers, found.assessment, "", most_cell_bytes)
        beside = folder / "profile.toml"
        record = RecordTable(
            format=FORMAT,
            title=found.inputs.site.title,
            invented=found.inputs.site.invented,
            software=software(),
            machine=machine(),
            seeds=dict(seeds or {}),
            grid=grid_table(found),
            profile=ProfileTable(title=found.profile.title, beside_site=_is_beside(found, beside)),
            inputs=inputs,
            steps=step_tables(found.derivation, of_layers, found.layers.data_vars),
            results=result_tables(found.assessment, of_results),
            appraisal=None
            if account is None
            else _appraisal(room, members, account, approved, conditions, most_cell_bytes),
        )
        members |= _texts(record, found, room)
        if files is not None:
            listed = {
                path.relative_to(files).as_posix(): digest_of(path)
                for path in files.rglob("*")
                if path.suffix in _LISTED and path.is_file()
            }
            members["files.sha256"] = digest_list(listed).encode()
        on_step(Step(3, 3, f"writing {Path(path).name}"))
        made = _toml({"author": author, "date": date, "reason": reason})
        return write_members(Path(path), members, {MADE: made}, replace=replace)


def _texts(record: RecordTable, found: SiteMap, room: Path) -> dict[str, Content]:
    from habitat.profile_text import profile_text
    from habitat.zones import hectares_by_class
    from layers.export import write_table

    write_table(hectares_by_class(found.assessment), room / "hectares_by_class.csv")
    return {
        "README.txt": readme_text(record).encode(),
        "record.toml": _toml(record.model_dump(exclude_none=True)),
        "site.toml": found.inputs.site.path.read_bytes(),
        "profile.toml": profile_text(found.profile).encode(),
        "results/hectares_by_class.csv": room / "hectares_by_class.csv",
    }


def _is_beside(found: SiteMap, beside: Path) -> bool:
    return beside.is_file() and found.profile.text.encode() == beside.read_text(encoding="utf-8-sig").encode()


def _kept_rasters(
    room: Path, members: dict[str, Content], layers: xr.Dataset, assessment: xr.Dataset, place: str, most: int
) -> tuple[dict[str, str], dict[str, str]]:
    """Write the rasters and add them to `members`; gives the member of each layer and of each result by its name."""
    size = sum(layer.nbytes for layer in (*layers.data_vars.values(), *assessment.data_vars.values()))
    of_layers = {name: f"{place}layers/{name}.tif" for name in layers.data_vars if size <= most}
    of_results = {
        name: f"{place}results/{name}.tif" for name in assessment.data_vars if size <= most or name in COMPOSITES
    }
    for folder in {Path(member).parent for member in (*of_layers.values(), *of_results.values())}:
        (room / folder).mkdir(parents=True, exist_ok=True)
    jobs = [(layers[name], member) for name, member in of_layers.items()]
    jobs += [(assessment[name], member) for name, member in of_results.items()]
    with ThreadPoolExecutor(os.cpu_count()) as pool:
        for written in pool.map(lambda job: _written(room, *job), jobs):
            members |= {path.relative_to(room).as_posix(): path for path in written}
    return of_layers, of_results


def _written(room: Path, layer: xr.DataArray, member: str) -> list[Path]:
    from habitat.colours import class_colours
    from layers.geotiff import write_geotiff

    path = room / member
    words = layer.attrs.get("flag_meanings", "").split()
    is_coloured = words and layer.ndim == 2
    write_geotiff(layer, path, colours=class_colours(layer.name, len(words) - 1) if is_coloured else None)
    return [path, *([path.with_name(path.name + ".aux.xml")] if words else [])]


def _appraisal(
    room: Path,
    members: dict[str, Content],
    account: Account,
    approved: Sequence[Proposal],
    conditions: str | Path | None,
    most: int,
) -> AppraisalTable:
    from habitat.record_proposals import conditions_content, proposal_tables

    after = account.appraisal.together
    changed = after.layers[[name for name in after.changed_layers if name in after.layers]]
    of_layers, of_results = _kept_rasters(room, members, changed, after.assessment, "after/", most)
    crs = account.appraisal.before.inputs.site.grid.crs
    proposals, contents = proposal_tables(account.appraisal.proposals, crs, room, "proposals")
    before, more = proposal_tables(approved, crs, room, "approved")
    text = conditions_content(conditions, account.conditions_title)
    members |= contents | more | ({} if text is None else {"conditions.toml": text})
    return AppraisalTable(
        conditions=account.conditions_title,
        conditions_member="" if text is None else "conditions.toml",
        period=float(account.period),
        construction=float(account.construction),
        recovery=None if account.recovery is None else float(account.recovery),
        approved=before,
        proposals=proposals,
        steps=step_tables(after.site_map.derivation, of_layers, changed.data_vars),
        results=result_tables(after.assessment, of_results),
    )


def _refuse_unnamed(found: SiteMap, approved: Sequence[Proposal]) -> None:
    named = {one.digest for one in approved}
    files = set(tomllib.loads(found.inputs.site.path.read_text(encoding="utf-8-sig"))["files"])
    added = {found.inputs.digests[entry.name] for entry in found.inputs.site.files if entry.name not in files}
    if added - named:
        raise ValueError("the map has proposals in place that are not named as approved: name them.")


def _toml(content: dict) -> bytes:
    import tomlkit

    return tomlkit.dumps(content).encode()
