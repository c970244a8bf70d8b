"""The forms of the planner's page: load a proposal, what is approved already, an empty template, make a variant."""

from __future__ import annotations

import io
import tempfile
from collections.abc import Sequence
from dataclasses import replace
from functools import partial
from pathlib import Path

import panel as pn
from markupsafe import Markup

from habitat.proposal import Proposal, read_proposal
from habitat.proposal_feature import Feature
from habitat.proposal_kinds import KINDS
from habitat.proposal_template import template_text
from habitat.variant import Variation, varied
from habitat.view import theme
from habitat.view.bench import UNVARIED, Bench, weighed
from habitat.view.desk import Desk
from habitat.view.fields import LOOK
from layers.step import OnStep, Step, ignore

LARGEST = "50MB"
CHOOSE = "choose one"
PLANTING = Markup(
    "<h3>Plant beside the variant in view</h3><p>Seagrass or mangrove that is planted makes a variant of its own: from "
    "a file here, or drawn on the map above. Planting comes last, after what can be avoided and made less; the map "
    "shows it grown.</p>"
)
UPLOAD_CSS = ":host { width: 100% !important; min-width: 0; } .filepond--root { width: 100% !important; }"


def loaded(files: dict[str, bytes | str], desk: Desk, bench: Bench, on_step: OnStep = ignore) -> Bench:
    """A bench with the proposal of an uploaded file, together with what is approved."""
    (proposal,) = read_uploads(dict([next(reversed(files.items()))]), desk, on_step)
    return bench.begun(weighed(desk.site_map, proposal, bench.approved, on_step=on_step))


def read_uploads(files: dict[str, bytes | str], desk: Desk, on_step: OnStep = ignore) -> list[Proposal]:
    """The proposals of uploaded files, by name; errors as of `read_proposal`."""
    found = []
    for number, (name, held) in enumerate(files.items(), start=1):
        with tempfile.TemporaryDirectory() as folder:
            path = Path(folder) / Path(name.replace("\\", "/")).name
            on_step(Step(number, len(files), f"reading {path.name}"))
            path.write_bytes(held.encode() if isinstance(held, str) else held)
            found.append(read_proposal(path, desk.site_map.inputs))
    return found


def loaded_from_site(path: Path, variation: Variation, desk: Desk, bench: Bench, on_step: OnStep = ignore) -> Bench:
    """A bench with a proposal that lies in the folder of the site and, where it is varied, that variant in view."""
    on_step(Step(1, 1, f"reading {path.name}"))
    proposal = read_proposal(path, desk.site_map.inputs)
    begun = bench.begun(weighed(desk.site_map, proposal, bench.approved, on_step=on_step), lies_with_site=True)
    return begun if variation == UNVARIED else with_variation(desk, variation, begun, on_step)


def with_approved(files: dict[str, bytes | str], desk: Desk, bench: Bench, on_step: OnStep = ignore) -> Bench:
    """The bench with other proposals that are approved already; its variants are worked out again beside them."""
    if bench.first is None:
        raise ValueError("There is no proposal yet. Load or draw one first, then what is approved already.")
    approved = read_uploads(files, desk, on_step)
    again = bench.begun(
        weighed(desk.site_map, bench.first, approved, on_step=on_step), lies_with_site=bench.lies_with_site
    )
    for trial in bench.trials[1:]:
        again = with_variation(desk, trial.variation, again, on_step, planted=trial.planted)
    return again.showing(bench.shown)


def with_variation(
    desk: Desk, variation: Variation, bench: Bench, on_step: OnStep = ignore, *, planted: Sequence[Feature] = ()
) -> Bench:
    """A bench with a variant of the proposal as it was given, and what is planted beside it."""
    if bench.first is None:
        raise ValueError("There is no proposal yet. Load or draw one first.")
    if variation == UNVARIED and not planted:
        return bench.showing(0)
    for number, trial in enumerate(bench.trials):
        if (trial.variation, trial.planted) == (variation, tuple(planted)):
            return bench.showing(number)
    proposal = varied(bench.first, variation, desk.site_map.inputs, planted=planted)
    names, number, name = [one.name for one in bench.trials], 1, proposal.name
    while planted and name in names:  # the same share of the same plant in another shape
        number += 1
        name = f"{proposal.name}, shape {number}"
    proposal = replace(proposal, name=name)
    account = weighed(desk.site_map, proposal, bench.approved, on_step=on_step)
    return bench.with_variant(account, variation, tuple(planted))


