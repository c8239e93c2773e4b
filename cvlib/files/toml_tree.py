"""A TOML text as a tree that keeps every remark where it stands.

Remarks are comments and the empty lines around them. Each belongs to a key, a heading or an entry
of a list: above it, or at the end of its line. What follows the last key of a table, with an
empty line behind it, lies below that table.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import dataclass, field
from datetime import date, datetime, time
from decimal import Decimal
from typing import Any, TypeAlias

from cvlib.errors import Position, problem
from cvlib.files.scanner import KEY, SCALAR, unquoted
from cvlib.files.text import parse_toml

Scalar: TypeAlias = str | bool | int | float | Decimal | datetime | date | time

SCHEMA = "#:schema"
"""How the line begins that tells an editor the schema; it stays the first line of a file."""

_IDLE = re.compile(r"[ \t]*(#[^\n]*)?(\n|\Z)")
_APART = re.compile(r"[ \t,]*")
_HEADING_END = re.compile(r"[ \t\]]*")
_EQUALS = re.compile(r"[ \t]*=[ \t]*")


@dataclass(slots=True)
class Node:
    """A value of a TOML text with the remarks that stand at it."""

    value: Scalar | list[Node] | dict[str, Node]
    raw: str = ""
    """A scalar as it was written; empty where it was not read from a text."""
    above: list[str] = field(default_factory=list)
    """Comment lines before it, with an empty text for an empty line."""
    beside: str = ""
    """The comment at the end of its line."""
    below: list[str] = field(default_factory=list)
    """Comment lines after its last entry."""

    @property
    def table(self) -> dict[str, Node]:
        """The entries of a table."""
        if isinstance(self.value, dict):
            return self.value
        raise TypeError("this node is no table")

    @property
    def items(self) -> list[Node]:
        """The entries of a list."""
        if isinstance(self.value, list):
            return self.value
        raise TypeError("this node is no list")

    def children(self) -> Iterator[Node]:
        """The entries of a table or list; none for a scalar."""
        if isinstance(self.value, dict):
            yield from self.value.values()
        elif isinstance(self.value, list):
            yield from self.value

    @property
    def has_remarks_inside(self) -> bool:
        """Whether a remark stands anywhere in it, but not at it."""
        return any(self.below) or any(
            any(child.above) or child.beside or child.has_remarks_inside
            for child in self.children()
        )

    def all_remarks(self) -> list[str]:
        """Every comment at it and in it, in the order in which they stand."""
        own = [*self.above, *([self.beside] if self.beside else [])]
        inner = [one for child in self.children() for one in child.all_remarks()]
        return [one for one in (*own, *inner, *self.below) if one]


@dataclass(slots=True)
class Document:
    """A whole TOML text."""

    root: Node
    schema: str = ""
    """The line that tells an editor the schema."""
    end: list[str] = field(default_factory=list)
    """Comment lines at the end of the text."""


def node_of(value: Any) -> Node:
    """A node for plain data: tables, lists and scalars."""
    if isinstance(value, dict):
        return Node({key: node_of(held) for key, held in value.items()})
    if isinstance(value, list):
        return Node([node_of(held) for held in value])
    return Node(value)


def data_of(node: Node) -> Any:
    """The plain data of a node."""
    if isinstance(node.value, dict):
        return {key: data_of(held) for key, held in node.value.items()}
    if isinstance(node.value, list):
        return [data_of(held) for held in node.value]
    return node.value


def read_tree(text: str, name: str) -> Document:
    """The tree of a TOML text with plain line ends.

    Raises InputError with line and column where it is no valid TOML.
    """
    data = parse_toml(text, name)
    try:
        return _Reader(text, data).document()
    except RecursionError:
        raise problem(
            "the file is nested too deeply.",
            advice="Look for a long run of brackets or of dots.",
            position=Position(name),
        ) from None


class _Reader:
    """One walk over a valid document; the values themselves are taken from its parsed data."""

    def __init__(self, text: str, data: dict[str, Any]) -> None:
        self.text = text
        self.data = data
        self.at = 0
        self.root = Node({})

    def document(self) -> Document:
        """The whole document."""
        table, data = self.root, self.data
        waiting = self._idle_lines()
        schema = waiting.pop(0) if waiting and waiting[0].startswith(SCHEMA) else ""
        is_first = True
        while self.at < len(self.text):
            if self._next_mark() == "[":
                if not is_first:
                    table.below, waiting = _below(waiting, is_last=False)
                table, data = self._heading()
                table.above, table.beside = _tidy(waiting), self._line_end()
            else:
                self._entry(table, data, waiting)
            is_first = False
            waiting = self._idle_lines()
        if table is not self.root:
            table.below, waiting = _below(waiting, is_last=True)
        return Document(self.root, schema, _trimmed(waiting))

    def _next_mark(self) -> str:
        """The first sign of the line that is no space; the walk goes on at it."""
        while self.text[self.at] in " \t":
            self.at += 1
        return self.text[self.at]

    def _skip(self, pattern: re.Pattern[str]) -> re.Match[str]:
        found = pattern.match(self.text, self.at)
        if found is None:
            raise ValueError(f"not valid TOML at character {self.at}")
        self.at = found.end()
        return found

    def _idle_lines(self) -> list[str]:
        """The comment lines and empty lines from here on."""
        lines: list[str] = []
        while self.at < len(self.text):
            found = _IDLE.match(self.text, self.at)
            if found is None:
                break
            self.at = found.end()
            lines.append((found[1] or "").rstrip())
        return lines

    def _line_end(self) -> str:
        """The comment at the end of a line, or an empty text."""
        return (self._skip(_IDLE)[1] or "").rstrip()

    def _keys(self) -> list[str]:
        """The parts of a dotted key."""
        parts: list[str] = []
        while True:
            found = self._skip(KEY)
            parts.append(unquoted(found[1]))
            if not found[2]:
                return parts

    def _heading(self) -> tuple[Node, Any]:
        """The table that a heading opens, with its data."""
        is_list = self.text.startswith("[[", self.at)
        self.at += 2 if is_list else 1
        *outer, last = self._keys()
        self._skip(_HEADING_END)
        table, data = _inner(self.root, self.data, outer)
        if not is_list:
            return _inner(table, data, [last])
        held = table.table.setdefault(last, Node([]))
        held.items.append(Node({}))
        return held.items[-1], data[last][len(held.items) - 1]

    def _entry(self, table: Node, data: Any, waiting: list[str]) -> None:
        """A line of key and value."""
        node = self._pair(table, data)
        lines = _tidy(waiting)
        # An empty line counts only before a comment: it sets off what the comment begins.
        node.above = ["", *lines] if waiting[:1] == [""] and lines else lines
        node.beside = self._line_end()

    def _pair(self, table: Node, data: Any) -> Node:
        """A key and its value, put into the table."""
        *outer, last = self._keys()
        self._skip(_EQUALS)
        table, data = _inner(table, data, outer)
        node = table.table[last] = self._value(data[last])
        return node

    def _value(self, data: Any) -> Node:
        opening = self.text[self.at]
        if opening not in "[{":
            return Node(data, self._skip(SCALAR)[0])
        self.at += 1
        node = Node([] if opening == "[" else {})
        last: Node | None = None
        while True:
            waiting = self._between(last)
            if self.text[self.at] in "]}":
                self.at += 1
                node.below = waiting
                return node
            if isinstance(node.value, list):
                last = self._value(data[len(node.value)])
                node.value.append(last)
            else:
                last = self._pair(node, data)
            last.above = waiting

    def _between(self, last: Node | None) -> list[str]:
        """The comments between two entries, but for the one at the end of the last one's line."""
        found: list[str] = []
        is_same_line = last is not None
        while True:
            self._skip(_APART)
            if self.text[self.at] == "#":
                comment = self._line_end()
                if is_same_line and last is not None and not last.beside:
                    last.beside = comment
                else:
                    found.append(comment)
            elif self.text[self.at] == "\n":
                self.at += 1
            else:
                return found
            is_same_line = False


def _inner(table: Node, data: Any, keys: list[str]) -> tuple[Node, Any]:
    """The table that dotted keys lead to; of a list of tables the last one."""
    for key in keys:
        table, data = table.table.setdefault(key, Node({})), data[key]
        if isinstance(table.value, list):
            data = data[len(table.value) - 1]
            table = table.value[-1]
    return table, data


def _below(waiting: list[str], *, is_last: bool) -> tuple[list[str], list[str]]:
    """The lines that belong to the table above them, and those that do not."""
    if not waiting or not waiting[0]:
        return [], waiting
    end = waiting.index("") if "" in waiting else len(waiting)
    if end == len(waiting) and not is_last:
        return [], waiting
    return waiting[:end], waiting[end:]


def _tidy(lines: list[str]) -> list[str]:
    """The lines without empty ones at the start, and never two of them together."""
    made: list[str] = []
    for line in lines:
        if line or (made and made[-1]):
            made.append(line)
    return made


def _trimmed(lines: list[str]) -> list[str]:
    """The same without empty lines at the end."""
    made = _tidy(lines)
    return made[:-1] if made and not made[-1] else made
