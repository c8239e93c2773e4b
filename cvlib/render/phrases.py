"""Phrases that every output shares: lists, counts, firmware ranges, CVs with their values."""

from __future__ import annotations

import re
from collections.abc import Iterable, Sequence

from cvlib.findings.finding import Bits, Told
from cvlib.model.cv import bit_words, bits_of, bits_text, spans_text

FEW = 3
"""How many things are named before the rest is counted."""

_COMPARISON = re.compile(r"(>=|<=|==|>|<)(\S+)")
_SPANS = {
    "==": "{}",
    ">=": "{} and newer",
    ">": "newer than {}",
    "<=": "{} and older",
    "<": "older than {}",
    ">= <=": "{} to {}",
    ">= <": "{} to before {}",
    "> <=": "after {} to {}",
    "> <": "after {} and before {}",
}


def firmware_words(text: str) -> str:
    """A firmware range as people say it.

    >>> firmware_words(">=2.0, <=2.4.118")
    '2.0 to 2.4.118'
    >>> firmware_words(">2.4.118, <4.0")
    'after 2.4.118 and before 4.0'
    >>> firmware_words(">=4.0 or ==3.1")
    '4.0 and newer or 3.1'
    """
    return " or ".join(_span_words(span) for span in text.split(" or "))


def in_firmware(text: str) -> str:
    """The same with what belongs before it: ``in firmware 2.0 to 2.4.118``."""
    if text in ("every firmware", "no firmware"):
        return f"in {text}"
    return f"in firmware {firmware_words(text)}"


def listed(items: Sequence[str], most: int | None = None, last: str = "and") -> str:
    """Things named one after another, the rest counted where there are too many.

    >>> listed(["a", "b", "c"])
    'a, b and c'
    >>> listed(["a", "b", "c"], 2)
    'a, b and 1 more'
    """
    shown = list(items)
    if most is not None and len(shown) > most:
        shown = [*shown[:most], f"{len(shown) - most} more"]
        last = "and"
    if len(shown) < 2:
        return "".join(shown)
    return f"{', '.join(shown[:-1])} {last} {shown[-1]}"


def counted(number: int, one: str, many: str = "") -> str:
    """A number with its noun: ``1 error``, ``3 errors``."""
    return f"{number} {one if number == 1 else many or one + 's'}"


def cvs_text(bits: Iterable[Bits]) -> str:
    """Saved CVs and bits with their values, whole CVs plainly and long runs as a span."""
    masks: dict[tuple[int, str, int], int] = {}
    for held in bits:
        key = (held.cv, held.page, held.value)
        masks[key] = masks.get(key, 0) | held.mask
    merged = [Bits(cv, page, mask, value) for (cv, page, value), mask in masks.items()]
    if len(merged) <= FEW:
        return ", ".join(map(_bits_text, merged))
    return runs_text(merged)


def runs_text(bits: Iterable[Bits]) -> str:
    """Saved CVs without values, page by page: ``CVs 1-6, 29, CVs 257-260 on page 16/2``."""
    return pages_text((held.cv, held.page) for held in bits)


def pages_text(cvs: Iterable[tuple[int, str]]) -> str:
    """The same of CVs, each with its page in words; empty: none."""
    pages: dict[str, list[int]] = {}
    for cv, page in cvs:
        pages.setdefault(page, []).append(cv)
    return ", ".join(run_text(numbers, page) for page, numbers in pages.items())


def run_text(numbers: Sequence[int], page: str = "") -> str:
    """CV numbers without values, spans joined: ``CVs 67-94 on page 16/2``."""
    shown = spans_text(tuple(sorted(set(numbers))))
    on_page = f" on page {page}" if page else ""
    return f"CV{'s' if len(set(numbers)) > 1 else ''} {shown}{on_page}"


def _bits_text(held: Bits) -> str:
    name = f"CV {held.cv}" + (f" on page {held.page}" if held.page else "")
    if held.mask == 0xFF:
        return f"{name} = {held.value}"
    bits = list(bits_of(held.mask))
    value = (held.value & held.mask) >> bits[0]
    if bits[-1] - bits[0] + 1 == len(bits):
        return f"{name} {bit_words(held.mask)} = {value}"
    on = bits_text(held.value & held.mask)
    return f"{name} bits {bits_text(held.mask)}, {f'of which {on} set' if on else 'none set'}"


def _span_words(span: str) -> str:
    found = _COMPARISON.findall(span.replace(",", " "))
    if not found:
        return span
    signs = " ".join(sign for sign, _ in found)
    return _SPANS[signs].format(*(version for _, version in found))


def first_up(text: str) -> str:
    """The text with a capital letter first; the rest stays."""
    return text[:1].upper() + text[1:]


def by_setting(told: Iterable[Told]) -> dict[str, list[Told]]:
    """What is told, setting by setting, in the order it is told."""
    found: dict[str, list[Told]] = {}
    for one in told:
        found.setdefault(one.setting, []).append(one)
    return found


def valued(told: Told) -> str:
    """The title of a setting, with what is saved of it where that is known and allowed there."""
    if told.value and not told.is_allowed:
        return f"{told.title} (not allowed here)"
    return f"{told.title} ({told.value})" if told.value else told.title


def used_as(told: Iterable[Told], most: int | None) -> str:
    """What CVs are in which firmware: ``Stopping distance (80 cm) in firmware 2.4.118``."""
    said = [f"{valued(one)} {in_firmware(one.firmware)}" for one in told]
    return listed(list(dict.fromkeys(said)), most)
