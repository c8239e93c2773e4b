"""What is left of a profile that cannot be read whole: the tables in which nothing is wrong."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable
from dataclasses import dataclass
from itertools import pairwise

from cvlib.errors import Fault, InputError
from cvlib.files.load import PartlyReadError, load_profile
from cvlib.files.meaning.follows import Shelf
from cvlib.model.profile import Profile

ROUNDS = 5
"""Tables that TOML does not allow which are left out of one file, each for a reading more."""

_HEADING = re.compile(r"^[ \t]*\[{1,2}[ \t]*([\w-]+)(?:[ \t]*\][ \t]*\]?|\.)", re.M)
_NEEDED = frozenset(("decoder", "firmware"))
_ID = re.compile(r'^[ \t]*(?:id|version)[ \t]*=[ \t]*"([^"\n]+)"', re.M)


@dataclass(frozen=True, slots=True)
class Rest:
    """The sound tables of a profile, and what is wrong with it beside what stopped its reading."""

    profile: Profile
    text: str
    """The text that was read: lines that were left out are empty, so that all others stay."""
    faults: tuple[Fault, ...]
    bad: tuple[range, ...]
    """The lines of tables in which something is wrong."""


def rest_of(text: str, name: str, shelf: Shelf, id: str, error: InputError) -> Rest | None:
    """What can be read of a profile that was refused; nothing where too much hangs on the faults.

    A fault that only comes from what was left out is not told.
    """
    told: list[Fault] = []
    gone: set[str] = set()
    left = text.replace("\r\n", "\n")
    for _ in range(ROUNDS):
        if isinstance(error, PartlyReadError):
            lines = _lines_of((*error.faults, *told))
            bad = tuple(one for one in tables_of(text) if any(line in one for line in lines))
            if any(_is_needed(text, one) for one in bad) or not all(map(_in_any(bad), lines)):
                return None
            for one in bad:
                left = _blanked(left, one)
            return Rest(error.rest, left, tuple(told), bad)
        table = _table_at(left, _lines_of(error.faults))
        if table is None:
            return None
        gone |= set(_ID.findall("\n".join(_slice(left, table))))
        left = _blanked(left, table)
        try:
            profile = load_profile(left, name, shelf, id)
        except InputError as other:
            error = other
            found = (one for one in other.faults if not _is_about(one, gone))
            told += [one for one in found if one not in told]
        else:
            lines = [line for line, one in enumerate(left.split("\n"), 1) if not one.strip()]
            bad = tuple(one for one in tables_of(text) if all(line in lines for line in one))
            return Rest(profile, left, tuple(told), bad)
    return None


def tables_of(text: str) -> list[range]:
    """The lines of each table at the top of a document, with the tables below it."""
    heads: list[int] = []
    name = ""
    for found in _HEADING.finditer(text):
        if found[1] != name or not found[0].endswith("."):
            heads.append(text.count("\n", 0, found.start()) + 1)
        name = found[1]
    return [range(*ends) for ends in pairwise((*heads, text.count("\n") + 2))]


def _table_at(text: str, lines: Iterable[int]) -> range | None:
    """The table that a line is in; nothing where a profile cannot do without it."""
    first = next(iter(lines), 0)
    table = next((one for one in tables_of(text) if first in one), None)
    if table is None:
        return None
    return None if _is_needed(text, table) else table


def _is_needed(text: str, table: range) -> bool:
    """Whether a profile cannot do without a table."""
    heading = _HEADING.match(_slice(text, table)[0])
    return heading is None or heading[1] in _NEEDED


def _in_any(tables: Iterable[range]) -> Callable[[int], bool]:
    return lambda line: any(line in one for one in tables)


def _slice(text: str, lines: range) -> list[str]:
    return text.split("\n")[lines.start - 1 : lines.stop - 1]


def _blanked(text: str, lines: range) -> str:
    held = text.split("\n")
    held[lines.start - 1 : lines.stop - 1] = [""] * len(_slice(text, lines))
    return "\n".join(held)


def _lines_of(faults: Iterable[Fault]) -> list[int]:
    return [one.position.line for one in faults if one.position and one.position.line]


def _is_about(fault: Fault, ids: Iterable[str]) -> bool:
    return any(f'"{one}"' in fault.problem for one in ids)
