"""Words of the trade as people type them, and whether a setting is about one."""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping, Sequence
from typing import TypeAlias

Sought: TypeAlias = tuple[str, ...]
"""What to look for: in one entry every word must be found, each as the beginning of a word."""
GERMAN = str.maketrans({"ä": "ae", "ö": "oe", "ü": "ue", "ß": "ss"})
"""German letters as they are typed without them."""


def word_list(rows: Iterable[Sequence[str]]) -> dict[str, Sought]:
    """What to look for by each word, out of rows of words and of what they are about."""
    found: dict[str, Sought] = {}
    for names, sought in rows:
        for name in map(plain_word, names.split(",")):
            found[name] = (*found.get(name, ()), *sought.split("; "))
    return found


def sought_for(words: Iterable[str], known: Mapping[str, Sought]) -> tuple[Sought, ...]:
    """What to look for by each word that a person types; by the word itself if it is not known.

    >>> sought_for(["Bremsweg"], {"bremsweg": ("stop distance",)})
    (('stop distance',),)
    """
    return tuple(known.get(plain_word(word), (word,)) for word in words)


def finds(sought: Sought, text: str) -> bool:
    """Whether a text has all words of one entry.

    >>> finds(("stop distance",), "braking.stopping-distance")
    True
    """
    words = plain_word(text)
    return any(all(_begins(word, words) for word in plain_word(one).split()) for one in sought)


def plain_word(text: str) -> str:
    """A word as it is compared: without capitals, umlauts and hyphens."""
    return " ".join(text.casefold().translate(GERMAN).replace("-", " ").split())


def _begins(word: str, text: str) -> bool:
    return re.search(rf"(?<![^\W_]){re.escape(word)}", text) is not None
