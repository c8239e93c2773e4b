"""What a value occupies: a CV number, the index page it lies on, and the bits it uses.

Numbers and pages as in NMRA S-9.2.2 and RCN-225: CVs 1-1024, of which 257-512 lie on the page
chosen by CV 31 and CV 32.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from typing import NamedTuple

from cvlib.errors import problem

FIRST_CV, LAST_CV = 1, 1024
FIRST_PAGED, LAST_PAGED = 257, 512
WHOLE = 0xFF
"""The mask of all eight bits of a CV."""

_PAGE = re.compile(r"(\d{1,3})/(\d{1,3})", re.ASCII)
_SPAN = re.compile(r"(\d{1,4})(?:\s*-\s*(\d{1,4}))?", re.ASCII)


class Page(NamedTuple):
    """An index page: the values of CV 31 and CV 32."""

    high: int
    low: int

    def __str__(self) -> str:
        """The page as people write it, ``16/2``."""
        return f"{self.high}/{self.low}"


class Slot(NamedTuple):
    """One CV, on an index page where it lies on one."""

    cv: int
    page: Page | None = None

    def __str__(self) -> str:
        """The slot in words, ``CV 257 on page 16/2``."""
        return f"CV {self.cv}" + (f" on page {self.page}" if self.page else "")

    @property
    def typed(self) -> str:
        """The slot as it is typed and listed, ``257@16/2``."""
        return f"{self.cv}@{self.page}" if self.page else str(self.cv)

    @property
    def order(self) -> tuple[int, Page]:
        """The key that sorts slots: by number, unpaged before paged."""
        return self.cv, self.page or Page(-1, -1)


@dataclass(frozen=True, slots=True)
class Field:
    """The part of one CV that a setting uses."""

    slot: Slot
    mask: int = WHOLE
    """Its bits, as a number 1-255."""

    @property
    def shift(self) -> int:
        """How far the field lies above bit 0."""
        return (self.mask & -self.mask).bit_length() - 1

    @property
    def width(self) -> int:
        """How many bits from the lowest to the highest of the field."""
        return self.mask.bit_length() - self.shift

    def take(self, byte: int) -> int:
        """The field's own value out of a CV value."""
        return (byte & self.mask) >> self.shift

    def put(self, byte: int, value: int) -> int:
        """The CV value with the field set; the other bits stay."""
        return (byte & ~self.mask & WHOLE) | (value << self.shift & self.mask)

    @property
    def bits(self) -> str | None:
        """The bits in words, ``0-3``, or nothing for a whole CV."""
        return None if self.mask == WHOLE else bits_text(self.mask)


def check_cv(number: int) -> int:
    """The CV number, refused unless it is 1-1024."""
    if not FIRST_CV <= number <= LAST_CV:
        raise problem(f"CV {number} does not exist.", advice="CV numbers run from 1 to 1024.")
    return number


def parse_page(text: str) -> Page:
    """The index page a text such as ``16/2`` means."""
    found = _PAGE.fullmatch(text.strip())
    if not found or max(int(found[1]), int(found[2])) > WHOLE:
        raise problem(
            f'"{text[:40]}" is not an index page.',
            advice='Write the values of CV 31 and CV 32, each 0-255, such as "16/2".',
        )
    return Page(int(found[1]), int(found[2]))


def make_slot(cv: int, page: Page | None = None) -> Slot:
    """A slot, refused unless the CV exists and a page is given only to CVs 257-512."""
    check_cv(cv)
    if page is not None and not FIRST_PAGED <= cv <= LAST_PAGED:
        raise problem(
            f"CV {cv} cannot lie on an index page.",
            advice="Only CVs 257 to 512 lie on a page; leave the page out.",
        )
    return Slot(cv, page)


def parse_slot(text: str) -> Slot:
    """The slot a text such as ``27`` or ``257@16/2`` means."""
    number, at, page = text.strip().partition("@")
    if not number.isascii() or not number.isdecimal() or len(number) > 9:
        raise problem(f'"{text[:40]}" is not a CV number.', advice="CV numbers run from 1 to 1024.")
    return make_slot(int(number), parse_page(page) if at else None)


def parse_numbers(text: str, low: int, high: int, what: str) -> tuple[int, ...]:
    """The numbers a text such as ``3, 6-7`` lists, in the order given."""
    numbers: list[int] = []
    for part in text.split(","):
        found = _SPAN.fullmatch(part.strip())
        first = int(found[1]) if found else -1
        last = int(found[2] or found[1]) if found else -1
        if not low <= first <= last <= high:
            raise problem(
                f'{what} "{text[:40]}" is not understood.',
                advice=f"Write numbers {low}-{high} or spans, lower number first.",
            )
        numbers.extend(range(first, last + 1))
    return tuple(numbers)


def parse_bits(text: str) -> int:
    """The mask of the bits a text such as ``0-3`` names; bits are numbered 0-7 from the low end."""
    return sum(1 << bit for bit in set(parse_numbers(text, 0, 7, "bits")))


def bits_of(mask: int) -> Iterator[int]:
    """The numbers of the bits set, lowest first."""
    return (bit for bit in range(mask.bit_length()) if mask >> bit & 1)


def bits_text(mask: int) -> str:
    """The bits set in words, spans joined: ``0-3, 6``."""
    return spans_text(tuple(bits_of(mask)))


def bit_words(mask: int) -> str:
    """The bits set with their noun: ``bit 4``, ``bits 0-3, 6``."""
    return f"bit{'s' if mask.bit_count() > 1 else ''} {bits_text(mask)}"


def spans_text(numbers: tuple[int, ...]) -> str:
    """Rising numbers in words, spans joined: ``67-94, 96``."""
    return ", ".join(str(a) if a == b else f"{a}-{b}" for a, b in spans_of(numbers))


def spans_of(numbers: Iterable[int]) -> list[list[int]]:
    """Rising numbers as spans, each its first and its last.

    >>> spans_of((3, 6, 7))
    [[3, 3], [6, 7]]
    """
    spans: list[list[int]] = []
    for number in numbers:
        if spans and number == spans[-1][1] + 1:
            spans[-1][1] = number
        else:
            spans.append([number, number])
    return spans
