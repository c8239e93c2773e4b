"""Neutral blocks that results are put into, before a terminal or a page gives them a form.

A colour never carries a meaning alone: a role only strengthens what the words already say.
"""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum
from typing import NamedTuple, TypeAlias


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


@dataclass(frozen=True, slots=True)
class Gap:
    """An empty line."""


Block: TypeAlias = Heading | Paragraph | Table | Literal | Gap


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
