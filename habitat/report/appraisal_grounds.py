"""What the report rests on: animals on record, what is done to avoid harm, how sure it is, method, monitoring."""

from __future__ import annotations

from typing import TYPE_CHECKING

from habitat.appraisal_account import losses
from habitat.impact_design import MONITORING
from habitat.lineage import Ancestor, lineage
from habitat.presence import NOT_ABSENCE
from habitat.proposal_kinds import KINDS
from habitat.report.appraisal_asked import (
    NOTHING,
    Asked,
    change_told,
    layers_lacking,
    not_carried,
    range_told,
    variants_told,
)
from habitat.report.appraisal_document import Block, heading, paragraph, points
from layers.quantity import LAYERS

if TYPE_CHECKING:
    from habitat.appraisal_account import Account
    from habitat.proposal import Feature
    from habitat.report.appraisal_table import Numbers
    from layers.site import FileEntry

_STEPS = {  # kinds and attributes of a proposal that say something of each step
    "Avoid": "Move it, or leave it out, so that the harm does not arise.",
    "Minimise": "What cannot be avoided is made smaller: season, method, curtain, speed, depth.",
    "Restore": "What was harmed is brought back where it was.",
    "Offset": "Only what is left after all three is made good elsewhere. It comes last and is the least certain.",
}
_LESSENS = ("season", "measure", "speed_kn", "loss_share", "opening_m")
_MAIN_CAUSES = 2  # whose layers are followed back to their files


def animals(account: Account) -> list[Block]:
    """Animals on record as a coarse class, and never anything finer."""
    said = f"The site has no file of sightings. {NOT_ABSENCE}" if account.presence is None else str(account.presence)
    return [heading("Animals on record"), paragraph(said)]


def mitigation(account: Account, tables: dict[str, Numbers], asked: Asked = NOTHING) -> list[Block]:
    """Avoid, minimise, restore, offset, what the proposal states of each, and the variants that were tried."""
    features = [feature for proposal in account.appraisal.proposals for feature in proposal.features]
    lessened = [
        f"{feature.title}: {_means(feature, column)} {_value(feature, column)}"
        for feature in features
        for column in _LESSENS
        if feature.get(column) is not None
    ]
    planted = [f"{feature.title}{_grown(feature)}" for feature in features if feature.kind.endswith("planted")]
    stated = {
        "Avoid": "A drawing cannot say what was avoided. Ask for the places and sizes that were weighed, and why they "
        "were put aside; appraise them beside this one.",
        "Minimise": f"Stated: {'; '.join(lessened)}." if lessened else "Nothing is stated.",
        "Restore": f"Stated: {'; '.join(planted)}. Whether it restores or offsets, the applicant has to say."
        if planted
        else "Nothing is stated.",
        "Offset": "See under Restore: planting is on the map as if grown, and planting often fails."
        if planted
        else "Nothing is stated.",
    }
    return [
        heading("Avoid, minimise, restore, offset: in that order"),
        points([f"{step}. {words} {stated[step]}" for step, words in _STEPS.items()]),
        paragraph(
            "The order is that of the Business and Biodiversity Offsets Programme, Standard on Biodiversity Offsets, "
            "2012; from memory.",
            "small",
        ),
        heading("Variants that were tried", 2),
        *variants_told(tables, asked),
        heading("The least change that would do", 2),
        *change_told(tables, asked),
    ]


def certainty(account: Account, tables: dict[str, Numbers], asked: Asked = NOTHING) -> list[Block]:
    """What is known of the errors, and what is not."""
    blocks = [
        heading("How sure this is"),
        paragraph(
            "A score of 0 to 1 is a reading of data by a profile of the animal. It is not a probability, nor is "
            "a class or a habitat unit."
        ),
        *range_told(account, tables, asked),
    ]
    for name in ("standard_errors", "loss_ranges", "load_ranges"):
        block = tables[name].block()
        if block is not None:
            blocks.append(block)
        elif name == "standard_errors":
            blocks.append(paragraph("No layer of this site carries a standard error."))
    blocks += [
        heading("Not quantified", 2),
        points(
            [
                *not_carried(asked),
                "The curves and weights of the profile: how the animal answers is judged from published work, and its "
                "error is not known.",
                "What a published range of losses or loads does to the result: the middle value was taken. Where the "
                "decision turns on it, measure, and appraise again with the low and the high.",
                "Years of recovery and the behaviour of animals during the works.",
                "Layers without a standard error are not exact: nobody has said how wrong they are.",
            ]
        ),
    ]
    return blocks


