"""What a proposal does: the first half of the report, in plain words, maps and tables."""

from __future__ import annotations

from typing import TYPE_CHECKING

from habitat.appraisal_account import sentences
from habitat.report.appraisal_asked import (
    NOTHING,
    Asked,
    approved_told,
    change_in_short,
    sure_in_short,
    variant_in_short,
)
from habitat.report.appraisal_document import Block, figure, heading, paragraph, points
from habitat.report.appraisal_maps import plate_name
from habitat.report.rasters import by_season
from habitat.report.sheets import TITLES

if TYPE_CHECKING:
    from habitat.appraisal_account import Account
    from habitat.conditions import Finding
    from habitat.report.appraisal_table import Numbers

_BREAK = Block(form="break")
# of conditions and of what was found, so that the summary stays on one page
_MOST_BROKEN, _MOST_UNKNOWN, _MOST_FOUND = 7, 4, 2


def summary(account: Account, asked: Asked = NOTHING) -> list[Block]:
    """The first page, in plain words: the verdict, what does it, what is not met, how sure, what would do."""
    broken = [finding for finding in account.conditions if finding.met is False]
    unknown = [finding for finding in account.conditions if finding.met is None and finding.form != "told"]
    blocks = [
        heading("Summary"),
        *(paragraph(said, "strong") for said in variant_in_short(account, asked)),
        paragraph(_verdict(account, broken, unknown), "strong"),
        # the last sentence of the account counts the conditions, which the verdict says already
        points(sentences(account)[:-1]),
        paragraph(
            "A habitat unit is one hectare of ideal habitat. What threat leaves of it is what is left for the animals "
            "where boats, dredging and the rest are counted too.",
            "small",
        ),
    ]
    for title, findings, most in (
        ("Conditions that are not met", broken, _MOST_BROKEN),
        ("Cannot be told from the files of the site, and is not taken for the better", unknown, _MOST_UNKNOWN),
    ):
        if findings:
            blocks += [heading(title, 2), points(_in_short(findings, most))]
    blocks += [heading("How sure this is", 2), paragraph(sure_in_short(account, asked))]
    blocks += [heading("What would make it acceptable", 2), *(paragraph(one) for one in change_in_short(asked, broken))]
    decides = " ".join(f"{said.rstrip('.')}." for said in dict.fromkeys(one.decides for one in account.conditions))
    blocks += [
        heading("Who decides", 2),
        paragraph(decides or "Local law and licensed practice decide."),
        paragraph(
            "Screening-level evidence, made to ask better questions of the applicant and to say what must be surveyed. "
            "It is no survey, no permit and no legal opinion. No sightings is not absence of animals.",
            "small",
        ),
        _BREAK,
    ]
    return blocks


def _verdict(account: Account, broken: list[Finding], unknown: list[Finding]) -> str:
    judged = [finding for finding in account.conditions if finding.form != "told"]
    of, open_ones = f"of the {len(judged)} that a map can judge", f"{len(unknown)} cannot be told"
    whose = f"the standing conditions ({account.conditions_title})"
    if broken:
        return f"As drawn it does not meet {whose}: {len(broken)} {of} are not met, {open_ones}."
    if unknown:
        return f"It cannot be told yet whether it meets {whose}: none {of} is broken, {open_ones}."
    if judged:
        return f"As drawn it meets {whose}: all {of[3:]} are met."
    return f"None of {whose} that a map can judge is about what is drawn."


def _in_short(findings: list[Finding], most: int) -> list[str]:
    """A sentence for each condition, whatever the number of features that break it."""
    groups: dict[tuple[str, str], list[Finding]] = {}
    for finding in findings:
        groups.setdefault((finding.rule, finding.needed), []).append(finding)
    said = []
    for (rule, needed), alike in groups.items():
        found = list(dict.fromkeys(one.found for one in alike))
        shown = " ".join(found[:_MOST_FOUND]) + (
            f" And {len(found) - _MOST_FOUND} more." if found[_MOST_FOUND:] else ""
        )
        whose = f" ({len(alike)} features)" if len(alike) > 1 else f" ({alike[0].feature})" if alike[0].feature else ""
        said.append(f"{_upper(rule)}{whose}. Needed: {_clipped(needed, 150)} Found: {_clipped(shown, 170)}")
    if len(said) > most:
        said = [*said[:most], f"And {len(said) - most} more, all in the chapter on standing conditions."]
    return said


