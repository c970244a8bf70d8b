"""A map made again from its record: is it the same and, if not, what differs first?

Same: every cell of every layer and result, to the bit. Same within tolerance: the same cells have data, every code
(classes, concern, what limits, what is missing) is the same in every cell, and no score differs by more than the
tolerance; layers may then differ in their last digits. Anything else is not the same.
"""

from __future__ import annotations

import tempfile
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING

from habitat.compare_parameters import ParameterChange, parameter_changes
from habitat.record_cells import cell_difference, cells_digest
from habitat.record_file import Record, open_record
from habitat.reproduce_cause import Cause, Change, VersionChange, first_cause, keys_that_differ, version_changes
from layers.quantity import LAYERS
from layers.step import OnStep, Step, ignore

if TYPE_CHECKING:
    import xarray as xr

    from habitat.profile import Profile
    from habitat.record_schema import GridCells, InputTable, ProposalTable
    from habitat.reproduce_site import InputChange
    from habitat.site_map import SiteMap
    from layers.derivation import Derivation

SAME, WITHIN, DIFFERENT = "the same", "the same within tolerance", "not the same"
TOLERANCE = 1e-5  # of scores from 0 to 1: a hundred times the rounding of float32, a thousandth of what maps show


@dataclass(frozen=True)
class HeldAgainst(Step):
    """A layer has been made and held against the record."""

    name: str
    change: Change | None  # None where every cell is the same


@dataclass(frozen=True, kw_only=True)
class Reproduction:
    """What came of making a map again."""

    verdict: str  # SAME, WITHIN or DIFFERENT
    record: Record
    found: SiteMap = field(repr=False)  # the map made again; of an appraisal, the site before
    after: SiteMap | None = field(repr=False)  # of an appraisal, the site with the proposals in place
    cause: Cause | None  # None where every cell is the same
    changes: tuple[Change, ...]  # every layer and result that differs, in the order of the chain
    inputs: tuple[InputChange, ...]
    parameters: tuple[ParameterChange, ...]
    software: tuple[VersionChange, ...]
    machine: tuple[VersionChange, ...]
    left_out: tuple[InputTable, ...]  # inputs that were withheld and not needed
    tolerance: float
    is_other_profile: bool  # whether a profile was named on purpose


def reproduce(
    record: Record | str | Path,
    inputs: str | Path | None = None,
    *,
    profile: str | Path | Profile | None = None,
    tolerance: float = TOLERANCE,
    on_step: OnStep = ignore,
    workers: int | None = None,
) -> Reproduction:
    """Make the map of a record again, in a temporary folder, and compare it with the record.

    Parameters
    ----------
    record : Record or path
        The record, a zip file or a folder of results that holds it.
    inputs : path, optional
        Folder of a site. Files it has are taken from it, its `site.toml` among them, and its `profile.toml` if the
        map was made with the one beside the site file; all others come from the record.
    profile : path, name of a shipped profile or Profile, optional
        Make it on purpose with another profile.
    tolerance : float
        Largest difference of a score, from 0 to 1, that counts as the same within tolerance. [1]
    on_step : callable
        Told of each step before it starts, and of each layer that has been held against the record (`HeldAgainst`).
    workers : int, optional
        Threads; the result does not depend on it.

    Raises
    ------
    RecordError
        If the record is refused (see `habitat.record_file.open_record`), or a file that layers were made from is
        neither in it nor in `inputs`.
    LayerError, ProfileError, ProposalError
        With every fault of a site file, profile or proposal that is not that of the record.
    """
    from habitat.record_contents import machine, software
    from habitat.reproduce_site import rebuild_site
    from habitat.site_map import map_site

    record = record if isinstance(record, Record) else open_record(record)
    inputs = None if inputs is None else Path(inputs)
    held: dict[str, Change | None] = {}
    has_approved = bool(record.table.appraisal and record.table.appraisal.approved)
    with tempfile.TemporaryDirectory() as workspace:
        room = Path(workspace) / "site"
        room.mkdir()
        site = rebuild_site(record, room, inputs)
        (room / "profile.toml").write_bytes(_profile_content(record, inputs))
        found = map_site(
            site.place,
            profile,
            cell=site.cell,
            on_step=on_step,
            # what is approved already changes the layers once more before the record tells of them
            on_made=None if has_approved else partial(_hold_against, record, held, on_step),
            workers=workers,
        )
        after = None
        if record.table.appraisal:
            found = _with_proposals(record, record.table.appraisal.approved, found, room.parent, on_step, workers)
            after = _with_proposals(record, record.table.appraisal.proposals, found, room.parent, on_step, workers)
    changes = [*_changes(record, found, held, after=False)]
    if after is not None:
        changes += _changes(record, after, {}, after=True)
    parameters = (*site.parameters, *_profile_changes(record, found.profile))
    differing = {
        "inputs": site.inputs,
        "parameters": parameters,
        "software": version_changes(record.table.software, software()),
        "machine": version_changes(record.table.machine, machine()),
    }
    return Reproduction(
        verdict=_verdict(changes, tolerance),
        record=record,
        found=found,
        after=after,
        cause=_cause(record, changes, found, after, differing) if changes else None,
        changes=tuple(changes),
        left_out=site.left_out,
        tolerance=tolerance,
        is_other_profile=profile is not None,
        **differing,
    )


def _profile_content(record: Record, inputs: Path | None) -> bytes:
    beside = None if inputs is None else inputs / "profile.toml"
    if beside is not None and record.table.profile.beside_site and beside.is_file():
        return beside.read_bytes()
    return record.archive.read("profile.toml")


