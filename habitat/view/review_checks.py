"""The checks of a record as lines that turn while its map is made again: a word and a shape, never colour alone.

Seal, numbers and versions are known once a record is open. Each layer is held against it as soon as it is made.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass

from markupsafe import Markup

from habitat.colours import ALERT, INK, MUTED_INK
from habitat.record_schema import GridCells, StepTable
from habitat.reproduce import SAME, TOLERANCE, WITHIN, HeldAgainst
from habitat.reproduce_cause import Change, version_changes
from habitat.view import theme
from habitat.view.desk import Work
from habitat.view.review_desk import Review
from layers.quantity import LAYERS

WAITING, BUSY, MADE, DIFFERS = "waiting", "at work", "done, not compared yet", "differs"
SHAPES = {SAME: "=", WITHIN: "≈", DIFFERS: "≠", WAITING: "·", BUSY: "…", MADE: "…"}
_KINDS = {SAME: "same", WITHIN: "within", DIFFERS: "differs", WAITING: "waiting", BUSY: "busy", MADE: "busy"}
MOST_SAID = 4  # differences that are told on the line of a check

CHECKS_CSS = f"""
.checks {{ list-style: none; padding: 0; margin: 10px 0 0; display: grid; gap: 0 28px;
  grid-template-columns: repeat(auto-fill, minmax(min(100%, 320px), 1fr)); }}
.checks li {{ display: grid; grid-template-columns: 1.9em 1fr auto; gap: 0 10px; align-items: baseline;
  padding: 5px 0; border-bottom: 1px solid {theme.LINE}; max-width: none; margin: 0; min-width: 0; }}
h3 {{ margin-top: 20px; }}
.checks.whole {{ grid-template-columns: minmax(0, 1fr); }}
.checks i {{ font-style: normal; font-weight: 700; display: inline-grid; place-items: center; width: 1.6em;
  height: 1.6em; border: 2px solid {MUTED_INK}; border-radius: 50%; line-height: 1; font-size: 0.9rem; }}
