"""Firmware versions under the three schemes a maker may use.

A version is equal to another when they name the same firmware (``3.5`` and ``3.5.0``). It has no
order of its own: :mod:`cvlib.model.ranges` alone compares, through the keys made here.
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

_DOTTED = re.compile(r"[vV]?(\d{1,9}(?:\.\d{1,9}){0,7})([A-Za-z]?)", re.ASCII)
_NUMBER = re.compile(r"[vV]?(\d{1,9})", re.ASCII)
_DATE = re.compile(r"(\d{4})-(\d{2})(?:-(\d{2}))?", re.ASCII)

_EXAMPLES = {
    "dotted": "numbers joined by dots with at most one letter behind, such as 2.4.118 or 3.5a",
    "number": "one whole number, such as 37",
    "date": "a date, such as 2025-07-27 or 2012-07",
}


class Scheme(StrEnum):
    """How a maker counts firmware."""

    DOTTED = "dotted"
    NUMBER = "number"
    DATE = "date"


EARLIEST: dict[Scheme, Key] = {
    Scheme.DOTTED: ((), 0),
    Scheme.NUMBER: (0,),
    Scheme.DATE: (1, 1, 0),
}
"""The oldest version a scheme can name."""


@dataclass(frozen=True, slots=True)
class FirmwareVersion:
    """One firmware version: equal and hashed by what it names, not by how it is spelt."""

    scheme: Scheme
    key: Key
    text: str = field(compare=False)
    """As written by the person or the maker."""

    def __str__(self) -> str:
        """The version as it was written."""
        return self.text


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
    """The shortest usual spelling of the version a key stands for."""
    if scheme is Scheme.NUMBER:
        return str(key[0])
    if scheme is Scheme.DATE:
        year, month, day = _calendar(key)
        return f"{year:04}-{month:02}" + (f"-{day:02}" if day else "")
    parts, suffix = _parts(key)
    shown = parts if len(parts) > 1 else (*parts, 0)[:2] if parts else (0, 0)
    return ".".join(map(str, shown)) + ("" if suffix == 0 else chr(ord("a") + suffix - 1))


def following_key(key: Key, scheme: Scheme) -> Key:
    """The first key after a version's own: where the versions newer than it begin.

    Whole numbers and dates have a next one. A dotted version is followed by its next letter;
    behind the letter z lies a point that no version has, before the next longer number.
    """
    match scheme:
        case Scheme.NUMBER:
            return (_count(key) + 1,)
        case Scheme.DATE:
            return _next_day(key)
        case Scheme.DOTTED:
            parts, suffix = _parts(key)
            return (parts, suffix + 1)


def preceding_key(key: Key, scheme: Scheme) -> Key | None:
    """The version key just before a key, or nothing where none is (a dense spot of the line)."""
    match scheme:
        case Scheme.NUMBER:
            return (_count(key) - 1,) if _count(key) else None
        case Scheme.DATE:
            return _previous_day(key)
        case Scheme.DOTTED:
            parts, suffix = _parts(key)
            return (parts, suffix - 1) if suffix else None


def _count(key: Key) -> int:
    return cast(int, key[0])


def _calendar(key: Key) -> tuple[int, int, int]:
    return cast("tuple[int, int, int]", key)


def _parts(key: Key) -> tuple[tuple[int, ...], int]:
    return cast("tuple[tuple[int, ...], int]", key)


def _dotted(text: str) -> FirmwareVersion:
    found = _DOTTED.fullmatch(text)
    if not found:
        raise _unfit(text, Scheme.DOTTED)
    parts = [int(part) for part in found[1].split(".")]
    while parts and parts[-1] == 0:
        parts.pop()
    suffix = ord(found[2].lower()) - ord("a") + 1 if found[2] else 0
    spelt = found[1] + found[2].lower()
    return FirmwareVersion(Scheme.DOTTED, (tuple(parts), suffix), spelt)


def _date(text: str) -> FirmwareVersion:
    found = _DATE.fullmatch(text)
    if not found:
        raise _unfit(text, Scheme.DATE)
    year, month, day = int(found[1]), int(found[2]), int(found[3] or 0)
    try:
        date(year, month, day or 1)
    except ValueError:
        raise _unfit(text, Scheme.DATE) from None
    if found[3] == "00":
        raise _unfit(text, Scheme.DATE)
    return FirmwareVersion(Scheme.DATE, (year, month, day), text)


def _next_day(key: Key) -> Key:
    year, month, day = _calendar(key)
    try:
        date(year, month, day + 1)
    except ValueError:
        return (year + 1, 1, 0) if month == 12 else (year, month + 1, 0)
    return (year, month, day + 1)


def _previous_day(key: Key) -> Key | None:
    year, month, day = _calendar(key)
    if day:
        return (year, month, day - 1)
    if (year, month) == (1, 1):
        return None
    year, month = (year - 1, 12) if month == 1 else (year, month - 1)
    for last in (31, 30, 29):
        try:
            date(year, month, last)
        except ValueError:
            continue
        return (year, month, last)
    return (year, month, 28)


def _unfit(text: str, scheme: Scheme) -> InputError:
    shown = text if len(text) <= 40 else text[:37] + "..."
    return problem(
        f'"{shown}" is not a firmware version of the scheme "{scheme}".',
        advice=f"Write {_EXAMPLES[scheme]}.",
    )
