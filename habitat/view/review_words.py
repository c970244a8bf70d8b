"""The answer of a review as text and tables of the page."""

from __future__ import annotations

from collections.abc import Sequence

from markupsafe import Markup

from habitat.colours import ALERT
from habitat.record_words import record_words
from habitat.reproduce import SAME, WITHIN, Reproduction
from habitat.reproduce_text import MOST_CAUSES
from habitat.view import theme
from habitat.view.appraise_words import table
from habitat.view.review_cell import Link, Source, chain_of_cell
from habitat.view.review_checks import DIFFERS, SHAPES, label_of
from habitat.view.review_desk import Review
from habitat.view.review_pairs import Pairs
from habitat.view.session import Picture
from habitat.view.words import hectares

KINDS = {
    "input": "a file is another",
    "parameter": "a number is another",
    "version": "a version is another",
    "machine": "the machine is another",
    "function": "the code is another",
}
_SAID = {
    SAME: ("same", "=", "The map made again is the same", "Every cell of every layer and result, to the bit."),
    WITHIN: (
        "within",
        "≈",
        "The map made again is the same within tolerance",
        "Every class is the same in every cell; scores differ in their last digits.",
    ),
}

REVIEW_CSS = f"""
:host {{ container-type: inline-size; }}
.answer {{ display: grid; grid-template-columns: auto 1fr; gap: 4px 18px; align-items: start; }}
.answer > i {{ font: 700 1.5rem/1 system-ui, sans-serif; display: grid; place-items: center; width: 2.1em;
  height: 2.1em; border: 3px solid {theme.ACCENT}; border-radius: 50%; color: {theme.ACCENT}; }}
.answer.within > i {{ border-style: dashed; }}
.answer.differs > i {{ border-radius: 6px; border-color: {ALERT}; background: {ALERT}; color: #fff; }}
.answer > div {{ min-width: 0; overflow-wrap: anywhere; }}
.cause {{ border-left: 6px solid {ALERT}; padding: 2px 16px; margin-top: 14px; overflow-wrap: anywhere; }}
.cause strong {{ display: block; font-size: 1.05rem; }}
summary {{ cursor: pointer; font-size: 0.9rem; padding: 6px 0; }}
pre {{ white-space: pre-wrap; overflow-wrap: anywhere; }}
li {{ margin: 0.3rem 0; max-width: 80ch; overflow-wrap: anywhere; }}
ul {{ padding-left: 1.2rem; margin: 0.4rem 0; }}
.links {{ list-style: none; padding: 0; margin: 10px 0 0; border-left: 2px solid {theme.LINE}; }}
.links > li {{ position: relative; padding: 2px 0 12px 24px; max-width: none; margin: 0; }}
.links > li::before {{ content: ""; position: absolute; left: -7px; top: 0.5em; width: 12px; height: 12px;
  border-radius: 50%; background: #fff; border: 2px solid {theme.ACCENT}; box-sizing: border-box; }}
.links > li.differs::before {{ border-radius: 2px; background: {ALERT}; border-color: {ALERT}; }}
.links b {{ font-variant-numeric: tabular-nums; }}
.links .quiet {{ display: block; max-width: 90ch; }}
.files {{ list-style: none; padding: 0; margin: 4px 0 0; font-size: 0.88rem; }}
.files li {{ padding: 4px 10px; background: {theme.PAPER}; border-radius: 6px; max-width: none; }}
code {{ white-space: normal; overflow-wrap: anywhere; }}
.wide {{ overflow-x: auto; }}
.beside {{ display: grid; grid-template-columns: repeat(auto-fit, minmax(min(100%, 440px), 1fr)); gap: 6px 40px; }}
.beside > div {{ min-width: 0; }}

.notes {{ list-style: none; padding: 0; }}
.notes li {{ border-left: 4px solid {theme.ACCENT}; padding: 2px 14px; margin: 10px 0; white-space: pre-wrap; }}
"""


