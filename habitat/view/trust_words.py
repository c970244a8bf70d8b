"""What the page on trust says: a computed sentence for every map and chart, and the tables beside them."""

from __future__ import annotations

import numpy as np
import pandas as pd
from markupsafe import Markup

from habitat.doubt_ranking import CONCLUSIONS, FEW, DoubtRanking
from habitat.result import CONCERN_CLASSES, NO_DATA, SUITABILITY_CLASSES
from habitat.site_doubt import PlaceDoubt, SiteDoubt, conclusion
from habitat.uncertainty import SPARED, UNITS
from habitat.view import appraise_words
from habitat.view.desk import Work
from habitat.view.session import Picture
from habitat.view.trust_charts import Range, from_to, plain_list, range_chart, range_key, share_chart
from habitat.view.trust_findings import Findings
from habitat.view.trust_maps import ROUNDED, SURE, bands_of, in_season, range_width
from habitat.view.words import hectares, measure, percent
from layers.grid import Grid
from layers.plausibility import counted

GOOD = SUITABILITY_CLASSES[-1]
# conclusions in the chart, and what they mean in small
CHARTED = (
    ("suitability", GOOD, ""),
    ("concern", CONCERN_CLASSES[-1], "act here first"),
    ("concern", CONCERN_CLASSES[6], "relieve it before it is lost"),
    ("units", UNITS, "hectares, each counted by its score"),
    ("units", SPARED, "what is left of them under threat"),
)
_SHARES = (
    (0.9, "Nearly all"),
    (0.7, "About three quarters"),
    (0.58, "About two thirds"),
    (0.42, "About half"),
    (0.29, "About a third"),
    (0.225, "About a quarter"),
    (0.15, "About a fifth"),
    (0.08, "About a tenth"),
    (0.0, "Less than a tenth"),
)


def share_words(share: float) -> str:
    """A share of one, as people say it.

    Examples
    --------
    >>> share_words(0.66), share_words(0.5), share_words(0.11)
    ('About two thirds', 'About half', 'About a tenth')
    """
    return next(words for least, words in _SHARES if share >= least or least == 0.0)


def state(work: Work) -> Markup:
    """That work is going on and at which step, or what stood in the way of it."""
    if work.doing or not work.trouble:
        return appraise_words.state(work)
    return Markup(
        '<div class="alert" role="alert"><h2>This cannot be worked out yet</h2><pre>{}</pre>'
        "<p>Nothing else on this page has changed: mend it and try again.</p></div>"
    ).format(work.trouble)


def confidence_sentence(doubt: SiteDoubt, season: str | None) -> str:
    """How much of the water is surely of its class, and how much is hardly more than a guess."""
    cells = doubt.found.cells
    bands = bands_of(in_season(cells["confidence"], season).to_numpy())
    hectare, scored = Grid.of(cells).cell_hectares, int((bands >= 0).sum())
    if not scored:
        return "No water could be given a score, so there is no class to be sure of."
    sure, unsure = (int((bands == band).sum()) for band in (0, 2))
    return (
        f"{percent(sure / scored)} of the water scored ({hectares(sure * hectare)}) keeps its class in nine draws in "
        f"ten or more; in {hectares(unsure * hectare)} ({percent(unsure / scored)}) not even six draws in ten agree."
    )


def chance_sentence(doubt: SiteDoubt, chance: str, season: str | None) -> str:
    """Where the class is nearly certain, and where a survey would tell most."""
    values = in_season(doubt.found.cells[chance], season).to_numpy().astype(np.float64)
    values, hectare = values[~np.isnan(values)], Grid.of(doubt.found.cells).cell_hectares
    if not len(values):
        return "No water could be given a score, so there is no chance to tell."
    words = "good" if chance == "chance_good" else "fair or good"
    sure, open_ = (values >= SURE - ROUNDED).sum(), ((values > 1 - SURE + ROUNDED) & (values < SURE - ROUNDED)).sum()
    return (
        f"{hectares(sure * hectare)} are {words} habitat in at least nine draws in ten; for "
        f"{hectares(open_ * hectare)} it is open (one to nine in ten): there a survey would tell most."
    )


