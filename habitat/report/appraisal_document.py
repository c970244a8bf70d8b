"""A report as a plain list of blocks, from which the page and the printed file are both made, so that they agree.

A block is a heading, a paragraph, points, a table or a figure; it says nothing about how it looks.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import asdict, dataclass, field, replace


@dataclass(frozen=True, kw_only=True)
class Block:
    """One piece of a report; `form` tells a template which, other fields stay empty."""

    form: str  # "heading", "paragraph", "strong", "small", "points", "table", "figure", "code", "contents" or "break"
    text: str = ""  # of a heading or paragraph; the caption of a table or figure
    level: int = 1  # of a heading
    items: tuple[str, ...] = ()  # of points
    headings: tuple[str, ...] = ()  # of a table
    rows: tuple[tuple[str, ...], ...] = ()
    numeric: tuple[bool, ...] = ()  # which columns of a table are numbers
    file: str = ""  # of a figure, from the folder of the report
    described: str = ""  # what a figure shows, for those who cannot see it


@dataclass(frozen=True, kw_only=True)
class Document:
    """A whole report."""

    title: str
    site: str
    date: str
    author: str
    foot: str  # stands at the foot of every page
    banner: str = ""  # stands at the head of every page where it is not empty
    blocks: tuple[Block, ...] = field(default=())

    def as_dict(self) -> dict:
        """Plain lists and words, for a template."""
        return asdict(self)

    def texts(self) -> Iterator[str]:
        """Every piece of text, in reading order."""
        for block in self.blocks:
            yield from (text for text in (block.text, *block.items, *block.headings) if text)
            for row in block.rows:
                yield from (cell for cell in row if cell)


def heading(text: str, level: int = 1) -> Block:
    """A heading of level 1, 2 or 3."""
    return Block(form="heading", text=text, level=level)


def paragraph(text: str, form: str = "paragraph") -> Block:
    """A paragraph; `form` may be "strong" or "small"."""
    return Block(form=form, text=text)


def points(items: list[str] | tuple[str, ...]) -> Block:
    """A list of points."""
    return Block(form="points", items=tuple(items))


def code(text: str) -> Block:
    """Words for a command line, to be copied as they are."""
    return Block(form="code", text=text)


def numbered(blocks: Iterable[Block]) -> tuple[Block, ...]:
    """The blocks with numbers before their chapters, tables and figures, so that people can point at them."""
    counts, made = {"heading": 0, "table": 0, "figure": 0}, []
    for block in blocks:
        if block.form in ("table", "figure") or (block.form == "heading" and block.level == 1):
            counts[block.form] += 1
            word = "" if block.form == "heading" else f"{block.form[:1].upper()}{block.form[1:]} "
            block = replace(block, text=f"{word}{counts[block.form]}. {block.text}")
        made.append(block)
    return tuple(made)


def figure(file: str, caption: str, described: str) -> Block:
    """A picture that lies in the folder of the report."""
    return Block(form="figure", file=file, text=caption, described=described)


def table(caption: str, headings: dict[str, bool], rows: list[tuple[str, ...]]) -> Block:
    """A table; `headings` says of each column whether it holds numbers.

    Raises
    ------
    ValueError
        If a row does not have a cell for each heading.
    """
    if any(len(row) != len(headings) for row in rows):
        raise ValueError(f'table "{caption}": a row has more or fewer cells than the {len(headings)} headings.')
    return Block(
        form="table",
        text=caption,
        headings=tuple(headings),
        numeric=tuple(headings.values()),
        rows=tuple(tuple(row) for row in rows),
    )