def about_record(review: Review) -> Markup:
    """What the record holds, as the command line tells it."""
    if review.record is None:
        return Markup("")
    table = review.record.table
    what = "an appraisal" if table.appraisal else "a map"
    made = ", ".join(f"{key} {value}" for key, value in sorted(review.record.made.items()) if value)
    remarks = Markup("").join(Markup("<li>{}</li>").format(one) for one in review.remarks)
    return Markup(
        "<h2>{}</h2><p>{}: {} of {} cells of {:g} m, with {}.{}</p>{}{}"
        "<details><summary>All that it holds</summary><pre tabindex='0'>{}</pre></details>"
    ).format(
        review.record.name,
        table.title,
        what,
        f"{table.grid.rows:,} x {table.grid.columns:,}",
        table.grid.cell,
        table.profile.title,
        f" It says of itself: {made}." if made else "",
        Markup("<p><strong>Invented site: no such place exists.</strong></p>") if table.invented else "",
        Markup("<ul>{}</ul>").format(remarks) if remarks else "",
        record_words(review.record),
    )


def answer(review: Review) -> Markup:
    """The verdict and, before all else that differs, the first cause; below it the command line's words."""
    made = review.made
    if made is None:
        return Markup("")
    kind, shape, head, below = _SAID.get(
        made.verdict, ("differs", SHAPES[DIFFERS], "The map made again is not the same: it differs", _how_many(made))
    )
    purpose = " It was made with another profile on purpose." if made.is_other_profile else ""
    return Markup(
        '<div class="answer {}" role="status"><i aria-hidden="true">{}</i><div><h2>{}</h2><p>{}{}</p></div></div>{}'
        "<details><summary>What <code>shallows reproduce</code> says, word for word</summary>"
        "<pre tabindex='0'>{}</pre></details>"
    ).format(kind, shape, head, below, purpose, _cause(made), review.said)


def changes(review: Review) -> Markup:
    """What follows from the difference: hectares that went from class to class, and how the maps disagree."""
    made = review.made
    if made is None or made.verdict == SAME:
        return Markup("")
    compared = [one for one in review.comparisons if not one.is_same]
    why = "what the other profile changes" if made.is_other_profile else "what the difference changes"
    if not review.comparisons:
        return Markup("<h2>{}</h2><p>{}</p>").format(
            why.capitalize(), "The grids differ, so no cell is compared. The words of the command line give hectares."
        )
    if not compared:
        return Markup("<h2>{}</h2><p>{}</p>").format(
            why.capitalize(), "No cell has another class, so no conclusion drawn from the classes is another."
        )
    same = len(review.comparisons) - len(compared)
    parts = [Markup("<h2>{}</h2><div class='beside'>").format(why.capitalize())]
    for one in compared:
        season = f", {one.season} season" if one.season else ""
        said = Markup("").join(Markup("<li>{}</li>").format(line) for line in one.sentences)
        grid = _class_table(one.changes)
        # sixteen rows of a list within a list are for who asks
        if len(one.changes) > 5:
            grid = Markup("<details><summary>Table of all classes</summary>{}</details>").format(grid)
        parts.append(Markup("<div><h3>{}{}</h3><ul>{}</ul>{}</div>").format(label_of(one.name), season, said, grid))
    parts.append(Markup("</div>"))
    if same:
        parts.append(Markup("<p class='quiet'>{} other maps of classes are the same.</p>").format(same))
    return Markup("").join(parts)


