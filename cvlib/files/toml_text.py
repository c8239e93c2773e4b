"""A tree written as TOML text: each value in one way, each table where the layout has it."""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import replace
from datetime import date, datetime, time
from decimal import Decimal

from cvlib.files.layout import PROFILE, ROW, WIDTH, Layout
from cvlib.files.toml_tree import Document, Node, Scalar

_BARE = re.compile(r"[A-Za-z_][A-Za-z0-9_-]*|[0-9]+")
"""Keys without quotes; a span such as 0-3 has them, although TOML asks for none."""

_ESCAPES = {"\b": "\\b", "\t": "\\t", "\n": "\\n", "\f": "\\f", "\r": "\\r"}
_STEP = "  "

Names = tuple[str, ...]


def write_tree(document: Document, layout: Layout) -> str:
    """The text of a document in its layout, ending in a line end."""
    root, end = document.root, document.end
    if root.below and not any(_plain(root, (), layout)):
        # Without a line above them they would be taken for the first heading's.
        end = [*root.below, *([""] if end else []), *end]
        root = Node(root.value)
    lines = [document.schema] if document.schema else []
    lines += _table(root, (), layout)
    if end:
        lines += ["", *end] if lines else end
    return "\n".join(lines) + "\n"


def key_text(key: str) -> str:
    """A key, in quotes where it needs them."""
    return key if _BARE.fullmatch(key) else string_text(key)


def string_text(text: str) -> str:
    """A text in double quotes, or in single ones where that spares escapes."""
    is_plain = all(char.isprintable() for char in text)
    if is_plain and "'" not in text and ('"' in text or "\\" in text):
        return f"'{text}'"
    return f'"{"".join(map(_escaped, text))}"'


def _escaped(char: str) -> str:
    if char in '"\\':
        return "\\" + char
    if char in _ESCAPES:
        return _ESCAPES[char]
    if char < " " or char == "\x7f":
        return f"\\u{ord(char):04x}"
    return char


def scalar_text(value: Scalar, raw: str = "") -> str:
    """A scalar; figures, dates and times keep the spelling of their writer."""
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, str):
        return string_text(value)
    if isinstance(value, int):
        return str(value)
    if raw:
        return raw
    if isinstance(value, Decimal):
        return f"{value:f}" if "." in f"{value:f}" else f"{value:f}.0"
    return value.isoformat() if isinstance(value, (datetime, date, time)) else repr(value)


def value_text(node: Node) -> str:
    """A value on one line."""
    return _value(node, ("",), PROFILE, "", None)


def _table(node: Node, names: Names, layout: Layout) -> list[str]:
    """The lines of a table below its heading, and of all tables in it."""
    indent = layout.indent(names)
    plain = _plain(node, names, layout)
    lines: list[str] = []
    for key, held in layout.sorted(names, node.table):
        if key in plain:
            lines += _entry(key, held, names, layout, is_first=not lines)
    lines += _remarks(node.below, indent)
    for key, held in layout.sorted(names, node.table):
        if key in plain:
            continue
        for table in _tables(held):
            made = _headed(table, (*names, key), layout, is_list=isinstance(held.value, list))
            lines += ["", *made] if lines or names else made
    return lines


def _plain(node: Node, names: Names, layout: Layout) -> set[str]:
    """The keys of a table whose values stand beside them, without a heading."""
    table = node.table
    return {
        key for key, held in table.items() if not _has_heading((*names, key), held, layout, table)
    }


def _tables(node: Node) -> list[Node]:
    """The tables that stand under one name; comments at their list go to the first and the last."""
    if not isinstance(node.value, list):
        return [node]
    tables = [replace(one) for one in node.value]
    first, last = tables[0], tables[-1]
    first.above = [*node.above, *([node.beside] if node.beside else []), *first.above]
    last.below = [*last.below, *node.below]
    return tables


def _headed(node: Node, names: Names, layout: Layout, *, is_list: bool) -> list[str]:
    """A table with its heading; the heading is left out where only tables stand in it."""
    indent = layout.indent(names)
    body = _table(node, names, layout)
    has_own = bool(_plain(node, names, layout)) or is_list or not node.table
    if not (has_own or node.above or node.beside or node.below):
        return body[1:]
    dotted = ".".join(map(key_text, names))
    heading = f"[[{dotted}]]" if is_list else f"[{dotted}]"
    return [*_remarks(node.above, indent), _beside(f"{indent}{heading}", node), *body]


def _has_heading(names: Names, node: Node, layout: Layout, parent: dict[str, Node]) -> bool:
    """Whether a value stands under a heading of its own: as the layout has it, or because a comment
    inside has no room on one line.
    """
    if names[-1] in layout.dotted and isinstance(node.value, dict):
        return False
    if node.has_remarks_inside and (isinstance(node.value, dict) or _is_of_tables(node, deep=True)):
        return True
    if isinstance(node.value, dict):
        indent = layout.indent(names)
        return layout.is_headed(names) or _is_long(f"{indent}{names[-1]}", node, names, layout)
    if not _is_of_tables(node) or not layout.is_headed(names):
        return False
    room = layout.room(names, node, parent)
    return not room or _longest(node, names, layout) > room


