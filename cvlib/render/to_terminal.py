"""Blocks as text for a terminal or a pipe, wrapped to a width."""

from __future__ import annotations

import io
import re
from collections.abc import Iterable, Iterator
from typing import TYPE_CHECKING

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

if TYPE_CHECKING:
    from rich.console import Console
    from rich.table import Table as Grid
    from rich.text import Text

STYLES = {
    Role.PLAIN: "",
    Role.STRONG: "bold",
    Role.FAINT: "dim",
    Role.CODE: "cyan",
    Role.ERROR: "bold red",
    Role.WARNING: "bold yellow",
    Role.NOTE: "bold blue",
    Role.GOOD: "bold green",
}

LEAST_TEXT = 16
"""Columns that running text keeps however far it is indented."""

_TOGETHER = re.compile(r"\b(CVs?|[Bb]its?|page|firmware|No\.) (?=\d)")
_GLUE = "\ue000"
"""Stands for a space at which no line may break; never leaves this module."""


def to_terminal(blocks: Iterable[Block], width: int = 80, *, colour: bool = False) -> str:
    """The blocks as text of at most ``width`` columns, ending in a line end.

    Only a word or a table cell that cannot be broken goes over the width.
    """
    from rich.console import Console

    out = io.StringIO()
    console = Console(
        file=out,
        width=width,
        force_terminal=colour,
        color_system="standard" if colour else None,
        no_color=not colour,
        legacy_windows=False,
        highlight=False,
        markup=False,
        emoji=False,
        safe_box=False,
    )
    for block in map(harmless, blocks):
        _print(console, block, width)
    lines = (line.rstrip() for line in out.getvalue().replace(_GLUE, " ").split("\n"))
    return "\n".join(lines).rstrip("\n") + "\n"


def _print(console: Console, block: Block, width: int) -> None:
    match block:
        case Gap():
            console.print()
        case Heading(text, level):
            style = "bold underline" if level == 1 else "bold"
            console.print(_text((Piece(text),), style))
        case Paragraph():
            for line in _wrapped(console, block, width):
                console.print(line, soft_wrap=True)
        case Literal(text, indent):
            for row in text.split("\n"):
                console.print(_text((Piece(" " * indent + row),)), soft_wrap=True)
        case Table():
            _print_table(console, block)
        case Plot() | Dots():
            _print(console, block.literal(), width)


def _wrapped(console: Console, block: Paragraph, width: int) -> Iterator[Text]:
    """The lines of a paragraph: the first by the indent, the others further in by the hang."""
    from rich.text import Text

    text = _text(block.line)
    for number, room in enumerate(_rooms(block, width)):
        lines = text.wrap(console, room, no_wrap=False)
        inset = Text(" " * (width - room))
        if number:
            yield from (inset + line for line in lines)
            return
        yield Text(" " * block.indent) + lines[0] if lines else Text("")
        text = text[len(lines[0].plain) if lines else 0 :]
        while text.plain[:1].isspace():
            text = text[1:]
        if not text.plain:
            return


def _rooms(block: Paragraph, width: int) -> tuple[int, int]:
    """The columns for the first line of a paragraph and for those after it."""
    first = max(width - block.indent, LEAST_TEXT)
    return first, max(first - block.hang, LEAST_TEXT)


def _print_table(console: Console, block: Table) -> None:
    from rich.box import SIMPLE_HEAD
    from rich.padding import Padding
    from rich.table import Table as Grid

    grid: Grid = Grid(
        box=SIMPLE_HEAD, show_edge=False, pad_edge=False, header_style="bold", padding=(0, 1, 0, 0)
    )
    for column in block.columns:
        grid.add_column(
            _text((Piece(column.title),)),
            justify="right" if column.numeric else "left",
            no_wrap=not column.shrinks,
            overflow="fold",
        )
    for row in block.rows:
        grid.add_row(*(_text(cell) for cell in row))
    console.print(Padding(grid, (0, 0, 0, block.indent), expand=False))
    if block.caption:
        _print(console, Paragraph((Piece(block.caption, Role.FAINT),), block.indent), console.width)


def _text(line: Line, style: str = "") -> Text:
    from rich.text import Text

    text = Text(style=style, end="")
    for piece in line:
        text.append(_together(piece.text), STYLES[piece.role])
    text.end = "\n"
    return text


def _together(text: str) -> str:
    """The text with what belongs together kept so."""
    return _TOGETHER.sub(rf"\1{_GLUE}", text)
