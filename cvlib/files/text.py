"""From a file to text, from text to TOML, and back from a key to its line and column."""

from __future__ import annotations

import os
import re
import tomllib
from bisect import bisect_right
from collections.abc import Callable
from contextlib import suppress
from pathlib import Path
from stat import S_ISDIR, S_ISREG
from typing import Any

from cvlib.errors import InputError, Position, did_you_mean, problem, visible
from cvlib.files.bounds import (
    DIGITS,
    LINE,
    LINES,
    NESTING,
    SIGNS,
    check_count,
    check_document,
    deep,
    long_number,
)
from cvlib.files.scanner import KeyPath, entry_end, key_spots
from cvlib.files.slips import single_heading, slip_in

LIMIT = 4 * 1024 * 1024
"""The most bytes a file may have; profiles, loco files and lists are far smaller."""

_MOST_SHOWN = 40
_MOST_NEIGHBOURS = 2000
UTF_8_MARK = b"\xef\xbb\xbf"
"""The mark with which some editors begin a file in UTF-8."""

_UTF_16_MARKS = {b"\xff\xfe": "utf-16-le", b"\xfe\xff": "utf-16-be"}
_WINDOWS = "cp1252"
_MANY_BYTES = re.compile(
    rb"[\xc2-\xd3][\x80-\xbf]|[\xe0-\xef][\x80-\xbf]{2}|[\xf0-\xf4][\x80-\xbf]{3}"
)
"""A character of several bytes in UTF-8 that next to nobody means as Windows-1252; of the leads
above 0xD3 some are German letters there, which may stand before a quote or a dash."""
_NOT_TEXT = re.compile(r"[\x00-\x08\x0e-\x19\x1b-\x1f]")
"""Control characters no text has; tab, line ends, form feed and the old end mark 0x1A may be."""


def one_line(text: str, most: int | None = None) -> str:
    """The text fit to be shown: on one line, without control characters, cut where too long."""
    if most is not None and len(text) > most:
        text = text[: most - 1] + "…"
    return visible(text)


def quoted(text: str) -> str:
    """What a person wrote, in quotes and short enough for an error line."""
    return f'"{one_line(text, _MOST_SHOWN)}"'


def typed(*words: str) -> str:
    """A command as it is typed in the shell of this machine."""
    if os.name == "nt":
        from subprocess import list2cmdline

        return list2cmdline(words)
    from shlex import join

    return join(words)


def file_name(path: Path) -> str:
    """The name of a file as positions show it."""
    return one_line(str(path))


def from_here(path: Path) -> Path:
    """The path from the working folder on, where it lies in there."""
    with suppress(ValueError, OSError):
        return path.relative_to(Path.cwd())
    return path


def is_there(path: Path) -> bool:
    """Whether there is anything of that name; false where nobody can look."""
    return bool(_mode(path))


def is_folder(path: Path) -> bool:
    """Whether it is a folder; false where nobody can look."""
    return S_ISDIR(_mode(path))


def is_file(path: Path) -> bool:
    """Whether it is an ordinary file; false where nobody can look."""
    return S_ISREG(_mode(path))


def _mode(path: Path) -> int:
    """The mode of what lies there, or 0; the methods of a path raise for a name too long."""
    try:
        return path.stat().st_mode
    except (OSError, ValueError):
        return 0


def real_path(path: Path) -> Path:
    """Where a path leads, links followed; a link that leads to itself is left as it is."""
    return Path(os.path.realpath(path))


def read_bytes(path: Path, limit: int = LIMIT) -> bytes:
    """All bytes of an ordinary file of at most `limit` bytes.

    Raises InputError when it is missing, a folder, closed to us, too large or no ordinary file.
    """
    try:
        mode = path.stat().st_mode
        if S_ISREG(mode):
            with path.open("rb") as file:
                data = file.read(limit + 1)
            if len(data) <= limit:
                return data
            text, advice = f"the file is larger than {limit} bytes.", "Is it the right file?"
        elif S_ISDIR(mode):
            text, advice = "this is a folder, not a file.", "Name one file in it."
        else:
            text, advice = "this is no ordinary file.", "Save what it gives in a file first."
    except FileNotFoundError:
        text = "there is no such file."
        advice = did_you_mean(path.name, _neighbours(path)) or "Check the name and the folder."
    except PermissionError:
        text, advice = "you may not read this file.", "Change its permissions, or copy it."
    except OSError as error:
        text = f"the file cannot be read: {error.strerror or error}."
        advice = "Check the name and the disk."
    except ValueError:
        text, advice = "this cannot be the name of a file.", "Check the name."
    raise problem(text, advice=advice, position=Position(file_name(path)))


def _neighbours(path: Path) -> list[str]:
    """The names of the files beside a missing one; none when the folder cannot be listed."""
    names: list[str] = []
    try:
        for entry in path.parent.iterdir():
            if entry.name != path.name:  # a link that leads nowhere
                names.append(one_line(entry.name))
            if len(names) == _MOST_NEIGHBOURS:
                break
    except OSError:
        return []
    return sorted(names)


