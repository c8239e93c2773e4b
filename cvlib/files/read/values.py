"""One CV and one value as people write them, and the values of a list gathered.

A CV is ``27``, ``CV27``, ``CV 27`` or ``257@16/2``; a value is ``3``, ``0x03``, ``$03``, ``03h``,
``0b11`` or ``%11``.
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from enum import Enum

from cvlib.errors import Fault, InputError, Position, problem
from cvlib.files.read.faults import raise_faults
from cvlib.files.text import quoted
from cvlib.model.cv import FIRST_PAGED, LAST_PAGED, WHOLE, Page, Slot, make_slot, parse_page
from cvlib.model.loco import SavedValue

MOST_FAULTS = 20
"""How many faults of a list are told; the rest are counted."""

_PREFIX = r"(?:CV(?:[-_]|[\s.#:]*)|#)?"
CV_FORM = rf"{_PREFIX}-?\d+(?:\s*@\s*\d+\s*/\s*\d+)?"
"""A CV as a regular expression without groups, for ASCII digits and letters of any case."""

_CV = re.compile(rf"{_PREFIX}(-?\d+)(?:\s*@\s*(\d+\s*/\s*\d+))?", re.I | re.A)
_DECIMAL = re.compile(r"-?\d+", re.A)
_FRACTION = re.compile(r"-?\d*[.,]\d+", re.A)
_HEXADECIMAL = re.compile(r"(?:0x|\$|&h)([0-9a-f]+) | (\d[0-9a-f]*)h", re.I | re.A | re.X)
_BINARY = re.compile(r"(?:0b|%)([01_\ ]*[01]) | ([01]{4,})b", re.I | re.X)
_HEXADECIMAL_COLUMN = re.compile(r"(?:0x|\$|&h)?([0-9a-f]+)h?", re.I)
_BARE_BINARY = re.compile(r"[01_ ]*[01]")
_EIGHT_BITS = re.compile(r"[01]{8}")
_MOST_DIGITS = 9


class Notation(Enum):
    """How a column writes its numbers where they carry no mark of their own."""

    DECIMAL = 10
    HEXADECIMAL = 16
    BINARY = 2


def parse_cv(text: str) -> Slot:
    """The slot that a CV number means, on a page when one is written with it."""
    found = _CV.fullmatch(text.strip())
    if found is None:
        raise problem(
            f"{quoted(text.strip())} is not a CV number.", advice="CV numbers run from 1 to 1024."
        )
    number = found[1].lstrip("0") or "0"
    if len(number) > _MOST_DIGITS:
        raise problem(
            f"CV {number[:_MOST_DIGITS]}… does not exist.", advice="CV numbers run from 1 to 1024."
        )
    page = re.sub(r"\s", "", found[2] or "")
    return make_slot(int(number), parse_page(page) if page else None)


def parse_value(text: str, slot: Slot, notation: Notation = Notation.DECIMAL) -> int:
    """The value, 0-255, that a text gives the CV."""
    text = text.strip()
    if not text:
        raise problem(f"{slot} has no value.", advice="Write one, 0 to 255, or remove the line.")
    if notation is Notation.DECIMAL and _EIGHT_BITS.fullmatch(text):
        raise problem(
            f"{slot}: {text} may be binary or decimal.",
            advice=f"Write 0b{text} for the bits, or the number without leading zeros.",
        )
    number = _number(text, notation)
    if number is not None and 0 <= number <= WHOLE:
        return number
    if number is not None:
        shown = text if len(text) <= _MOST_DIGITS else f"{text[:_MOST_DIGITS]}…"
        raise problem(f"{slot} cannot hold {shown}.", advice="CV values run from 0 to 255.")
    if _FRACTION.fullmatch(text):
        raise problem(
            f"{slot} cannot hold {quoted(text)[1:-1]}.",
            advice="CV values are whole numbers from 0 to 255.",
        )
    raise problem(
        f"{slot}: {quoted(text)} is not a value.",
        advice="Write a whole number from 0 to 255, such as 3, 0x03 or 0b11.",
    )


def readings(text: str) -> set[int]:
    """All numbers that a bare or marked number may mean; none when it is not a number."""
    found = {_number(text, notation) for notation in Notation}
    return {number for number in found if number is not None}


def _number(text: str, notation: Notation) -> int | None:
    """The number that a text means; numbers too long for any CV come back as -1 or less."""
    digits, base = text, 10
    if notation is Notation.HEXADECIMAL:
        found = _HEXADECIMAL_COLUMN.fullmatch(text)
        if found is None:
            return -1 if _DECIMAL.fullmatch(text) else None
        digits, base = found[1], 16
    elif found := _HEXADECIMAL.fullmatch(text):
        digits, base = found[1] or found[2], 16
    elif found := _BINARY.fullmatch(text):
        digits, base = found[1] or found[2], 2
    elif notation is Notation.BINARY and _BARE_BINARY.fullmatch(text):
        base = 2
    elif not _DECIMAL.fullmatch(text):
        return None
    digits = re.sub(r"[_ ]", "", digits).lstrip("0") or "0"
    return int(digits, base) if len(digits) <= _MOST_DIGITS else -1


class Gathered:
    """The values of one list as they come in, with every fault met on the way.

    Values of CV 31 and CV 32 choose the page of the CVs 257-512 that follow them; once they did,
    they may come again.
    """

    def __init__(self, how: str = "") -> None:
        self.faults: list[Fault] = []
        self._how = how
        self._values: dict[Slot, SavedValue] = {}
        self._index: dict[int, int] = {}
        self._since_paged: set[int] = set()

    def add(self, slot: Slot, value: int, position: Position | None = None) -> Slot:
        """Take in one value and give its slot; raises InputError when the CV has another value."""
        if slot.page is None and FIRST_PAGED <= slot.cv <= LAST_PAGED and len(self._index) == 2:
            slot = Slot(slot.cv, Page(self._index[31], self._index[32]))
            self._since_paged.clear()
        known = self._values.get(slot)
        may_differ = slot.cv in (31, 32) and slot.cv not in self._since_paged
        if known is not None and known.value != value and not may_differ:
            raise _two_values(known, value, position)
        if slot.cv in (31, 32):
            self._index[slot.cv] = value
            self._since_paged.add(slot.cv)
        if known is None or slot.cv in (31, 32):
            self._values[slot] = SavedValue(slot, value, how=self._how, position=position)
        return slot

    def values(self) -> Mapping[Slot, SavedValue]:
        """All values; raises InputError with the faults where there are any."""
        raise_faults(self.faults, MOST_FAULTS)
        return self._values


def _two_values(known: SavedValue, value: int, position: Position | None) -> InputError:
    """The fault of a CV that is given two different values."""
    if known.position is None:
        text = f"{known.slot} is given twice, as {known.value} and as {value}."
    else:
        text = f"{known.slot} is {value} here but {known.value} in line {known.position.line}."
    return problem(text, advice="Keep the one that is right.", position=position)
