"""Firmware versions under the three schemes a maker may use.

A version is equal to another when they name the same firmware (``3.5`` and ``3.5.0``). It has no
order of its own: :mod:`cvlib.model.ranges` alone compares, through the keys made here.

The keys, which are in the order of their versions: of a dotted version the number and the letter
of each part in turn, without zeros behind the last that is none, and 1 for the point just after
it; of a date year, month, day and letter. A letter counts from 1.
"""

from __future__ import annotations

import re
from dataclasses import dataclass, field
from datetime import date
from enum import StrEnum
from typing import TypeAlias, cast

from cvlib.errors import InputError, problem

Key: TypeAlias = tuple[int | tuple[int, ...], ...]
"""A point on a scheme's line of versions."""

_PART = r"\d{1,9}[A-Za-z]?"
_DOTTED = re.compile(rf"[vV]?({_PART}(?:\.{_PART}){{0,7}})", re.ASCII)
_NUMBER = re.compile(r"[vV]?(\d{1,9})", re.ASCII)
_DATE = re.compile(r"(\d{4})-(\d{2})(?:-(\d{2})([A-Za-z]?))?", re.ASCII)
_LETTERS = 26

_EXAMPLES = {
    "dotted": "numbers joined by dots, each with at most one letter behind, such as 2.4.118 or "
    "3.5a",
    "number": "one whole number, such as 37",
    "date": "a date, such as 2025-07-27, or 2012-07 for a whole month",
}


class Scheme(StrEnum):
    """How a maker counts firmware."""

    DOTTED = "dotted"
    NUMBER = "number"
    DATE = "date"


EARLIEST: dict[Scheme, Key] = {
    Scheme.DOTTED: ((), 0),
    Scheme.NUMBER: (0,),
    Scheme.DATE: (1, 1, 1, 0),
}
"""The oldest version a scheme can name."""


@dataclass(frozen=True, slots=True)
class FirmwareVersion:
    """One firmware version: equal and hashed by what it names, not by how it is spelt."""

    scheme: Scheme
    key: Key
    """The point it names; of a month its first day."""
    text: str = field(compare=False)
    """As written by the person or the maker."""
    end: Key | None = None
    """Of a whole month the point behind its last day, else nothing."""

    def __str__(self) -> str:
        """The version as it was written."""
        return self.text

    @property
    def after(self) -> Key:
        """The first point behind it: where the versions newer than it begin."""
        return self.end or following_key(self.key, self.scheme)

    @property
    def figures(self) -> tuple[int, ...]:
        """Its numbers, most significant first and without letters; of a month no day."""
        match self.scheme:
            case Scheme.DOTTED:
                return _marked(self.key)[0][::2]
            case Scheme.NUMBER:
                return (_count(self.key),)
            case Scheme.DATE:
                return _calendar(self.key)[: 2 if self.end else 3]


def parse_version(text: str, scheme: Scheme) -> FirmwareVersion:
    """The version a text names under a scheme.

    A leading ``v`` is dropped. Raises :class:`InputError` where the text does not fit the scheme.

    >>> parse_version("3.5", Scheme.DOTTED) == parse_version("3.5.0", Scheme.DOTTED)
    True
    >>> parse_version("3.10", Scheme.DOTTED) == parse_version("3.1", Scheme.DOTTED)
    False
    """
    spelt = text.strip()
    match scheme:
        case Scheme.DOTTED:
            return _dotted(spelt)
        case Scheme.NUMBER:
            if found := _NUMBER.fullmatch(spelt):
                return FirmwareVersion(scheme, (int(found[1]),), found[1])
        case Scheme.DATE:
            return _date(spelt)
    raise _unfit(text, scheme)


def spell_key(key: Key, scheme: Scheme) -> str:
    """The shortest usual spelling of the version a key stands for, or just behind which it lies."""
    if scheme is Scheme.NUMBER:
        return str(key[0])
    if scheme is Scheme.DATE:
        year, month, day, letter = _calendar(key)
        return f"{year:04}-{month:02}-{day:02}{_letter(letter)}"
    held = _marked(key)[0]
    held += (0,) * (len(held) % 2)
    parts = [f"{n}{_letter(mark)}" for n, mark in zip(held[::2], held[1::2], strict=True)] or ["0"]
    return ".".join(parts if len(parts) > 1 or not parts[0].isdecimal() else [*parts, "0"])