def _is_long(start: str, node: Node, names: Names, layout: Layout) -> bool:
    """Whether a table of numbered names has no room on one line and gets a line for each name."""
    if names[-1] not in layout.numbered or not isinstance(node.value, dict):
        return False
    return len(f"{start} = {_inline(node.value, names, layout, '')}") > WIDTH


def _is_of_tables(node: Node, *, deep: bool = False) -> bool:
    """Whether it is a list of tables; ``deep``: one with remarks inside one of the tables."""
    tables = node.value if isinstance(node.value, list) else []
    if not all(isinstance(one.value, dict) for one in tables):
        return False
    return any(one.has_remarks_inside for one in tables) if deep else bool(tables)


def _longest(node: Node, names: Names, layout: Layout) -> int:
    """The columns of the longest line of a list of tables on one line each, without remarks.

    A single table has its brackets on the same line.
    """
    bare = Node([Node(one.value) for one in node.items])
    if len(node.items) == 1:
        return len(f"{key_text(names[-1])} = {_value(bare, names, layout, '', None)}")
    *_, text = _entry(names[-1], bare, names[:-1], layout, is_first=True)
    return max(map(len, text.split("\n")))


def _entry(key: str, node: Node, names: Names, layout: Layout, *, is_first: bool) -> list[str]:
    """A key with its value, over several lines where it is a long list."""
    indent = layout.indent(names)
    above = node.above[1:] if is_first and node.above[:1] == [""] else node.above
    start = f"{indent}{key_text(key)} = "
    if key in layout.dotted and isinstance(node.value, dict):
        inline = start + _inline(node.value, (*names, key), layout, indent)
        if node.has_remarks_inside or len(inline) > ROW:
            return [*_remarks(above, indent), *_dotted(key, node, (*names, key), layout)]
    value = _value(node, (*names, key), layout, indent, len(start))
    return [*_remarks(above, indent), _beside(start + value, node)]


def _dotted(key: str, node: Node, names: Names, layout: Layout) -> list[str]:
    """A table with a line for each of its keys; so are tables in it that have no room on one."""
    indent = layout.indent(names)
    lines = _remarks([node.beside] if node.beside else [], indent)
    for number, (inner, held) in enumerate(layout.sorted(names, node.table)):
        above = held.above if number else [line for line in held.above if line]
        start, within = f"{key}.{key_text(inner)}", (*names, inner)
        lines += _remarks(above, indent)
        is_table = isinstance(held.value, dict)
        if (is_table and held.has_remarks_inside) or _is_long(indent + start, held, within, layout):
            lines += _dotted(start, held, within, layout)
            continue
        value = _value(held, within, layout, indent, len(f"{indent}{start} = "))
        lines.append(_beside(f"{indent}{start} = {value}", held))
    return [*lines, *_remarks(node.below, indent)]


def _beside(line: str, node: Node) -> str:
    return f"{line}  {node.beside}" if node.beside else line


def _remarks(lines: list[str], indent: str) -> list[str]:
    return [indent + line if line else "" for line in lines]


def _value(node: Node, names: Names, layout: Layout, indent: str, used: int | None) -> str:
    """A value: on one line where it has room there and no comment stands in it.

    ``used`` is what the line holds before it; nothing where the value may not be broken.
    """
    if isinstance(node.value, dict):
        return _inline(node.value, names, layout, indent)
    if not isinstance(node.value, list):
        return scalar_text(node.value, node.raw)
    if not node.has_remarks_inside:
        flat = f"[{', '.join(_value(one, names, layout, '', None) for one in node.value)}]"
        is_rows = len(node.value) > 1 and names[-1] == "place"
        if used is None or not node.value or (used + len(flat) <= WIDTH and not is_rows):
            return flat
    return "\n".join(["[", *_rows(node, names, layout, indent + _STEP), f"{indent}]"])


def _inline(table: dict[str, Node], names: Names, layout: Layout, indent: str) -> str:
    """A table between braces."""
    pairs = [
        f"{key_text(key)} = {_value(held, (*names, key), layout, indent, None)}"
        for key, held in layout.sorted(names, table)
    ]
    return f"{{ {', '.join(pairs)} }}" if pairs else "{}"


def _rows(node: Node, names: Names, layout: Layout, indent: str) -> Iterator[str]:
    """The entries of a list, one a line; plain numbers as many as a line holds."""
    row = ""
    is_filled = all(type(one.value) is int for one in node.items)
    for one in node.items:
        text = f"{_value(one, names, layout, indent, len(indent) + 1)},"
        if row and (any(one.above) or len(indent) + len(row) + len(text) + 1 > WIDTH):
            yield indent + row
            row = ""
        yield from (indent + line for line in one.above if line)
        row = f"{row} {text}" if row else text
        if one.beside or not is_filled:
            yield _beside(indent + row, one)
            row = ""
    if row:
        yield indent + row
    yield from (indent + line for line in node.below if line)