def limits(account: Account) -> list[Block]:
    """What the data cannot say."""
    before = account.appraisal.before
    lacking = layers_lacking(account)
    unknown = max((float(value) for value in account.units["unknown_hectares"]), default=0.0)
    said = [
        "No sightings is not absence of animals.",
        f"{unknown:.2f} ha of water have no score before or after (the season with the most). No data is neither poor "
        "habitat nor safe water; what happens there is not told.",
    ]
    if lacking:
        said.append(f"Layers that the profile asks for and the site cannot give: {', '.join(map(_label, lacking))}.")
    else:
        said.append("Every layer that the profile asks for is there; not every cell of it need be.")
    secret = [entry.path.name for entry in before.inputs.site.files if entry.sensitive]
    said += [one for one in before.disagreements if not any(name in one for name in secret)]
    said.append(
        "Noise, vibration, entanglement, disease, contaminants and the behaviour of animals are not on these maps "
        "unless a pressure of the profile names them."
    )
    return [heading("What the data cannot say"), points(said)]


def method(account: Account) -> list[Block]:
    """How each changed layer is made, and where the main ones come from."""
    before, after = account.appraisal.before, account.appraisal.together
    used = [name for name in after.changed_layers if name in after.layers and not name.endswith("_error")]
    blocks = [
        heading("Method and sources"),
        paragraph(
            "The proposal enters as files of the site, beside those that are there, and every layer that depends on "
            "them is made again by the same functions; nothing is painted on a map. Each cell is then scored before "
            f"and after by the profile: {before.profile.title}. {before.profile.source}"
        ),
        heading("Layers that change, and how they are made", 2),
        points([f"{_label(name)}: {after.layers[name].attrs.get('method', '')}." for name in used])
        if used
        else paragraph("No layer changes."),
    ]
    main = list(dict.fromkeys(losses(account)[1]["layer"]))[:_MAIN_CAUSES]
    for name in main:
        found = lineage(after.site_map, name)
        blocks += [heading(f"Where {_label(name, upper=False)} comes from", 2), points([_told(one) for one in found])]
    blocks += [
        heading("Data", 2),
        points(list(dict.fromkeys(_credited(entry) for entry in before.inputs.site.files))),
        heading("Monitoring to ask for"),
        paragraph(MONITORING),
    ]
    return blocks


def _credited(entry: FileEntry) -> str:
    date = f", {entry.date}" if entry.date else ""
    withheld = " Its records are withheld." if entry.sensitive else ""
    return f"{entry.path.name}: {entry.source}{date}. Licence: {entry.licence}. Credit: {entry.credit}.{withheld}"


def _told(ancestor: Ancestor) -> str:
    parts = [f"{ancestor.label} ({ancestor.name}): {ancestor.method}."]
    if ancestor.numbers:
        parts.append(f"Numbers: {'; '.join(ancestor.numbers)}.")
    if ancestor.made_from:
        parts.append(f"Made from: {', '.join(ancestor.made_from)}.")
    return " ".join(parts)


def _means(feature: Feature, column: str) -> str:
    attribute = KINDS[feature.kind].attribute(column)
    return attribute.means if attribute else column


def _value(feature: Feature, column: str) -> str:
    value, attribute = feature.get(column), KINDS[feature.kind].attribute(column)
    units = f" {attribute.units}" if attribute and attribute.units not in ("", "1") else ""
    return f"{value:g}{units}" if isinstance(value, (int, float)) else f'"{value}"'


def _label(name: str, *, upper: bool = True) -> str:
    label = LAYERS[name].label if name in LAYERS else name
    return label[:1].upper() + label[1:] if upper else label


def _grown(feature: Feature) -> str:
    years = feature.get("years")
    return f" (grown in {years:g} years, as stated)" if years is not None else ""
