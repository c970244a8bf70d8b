"""Charts of doubt in a page's own text: ranges, shares and chances, each with its numbers beside it."""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

import pandas as pd
from markupsafe import Markup

from habitat.colours import INK, MUTED_INK, NO_DATA, class_colours, scale_of
from habitat.result import SUITABILITY_CLASS
from habitat.site_doubt import PlaceDoubt
from habitat.view.theme import ACCENT, LINE
from habitat.view.words import hectares, percent

MOST_ROWS = 8  # of a ranking: further doubts are summed up in its sentence
ALONE, TOGETHER = scale_of("salinity_error").colour(4.0), scale_of("salinity_error").colour(1.6)

TRUST_CHART_CSS = f"""
:host {{ container-type: inline-size; }}
h3 {{ margin-top: 1.1rem; }}
ul {{ padding-left: 1.2rem; margin: 0.5rem 0 0; }} li {{ margin: 0.25rem 0; max-width: 74ch; }}
summary {{ cursor: pointer; padding: 6px 0; }}
.wide {{ overflow-x: auto; }}
.ranges {{ display: grid; grid-template-columns: minmax(9em, 15em) minmax(120px, 1fr) minmax(9.5em, max-content);
  gap: 12px 18px; align-items: center; margin: 14px 0 4px; padding: 0; list-style: none; }}
.ranges li {{ display: grid; grid-template-columns: subgrid; grid-column: 1 / -1; align-items: center; margin: 0;
  max-width: none; }}
.ranges .name {{ line-height: 1.25; }} .ranges .name small {{ display: block; color: {MUTED_INK}; font-size: 0.8rem; }}
.ranges .figures {{ text-align: right; font-variant-numeric: tabular-nums; line-height: 1.25; }}
.ranges .figures small {{ display: block; color: {MUTED_INK}; font-size: 0.82rem; }}
.rail {{ position: relative; height: 22px; background: {NO_DATA}; border: 1px solid {LINE}; border-radius: 4px; }}
.rail i {{ position: absolute; }}
.rail .span {{ top: 4px; bottom: 4px; background: {TOGETHER}; border: 1px solid {ALONE}; border-radius: 3px;
  box-sizing: border-box; min-width: 3px; }}
.rail .middle {{ top: 1px; bottom: 1px; width: 3px; margin-left: -1px; background: {ALONE}; }}
.rail .taken {{ top: 5px; width: 10px; height: 10px; margin-left: -5px; background: #fff; border: 2px solid {INK};
  transform: rotate(45deg); box-sizing: border-box; }}
.rail .chance {{ top: -4px; bottom: -4px; width: 0; border-left: 2px dashed {MUTED_INK}; }}
.rail .share {{ top: 0; bottom: 0; left: 0; border-radius: 3px 0 0 3px; }}
.chances {{ display: flex; height: 30px; border: 1px solid {MUTED_INK}; border-radius: 5px; overflow: hidden;
  margin-top: 10px; }}
.chances i {{ display: block; }}
.key {{ display: flex; flex-wrap: wrap; gap: 2px 16px; font-size: 0.82rem; color: {MUTED_INK}; margin-top: 8px; }}
.key i {{ display: inline-block; vertical-align: -2px; margin-right: 6px; }}
.key .span {{ width: 22px; height: 12px; background: {TOGETHER}; border: 1px solid {ALONE}; border-radius: 3px; }}
.key .middle {{ width: 3px; height: 14px; background: {ALONE}; }}
.key .taken {{ width: 9px; height: 9px; border: 2px solid {INK}; transform: rotate(45deg); vertical-align: -1px;
  box-sizing: border-box; margin-left: 3px; }}
.key .chance {{ height: 14px; border-left: 2px dashed {MUTED_INK}; }}
.key .swatch {{ width: 14px; height: 14px; border-radius: 3px; border: 1px solid {MUTED_INK}; }}
.finding {{ border-left: 6px solid {ACCENT}; padding: 2px 12px; }}
@container (max-width: 560px) {{
  .ranges {{ grid-template-columns: 1fr max-content; gap: 14px 12px; }}
  .ranges .rail {{ grid-column: 1 / -1; grid-row: 2; }}
}}
"""


@dataclass(frozen=True, kw_only=True)
class Range:
    """One row of a chart of ranges."""

    name: str
    about: str = ""  # in small, under the name
    low: float  # of the range; NaN where there is too little to tell
    high: float
    middle: float = math.nan  # tick within the range
    taken: float = math.nan  # what stands without doubt
    figure: str  # beside it, in large
    range_words: str  # under that
    chance: float = math.nan  # what chance alone would give


