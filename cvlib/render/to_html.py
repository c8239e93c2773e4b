"""Blocks as one HTML page that can be printed: no script, nothing fetched from anywhere."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from html import escape

from cvlib.render.marks import BLANK, BOX
from cvlib.render.page_style import PAGE_STYLE
from cvlib.render.plot import curves_svg
from cvlib.render.view import (
    Block,
    Column,
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


def to_html(blocks: Iterable[Block], style: str = PAGE_STYLE) -> str:
    """The blocks as a whole page; the first heading is its title.

    Boxes to tick and blanks are drawn; running text that opens with a warning is framed.
    """
    held = [harmless(block) for block in blocks if not isinstance(block, Gap)]
    title = next((block.text for block in held if isinstance(block, Heading)), "cvlib")
    body = "\n".join(_block(held, at) for at in range(len(held)))
    return (
        '<!doctype html>\n<html lang="en">\n<head>\n<meta charset="utf-8">\n'
        '<meta name="viewport" content="width=device-width, initial-scale=1">\n'
        f"<title>{escape(title)}</title>\n<style>{style}</style>\n</head>\n"
        f"<body>\n{body}\n</body>\n</html>\n"
    )


def _block(held: Sequence[Block], at: int) -> str:
    block = held[at]
    match block:
        case Heading(text, level):
            tag = f"h{min(max(level, 1), 6)}"
            return f"<{tag}>{escape(text)}</{tag}>"
        case Paragraph(line):
            return f"<p{_framed(held, at)}>{_line(line)}</p>"
        case Literal(text):
            return block.svg or f"<pre>{escape(text)}</pre>"
        case Table():
            return _table(block)
        case Plot(curves, caption):
            return curves_svg(curves, caption)
        case Gap():
            return ""


def _framed(held: Sequence[Block], at: int) -> str:
    """The frame around a run of cautions, closed above the first and below the last."""
    if not _is_caution(held, at):
        return ""
    first = "" if _is_caution(held, at - 1) else " first"
    last = "" if _is_caution(held, at + 1) else " last"
    return f' class="caution{first}{last}"'


def _is_caution(held: Sequence[Block], at: int) -> bool:
    block = held[at] if 0 <= at < len(held) else None
    return isinstance(block, Paragraph) and bool(block.line) and block.line[0].role is Role.WARNING


def _table(table: Table) -> str:
    head = "".join(f"<th{_kind(column)}>{escape(column.title)}</th>" for column in table.columns)
    rows = "\n".join(
        "<tr>"
        + "".join(
            f"<td{_kind(column)}>{_line(cell)}</td>"
            for column, cell in zip(table.columns, row, strict=True)
        )
        + "</tr>"
        for row in table.rows
    )
    caption = f"<caption>{escape(table.caption)}</caption>\n" if table.caption else ""
    return f"<table>\n{caption}<thead><tr>{head}</tr></thead>\n<tbody>\n{rows}\n</tbody>\n</table>"


def _kind(column: Column) -> str:
    if column.numeric:
        return ' class="number"'
    return "" if column.shrinks else ' class="narrow"'


def _line(line: Line) -> str:
    match text_of(line):
        case text if text == BOX:
            return '<span class="box" role="img" aria-label="box to tick"></span>'
        case text if text == BLANK:
            return '<span class="blank" role="img" aria-label="write it here"></span>'
        case _:
            return "".join(map(_piece, line))


def _piece(piece: Piece) -> str:
    text = escape(piece.text).replace("\n", "<br>")
    match piece.role:
        case Role.PLAIN:
            return text
        case Role.FAINT:
            return f'<span class="faint">{text}</span>'
        case Role.CODE:
            return f"<code>{text}</code>"
        case Role.STRONG | Role.ERROR | Role.WARNING | Role.NOTE | Role.GOOD:
            return f"<strong>{text}</strong>"
