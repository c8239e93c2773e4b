"""How much of anything is read; docs/reliability.md states each, and what is past it is refused.

The bounds of recipes and of what they read stand in `cvlib.files.read.tree` and beside it.
"""

from __future__ import annotations

import re
from collections.abc import Sized
from typing import Any

from cvlib.errors import InputError, Position, problem

LINES = 20_000
"""Lines of a text."""
LINE = 20_000
"""Characters of a line."""
CELLS = 1_000
"""Cells of a row of a list or table."""
ROWS = 2_000
"""Rows of a table that a profile is made from."""
SIGNS = 50_000
"""Signs ``= , . [ {`` of a TOML file: each makes a key, a part of one, an entry, a list or a table,
and what is made of each may take a kilobyte."""
NESTING = 64
"""Tables and lists inside one another, and parts of a key."""
DIGITS = 100
"""Digits of a number in a TOML file."""
TEXT = 10_000
"""Characters of a text in a profile or a loco file: a name, a title, a note."""
PLACES = 500
"""Places of a setting; the shipped profiles have up to 12."""
CHAIN = 16
"""Settings that hang on one another by their conditions; the shipped profiles have up to 3."""
BESIDE = 20
"""Places of a setting that hold at one firmware: each is held against each other there."""
SETTINGS = 1_000
"""Settings of a profile or block, the shipped have up to 115."""
SOURCES = 200
"""Sources of a profile."""
STEPS = 12
"""Documents that repeat or replace one another in a row."""
ANSWERS = 5_000
"""Answers of one session."""
FILES = 5_000
"""Files of a folder, and of a folder of a revision."""
CONTENT = 64 * 1024 * 1024
"""Bytes of all files of a revision that are looked at."""

_LONG = re.compile(rf"[0-9A-Fa-f_.]{{{DIGITS + 1}}}")
_BITS = (10**DIGITS).bit_length()


def check_count(held: Sized | int, most: int, what: str, position: Position | None = None) -> None:
    """Raise InputError where there are more of something than are read."""
    count = held if isinstance(held, int) else len(held)
    if count > most:
        raise problem(
            f"there are more than {most} {what}.",
            advice="Is it the right file? If so, split it.",
            position=position,
        )


def check_document(data: dict[str, Any], text: str, name: str) -> None:
    """Raise InputError where a TOML document is nested too deep, or has far too long a number."""
    level: list[Any] = [data]
    for _ in range(NESTING + 1):
        inside: list[Any] = []
        for node in level:
            held = node.values() if isinstance(node, dict) else node
            for value in held:
                if isinstance(value, dict | list):
                    inside.append(value)
                elif isinstance(value, int) and value.bit_length() > _BITS:
                    raise long_number(name, text)
        level = inside
        if not level:
            return
    raise deep(name)


def deep(name: str) -> InputError:
    """The fault of a file that is nested past the bound."""
    return problem(
        "the file is nested too deeply.",
        advice="Look for a long run of brackets or of dots.",
        position=Position(name),
    )


def long_number(name: str, text: str) -> InputError:
    """The fault of a file with a number past the bound, at the line of the first that may be it."""
    found = _LONG.search(text)
    line = text.count("\n", 0, found.start()) + 1 if found else None
    return problem(
        "a number in this file is far too long.",
        advice=f"Numbers have up to {DIGITS} digits.",
        position=Position(name, line),
    )
