"""The cards on what sightings say of the map: figures, verdicts and proposals, never a place nor a single sighting."""

from __future__ import annotations

import datetime
import math
from functools import partial

import panel as pn
from markupsafe import Markup

from habitat.evidence import ALL_SEASONS, CHANCE, TOO_FEW, SeasonEvidence
from habitat.evidence_blocks import Estimate
from habitat.evidence_suggestion import Suggestion
from habitat.result import SUITABILITY_CLASSES
from habitat.site_evidence import NO_SIGHTINGS, SIDE, SiteEvidence, movable_points, season_sentences
from habitat.view import appraise_words, theme
from habitat.view.desk import Desk
from habitat.view.fields import LOOK
from habitat.view.trust_charts import TRUST_CHART_CSS, Range, plain_list, range_chart, range_key
from habitat.view.trust_findings import Findings, with_evidence, with_point
from layers.plausibility import counted

ABOUT = Markup(
    "<h2>Does the map know where the animals are seen?</h2>"
    "<p>Sightings are few, near each other, and made where people look. So they are held against the water that was "
    "searched, season by season, in blocks of ground that are drawn again. Nothing here tells a place or the score of "
    "a single sighting.</p>"
)
PROPOSALS = Markup(
    "<h2>What the sightings would propose</h2><p>A value beside the expert's, and what it gains on blocks that were "
    "kept aside. It changes nothing by itself.</p>"
)
WAITING = Markup("<p class='quiet'>Not worked out yet.</p>")


def _of_100(part: SeasonEvidence) -> Estimate:
    return Estimate(value=100 * part.area.value, low=100 * part.area.low, high=100 * part.area.high)


_GOOD = SUITABILITY_CLASSES[3]
# title, how its sentence begins, ends of the axis, what chance alone would give, the figure of a season
FIGURES = (
    ("Do sightings score higher than {}?", "Of 100 pairs", 0.0, 100.0, 100 * CHANCE, _of_100),
    ("Do sightings grow more frequent as the score rises?", "Boyce index", -1.0, 1.0, 0.0, lambda part: part.boyce),
    (
        f"True skill at the break of {_GOOD}",
        f"At the break of {_GOOD}",
        -1.0,
        1.0,
        0.0,
        lambda part: part.breaks[-1].true_skill,
    ),
)


def evidence_cards(desk: Desk) -> list[pn.Column]:
    """Agreement with sightings, and what they would propose."""
    site_map = desk.site_map
    if not site_map.inputs.having("sighting"):
        return [theme.card(theme.text(ABOUT), theme.text(Markup("<p>{}</p>").format(NO_SIGHTINGS)))]
    side = pn.widgets.FloatInput(name="Side of the blocks, m", value=SIDE, step=500, start=1, format="0", **LOOK)
    again = pn.widgets.Button(name="Hold them against it again", **LOOK)
    again.on_click(
        lambda _: desk.do("what the sightings say", partial(with_evidence, site_map, side.value or 0, _today()))
    )
    points = {one.label: one for one in movable_points(site_map.profile)}
    point = pn.widgets.Select(name="Point of a curve to ask about", options=points, **LOOK)
    ask = pn.widgets.Button(name="Ask the sightings", **LOOK)
    ask.on_click(
        lambda _: desk.do(
            "where the sightings would put that point", partial(with_point, site_map, point.value, _today())
        )
    )
    css = TRUST_CHART_CSS + appraise_words.WORDS_CSS
    bench = desk.param.bench
    figures = [theme.text(pn.bind(partial(figure_chart, which), bench), css=css) for which in range(len(FIGURES))]
    kept = theme.stack(
        theme.text(pn.bind(records, bench), css=css), theme.grid(side, again, least=200, gap=12, align="end")
    )
    return [
        theme.card(
            theme.text(ABOUT),
            theme.text(pn.bind(agreement, bench), css=css),
            theme.grid(*figures, kept, least=420, align="start", gap=30),
            theme.text(pn.bind(in_sentences, bench), css=css),
        ),
        theme.card(
            theme.text(PROPOSALS),
            theme.grid(
                theme.text(pn.bind(proposed_break, desk.param.bench), css=css),
                theme.stack(
                    theme.grid(point, ask, least=200, gap=12, align="end"),
                    theme.text(pn.bind(lambda bench: proposal(bench.point), desk.param.bench), css=css),
                    gap=8,
                ),
                least=420,
                align="start",
                gap=30,
            ),
        ),
    ]