def cell_words(pairs: Pairs, picture: Picture, shown: str, place: tuple[float, float] | None) -> Markup:
    """The chain of the clicked cell, from the layer in view back to its files."""
    head = Markup("<h2>A cell, followed back to its files</h2>")
    hint = Markup("<p>{}</p>").format("Click a map: here stands where the number in that cell comes from.")
    found = pairs.made.found.inputs.site.grid
    links = [] if place is None else chain_of_cell(pairs, shown, picture.season, place)
    if not links:
        return head + hint
    row, column = found.cell_at(*place)
    when = f", {picture.season} season" if picture.season else ""
    where = f"Row {row + 1}, column {column + 1} ({found.x[column]:,.0f} E, {found.y[row]:,.0f} N{when})"
    # what differs furthest back is where the cell parted from the record
    apart = [one for one in links if one.is_same is False]
    said = "Nothing on the way to this cell differs."
    if apart:
        verb = "differs" if len(apart) == 1 else "differ"
        said = f"Of {len(links)} steps, {len(apart)} {verb} here; the one furthest back is {apart[-1].label.lower()}."
    return Markup("{}<p><strong>{}.</strong> {}</p><ol class='links'>{}</ol>").format(
        head, where, said, Markup("").join(_link(one) for one in links)
    )


def _how_many(made: Reproduction) -> str:
    record = made.record.table
    count = len(record.steps) + len(record.results)
    return f"Of {count} layers and results, {len(made.changes)} differ."


def _cause(made: Reproduction) -> Markup:
    if made.cause is None:
        return Markup("")
    cause = made.cause
    function = getattr(cause.first.told, "function", "")
    more = [f"And perhaps: {one}." for one in cause.others[:MOST_CAUSES]]
    more += [f"And {len(cause.others) - MOST_CAUSES} more."] if len(cause.others) > MOST_CAUSES else []
    first = f"It shows first in the {'layer' if function else 'result'} {cause.first}."
    made_by = f" That is made by {function}." if function else ""
    return Markup('<div class="cause"><p>First cause: {}.</p><p><strong>{}.</strong></p><p>{}{}</p>{}</div>').format(
        KINDS[cause.kind],
        cause.said,
        first,
        made_by,
        Markup("<ul>{}</ul>").format(Markup("").join(Markup("<li>{}</li>").format(one) for one in more))
        if more
        else "",
    )


def _class_table(moved) -> Markup:
    heads = ["Recorded \\ now", *moved.columns]
    rows = [(name, *(hectares(area) for area in moved.loc[name])) for name in moved.index]
    return table(heads, rows, len(moved.columns))


def _link(one: Link) -> Markup:
    if one.is_same is None:
        values = Markup("the record keeps only its digest")
    elif one.is_same:
        values = Markup("<b>{}</b>, the same").format(one.now)
    else:
        values = Markup("<b>{}</b> recorded, <b>{}</b> now: differs").format(one.recorded, one.now)
    numbers = Markup("").join(Markup("<li>{}</li>").format(number) for number in one.numbers)
    return Markup(
        '<li data-layer="{}" class="{}"><strong>{}:</strong> {}<span class="quiet">{}{}</span>{}{}</li>'
    ).format(
        one.name,
        "differs" if one.is_same is False else "",
        one.label,
        values,
        one.how,
        f" From {', '.join(label_of(name).lower() for name in one.made_from)}." if one.made_from else "",
        Markup("<details><summary>Numbers it took: {}</summary><ul>{}</ul></details>").format(len(one.numbers), numbers)
        if numbers
        else "",
        _files(one.sources),
    )


def _files(sources: Sequence[Source]) -> Markup:
    lines = Markup("").join(
        Markup("<li><strong>{}</strong>{} <code>SHA-256 {}</code>{}</li>").format(
            one.file,
            {True: ", bytes as recorded", False: ", OTHER BYTES than recorded", None: ""}[one.is_recorded],
            one.digest,
            _rows(one),
        )
        for one in sources
    )
    return Markup('<ul class="files">{}</ul>').format(lines) if sources else Markup("")


def _rows(source: Source) -> Markup:
    if not source.rows:
        return Markup("")
    said = ", ".join(f"{row.noun} {row.number} ({row.distance:,.0f} m away)" for row in source.rows)
    return Markup("<br>Nearest of {:,} rows within the site: {}.").format(source.total, said)