def _clipped(text: str, most: int) -> str:
    return text if len(text) <= most else f"{text[:most].rpartition(' ')[0].rstrip('.,;')} ..."


def proposed(account: Account, tables: dict[str, Numbers], asked: Asked = NOTHING) -> list[Block]:
    """Each feature with its attributes."""
    blocks = [heading("What is proposed"), *approved_told(tables, asked)]
    for proposal in account.appraisal.proposals:
        blocks.append(heading(f"{proposal.name}: {_count(len(proposal.features), 'feature', 'features')}", 2))
        for feature in proposal.features:
            blocks += _there(
                tables["features"].block(
                    lambda frame, owner=proposal.name, title=feature.title: (
                        (frame["proposal"] == owner) & (frame["feature"] == title)
                    ),
                    feature.title,
                )
            )
    if account.remarks:
        blocks += [heading("What to mind in the drawing", 2), points(account.remarks)]
    return blocks


def maps(account: Account) -> list[Block]:
    """Plates of before, after and difference."""
    blocks = [_BREAK, heading("Maps")]
    for kind in ("suitability", "threat"):
        for season, _ in by_season(account.appraisal.before.assessment[kind]):
            named = f"{TITLES[kind]}{f', {season} season' if season else ''}"
            if not is_known(account, kind, season):
                blocks.append(
                    paragraph(
                        f"{named} is not printed: no cell has a score before or after, for want of data. The maps in "
                        "the folder of this report are blank."
                    )
                )
                continue
            blocks.append(
                figure(
                    plate_name(kind, season),
                    f"{named}: before, after, the difference, and the difference close to what is proposed.",
                    f"Four maps of {named.lower()}: the site before, the site after, and the difference between "
                    "the two, whole and close up, with the outline of what is proposed.",
                )
            )
    return blocks


def is_known(account: Account, kind: str, season: str) -> bool:
    """Whether any cell has a score of a kind in a season, before or after."""
    made = (account.appraisal.before.assessment, account.appraisal.together.assessment)
    layers = (one[kind].sel(season=season) if season else one[kind] for one in made)
    return any(bool(layer.notnull().any()) for layer in layers)


def effects(account: Account, tables: dict[str, Numbers]) -> list[Block]:
    """Hectares, habitat units, classes crossed, causes and shares."""
    blocks = [
        heading("What it does to the habitat"),
        paragraph(
            "A habitat unit is a hectare of ideal habitat: suitability, 0 to 1, times area, added up. What threat "
            "leaves of a cell is its suitability times 1 less its threat. Only cells whose scores are known before and "
            "after are in the habitat units; hectares count every cell."
        ),
        *_there(tables["habitat_units"].block()),
        *_there(tables["habitat_units_spared"].block()),
    ]
    for kind in ("suitability", "threat"):
        caption = f"Hectares and habitat units by class of {kind}, the whole site"
        blocks += _there(tables["classes"].block(lambda frame, kind=kind: frame["kind"] == kind, caption))
    zoned = False
    for kind in ("suitability", "threat"):
        caption = f"By class of {kind} and zone, where something changes"
        block = tables["classes_by_zone"].block(lambda frame, kind=kind: frame["kind"] == kind, caption)
        zoned |= block is not None
        blocks += _there(block)
    if not zoned:
        said = "No class changes in any zone." if len(account.classes_by_zone) else "The site has no zones."
        blocks.append(paragraph(said))
    blocks.append(heading("Cells that cross a class", 2))
    crossed = [
        tables["class_crossings"].block(
            lambda frame, kind=kind: frame["kind"] == kind, f"Hectares that cross a class of {kind}"
        )
        for kind in ("suitability", "threat")
    ]
    blocks += [block for block in crossed if block] or [paragraph("No cell crosses a class.")]
    blocks += [
        heading("What does it", 2),
        paragraph(
            "Each factor and pressure is changed by itself, all else as before. The parts need not add up to the "
            "whole: a place can be lost only once, and parts that look at one layer change together."
        ),
        *(_there(tables["causes"].block()) or [paragraph("No factor or pressure changes the result.")]),
    ]
    if len(account.appraisal.alone) > 1:
        blocks += [
            heading("Each proposal alone, and all together", 2),
            paragraph(
                "Shares are of what all proposals take together from what threat leaves. They need not add up to 100 "
                "per cent: where two reach one place, each would have taken it alone."
            ),
            *_there(tables["proposals_alone"].block()),
        ]
    return blocks