def from_to(low: float, high: float) -> str:
    """A range of areas without its unit, small ones to a tenth.

    Examples
    --------
    >>> from_to(2.5, 1204.0)
    '2.5 to 1,204'
    """
    return " to ".join(hectares(area).removesuffix(" ha") for area in (low, high))


def range_chart(rows: Iterable[Range], least: float, most: float) -> Markup:
    """A bar for each range on one axis from `least` to `most`."""

    def at(value: float) -> float:
        return 100 * min(max((value - least) / max(most - least, 1e-9), 0.0), 1.0)

    lines = []
    for row in rows:
        marks = []
        if not math.isnan(row.low):
            left, right = at(row.low), at(row.high)
            marks.append(Markup('<i class="span" style="left:{:.2f}%;width:{:.2f}%"></i>').format(left, right - left))
        for kind, value in (("chance", row.chance), ("middle", row.middle), ("taken", row.taken)):
            if not math.isnan(value):
                marks.append(Markup('<i class="{}" style="left:{:.2f}%"></i>').format(kind, at(value)))
        about = Markup("<small>{}</small>").format(row.about) if row.about else ""
        lines.append(
            Markup(
                '<li><span class="name">{}{}</span><span class="rail" aria-hidden="true">{}</span>'
                '<span class="figures">{}<small>{}</small></span></li>'
            ).format(row.name, about, Markup("").join(marks), row.figure, row.range_words)
        )
    return Markup('<ul class="ranges">{}</ul>').format(Markup("").join(lines))


def range_key(middle: str, taken: str = "", chance: str = "", span: str = "nine draws in ten") -> Markup:
    """What the marks of a chart of ranges stand for."""
    parts = [("span", span), ("middle", middle), ("taken", taken), ("chance", chance)]
    return Markup('<p class="key">{}</p>').format(
        Markup("").join(Markup('<span><i class="{}"></i>{}</span>').format(kind, said) for kind, said in parts if said)
    )


def share_chart(table: pd.DataFrame) -> Markup:
    """A bar for each doubt: dark what it explains alone, pale what it explains with all it acts together with.

    Parameters
    ----------
    table : DataFrame
        Columns label, first_order, total, confidence, the largest total first: one conclusion of a `DoubtRanking`.
    """
    lines = []
    for number, row in enumerate(table.head(MOST_ROWS).itertuples(), start=1):
        alone, together = (min(max(share, 0.0), 1.0) for share in (row.first_order, max(row.total, row.first_order)))
        bars = Markup("").join(
            Markup('<i class="share" style="width:{:.2f}%;background:{}"></i>').format(100 * share, colour)
            for share, colour in ((together, TOGETHER), (alone, ALONE))
        )
        lines.append(
            Markup(
                '<li><span class="name">{}. {}</span><span class="rail" aria-hidden="true">{}</span>'
                '<span class="figures">{}<small>{} alone, ± {}</small></span></li>'
            ).format(number, row.label, bars, percent(together), percent(alone), percent(row.confidence))
        )
    key = Markup(
        '<p class="key"><span><i class="swatch" style="background:{}"></i>alone</span>'
        '<span><i class="swatch" style="background:{}"></i>with all it acts together with</span></p>'
    ).format(ALONE, TOGETHER)
    return Markup('<ul class="ranges">{}</ul>{}').format(Markup("").join(lines), key)


def chances_chart(found: PlaceDoubt) -> Markup:
    """The chance of each class at one cell, as one bar."""
    colours = class_colours(SUITABILITY_CLASS.name, 3)
    bars, keys = [], []
    for code, (name, chance) in enumerate(found.chances.items(), start=1):
        bars.append(Markup('<i style="width:{:.2f}%;background:{}"></i>').format(100 * chance, colours[code]))
        keys.append(
            Markup('<span><i class="swatch" style="background:{}"></i>{}: <b class="figure">{}</b></span>').format(
                colours[code], name, percent(chance)
            )
        )
    return Markup('<div class="chances" aria-hidden="true">{}</div><p class="key">{}</p>').format(
        Markup("").join(bars), Markup("").join(keys)
    )


def plain_list(lines: Sequence[str], *, summary: str = "") -> Markup:
    """Sentences under one another; folded away under a `summary` where one is given."""
    items = Markup("<ul>{}</ul>").format(Markup("").join(Markup("<li>{}</li>").format(line) for line in lines))
    if not summary:
        return items
    return Markup("<details><summary>{}</summary>{}</details>").format(summary, items)