def agreement(findings: Findings) -> Markup:
    """The verdict of each season; that there are no sightings, or that it is not yet worked out."""
    if not findings.is_held:
        return WAITING
    if findings.evidence is None:
        return Markup("<p>{}</p>").format(NO_SIGHTINGS)
    return Markup('<p class="finding"><strong>{}</strong></p>').format(verdict_sentence(findings.evidence))


def figure_chart(which: int, findings: Findings) -> Markup:
    """One of `FIGURES`, with its sentence, as a range for each season."""
    if findings.evidence is None:
        return Markup("")
    seasons, whole = findings.evidence.seasons, findings.evidence.whole
    title, begins, least, most, chance, of = FIGURES[which]
    rows = [_row(part, of(part), chance) for part in seasons]
    return Markup("<h3>{}</h3><p>{}</p>{}{}").format(
        title.format(whole.comparison.against),
        _line(whole, begins),
        range_chart(rows, least, most),
        range_key("all sightings", chance="chance alone", span="19 draws of blocks in 20"),
    )


def in_sentences(findings: Findings) -> Markup:
    """Everything that the sightings say, folded away."""
    if findings.evidence is None:
        return Markup("")
    said = [line for part in findings.evidence.seasons for line in season_sentences(part)]
    return plain_list(said, summary="All of it in sentences")


def verdict_sentence(found: SiteEvidence) -> str:
    """What the sightings of the site say of its map; seasons of which they say the same are told together."""
    whens: dict[str, list[str]] = {}
    for part in found.seasons:
        whens.setdefault(_verdict(part), []).append(_when(part))
    told = "; ".join(f"{' and '.join(seasons)}, {verdict}" for verdict, seasons in whens.items())
    return f"{told[:1].upper()}{told[1:]}."


def records(findings: Findings) -> Markup:
    """How many records there are, what was flagged by kind, and how long people looked."""
    found = findings.evidence
    if found is None:
        return Markup("")
    told = Markup("<h3>The records</h3>{}").format(plain_list(found.sentences[:1] + found.sentences[-1:]))
    if found.flags.empty:
        return told + Markup("<p>No record is doubtful.</p>")
    rows = [(row.flag, f"{row.records:,}", f"{row.left_out:,}") for row in found.flags.itertuples()]
    return told + appraise_words.table(["What is doubtful", "Records", "Left out"], rows, 2)


def proposed_break(findings: Findings) -> Markup:
    """The break of good habitat that would agree better."""
    return WAITING if findings.evidence is None else proposal(findings.evidence.proposed_break)


def proposal(found: Suggestion | None) -> Markup:
    """The expert's value beside the proposed one, with the gain on blocks kept aside."""
    if found is None:
        return Markup("")
    mine = _number(found.expert)
    theirs = "none" if found.proposed is None else _number(found.proposed)
    gain = "none" if math.isnan(found.gain.value) else found.gain.told("+.2f")
    table = appraise_words.table(
        ["The profile has", "Sightings would have", f"Gain in {found.measure}"], [(mine, theirs, gain)], 3, stacks=True
    )
    return table + plain_list(found.sentences)


def _row(part: SeasonEvidence, estimate: Estimate, chance: float) -> Range:
    form = ".0f" if chance else ".2f"
    # figures of a few sightings would be the scores of single ones
    shown = estimate if part.comparison.can_tell else Estimate(value=math.nan)
    name = part.season or "all the year"
    return Range(
        name=f"{name[:1].upper()}{name[1:]}",
        about=f"{counted(part.comparison.sightings, 'sighting')}, {counted(part.comparison.independent, 'block')}",
        low=shown.low,
        high=shown.high,
        middle=shown.value,
        figure="" if math.isnan(shown.value) else f"{shown.value:{form}}",
        range_words=f"{shown.low:{form}} to {shown.high:{form}}" if shown.has_interval else TOO_FEW,
        chance=chance,
    )


def _line(part: SeasonEvidence, begins: str) -> str:
    """The sentence of a season that begins so; that there is too little to tell where it has none."""
    told = [line for line in season_sentences(part) if line.startswith(begins)]
    return told[0] if told else f"{TOO_FEW.capitalize()}."


def _when(part: SeasonEvidence) -> str:
    if not part.season:
        return "over the year"
    return f"over {part.season}" if part.season == ALL_SEASONS else f"in the {part.season} season"


def _verdict(part: SeasonEvidence) -> str:
    if part.verdict == TOO_FEW:
        return f"the sightings are {TOO_FEW} whether the map is right"
    return f"the map is {part.verdict} at saying where animals are seen"


def _number(value: float) -> str:
    return f"{value:.3g}"


def _today() -> datetime.date:
    return datetime.date.today()