def with_planted(desk: Desk, features: Sequence[Feature], bench: Bench, on_step: OnStep = ignore) -> Bench:
    """A bench with the variant in view and these shapes of seagrass or mangrove planted beside it.

    Raises
    ------
    ValueError
        If there is no proposal, or something else than plants is to be planted.
    """
    if bench.trial is None:
        raise ValueError("There is no proposal to plant beside yet. Load or draw one first.")
    return with_variation(desk, bench.trial.variation, bench, on_step, planted=features)


def with_planted_file(files: dict[str, bytes | str], desk: Desk, bench: Bench, on_step: OnStep = ignore) -> Bench:
    """The same with the shapes of an uploaded file."""
    (read,) = read_uploads(dict([next(reversed(files.items()))]), desk, on_step)
    return with_planted(desk, read.features, bench, on_step)


def planting_form(desk: Desk) -> list[object]:
    """A field for the file of what is planted beside the variant in view."""
    field = _dropper("File of what is planted", multiple=False)
    field.param.watch(
        lambda event: event.new and desk.do("what planting does", partial(with_planted_file, dict(event.new), desk)),
        "value",
        onlychanged=False,
    )
    return [theme.text(PLANTING), field]


def load_form(desk: Desk, site_files: dict[str, Path]) -> list[object]:
    """Fields for a file, for one that lies with the site, and the template of each kind."""
    field = _dropper("Proposal file, at most 50 MB", multiple=False)
    field.param.watch(
        lambda event: event.new and desk.do("what the file proposes", partial(loaded, dict(event.new), desk)),
        "value",
        onlychanged=False,
    )
    kind = pn.widgets.Select(name="Template of a kind", options=list(KINDS), **LOOK)
    template = pn.widgets.FileDownload(
        callback=lambda: io.StringIO(template_text(kind.value, desk.site_map.inputs)),
        filename=pn.bind(lambda name: f"{name.replace(' ', '_')}.geojson", kind),
        label="Take the template home (GeoJSON)",
        embed=False,
        auto=True,
        **LOOK,
    )
    parts = [field]
    if site_files:
        held = pn.widgets.Select(name="Or one that lies with the site", options=[CHOOSE, *site_files], **LOOK)
        held.param.watch(lambda event: load_named(desk, site_files, event.new), "value")
        parts.append(held)
    return [*parts, theme.grid(kind, template, least=220, gap=12, align="end")]


def load_named(desk: Desk, site_files: dict[str, Path], name: str, variation: Variation = UNVARIED) -> None:
    """Appraise a proposal of the site's folder; any other name is left alone."""
    if name in site_files:
        desk.do(f"what {name} proposes", partial(loaded_from_site, site_files[name], variation, desk))


def approved_form(desk: Desk) -> list[object]:
    """A field for the files of what is approved already."""
    field = _dropper("Files of approved proposals", multiple=True)
    field.param.watch(
        lambda event: event.new and desk.do("all of them together", partial(with_approved, dict(event.new), desk)),
        "value",
        onlychanged=False,
    )
    return [
        theme.text(
            Markup(
                "<h2>What is approved already</h2><p>Proposals that will stand together with this one. The answers "
                "then tell what all of them do together, and a table tells the part of each alone.</p>"
            )
        ),
        field,
    ]


def show_buttons(desk: Desk) -> pn.Column:
    """One button for each variant, to bring it into view."""
    row = theme.grid(least=220, gap=12)

    def lay_out(bench: Bench) -> None:
        names = [f"Show {one.name}" for one in bench.trials]
        if names != [button.name for button in row.objects]:
            row.objects = [pn.widgets.Button(name=name, **LOOK) for name in names]
            for number, button in enumerate(row.objects):
                button.on_click(partial(_show, desk, number))

    lay_out(desk.bench)
    desk.param.watch(lambda event: lay_out(event.new), "bench")
    return row


def _show(desk: Desk, number: int, _: object) -> None:
    if not desk.work.doing:
        desk.bench = desk.bench.showing(number)


def _dropper(name: str, *, multiple: bool) -> pn.widgets.FileDropper:
    look = {**LOOK, "stylesheets": [*LOOK["stylesheets"], UPLOAD_CSS]}
    return pn.widgets.FileDropper(name=name, multiple=multiple, max_file_size=LARGEST, min_width=0, **look)
