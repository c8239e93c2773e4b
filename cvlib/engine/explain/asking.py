"""What sort of thing each word is that a person asks about."""

from __future__ import annotations

import re
from collections.abc import Iterable
from enum import StrEnum

from cvlib.engine.lint.rules import RULES
from cvlib.findings.catalogue import CATALOGUE

_PAGE = re.compile(r"\d{1,3}/\d{1,3}", re.ASCII)
_CV = re.compile(r"(?:CV[-_#.: ]*)?-?\d+(?:@\d+/\d+)?", re.ASCII | re.IGNORECASE)
_LEFT_OUT = ("cv", "cvs", "page")
CODES = (*(row.code for row in CATALOGUE), *(rule.code for rule in RULES))
"""The codes of findings: those of a check, then those of lint."""


class Kind(StrEnum):
    """A sort of thing that can be explained."""

    VALUE = "value"
    CV = "cv"
    PAGE = "page"
    CODE = "code"
    WORDS = "words"
    """The id of a setting, or words from its title."""


def sorted_things(words: Iterable[str]) -> list[tuple[Kind, str]]:
    """Each thing with its kind, in the order given; words that follow one another are one thing.

    >>> [text for _, text in sorted_things(["CV", "29", "stopping", "distance", "unset"])]
    ['29', 'stopping distance', 'unset']
    """
    found: list[tuple[Kind, str]] = []
    for word in (word.strip() for word in words):
        if not word or word.casefold() in _LEFT_OUT:
            continue
        kind = kind_of(word)
        last = found[-1] if found else None
        if kind is Kind.WORDS and last and last[0] is kind and not _is_id(word, last[1]):
            found[-1] = (kind, f"{last[1]} {word}")
        else:
            found.append((kind, word.casefold() if kind is Kind.CODE else word))
    return found


def kind_of(word: str) -> Kind:
    """What sort of thing a word is."""
    if "=" in word:
        return Kind.VALUE
    if _PAGE.fullmatch(word):
        return Kind.PAGE
    if _CV.fullmatch(word):
        return Kind.CV
    return Kind.CODE if word.casefold() in CODES else Kind.WORDS


def _is_id(*words: str) -> bool:
    """Whether any of the words looks like the id of a setting, which stands alone."""
    return any("." in word.strip(".") for word in words)
