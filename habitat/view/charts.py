"""Charts in a page's own text: bars with their numbers beside them, readable aloud and at any width."""

from __future__ import annotations

import math
from collections.abc import Iterable

import numpy as np
import pandas as pd
from markupsafe import Markup

from habitat.colours import MUTED_INK, NO_DATA, scale_of
from habitat.view.theme import LINE
from habitat.view.words import hectares, measure, percent
from layers.provenance import shortened

CHART_CSS = f"""
:host {{ container-type: inline-size; }}
h3 {{ margin-top: 1.1rem; }}
.bars td:first-child {{ min-width: 9.5em; }}
.bars td.bar, .bars th.bar {{ width: 38%; min-width: 84px; }}
.track {{ background: {NO_DATA}; border: 1px solid {LINE}; border-radius: 4px; height: 16px; overflow: hidden;
  margin-top: 3px; }}
.track i {{ display: block; height: 100%; box-sizing: border-box; }}
.bars .file {{ color: {MUTED_INK}; font-size: 0.8rem; font-weight: 400; display: block; }}
.bars tr.leads td:first-child {{ font-weight: 600; }}
.bars td:last-child, .bars th:last-child {{ padding-right: 0; }}
.bars td::before {{ display: none; color: {MUTED_INK}; font-size: 0.82rem; content: attr(data-head) ": "; }}
@container (max-width: 500px) {{
  /* heads stay for those who hear the page; on a narrow sheet each number carries its own */
  .bars thead {{ position: absolute; width: 1px; height: 1px; overflow: hidden; clip-path: inset(50%); }}
  .bars tr {{ display: flex; flex-wrap: wrap; gap: 2px 16px; padding: 10px 0; border-bottom: 1px solid {LINE}; }}
  .bars td, .bars td.number {{ border: none; padding: 0; text-align: left; width: auto; }}
  .bars td:first-child, .bars td.bar {{ flex: 1 0 100%; width: 100%; }}
  .bars td.bar {{ order: 1; }}
  .bars td:not(:first-child)::before {{ display: inline; }}
}}
"""


def explanation_chart(explanation: object) -> Markup:
    """A place taken apart: its scores, what makes the habitat score and what presses on it.

    Parameters
    ----------
    explanation : habitat.explanation.Explanation
        Of one cell.
    """
    return Markup(
        '<p><strong class="figure">Suitability {}, threat {}</strong>: {}.</p>{}{}'
        '<p class="quiet">Pull down: what the score would gain if that factor alone were ideal. Share: the part of '
        "all weighted exposure that one pressure accounts for.</p>"
    ).format(
        measure(explanation.suitability),
        measure(explanation.threat),
        explanation.concern,
        factors_chart(explanation.factors),
        pressures_chart(explanation.pressures),
    )


def factors_chart(parts: Iterable[object]) -> Markup:
    """Why a place is as suitable as it is: a bar for each factor's index, the one that holds it down most first.

    Parameters
    ----------
    parts : iterable of habitat.explanation.FactorPart
        The factors of one cell.
    """
    ordered = sorted(parts, key=lambda part: (math.isnan(part.pull), -part.pull))
    rows = [
        _row(
            _label(part),
            measure(part.value, part.units),
            _barred(measure(part.index), part.index, "suitability"),
            f"{part.weight:g}",
            measure(part.pull),
            heads=_FACTOR_HEADS,
            leads=number == 0 and part.pull > 0,
        )
        for number, part in enumerate(ordered)
    ]
    return _table("What makes the habitat score", _FACTOR_HEADS, rows)


def pressures_chart(parts: Iterable[object]) -> Markup:
    """What presses on a place: a bar for each pressure's exposure, the largest share first.

    Parameters
    ----------
    parts : iterable of habitat.explanation.PressurePart
        The pressures of one cell.
    """
    ordered = sorted(parts, key=lambda part: (math.isnan(part.share), -part.share))
    rows = [
        _row(
            _label(part),
            measure(part.value, part.units),
            _barred(measure(part.exposure), part.exposure, "threat"),
            f"{part.weight:g}",
            percent(part.share),
            heads=_PRESSURE_HEADS,
            leads=number == 0 and part.share > 0,
        )
        for number, part in enumerate(ordered)
    ]
    return _table("What presses on it", _PRESSURE_HEADS, rows)


def ranking_chart(ranking: pd.DataFrame) -> Markup:
    """Which pressures matter most on the whole site: a bar for the habitat each weighs on.

    Parameters
    ----------
    ranking : DataFrame
        From `habitat.pressure_ranking.pressures_ranked`.
    """
    most = max(np.nan_to_num(ranking["habitat_units"]).max(), 1e-9) if len(ranking) else 1
    rows = [
        _row(
            row.label,
            _barred(hectares(row.habitat_units), row.habitat_units / most, "threat"),
            hectares(row.hectares_heaviest),
            hectares(row.hectares_reached),
            heads=_RANKING_HEADS,
            leads=number == 0 and row.habitat_units > 0,
        )
        for number, row in enumerate(ranking.itertuples())
    ]
    return _table("", _RANKING_HEADS, rows)


# heads of the columns and how each is set
_FACTOR_HEADS = {
    "Factor": "",
    "Value here": "number",
    "Index, 0 to 1": "bar",
    "Weight": "number",
    "Pull down": "number",
}
_PRESSURE_HEADS = {
    "Pressure": "",
    "Value here": "number",
    "Exposure, 0 to 1": "bar",
    "Weight": "number",
    "Share": "number",
}
_RANKING_HEADS = {"Pressure": "", "Habitat it weighs on": "bar", "Heaviest on": "number", "Reaches": "number"}


def _table(title: str, heads: dict[str, str], rows: list[Markup]) -> Markup:
    cells = Markup("").join(
        Markup('<th scope="col" class="{}">{}</th>').format(kind, head) for head, kind in heads.items()
    )
    return Markup('{}<table class="bars"><thead><tr>{}</tr></thead><tbody>{}</tbody></table>').format(
        Markup("<h3>{}</h3>").format(title) if title else "", cells, Markup("").join(rows)
    )


def _row(*cells: str, heads: dict[str, str], leads: bool) -> Markup:
    parts = Markup("").join(
        Markup('<td class="{}" data-head="{}">{}</td>').format(kind, head, cell)
        for cell, (head, kind) in zip(cells, heads.items(), strict=True)
    )
    return Markup("<tr{}>{}</tr>").format(Markup(' class="leads"') if leads else "", parts)


def _label(part: object) -> Markup:
    files = shortened("; ".join(part.files)).replace("; ", ", ") or "no file: missing"
    return Markup('{}<span class="file">{}</span>').format(part.label, files)


def _barred(figure: str, share: float, scale: str) -> Markup:
    return Markup('<span class="figure">{}</span>{}').format(figure, _bar(share, scale))


def _bar(share: float, scale: str) -> Markup:
    if math.isnan(share):
        return Markup('<div class="track hatch"></div>')
    return Markup('<div class="track"><i style="width:{:.1f}%;background:{}"></i></div>').format(
        100 * share, scale_of(scale).colour(0.75)
    )