def _profile_changes(record: Record, profile: Profile) -> list[ParameterChange]:
    import tomllib

    from habitat.profile_text import profile_text

    return parameter_changes("profile", record.profile, tomllib.loads(profile_text(profile)))


def _with_proposals(
    record: Record, told: Sequence[ProposalTable], before: SiteMap, room: Path, on_step: OnStep, workers: int | None
) -> SiteMap:
    from habitat.appraisal import outcome_of
    from habitat.proposal import read_proposal

    if not told:
        return before
    on_step(Step(1, 1, f"making the site again with {', '.join(one.name for one in told)}"))
    proposals = []
    for one in told:
        record.archive.extract(one.member, room / one.member)
        proposals.append(read_proposal(room / one.member, before.inputs))
    return outcome_of(before, proposals, "the proposals", workers=workers).site_map


def _hold_against(record: Record, held: dict[str, Change | None], on_step: OnStep, derivation: Derivation) -> None:
    """Compare the layers that are made and not compared yet with the record; each is compared once."""
    told = {one.name: one for one in record.table.steps}
    for name, layer in derivation.made.items():
        if name in told and name not in held:
            held[name] = change = _change(record, told[name], layer, after=False)
            said = "the same" if change is None else change.what
            on_step(HeldAgainst(len(held), len(told), f"{LAYERS[name].label}: {said}", name, change))


def _changes(record: Record, found: SiteMap, compared: dict[str, Change | None], *, after: bool) -> Iterable[Change]:
    told = record.table.appraisal if after else record.table
    layers = {name: found.layers[name] for name in found.layers.data_vars}
    results = {name: found.assessment[name] for name in found.assessment.data_vars}
    for steps, held, are_whole in ((told.steps, layers, not after), (told.results, results, True)):
        names = [one.name for one in steps]
        for one in steps:
            is_compared = held is layers and one.name in compared
            change = compared[one.name] if is_compared else _change(record, one, held.get(one.name), after)
            if change is not None:
                yield change
        for name in held if are_whole else ():
            if name not in names:
                yield Change(told=_new(name, held[name]), after=after, cells=None, what="it is not in the record")


def _change(record: Record, told: GridCells, layer: xr.DataArray | None, after: bool) -> Change | None:
    if layer is None:
        return Change(told=told, after=after, cells=None, what="it is in the record, and cannot be made now")
    if list(layer.shape) != told.shape or layer.dtype.name != told.type:
        shapes = [" x ".join(map(str, shape)) for shape in (told.shape, layer.shape)]
        what = f"{shapes[0]} {told.type} in the record, {shapes[1]} {layer.dtype.name} now"
        return Change(told=told, after=after, cells=None, what=what)
    if cells_digest(layer) == told.sha256:
        return None
    cells = record.cells(told)
    what = "it differs; the record keeps its digest alone, so it cannot be said where"
    return Change(told=told, after=after, cells=None if cells is None else cell_difference(cells, layer), what=what)


def _new(name: str, layer: xr.DataArray) -> GridCells:
    from habitat.record_schema import GridCells

    digest = cells_digest(layer)
    return GridCells(name=name, type=layer.dtype.name, shape=list(layer.shape), sha256=digest, raster="")


def _verdict(changes: list[Change], tolerance: float) -> str:
    if not changes:
        return SAME
    from habitat.record_schema import StepTable

    for change in changes:
        if change.cells is None:
            # a layer or part that is kept as a digest alone shows in the composites, which are always kept
            is_told_by_others = change.told.raster == "" and change.what.startswith("it differs")
            if not is_told_by_others:
                return DIFFERENT
        elif not isinstance(change.told, StepTable):
            is_code = change.told.type != "float32"
            if is_code or change.cells.one_sided or change.cells.largest > tolerance:
                return DIFFERENT
    return WITHIN


def _cause(record: Record, changes: list[Change], found: SiteMap, after: SiteMap | None, differing: dict) -> Cause:
    # last digits at the head of the chain explain nothing where something else differs by more
    first = next((one for one in changes if one.cells is None or not one.cells.is_rounding), changes[0])
    derivation = (after if first.after and after is not None else found).derivation
    feeds, numbers = _asked(first, derivation)
    tables = _tables_about(first.name, record, found.profile)
    return first_cause(first, feeds=feeds, numbers=numbers, tables=tables, **differing)


def _tables_about(layer: str, record: Record, profile: Profile) -> list[str]:
    """Factors and pressures that look at a layer, in the profile of the record or the one used now."""
    looking = [f"factors.{one.name}" for one in profile.factors if one.layer == layer]
    looking += [f"pressures.{one.name}" for one in profile.pressures if one.layer == layer]
    for kind in ("factors", "pressures"):
        held = record.profile.get(kind)
        for name, table in held.items() if isinstance(held, dict) else ():
            if isinstance(table, dict) and table.get("layer") == layer:
                looking.append(f"{kind}.{name}")
    return list(dict.fromkeys(looking))


def _asked(change: Change, derivation: Derivation) -> tuple[list[str], list[str]]:
    """Feeds and changed numbers of a layer, then and now; nothing for a result, which is made of layers alone."""
    from habitat.record_schema import StepTable

    made = derivation.made
    if change.name not in made:
        return (list(change.told.feeds), []) if isinstance(change.told, StepTable) else ([], [])
    trace = derivation.trace(change.name)
    now = [f"{key} = {shown}" for key, shown in trace.numbers.items()]
    if not isinstance(change.told, StepTable):
        return sorted(trace.feeds), [number.partition(" = ")[0] for number in now]
    return sorted({*change.told.feeds, *trace.feeds}), keys_that_differ(change.told, now)
