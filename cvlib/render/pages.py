"""Pages of the documents, written in plain Markdown, as blocks for any output."""

from __future__ import annotations

import re
from collections.abc import Iterator

from cvlib.render.view import (
    Block,
    Column,
    Gap,
    Heading,
    Line,
    Literal,
    Paragraph,
    Piece,
    Role,
    Table,
)

_HEADING = re.compile(r"(#{1,6}) +(.*)")
_ITEM = re.compile(r"(?:[-*]|\d+\.) +")
_INLINE = re.compile(r"`([^`]+)`|\*\*([^*]+)\*\*|\[([^\]]+)\]\([^)]*\)|\*([^*\s][^*]*)\*")


def page_blocks(text: str) -> list[Block]:
    """The blocks of a page: headings, paragraphs, lists, tables and examples."""
    blocks: list[Block] = []
    for part in _parts(text):
        if blocks and not isinstance(blocks[-1], Heading):
            blocks.append(Gap())
        blocks.extend(_blocks(part))
    return blocks


def _parts(text: str) -> Iterator[list[str]]:
    """Runs of lines between empty lines; an example between its marks is one run."""
    part: list[str] = []
    is_example = False
    for line in text.splitlines():
        is_mark = line.startswith("```")
        if is_mark and not is_example and part:
            yield part
            part = []
        if line.strip() or is_example:
            part.append(line)
        elif part:
            yield part
            part = []
        if is_mark:
            if is_example:
                yield part
                part = []
            is_example = not is_example
    if part:
        yield part


def _blocks(part: list[str]) -> Iterator[Block]:
    first = part[0]
    if first.startswith("```"):
        yield Literal("\n".join(part[1:-1]), indent=2)
    elif heading := _HEADING.match(first):
        yield Heading(heading[2], len(heading[1]))
        if part[1:]:
            yield from _blocks(part[1:])
    elif first.startswith("|") and len(part) > 1:
        yield _table(part)
    else:
        yield from _paragraphs(part)


def _paragraphs(part: list[str]) -> Iterator[Block]:
    """Running text, or the items of a list."""
    items: list[list[str]] = []
    for line in part:
        if _ITEM.match(line) or not items:
            items.append([line.strip()])
        else:
            items[-1].append(line.strip())
    for item in items:
        text = " ".join(item)
        mark = _ITEM.match(text)
        yield Paragraph(_line(text), hang=len(mark[0]) if mark else 0)


def _table(part: list[str]) -> Table:
    rows = [[cell.strip() for cell in line.strip().strip("|").split("|")] for line in part]
    columns = tuple(Column(title) for title in rows[0])
    return Table(columns, tuple(tuple(map(_line, row)) for row in rows[2:]))


def _line(text: str) -> Line:
    pieces: list[Piece] = []
    end = 0
    for found in _INLINE.finditer(text):
        if found.start() > end:
            pieces.append(Piece(text[end : found.start()]))
        code, strong, link, stressed = found.groups()
        role = Role.CODE if code else Role.STRONG if strong or stressed else Role.PLAIN
        pieces.append(Piece(code or strong or link or stressed, role))
        end = found.end()
    if end < len(text):
        pieces.append(Piece(text[end:]))
    return tuple(pieces)