def month_version(year: int, month: int) -> FirmwareVersion:
    """The version that stands for a whole month."""
    end = (year + 1, 1, 1, 0) if month == 12 else (year, month + 1, 1, 0)
    return FirmwareVersion(Scheme.DATE, (year, month, 1, 0), f"{year:04}-{month:02}", end)


def following_key(key: Key, scheme: Scheme) -> Key:
    """The first key after a point: where the versions newer than it begin.

    Whole numbers have a next one, and so have days: the day's next letter. Behind a dotted version
    there is no next one (3.5.0.1 comes before 3.5.1), but a point that no version has.
    """
    match scheme:
        case Scheme.NUMBER:
            return (_count(key) + 1,)
        case Scheme.DATE:
            year, month, day, letter = _calendar(key)
            if letter < _LETTERS:
                return (year, month, day, letter + 1)
            return _day(year, month, day + 1) or cast(Key, month_version(year, month).end)
        case Scheme.DOTTED:
            return (_marked(key)[0], 1)


def preceding_key(key: Key, scheme: Scheme) -> Key | None:
    """The version key just before a key, or nothing where none is (a dense spot of the line)."""
    match scheme:
        case Scheme.NUMBER:
            return (_count(key) - 1,) if _count(key) else None
        case Scheme.DATE:
            year, month, day, letter = _calendar(key)
            if letter:
                return (year, month, day, letter - 1)
            if day == 1:
                year, month, day = (year - 1, 12, 32) if month == 1 else (year, month - 1, 32)
            days = range(day - 1, 0, -1) if year else ()
            return next((found for one in days if (found := _last(year, month, one))), None)
        case Scheme.DOTTED:
            held, is_behind = _marked(key)
            return (held, 0) if is_behind else None


def is_behind(key: Key, scheme: Scheme) -> bool:
    """Whether a point is best named by the version just before it: one letter on, or its edge."""
    return scheme is not Scheme.NUMBER and key[-1] != 0


def _count(key: Key) -> int:
    return cast(int, key[0])


def _calendar(key: Key) -> tuple[int, int, int, int]:
    return cast("tuple[int, int, int, int]", key)


def _marked(key: Key) -> tuple[tuple[int, ...], int]:
    return cast("tuple[tuple[int, ...], int]", key)


def _letter(number: int) -> str:
    return chr(ord("a") + number - 1) if number else ""


def _number(letter: str | None) -> int:
    return ord(letter.lower()) - ord("a") + 1 if letter else 0


def _dotted(text: str) -> FirmwareVersion:
    found = _DOTTED.fullmatch(text)
    if not found:
        raise _unfit(text, Scheme.DOTTED)
    spelt = found[1].lower()
    held: list[int] = []
    for part in spelt.split("."):
        digits = part.rstrip("abcdefghijklmnopqrstuvwxyz")
        held += int(digits), _number(part[len(digits) :])
    while held and held[-1] == 0:
        held.pop()
    return FirmwareVersion(Scheme.DOTTED, (tuple(held), 0), spelt)


def _date(text: str) -> FirmwareVersion:
    found = _DATE.fullmatch(text)
    if not found:
        raise _unfit(text, Scheme.DATE)
    year, month, day = int(found[1]), int(found[2]), int(found[3] or 1)
    key = _day(year, month, day)
    if key is None:
        raise _unfit(text, Scheme.DATE)
    if found[3] is None:
        return month_version(year, month)
    return FirmwareVersion(Scheme.DATE, (*key[:3], _number(found[4])), text.lower())


def _day(year: int, month: int, day: int) -> Key | None:
    """The key of a day, or nothing where no calendar has it."""
    try:
        date(year, month, day)
    except ValueError:
        return None
    return (year, month, day, 0)


def _last(year: int, month: int, day: int) -> Key | None:
    """The last key of a day, or nothing where no calendar has it."""
    return (year, month, day, _LETTERS) if _day(year, month, day) else None


def _unfit(text: str, scheme: Scheme) -> InputError:
    shown = text if len(text) <= 40 else text[:37] + "..."
    return problem(
        f'"{shown}" is not a firmware version of the scheme "{scheme}".',
        advice=f"Write {_EXAMPLES[scheme]}.",
    )
