"""Blocks as one HTML page that can be printed: no script, nothing fetched from anywhere."""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator, Sequence

from cvlib.render.dots import dots_svg
from cvlib.render.html import Child, Element, document, framed, raw, tag
from cvlib.render.marks import BLANK, BOX
from cvlib.render.page_style import PAGE_STYLE
from cvlib.render.plot import curves_svg
from cvlib.render.view import (
    Block,
    Column,
    Dots,
    Gap,
    Heading,
    Line,
    Literal,
    Paragraph,
    Piece,
    Plot,
    Role,
    Table,
    harmless,
    text_of,
)

_PARTS = re.compile(r"(?<=[./\]-])(?=\S)")

HEAVIER = 5
"""Of the lines that are ticked off one by one, each of so many is set off, to find one's place."""


def to_html(blocks: Iterable[Block], style: str = PAGE_STYLE) -> str:
    """The blocks as a whole page; the first heading is its title.

    Boxes to tick and blanks are drawn; running text that opens with a warning is framed.
    """
    held = list(blocks)
    headings = (harmless(block) for block in held if isinstance(block, Heading))
    title = next((one.text for one in headings if isinstance(one, Heading)), "cvlib")
    return printed(title, tag("main", elements(held)), style)


def printed(title: str, body: Child, style: str = PAGE_STYLE) -> str:
    """A page to print, with nothing beside it."""
    return document((tag("title", title), raw("style", style)), [body], class_="printed")


def elements(blocks: Iterable[Block]) -> list[Element]:
    """The blocks as parts of a page."""
    held = [harmless(block) for block in blocks if not isinstance(block, Gap)]
    return [made for at in range(len(held)) for made in _block(held, at)]


def _block(held: Sequence[Block], at: int) -> Iterator[Element]:
    block = held[at]
    match block:
        case Heading(text, level):
            yield tag(f"h{min(max(level, 1), 6)}", text)
        case Paragraph(line, indent):
            deep = f"padding-left:{indent}ch" if indent else None
            yield tag("p", line_children(line), class_=_frame(held, at), style=deep)
        case Literal(text):
            yield tag("pre", text, tabindex="0")
        case Table():
            yield _table(block)
        case Plot(curves, caption):
            yield curves_svg(curves, caption)
        case Dots(rows, unit):
            yield dots_svg(rows, unit)
        case Gap():
            pass


def _frame(held: Sequence[Block], at: int) -> str | None:
    """The frame around a run of cautions, closed above the first and below the last."""
    if not _is_caution(held, at):
        return None
    first = "" if _is_caution(held, at - 1) else " first"
    last = "" if _is_caution(held, at + 1) else " last"
    return f"caution{first}{last}"


def _is_caution(held: Sequence[Block], at: int) -> bool:
    block = held[at] if 0 <= at < len(held) else None
    return isinstance(block, Paragraph) and bool(block.line) and block.line[0].role is Role.WARNING


def _table(table: Table) -> Element:
    """A table in a frame of its own, that scrolls where a screen is narrower than its words."""
    head = [tag("th", one.title, class_=_kind(one), scope="col") for one in table.columns]
    rows = []
    for number, row in enumerate(table.rows, 1):
        cells = [
            tag("td", line_children(cell), class_=_kind(column))
            for column, cell in zip(table.columns, row, strict=True)
        ]
        is_ticked = any(text_of(cell) == BOX for cell in row)
        heavier = "heavier" if is_ticked and number % HEAVIER == 0 else None
        rows.append(tag("tr", cells, class_=heavier))
    caption = tag("caption", table.caption) if table.caption else None
    label = table.caption or ", ".join(column.title for column in table.columns)
    drawn = tag("table", caption, tag("thead", tag("tr", head)), tag("tbody", rows))
    return framed(label[:120], drawn)


def _kind(column: Column) -> str | None:
    if column.numeric:
        return "number"
    return None if column.shrinks else "narrow"


def line_children(line: Line) -> Child:
    """What a line of a block is inside an element."""
    match text_of(line):
        case text if text == BOX:
            return tag("span", class_="box", role="img", aria_label="box to tick")
        case text if text == BLANK:
            return tag("span", class_="blank", role="img", aria_label="write it here")
        case _:
            return [_piece(piece) for piece in line]


def _piece(piece: Piece) -> Child:
    lines = piece.text.split("\n")
    text: list[Child] = [lines[0]]
    for more in lines[1:]:
        text += [tag("br"), more]
    match piece.role:
        case Role.PLAIN:
            return text
        case Role.FAINT:
            return tag("span", text, class_="faint")
        case Role.CODE:
            return tag("code", breakable(text))
        case Role.STRONG | Role.ERROR | Role.WARNING | Role.NOTE | Role.GOOD:
            return tag("strong", text)


def breakable(text: Iterable[Child]) -> list[Child]:
    """Ids and commands that may go on in the next line behind a dot, a hyphen or a slash only."""
    found: list[Child] = []
    for child in text:
        if not isinstance(child, str):
            found.append(child)
            continue
        parts = [part for part in _PARTS.split(child) if part]
        found += [tag("span", part) for part in parts] if len(parts) > 1 else parts
    return found
