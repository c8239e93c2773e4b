"""One walk over a valid TOML document that notes where each key begins.

The standard library reads TOML without saying where anything stood. This walk proves nothing and
reads no values: it only steps over them.
"""

from __future__ import annotations

import re
import tomllib

KeyPath = tuple[str | int, ...]
"""The way to a value of a TOML document: ``("setting", 3, "place", 1, "cv")``."""


def key_spots(text: str) -> dict[KeyPath, int]:
    """How far from the start of a valid document with plain line ends each key begins.

    A table is at the last key of its heading, an element of a list where its value begins.
    """
    return _Walk(text).spots


def entry_end(text: str, spot: int) -> int:
    """How far from the start of a document a key at a spot ends with its value on the same line.

    A list or table over several lines ends with the first of them; a heading with its name.
    """
    line_end = text.find("\n", spot)
    line_end = len(text) if line_end < 0 else line_end
    at = spot
    while (part := KEY.match(text, at)) is not None:
        at = part.end()
        if not part[2]:
            break
    equals = _EQUALS.match(text, at)
    value = SCALAR.match(text, equals.end()) if equals else None
    if equals is None or value is None:
        return max(min(at, line_end), spot)
    if value[0][0] in "[{":
        return spot + len(text[spot:line_end].rstrip())
    return value.end()


def comments(text: str) -> list[str]:
    """Every comment of a valid document; what stands in a text is none, however it begins."""
    return [found[0].strip() for found in _TEXT_OR_COMMENT.finditer(text) if found[0][0] == "#"]


def comment_spots(text: str) -> list[int]:
    """Where each comment of a valid document begins that has its line to itself."""
    spots = [found.start() for found in _TEXT_OR_COMMENT.finditer(text) if found[0][0] == "#"]
    return [spot for spot in spots if not text[text.rfind("\n", 0, spot) + 1 : spot].strip()]


_BLANK = re.compile(r"(?:[ \t\n]++|#[^\n]*+)*+")
_BETWEEN = re.compile(r"(?:[ \t\n,]++|#[^\n]*+)*+")
KEY = re.compile(r"""[ \t]*+([A-Za-z0-9_-]++|"(?:[^"\\\n]++|\\.)*+"|'[^'\n]*+')[ \t]*+(\.?)""")
"""One part of a key, and the dot where another part follows."""
_HEADING_END = re.compile(r"[ \t\]]*+")
_EQUALS = re.compile(r"=[ \t]*+")
SCALAR = re.compile(
    r'''"""(?:[^"\\]++|\\.|"(?!""))*+"""(?:"{0,2})'''
    r"""|'''(?:[^']++|'(?!''))*+'''(?:'{0,2})"""
    r"""|"(?:[^"\\\n]++|\\.)*+"|'[^'\n]*+'"""
    r"""|\d{4}-\d\d-\d\d \d\d:[^\s,\]}#]*+|[^\s,\]}#]++""",
    re.DOTALL,
)
"""A value that is neither list nor table."""

_TEXT_OR_COMMENT = re.compile(
    r'''"""(?:[^"\\]++|\\.|"(?!""))*+"""(?:"{0,2})'''
    r"""|'''(?:[^']++|'(?!''))*+'''(?:'{0,2})"""
    r"""|"(?:[^"\\\n]++|\\.)*+"|'[^'\n]*+'|#[^\n]*+""",
    re.DOTALL,
)
"""What may hold a mark of a comment without being one, and comments."""


class _Open:
    """A list or inline table being scanned: its path, and for a list the next index."""

    __slots__ = ("index", "path")

    def __init__(self, path: KeyPath, index: int | None) -> None:
        self.path = path
        self.index = index


class _Walk:
    """The walk: how far it has come and what it has noted."""

    def __init__(self, text: str) -> None:
        self.text = text
        self.at = 0
        self.spots: dict[KeyPath, int] = {}
        self._lengths: dict[KeyPath, int] = {}
        table: KeyPath = ()
        self._skip(_BLANK)
        while self.at < len(text):
            if text[self.at] == "[":
                table = self._heading()
            else:
                self._value(self._key_of(table))
            self._skip(_BLANK)

    def _skip(self, pattern: re.Pattern[str]) -> str:
        """What the pattern matches here; the walk goes on after it."""
        found = pattern.match(self.text, self.at)
        if found is None:
            raise ValueError(f"not valid TOML at character {self.at}")
        self.at = found.end()
        return found[0]

    def _parts(self) -> list[tuple[str, int]]:
        """The parts of a dotted key, each with its spot."""
        parts: list[tuple[str, int]] = []
        while True:
            found = KEY.match(self.text, self.at)
            if found is None:
                raise ValueError(f"not valid TOML at character {self.at}")
            self.at = found.end()
            parts.append((unquoted(found[1]), found.start(1)))
            if not found[2]:
                return parts

    def _key_of(self, path: KeyPath) -> KeyPath:
        """The path of the value whose key stands here; the walk goes on after the equals sign."""
        for part, spot in self._parts():
            path = (*path, part)
            self.spots.setdefault(path, spot)
        self._skip(_EQUALS)
        return path

    def _heading(self) -> KeyPath:
        """The path of the table that a heading opens."""
        is_list = self.text.startswith("[[", self.at)
        self.at += 2 if is_list else 1
        *outer, (last, spot) = self._parts()
        self._skip(_HEADING_END)
        path: KeyPath = ()
        for part, outer_spot in outer:
            path = (*path, part)
            self.spots.setdefault(path, outer_spot)
            if path in self._lengths:
                path = (*path, self._lengths[path] - 1)
        path = (*path, last)
        if is_list:
            self.spots.setdefault(path, spot)
            index = self._lengths.get(path, 0)
            self._lengths[path] = index + 1
            path = (*path, index)
        self.spots[path] = spot
        return path

    def _value(self, path: KeyPath) -> None:
        """Walk over one value, however deep; nesting costs no recursion."""
        inside: list[_Open] = []
        while True:
            opening = self.text[self.at]
            if opening in "[{":
                inside.append(_Open(path, 0 if opening == "[" else None))
                self.at += 1
            else:
                self._skip(SCALAR)
            while inside and self._closes():
                inside.pop()
            if not inside:
                return
            path = self._next(inside[-1])

    def _closes(self) -> bool:
        """Whether the innermost list or table ends here; if so the walk goes on after it."""
        self._skip(_BETWEEN)
        closes = self.text[self.at] in "]}"
        self.at += closes
        return closes

    def _next(self, around: _Open) -> KeyPath:
        """The path of the next value inside a list or inline table."""
        if around.index is None:
            return self._key_of(around.path)
        path = (*around.path, around.index)
        around.index += 1
        self.spots[path] = self.at
        return path


def unquoted(key: str) -> str:
    """The key that a bare or quoted text means."""
    if key[0] not in "\"'":
        return key
    if "\\" not in key:
        return key[1:-1]
    return next(iter(tomllib.loads(f"{key} = 0")))
