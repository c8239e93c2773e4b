"""Blocks as Markdown, for pages and messages."""

from __future__ import annotations

import re
from collections.abc import Iterable

from cvlib.render.view import (
    Block,
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
)

_SPECIAL = re.compile(r"([\\`*_\[\]<>|~]|&(?=[#\w]))")
_OPENING = re.compile(r"^(#|[-+](?=\s)|=|-(?=[- ]*$)|\d+[.)](?=\s))")
_CALL = re.compile(r"(?<!\w)[@#](?=\w)")
"""What a forge may take for the name of a person, who gets a mail then, or of an issue."""
_TICKS = re.compile(r"`+")


def to_markdown(blocks: Iterable[Block]) -> str:
    """The blocks as Markdown text, an empty line between them."""
    held = (harmless(block) for block in blocks)
    parts = [_block(block) for block in held if not isinstance(block, Gap)]
    return "\n\n".join(parts) + "\n"


def _block(block: Heading | Paragraph | Literal | Table | Plot | Dots) -> str:
    match block:
        case Plot() | Dots():
            return _block(block.literal())
        case Heading(text, level):
            return f"{'#' * level} {_escaped(text)}"
        case Paragraph(line):
            lines = (one for one in _line(line).split("\n") if one.strip())
            return "\n".join(map(_at_start, lines))
        case Literal(text):
            fence = _fence(text, 3)
            return f"{fence}\n{text.rstrip()}\n{fence}"
        case Table():
            return _table(block)


def _table(block: Table) -> str:
    titles = " | ".join(_escaped(column.title) for column in block.columns)
    rules = " | ".join("---:" if column.numeric else "---" for column in block.columns)
    rows = [" | ".join(_cell(cell) for cell in row) for row in block.rows]
    lines = [f"| {line} |" for line in (titles, rules, *rows)]
    if block.caption:
        lines += ["", _at_start(_escaped(block.caption))]
    return "\n".join(lines)


def _cell(line: Line) -> str:
    return _line(line).replace("\n", " ")


def _line(line: Line) -> str:
    return "".join(map(_piece, line))


def _piece(piece: Piece) -> str:
    text = piece.text
    bare = text.strip()
    if not bare or piece.role in (Role.PLAIN, Role.FAINT):
        return _escaped(text)
    before = text[: len(text) - len(text.lstrip())]
    after = text[len(text.rstrip()) :]
    if piece.role is Role.CODE:
        fence = _fence(bare, 1)
        room = " " if "`" in bare else ""
        bare = bare.replace("|", "\\|").replace("\n", " ")
        return f"{before}{fence}{room}{bare}{room}{fence}{after}"
    return f"{before}**{_escaped(bare)}**{after}"


def _escaped(text: str) -> str:
    return _CALL.sub(r"\g<0><!-- -->", _SPECIAL.sub(r"\\\1", text))


def _at_start(text: str) -> str:
    """Text that does not begin like a heading or a list."""
    return _OPENING.sub(_held_off, text.lstrip())


def _held_off(found: re.Match[str]) -> str:
    mark = found[1]
    return f"{mark[:-1]}\\{mark[-1]}" if mark[0].isdigit() else f"\\{mark}"


def _fence(text: str, least: int) -> str:
    """Backticks enough to enclose a text."""
    longest = max((len(run) for run in _TICKS.findall(text)), default=0)
    return "`" * max(least, longest + 1)