def spread_sentence(doubt: SiteDoubt, season: str | None) -> str:
    """How far the score of an ordinary and of the least sure cell may be off."""
    values = in_season(range_width(doubt.found.cells), season).to_numpy()
    values = values[~np.isnan(values)]
    if not len(values):
        return "No water could be given a score."
    return (
        f"In half of the water, nine draws in ten lie within {measure(float(np.median(values)))} of each other; where "
        f"it is widest, within {measure(float(values.max()))}."
    )


def place_words(found: PlaceDoubt | None) -> str:
    """What is likeliest at a place, and which doubt moves its score most."""
    if found is None:
        return "This place lies outside of the site."
    if not found.chances:
        return "This cell has no score: it is land, or too little is known of it. That is neither good nor poor."
    said = (
        f"Likeliest is {found.likeliest}, in {percent(found.chances[found.likeliest])} of the draws. Nine draws in ten "
        f"give it a suitability between {measure(found.low)} and {measure(found.high)}."
    )
    if found.moves.empty or not found.moves["first_order"].notna().any():
        return f"{said} Too few draws to tell which doubt moves it most: ask for more."
    first = found.moves.iloc[0]
    if first.first_order <= max(first.confidence, FEW):
        return f"{said} No single doubt moves its score much by itself."
    told = f"{said} What moves its score most is {first['name']}: {percent(first.first_order)} of its doubt"
    second = found.moves.iloc[1] if len(found.moves) > 1 else None
    if second is not None and second.first_order > max(second.confidence, FEW):
        return f"{told}; then {second['name']}, {percent(second.first_order)}."
    return f"{told}."


def interval_sentence(doubt: SiteDoubt, season: str | None) -> str:
    """How much less and how much more good habitat there may be than the map says."""
    row = conclusion(doubt, "suitability", GOOD, season)
    when = f"in the {season} season" if season else "over the year"
    told = (
        f"The map has {hectares(row.taken)} of good habitat {when}; nine draws in ten have between "
        f"{hectares(row.low)} and {hectares(row.high)}"
    )
    if row.high - row.low < 0.05:
        return f"The map has {hectares(row.taken)} of good habitat {when}, and no stated doubt changes that."
    if row.taken <= 0:
        return f"{told}."
    less, more = (max(row.taken - row.low, 0) / row.taken, max(row.high - row.taken, 0) / row.taken)
    return f"{told}: it may be {percent(less)} less or {percent(more)} more."


def intervals(findings: Findings, picture: Picture) -> Markup:
    """The chart of conclusions with their ranges."""
    rows = [(name, about, conclusion(findings.doubt, kind, name, picture.season)) for kind, name, about in CHARTED]
    most = max(float(max(row.high, row.taken)) for *_, row in rows)
    chart = range_chart(
        [
            Range(
                name=name[0].upper() + name[1:],
                about=about,
                low=row.low,
                high=row.high,
                middle=row["median"],
                taken=row.taken,
                figure=f"{row.taken:,.0f}" if name in (UNITS, SPARED) else hectares(row.taken),
                range_words=from_to(row.low, row.high),
            )
            for name, about, row in rows
        ],
        0,
        most,
    )
    key = range_key("middle of the draws", "as the map has it")
    return Markup("<p>{}</p>{}{}").format(interval_sentence(findings.doubt, picture.season), chart, key)


def interval_table(findings: Findings, picture: Picture) -> Markup:
    """Every conclusion of the season with its range."""
    found = findings.doubt.found.conclusions
    part = found[(found["season"] == (picture.season or "")) & (found["class"] != NO_DATA)]
    rows = [
        (row[3], *(hectares(value).removesuffix(" ha") for value in (row.taken, row.low, row.median, row.high)))
        for row in part.rename(columns={"class": "named"}).itertuples()
    ]
    heads = ["Hectares, or habitat units", "As the map has it", "Low (5 %)", "Middle", "High (95 %)"]
    table = appraise_words.table(heads, rows, 4, stacks=True)
    return Markup("<details><summary>All conclusions as a table</summary>{}</details>").format(table)