def decode(data: bytes, name: str) -> str:
    """The text of a file of ours, a definition or a loco file: UTF-8, with or without its mark.

    Raises InputError with line and column of what is no UTF-8, and for control characters.
    """
    if _UTF_16_MARKS.get(data[:2]):
        raise problem(
            "this file is in UTF-16.", advice="Save it as UTF-8.", position=Position(name)
        )
    return in_lines(_utf_8(data, name), name)


def _utf_8(data: bytes, name: str) -> str:
    held = data.removeprefix(UTF_8_MARK)
    try:
        return _plain(held.decode("utf-8"), name)
    except UnicodeDecodeError as error:
        _plain(held[: error.start].decode("utf-8"), name)
        raise _stray(held, error.start, name) from None


def decode_list(data: bytes, name: str) -> str:
    """The text of a list as people keep them, its lines within their bounds: see `decode_any`."""
    return in_lines(decode_any(data, name), name)


def decode_any(data: bytes, name: str) -> str:
    """The text of a file that is not ours: UTF-8, or all of it UTF-16 or Windows-1252.

    UTF-16 needs its byte-order mark. A list is Windows-1252 where every byte has a meaning there
    and nothing in it is UTF-8, so that one damaged character turns no other. Raises as `decode`.
    """
    encoding = _UTF_16_MARKS.get(data[:2])
    if encoding is None:
        try:
            data.decode("utf-8")
        except UnicodeDecodeError:
            is_utf_8 = data.startswith(UTF_8_MARK) or _MANY_BYTES.search(data)
            encoding = None if is_utf_8 else _WINDOWS
        if encoding is None:
            return _utf_8(data, name)
    try:
        return _plain(data.decode(encoding).removeprefix("\ufeff"), name)
    except UnicodeDecodeError as error:
        if encoding == _WINDOWS:
            raise _stray(data, error.start, name) from None
        raise _no_text(Position(name, 1)) from None


def _plain(text: str, name: str) -> str:
    """The text itself; raises where it has control characters that no text has."""
    if found := _NOT_TEXT.search(text):
        raise _no_text(Position(name, text.count("\n", 0, found.start()) + 1))
    return text


def in_lines(text: str, name: str) -> str:
    """The text itself; raises where it has more lines, or longer ones, than are read."""
    if len(text) > LINE:
        lines = text.splitlines()
        check_count(lines, LINES, "lines", Position(name))
        if long := next((at for at, line in enumerate(lines, 1) if len(line) > LINE), 0):
            raise problem(
                f"this line has more than {LINE} characters.",
                advice="Break it where it may be broken.",
                position=Position(name, long),
            )
    return text


def _no_text(where: Position) -> InputError:
    return problem(
        "this is not a text file.",
        advice="Save the values as plain text, CSV or TOML.",
        position=where,
    )


def _stray(data: bytes, at: int, name: str) -> InputError:
    """The fault of a byte that no encoding of the file has; all before it may be Windows-1252."""
    line = data.count(b"\n", 0, at) + 1
    before = data[data.rfind(b"\n", 0, at) + 1 : at].decode("utf-8", "replace")
    meant = data[at : at + 1].decode(_WINDOWS, "replace")
    is_known = meant.isprintable() and meant != "\N{REPLACEMENT CHARACTER}"
    hint = f"If it is to be {meant}, type that again, and" if is_known else "Remove it, and"
    return problem(
        f"the byte 0x{data[at]:02X} here is no UTF-8.",
        advice=f"{hint} save the file as UTF-8.",
        position=Position(name, line, len(before) + 1),
    )


def encode_as(made: str, was: bytes, text: str) -> bytes:
    """The bytes of a new text with the byte-order mark and the line ends of the one it replaces.

    ``was`` and ``text`` are what the file held, as bytes and decoded; ``made`` has plain line ends.
    """
    mark = UTF_8_MARK if was.startswith(UTF_8_MARK) else b""
    return mark + made.replace("\n", "\r\n" if "\r\n" in text else "\n").encode("utf-8")


