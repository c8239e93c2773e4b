"""Slips in a line of TOML that people make: known again by their looks, with what to write."""

from __future__ import annotations

import re
from collections.abc import Callable

LISTS = frozenset(
    (
        *("accepted", "advisory", "block", "history", "page", "place", "question", "release"),
        *("rule", "saved", "setting", "source"),
    )
)
"""Headings that there may be several of, by their last part."""

_ENDS = r"(?=[\s,\]}#]|$)"
_SPACES = "\u00a0\u202f\u2007\u2009\u200b\ufeff"
_QUOTES = "“”„‟«»‘’‚"

_Told = tuple[str, str]
_SLIPS: tuple[tuple[re.Pattern[str], Callable[[re.Match[str]], _Told]], ...] = (
    (
        re.compile(r"^(<{7}|={7}|>{7}|\|{7})(?= |$).*"),
        lambda _: (
            "this is a mark of a merge that nobody finished.",
            "Keep one of the two versions between the marks, and take out the lines of the marks.",
        ),
    ),
    (
        re.compile(f"[{_SPACES}]"),
        lambda _: ("there is a no-break space here.", "Type a plain space in its place."),
    ),
    (
        re.compile(f"[{_QUOTES}]"),
        lambda found: (f"{found[0]} is no quote of TOML.", 'Type a straight " in its place.'),
    ),
    (
        re.compile(rf"(?<=[=\[,])[ \t]*(\d{{1,2}})\.(\d{{1,2}})\.(\d{{4}}){_ENDS}"),
        lambda found: _date(found[0], found[3], found[2], found[1]),
    ),
    (
        re.compile(rf"(?<=[=\[,])[ \t]*(\d{{4}})-(\d{{1,2}})-(\d{{1,2}}){_ENDS}"),
        lambda found: _date(found[0], found[1], found[2], found[3]),
    ),
    (
        re.compile(rf"(?<==)[ \t]*(-?\d+),(\d+){_ENDS}"),
        lambda found: (
            f"{found[0].strip()} is no figure of TOML.",
            f"Write {found[1]}.{found[2]} with a point, or [{found[1]}, {int(found[2])}] for two.",
        ),
    ),
    (
        re.compile(rf"(?<=[=\[,])[ \t]*(\d+(?:\.\d+){{2,}}[a-z]?|\d+(?:\.\d+)*[a-z]){_ENDS}"),
        lambda found: (
            f"the version {found[1]} has no quotes.",
            f'Write "{found[1]}".',
        ),
    ),
    (
        re.compile(rf"(?<=[=\[,])[ \t]*0+(\d+){_ENDS}"),
        lambda found: (
            f"{found[0].strip()} is no number of TOML: none begins with 0.",
            f'Write {int(found[1])}, or "{found[0].strip()}" where it is text.',
        ),
    ),
    (
        re.compile(rf"(?<=[=\[,])[ \t]*(yes|no|on|off|y|n|ja|nein|true|false){_ENDS}", re.I),
        lambda found: (
            f"{found[1]} is no value of TOML.",
            f"Write {_on_off(found[1])} without quotes, or put it in quotes where it is text.",
        ),
    ),
    (
        re.compile(r"(?<=[=\[,])[ \t]*([^\W\d][\w .-]*?)[ \t]*(?=[,\]}#]|$)"),
        lambda found: (f"the text {found[1]} has no quotes.", f'Write "{found[1]}".'),
    ),
    (
        re.compile(r"^[ \t]*([\w-]+)[ \t]*:(?=[ \t])"),
        lambda found: ("a key has an equals sign, not a colon.", f"Write {found[1]} = and so on."),
    ),
)  # fmt: skip


_ANYWHERE = 3
"""The first of them may also stand in a heading."""


def _date(said: str, year: str, month: str, day: str) -> _Told:
    meant = f"{year}-{int(month):02}-{int(day):02}"
    return f"{said.strip()} is no date of TOML.", f"Write {meant}, without quotes."


def _on_off(word: str) -> str:
    return "true" if word.casefold() in ("yes", "on", "y", "ja", "true") else "false"


def slip_in(line: str, column: int) -> tuple[str, str, int] | None:
    """What is wrong with a line of TOML that is not understood at a column, what to write, where.

    Nothing where no slip that is known lies there. Columns count from 1.
    """
    is_heading = line.lstrip().startswith("[")
    for pattern, told in _SLIPS[:_ANYWHERE] if is_heading else _SLIPS:
        for found in pattern.finditer(line):
            if found.start() <= column <= found.end() + 1 or found.start() == 0:
                start = found.end() - len(found[0].lstrip(" \t"))
                return *told(found), start + 1
    return None


def single_heading(line: str) -> str:
    """The heading of a list that a line gives single brackets; empty where it does not."""
    found = re.fullmatch(r"[ \t]*\[[ \t]*([\w-]+(?:\.[\w-]+)*)[ \t]*\][ \t]*(?:#.*)?", line)
    return found[1] if found and found[1].rpartition(".")[2] in LISTS else ""