def exact_words(findings: Findings) -> Markup:
    """What carries no stated doubt, and how the doubts go together."""
    doubts = findings.doubt.found.doubts
    told = (
        f"Held to be in doubt: {counted(len(doubts.items), 'thing')}. Of {len(doubts.exact)} more nobody has stated a "
        "doubt, so they are taken as exact, and the ranges above are too narrow by whatever is wrong with them."
    )
    layers = any(one.kind == "layer" for one in doubts.items)
    together = (
        Markup(
            "<p class='quiet'>The error of a layer is taken to be the same everywhere at once, which gives the widest "
            "range of totals.</p>"
        )
        if layers
        else ""
    )
    held = [f"{one.label} ({one.source})" for one in doubts.items]
    return Markup("<p>{}</p>{}{}{}").format(
        told,
        Markup("<h3>Taken as exact</h3>") + plain_list(doubts.exact),
        together,
        plain_list(held, summary="What is held to be in doubt, and who says so"),
    )


def ranking_sentence(table: pd.DataFrame, conclusion_key: str) -> str:
    """The first and the second of the doubts in words, or that none can be told.

    Parameters
    ----------
    table : DataFrame
        The rows of one conclusion and season, the largest total first.
    conclusion_key : str
        Of `habitat.doubt_ranking.CONCLUSIONS`.
    """
    name = CONCLUSIONS[conclusion_key]
    telling = table[table["total"] >= FEW]
    if telling.empty:
        return f"The {name} hardly depend on any stated doubt."
    clear = telling[telling["confidence"] < telling["total"]]
    if clear.empty:
        return f"What the {name} depend on cannot be told from so few draws: ask for more."
    first = clear.iloc[0]
    told = f"{share_words(first.total)} of the doubt about the {name} is {first.label}"
    if len(clear) > 1 and clear.iloc[1].total >= 0.08:
        second = clear.iloc[1]
        words = share_words(second.total)
        told += f"; {words[0].lower()}{words[1:]} is {second.label}"
    return f"{told}."


def ranking_of(found: DoubtRanking, key: str, season: str | None) -> pd.DataFrame:
    """The rows of one conclusion and season, the largest first, without those that matter to nothing."""
    table = found.table
    part = table[(table["season"] == (season or "")) & (table["conclusion"] == key)]
    # what a doubt explains alone is part of what it explains at all, whatever the estimates say
    part = part.assign(total=part[["total", "first_order"]].max(axis=1))
    return part[part["total"] >= FEW / 2].sort_values("total", ascending=False, kind="stable", ignore_index=True)


def depends_on(key: str, findings: Findings, picture: Picture) -> Markup:
    """What one conclusion depends on, as sentence and chart."""
    head = Markup("<h3>{}</h3>").format(CONCLUSIONS[key][0].upper() + CONCLUSIONS[key][1:])
    if findings.ranking is None:
        return head + Markup("<p class='quiet'>Not worked out yet.</p>")
    part = ranking_of(findings.ranking, key, picture.season)
    said = Markup("{}<p>{}</p>").format(head, ranking_sentence(part, key))
    return said + share_chart(part) if len(part) else said


def sample_words(findings: Findings) -> Markup:
    """On how many cells the ranking was made, and how far they are off the whole."""
    found = findings.ranking
    if found is None:
        return Markup("")
    told = "Shares of what acts together are counted for each of them, so they may add up to more than all. "
    if found.cells < found.water_cells:
        off = (found.sample["sample"] - found.sample["whole"]).abs().max()
        told += (
            f"Looked at were {found.cells:,} of {found.water_cells:,} cells of water, by classes; their hectares are "
            f"at most {off:,.1f} ha off those of the whole."
        )
    return Markup("<p class='quiet'>{}</p>").format(told)