_DOTTED = r"""(?:[\w-]++|"[^"\n]*+"|'[^'\n]*+')[ \t]*+\.[ \t]*+"""
_TOO_MANY_PARTS = re.compile(rf"(?<![\w-])(?:{_DOTTED}){{{NESTING}}}")
"""A key of that many parts; the standard library would take hours over one of thousands."""
_TOML_SPOT = re.compile(r" \(at (?:line (\d+), column (\d+)|end of document)\)$")
_LINE_ADVICE = 'Write a key, an equals sign and a value, such as name = "No. 4".'
_ESCAPE_ADVICE = "Write two backslashes for one, or put the text in single quotes."
_QUOTE_ADVICE = "End it with the quote it began with, on the same line."
_TWICE = ("this table is in the file already.", "Write a table once; lists have [[two brackets]].")
_PLAIN_WORDS = (
    ("Expected newline or end of document", "something is left over after the value.",
     "Put text in quotes, and write numbers without leading zeros."),
    ("Invalid statement", "this line is not understood.", _LINE_ADVICE),
    ("Invalid initial character", "a key cannot start like this.", "Put the key in quotes."),
    ("Expected '='", "the key has no equals sign after it.", _LINE_ADVICE),
    ("Expected ']", "the brackets around this heading are not closed.", "Close them with ]."),
    ("Cannot overwrite a value", "this key has a value already.", "Keep one of the two."),
    ("Duplicate inline table key", "this key has a value already.", "Keep one of the two."),
    ("Cannot", *_TWICE),
    ("Unclosed array", "a list is not closed.", "Put commas between its values and ] at its end."),
    ("Unclosed inline table", "a table is not closed.", "Put commas between its keys and } at its"
     " end."),
    ("Unterminated string", "a text is not closed.", _QUOTE_ADVICE),
    ("Expected '\"", "a text is not closed.", _QUOTE_ADVICE),
    ('Expected "\'', "a text is not closed.", _QUOTE_ADVICE),
    (r"Illegal character '\n'", "a text is not closed.", _QUOTE_ADVICE),
    ("Illegal character", "there is a character here that TOML does not allow.", "Remove it."),
    ("Unescaped", "a backslash in this text is not understood.", _ESCAPE_ADVICE),
    ("Invalid hex value", "a backslash in this text is not understood.", _ESCAPE_ADVICE),
    ("Escaped character", "a backslash in this text is not understood.", _ESCAPE_ADVICE),
    ("Invalid value", "the value is missing or not understood.",
     "Text needs quotes; numbers and dates such as 2026-03-14 need none."),
    ("Invalid date", "there is no such date or time.", "Write dates such as 2026-03-14."),
)  # fmt: skip
"""How each message of the standard library begins, what it means, and what to do."""


def parse_toml(text: str, name: str, figure: Callable[[str], Any] = float) -> dict[str, Any]:
    """The document that a TOML text holds; a fault names line and column in plain words.

    ``figure`` makes a number with a point out of its text.
    """
    signs = sum(map(text.count, "=,.[{"))
    check_count(signs, SIGNS, "keys and list entries", Position(name))
    if _TOO_MANY_PARTS.search(text):
        raise deep(name)
    try:
        found = tomllib.loads(text, parse_float=lambda said: figure(_short(said)))
    except tomllib.TOMLDecodeError as error:
        raise _in_plain_words(str(error), text, name) from None
    except RecursionError:
        raise deep(name) from None
    except ValueError:
        raise long_number(name, text) from None
    check_document(found, text, name)
    return found


def _short(figure: str) -> str:
    """The figure; raises ValueError where it is past the bound."""
    if len(figure) > DIGITS:
        raise ValueError
    return figure


def _in_plain_words(message: str, text: str, name: str) -> InputError:
    """The fault that a message of the standard library means."""
    spot = _TOML_SPOT.search(message)
    if spot and spot[1]:
        line, column = int(spot[1]), int(spot[2])
    else:
        # A single quote that is never closed is the last one of the file.
        is_quote = message.startswith("Expected \"'")
        before = text.rpartition("'")[0] if is_quote else text.rstrip()
        line, column = before.count("\n") + 1, len(before) - before.rfind("\n")
    shown = text.replace("\r\n", "\n").split("\n")[line - 1]
    if message.startswith("Cannot") and (heading := single_heading(shown)):
        what, advice = f"[{heading}] is there twice.", f"Write [[{heading}]] for each of them."
    elif slip := slip_in(shown, column):
        what, advice, column = slip
    else:
        what, advice = next(
            (row[1:] for row in _PLAIN_WORDS if message.startswith(row[0])),
            ("this is not valid TOML.", _LINE_ADVICE),
        )
    return problem(what, advice=advice, position=Position(name, line, column))


class TomlPositions:
    r"""Where each key of a TOML document stands.

    The text must be valid TOML 1.0: let `parse_toml` prove that first.

    >>> TomlPositions("[loco]\nname = 'Marsh Harrier'").find(("loco", "name"))
    (2, 1)
    """

    def __init__(self, text: str) -> None:
        text = text.replace("\r\n", "\n")
        self._lines = [0, *(found.end() for found in re.finditer("\n", text))]
        self._spots = key_spots(text)
        self._text = text

    def find(self, path: KeyPath) -> tuple[int, int]:
        """Line and column, from 1, of a key, or of the nearest table or list known around it.

        A table is at the last key of its heading, an element of a list where its value begins.
        """
        for length in range(len(path), 0, -1):
            spot = self._spots.get(path[:length])
            if spot is not None:
                line = bisect_right(self._lines, spot)
                return line, spot - self._lines[line - 1] + 1
        return 1, 1

    def position(self, name: str, path: KeyPath) -> Position:
        """The same as a position in the file of that name."""
        line, column = self.find(path)
        return Position(name, line, column, self._end(line, column))

    def _end(self, line: int, column: int) -> tuple[int, int]:
        """Line and column behind the key or heading there with its value, as far as it is one."""
        end = entry_end(self._text, self._lines[line - 1] + column - 1)
        line = bisect_right(self._lines, end)
        return line, end - self._lines[line - 1] + 1