.checks .same i {{ border-color: {theme.ACCENT}; color: {theme.ACCENT}; }}
.checks .within i {{ border-color: {theme.ACCENT}; border-style: dashed; color: {theme.ACCENT}; }}
.checks .differs i {{ border-radius: 3px; background: {ALERT}; border-color: {ALERT}; color: #fff; }}
.checks .waiting i {{ border-style: dotted; }}
.checks .busy i {{ border-color: {INK}; }}
.checks span {{ overflow-wrap: anywhere; }}
.checks b {{ font-weight: 600; font-size: 0.85rem; text-align: right; max-width: 11rem; }}
.checks .differs b {{ color: {ALERT}; }} .checks .waiting b {{ color: {MUTED_INK}; font-weight: 400; }}
.checks small {{ grid-column: 2 / -1; color: {MUTED_INK}; font-size: 0.82rem; overflow-wrap: anywhere; }}
"""


@dataclass(frozen=True, kw_only=True)
class Check:
    """One line."""

    name: str  # what a comment is pinned to
    label: str
    group: str  # "record", "layers" or "results"
    state: str  # a key of SHAPES
    said: str = ""


def checks_of(review: Review, work: Work | None = None) -> list[Check]:
    """Every check of a record, in the order in which a map is made; none where no record is open."""
    if review.record is None:
        return []
    told = () if work is None else work.told
    begun = [one.label for one in told if not isinstance(one, HeldAgainst)]
    # what is being made again is not known, whatever came of it the last time
    step = None
    if work is not None and work.doing:
        step = begun[-1] if begun else work.step.rpartition(": ")[2] or work.doing
    held = {one.name: one.change for one in told if isinstance(one, HeldAgainst)}
    return [*_of_record(review, step), *_of_layers(review, step, held), *_of_results(review, step)]


def state_of(change: Change, tolerance: float) -> str:
    """How a layer or result that is not the same to the bit is judged: as `habitat.reproduce` judges it."""
    if change.cells is None:
        return DIFFERS
    if isinstance(change.told, StepTable):
        return WITHIN if change.cells.is_rounding else DIFFERS
    is_code = change.told.type != "float32"
    return DIFFERS if is_code or change.cells.one_sided or change.cells.largest > tolerance else WITHIN


def label_of(name: str) -> str:
    """A layer or result in words."""
    label = LAYERS[name].label if name in LAYERS else name.replace("_", " ")
    for before, words in (("index ", "index of "), ("exposure ", "exposure to ")):
        label = label.replace(before, words, 1) if label.startswith(before) else label
    return label[:1].upper() + label[1:]


def checks_words(review: Review, work: Work) -> Markup:
    """The checks as lists of lines."""
    checks = checks_of(review, work)
    if not checks:
        return Markup("")
    parts = [
        Markup("<h2>The checks</h2>"),
        _listed([one for one in checks if one.group == "record"], "whole"),
    ]
    for group, heading in (("layers", "Layer after layer"), ("results", "Results")):
        lines = [one for one in checks if one.group == group]
        parts.append(Markup("<h3>{}</h3>{}").format(f"{heading}: {_count(lines)}", _listed(lines, group)))
    return Markup("").join(parts)


def _of_record(review: Review, step: str | None) -> Iterator[Check]:
    from habitat.record_contents import machine, software

    record, made = review.record, review.made if step is None else None
    table = record.table
    yield Check(
        name="seal",
        label=f"Seal: {len(record.archive.digests):,} members against their list",
        group="record",
        state=SAME,
        said=f"Digest {record.root}. Compare it with the one you were given from elsewhere: it alone tells whether "
        "this is the record that was published.",
    )
    files = f"Input files: {len({one.file for one in table.inputs})}"
    withheld = dict.fromkeys(one.file for one in table.inputs if one.withheld)
    more = f" Not in the record: {', '.join(withheld)}." if withheld else ""
    if made is None:
        yield Check(name="inputs", label=files, group="record", state=_pending(step), said=more.strip())
        yield Check(name="parameters", label="Numbers of site and profile", group="record", state=_pending(step))
    else:
        yield _told("inputs", files, made.inputs, more)
        yield _told("parameters", "Numbers of site and profile", made.parameters)
    versions = (*version_changes(table.software, software()), *version_changes(table.machine, machine()))
    yield _told("versions", "Versions and machine", versions)


def _of_layers(review: Review, step: str | None, held: Mapping[str, Change | None]) -> Iterator[Check]:
    steps = review.record.table.steps
    labels = [LAYERS[one.name].label if one.name in LAYERS else one.name for one in steps]
    now = next((at for at, label in enumerate(labels) if step == f"making {label}"), None)
    is_after = step is not None and step.startswith(("scoring", "making the site again"))
    for at, one in enumerate(steps):
        state = WAITING
        if step is not None and (is_after or (now is not None and at < now)):
            state = MADE
        elif step is not None and at == now:
            state = BUSY
        if step is not None and one.name in held:
            yield _held_check(one.name, "layers", held[one.name], TOLERANCE)
        else:
            yield _cells_check(review, one, "layers", None if step is None and review.made else state)
    yield from _of_after(review, "layers", step)


def _of_results(review: Review, step: str | None) -> Iterator[Check]:
    state = BUSY if step is not None and step.startswith("scoring") else WAITING
    for one in review.record.table.results:
        yield _cells_check(review, one, "results", None if step is None and review.made else state)
    yield from _of_after(review, "results", step)


def _of_after(review: Review, group: str, step: str | None) -> Iterator[Check]:
    """Of an appraisal, what its proposals change; and what is made now and was not before."""
    appraisal = review.record.table.appraisal
    told = () if appraisal is None else appraisal.steps if group == "layers" else appraisal.results
    for one in told:
        yield _cells_check(review, one, group, None if step is None and review.made else WAITING, after=True)
    if step is None and review.made:
        table = review.record.table
        known = {one.name for one in (*table.steps, *table.results, *told)}
        for change in review.made.changes:
            is_layer = change.name in LAYERS
            if change.name not in known and is_layer == (group == "layers"):
                yield _check_of(change.name, group, DIFFERS, change.what, change.after)


def _cells_check(review: Review, told: GridCells, group: str, state: str | None, *, after: bool = False) -> Check:
    if state is not None:
        return _check_of(told.name, group, state, "", after)
    changes = review.made.changes
    change = next((one for one in changes if one.name == told.name and one.after == after), None)
    return _held_check(told.name, group, change, review.made.tolerance, after=after)


def _held_check(name: str, group: str, change: Change | None, tolerance: float, *, after: bool = False) -> Check:
    if change is None:
        return _check_of(name, group, SAME, "", after)
    cells, said = change.cells, change.what
    if cells is not None:
        said = f"{cells.count:,} of {cells.of:,} cells, the worst in row {cells.row}, column {cells.column}"
    return _check_of(name, group, state_of(change, tolerance), said, after)


def _check_of(name: str, group: str, state: str, said: str, after: bool) -> Check:
    label = f"{label_of(name)}{', with the proposals' if after else ''}"
    return Check(name=name, label=label, group=group, state=state, said=said)


def _told(name: str, label: str, differing: Sequence[object], more: str = "") -> Check:
    # a file that feeds two things is told once
    told = list(dict.fromkeys(f"{one}." for one in differing))
    listed = told[:MOST_SAID] + ([f"And {len(told) - MOST_SAID} more."] if len(told) > MOST_SAID else [])
    said = f"{' '.join(listed)}{more}".strip()
    return Check(name=name, label=label, group="record", state=DIFFERS if differing else SAME, said=said)


def _pending(step: str | None) -> str:
    return WAITING if step is None else MADE if step.startswith(("making", "scoring")) else BUSY


def _count(checks: Sequence[Check]) -> str:
    counts = [(state, sum(one.state == state for one in checks)) for state in SHAPES]
    words = {DIFFERS: "differ"}  # of several
    return ", ".join(f"{count} {words.get(state, state) if count > 1 else state}" for state, count in counts if count)


def _listed(checks: Sequence[Check], kind: str) -> Markup:
    lines = Markup("").join(
        Markup(
            '<li class="{kind}" data-check="{name}"><i aria-hidden="true">{shape}</i><span>{label}</span><b>{state}</b>'
            "{said}</li>"
        ).format(
            kind=_KINDS[one.state],
            name=one.name,
            shape=SHAPES[one.state],
            label=one.label,
            state=one.state,
            said=Markup("<small>{}</small>").format(one.said) if one.said else "",
        )
        for one in checks
    )
    return Markup('<ul class="checks {}">{}</ul>').format(kind, lines)
