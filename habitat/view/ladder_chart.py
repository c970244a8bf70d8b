"""The ladder of one cell in the page's own text: a figure, what it is the sum of, and how it was made."""

from __future__ import annotations

import math

from markupsafe import Markup

from habitat.colours import INK, MUTED_INK, NO_DATA
from habitat.view.chain import Chain
from habitat.view.ladder import Part, Rung, ladder
from habitat.view.theme import ACCENT, LINE
from habitat.view.words import measure, percent

FILES_NAMED = 2
SHARES = frozenset({"bed_light", "forage"})

LADDER_CSS = f"""
:host {{ container-type: inline-size; }}
ol {{ list-style: none; margin: 0; padding: 0; }}
li {{ position: relative; padding: 12px 0 14px 30px; display: grid; gap: 6px 28px; grid-template-columns: 1fr; }}
li::before {{ content: ""; position: absolute; left: 4px; top: 19px; width: 9px; height: 9px; border-radius: 50%;
  background: #fff; border: 3px solid {ACCENT}; z-index: 1; }}
li:not(:last-child)::after {{ content: ""; position: absolute; left: 10px; top: 30px; bottom: -20px; width: 3px;
  background: {LINE}; }}
.rung {{ display: flex; flex-wrap: wrap; gap: 2px 12px; align-items: baseline; align-content: flex-start; }}
.rung h3 {{ margin: 0; }}
.rung b {{ font-size: 1.12rem; font-variant-numeric: tabular-nums; white-space: nowrap; }}
.rung span {{ color: {MUTED_INK}; font-size: 0.88rem; white-space: nowrap; font-variant-numeric: tabular-nums; }}
li p {{ margin: 0; font-size: 0.92rem; }}
.sum {{ display: flex; height: 18px; border: 1px solid {MUTED_INK}; border-radius: 4px; overflow: hidden;
  background: {NO_DATA}; position: relative; margin-bottom: 5px; }}
.sum i {{ display: block; height: 100%; box-sizing: border-box; }} .sum i + i {{ border-left: 1px solid #fff; }}
.sum u {{ position: absolute; top: 0; bottom: 0; width: 3px; margin-left: -1px; background: {INK};
  box-shadow: 0 0 0 1px #fff; }}
.summands {{ display: flex; flex-wrap: wrap; gap: 0 14px; font-size: 0.84rem; color: {MUTED_INK};
  font-variant-numeric: tabular-nums; margin-bottom: 3px; }}
.summands i {{ display: inline-block; width: 12px; height: 12px; border-radius: 3px; border: 1px solid {MUTED_INK};
  vertical-align: -1px; margin-right: 5px; }}
details {{ font-size: 0.84rem; color: {MUTED_INK}; min-width: 0; overflow-wrap: anywhere; }}
summary {{ cursor: pointer; padding: 2px 0; }} summary code {{ white-space: normal; word-break: break-all; }}
dl {{ display: grid; grid-template-columns: max-content minmax(0, 1fr); gap: 3px 12px; margin: 6px 0 4px; }}
dd {{ margin: 0; }} dt {{ font-weight: 600; }}
@container (min-width: 860px) {{
  li {{ grid-template-columns: minmax(150px, 0.8fr) minmax(0, 2fr) minmax(0, 1.7fr); }}
  .rung {{ flex-direction: column; }}
}}
"""


def ladder_chart(chain: Chain, season: str | None, place: tuple[float, float] | None) -> Markup:
    """The ladder of the chosen place; says what to do where there is none."""
    rungs = ladder(chain, season, place)
    if not rungs:
        return Markup("<p>Click a map of the water to take a place apart.</p>")
    if all(math.isnan(rung.value) for rung in rungs):
        return Markup("<p>Nothing is known of this place: it is land, or no file reaches it. Click in the water.</p>")
    when = f" in the {season} season" if season else ""
    head = Markup('<p class="figure">{:,.0f} E, {:,.0f} N{}</p>').format(*place, when)
    return head + Markup("<ol>{}</ol>").format(Markup("").join(_row(rung) for rung in rungs))


def figure(rung: Rung) -> str:
    """A rung's value as it is printed."""
    return percent(rung.value) if rung.layer in SHARES else measure(rung.value, rung.units)


def _row(rung: Rung) -> Markup:
    error = "" if math.isnan(rung.error) else f"± {measure(rung.error, rung.units)} (standard error)"
    return Markup(
        '<li data-layer="{}"><div class="rung"><h3>{}</h3><b>{}</b>{}</div><div>{}<p>{}</p></div>{}</li>'
    ).format(
        rung.layer,
        rung.label,
        figure(rung),
        Markup("<span>{}</span>").format(error) if error else "",
        _bar(rung),
        rung.said,
        _origin(rung),
    )


def _bar(rung: Rung) -> Markup:
    is_need = not math.isnan(rung.needed) and not math.isnan(rung.value)
    parts = rung.parts
    if is_need:
        parts = (Part(label="reaches the bed", value=rung.value, colour="#dfd37f"),)
    if not parts:
        return Markup("")
    whole = 1.0 if is_need else sum(part.value for part in parts) if math.isnan(rung.whole) else rung.whole
    if not whole > 0:
        return Markup("")
    parts = tuple(part for part in parts if part.value > 0)
    units = "1" if rung.units == "1/m" else rung.units  # the figure beside it says so already, at length
    shown = percent if rung.layer in SHARES else lambda value: measure(value, units)
    fills = Markup("").join(
        Markup('<i style="width:{:.2f}%;background:{}"></i>').format(100 * part.value / whole, part.colour)
        for part in parts
    )
    need = Markup('<u style="left:{:.1f}%"></u>').format(100 * rung.needed) if is_need else Markup("")
    keys = Markup("").join(
        Markup('<span><i style="background:{}"></i>{} {}</span>').format(part.colour, part.label, shown(part.value))
        for part in parts
    )
    if is_need:
        keys += Markup('<span><i style="background:{};width:4px"></i>needed {}</span>').format(
            INK, percent(rung.needed)
        )
    said = " + ".join(f"{part.label} {shown(part.value)}" for part in parts)
    return Markup('<div class="sum" role="img" aria-label="{}">{}{}</div><div class="summands">{}</div>').format(
        said, fills, need, keys
    )


def _origin(rung: Rung) -> Markup:
    """Function and files in a line; method, numbers and every file and layer behind it on opening."""
    itself, files = rung.told[0], rung.files
    more = f" and {len(files) - FILES_NAMED} more" if len(files) > FILES_NAMED else ""
    brief = f" from {', '.join(files[:FILES_NAMED])}{more}" if files else ""
    rows = [("how", itself.method), *(("number", number) for number in itself.numbers)]
    rows += [("files", ", ".join(files))] if files else []
    rows += [("layers", ", ".join(name.replace("_", " ") for name in itself.made_from))] if itself.made_from else []
    listed = Markup("").join(Markup("<dt>{}</dt><dd>{}</dd>").format(*row) for row in rows)
    return Markup("<details><summary><code>{}</code>{}</summary><dl>{}</dl></details>").format(
        itself.function, brief, listed
    )
