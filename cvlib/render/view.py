"""Neutral blocks that results are put into, before a terminal or a page gives them a form.

A colour never carries a meaning alone: a role only strengthens what the words already say.
"""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum
from fractions import Fraction
from typing import NamedTuple, TypeAlias

from cvlib.errors import visible


class Role(StrEnum):
    """What a piece of text is, so that each output may set it off in its own way."""

    PLAIN = "plain"
    STRONG = "strong"
    FAINT = "faint"
    CODE = "code"
    """Something to be typed or found in a file."""
    ERROR = "error"
    WARNING = "warning"
    NOTE = "note"
    GOOD = "good"


class Piece(NamedTuple):
    """A run of text with one role."""

    text: str
    role: Role = Role.PLAIN


Line: TypeAlias = tuple[Piece, ...]


class Heading(NamedTuple):
    """A title; level 1 is the document's."""

    text: str
    level: int = 2


class Paragraph(NamedTuple):
    """Running text, wrapped to the width there is; hanging lines are indented by ``hang``."""

    line: Line
    indent: int = 0
    hang: int = 0


class Column(NamedTuple):
    """One column of a table."""

    title: str
    numeric: bool = False
    shrinks: bool = True
    """Whether its text may be wrapped on a narrow terminal."""


class Table(NamedTuple):
    """Rows of lines under column titles."""

    columns: tuple[Column, ...]
    rows: tuple[tuple[Line, ...], ...]
    caption: str = ""
    indent: int = 0


class Literal(NamedTuple):
    """Text to be shown exactly as it is, such as commands or a plot."""

    text: str
    indent: int = 0


class Plot(NamedTuple):
    """Speed curves, each with its name: drawn on a page, made of characters elsewhere."""

    curves: tuple[tuple[str, tuple[Fraction, ...]], ...]
    caption: str = ""

    def literal(self) -> Literal:
        """The curves made of characters."""
        from cvlib.render.plot import curves_text

        return Literal(f"{curves_text([curve for _, curve in self.curves])}\n{self.caption}", 2)


class DotRow(NamedTuple):
    """Measured stops under one condition."""

    name: str
    stops: tuple[float, ...]
    mark: float | None
    """Where they should be."""
    margin: float


class Dots(NamedTuple):
    """Measured stops along a line: drawn on a page, made of characters elsewhere."""

    rows: tuple[DotRow, ...]
    unit: str

    def literal(self) -> Literal:
        """The stops made of characters."""
        from cvlib.render.dots import dots_text

        return Literal(dots_text(self.rows, self.unit))


@dataclass(frozen=True, slots=True)
class Gap:
    """An empty line."""


Block: TypeAlias = Heading | Paragraph | Table | Literal | Plot | Dots | Gap


MOST_SHOWN = 4000
"""Characters of a piece of text that are shown; what goes on behind them is cut, with a mark."""


def harmless(block: Block) -> Block:
    """The block as text only and of bounded length, whatever a file had in it.

    Every output goes through here, so that nothing in a file can steer a terminal or turn letters
    about. A heading and the title of a column stay on one line.
    """
    match block:
        case Heading(text):
            return block._replace(text=_words(text))
        case Paragraph(line):
            return block._replace(line=_harmless_line(line))
        case Literal(text):
            return block._replace(text=visible(text, "\n"))
        case Table(columns, rows, caption):
            return block._replace(
                columns=tuple(one._replace(title=_words(one.title)) for one in columns),
                rows=tuple(tuple(map(_harmless_line, row)) for row in rows),
                caption=_words(caption),
            )
        case Plot(curves, caption):
            named = tuple((_words(name), curve) for name, curve in curves)
            return Plot(named, _words(caption))
        case Dots(rows, unit):
            return Dots(tuple(row._replace(name=_words(row.name)) for row in rows), _words(unit))
        case Gap():
            return block


def _harmless_line(line: Line) -> Line:
    return tuple(piece._replace(text=_bounded(visible(piece.text, "\n"))) for piece in line)


def _words(text: str) -> str:
    return _bounded(visible(text.replace("\n", " ")))


def _bounded(text: str) -> str:
    return text if len(text) <= MOST_SHOWN else f"{text[: MOST_SHOWN - 1]}…"


def plain(text: str) -> Line:
    """A line of one plain piece."""
    return (Piece(text),)


def strong(text: str) -> Line:
    """A line of one strong piece."""
    return (Piece(text, Role.STRONG),)


def faint(text: str) -> Line:
    """A line of one faint piece."""
    return (Piece(text, Role.FAINT),)


def text_of(line: Line) -> str:
    """The words of a line without roles."""
    return "".join(piece.text for piece in line)