def ways_and_years(account: Account, tables: dict[str, Numbers]) -> list[Block]:
    """Ways to fresh water, target years, nearest good habitat."""
    if not len(account.ways):
        told = "The site has no source of fresh water on file, or no patch of good habitat of 5 ha: no way can be told."
    else:
        told = (
            f"The ways from {len(account.ways)} patches of good habitat (counted in each season) to the nearest fresh "
            "water, through water only, were measured before and after."
        )
    changed = tables["ways_to_fresh_water"].block()
    blocks = [heading("Ways to fresh water"), paragraph(told), *_there(changed)]
    if len(account.ways) and changed is None:
        blocks.append(paragraph("None gets longer and none closes."))
    never = (
        "the place is taken never to recover"
        if account.recovery is None
        else f"the place is taken to recover in {account.recovery:g} years after the works"
    )
    blocks += [
        heading("Over the years"),
        paragraph(
            f"Over a period of analysis of {account.period:g} years, with "
            f"{_count(account.construction, 'year', 'years')} of works, {never}. Both numbers are a convention or a "
            "choice, not a finding: change them and the result changes."
        ),
        *_there(tables["net_annual_units"].block()),
        *_there(tables["net_annual_units_by_zone"].block()),
        *_there(tables["target_years"].block()),
        paragraph(
            "Between two target years of T years apart, with areas A1, A2 and mean suitability H1, H2, the habitat "
            "units are T ((A1 H1 + A2 H2) / 3 + (A2 H1 + A1 H2) / 6): area and index run straight between them. They "
            "are added up over the period and divided by its length. Without the project the place is taken to stay as "
            "it is. The area is the water of the site that has a score. After the Habitat Evaluation Procedures of the "
            "U.S. Fish and Wildlife Service, 1980, ESM 102; from memory.",
            "small",
        ),
        heading("The nearest good habitat"),
        paragraph(
            "A way of 0 m means that what is proposed stands in good habitat or touches it. A dash means that no way "
            "through the water leads to good habitat."
        ),
        *_there(tables["nearest_good_habitat"].block()),
    ]
    return blocks


def conditions(account: Account, tables: dict[str, Numbers]) -> list[Block]:
    """The standing conditions: not met, cannot be told, met, and what no map can tell."""
    blocks = [
        heading("Standing conditions"),
        paragraph(f"Held against: {account.conditions_title}. They are a text file, to be made local law's own."),
    ]
    shown = tables["conditions"]
    for verdict in ("not met", "cannot be told", "met"):
        blocks += _there(
            shown.block(
                lambda frame, verdict=verdict: (frame["verdict"] == verdict) & (frame["form"] != "told"),
                f"{verdict[:1].upper()}{verdict[1:]}",
            )
        )
    told = [finding for finding in account.conditions if finding.form == "told"]
    if told:
        blocks += [
            heading("What no map can tell, and the decision should say", 2),
            points([f"{_upper(f.rule)}: {f.needed} Source: {f.source.rstrip('.')}. {f.decides}" for f in told]),
        ]
    return blocks


def _there(block: Block | None) -> list[Block]:
    return [] if block is None else [block]


def _count(number: float, one: str, many: str) -> str:
    return f"{number:g} {one if number == 1 else many}"


def _upper(text: str) -> str:
    return text[:1].upper() + text[1:]
