"""Whether two names of a setting can mean the same: their words compared, English and German."""

from __future__ import annotations

import re
from collections.abc import Mapping
from functools import cache

from cvlib.model.profile import Setting

_WORD = re.compile(r"[^\W\d_]+|\d+")
_ALIKE = 4
"""Letters at the start that make two words the same: "acceleration", "accelerate"."""
_EMPTY = frozenset(
    (
        *("the", "and", "for", "with", "from", "value", "number", "setting", "byte", "bit", "bits"),
        *("cv", "of", "in", "on", "at", "to", "or", "a", "by", "der", "die", "das", "und", "für"),
        *("wert", "nummer", "rate", "output", "function", "mode", "time", "state"),
    )
)
_GERMAN: Mapping[str, str] = {
    "adress": "address",
    "lok": "loco",
    "kurz": "short",
    "basis": "primary",
    "lang": "extended",
    "erweitert": "extended",
    "mehrfach": "consist",
    "verbund": "consist",
    "doppeltraktion": "consist",
    "anfahr": "minimum start",
    "mindest": "minimum",
    "höchst": "maximum",
    "maximal": "maximum",
    "end": "maximum",
    "mittel": "middle",
    "mittl": "middle",
    "geschwindigkeit": "speed voltage",
    "spannung": "voltage speed",
    "beschleunig": "acceleration",
    "anfahrverzög": "acceleration",
    "brems": "deceleration",
    "verzöger": "deceleration",
    "hersteller": "manufacturer",
    "version": "version",
    "konfig": "configuration",
    "grundeinstell": "configuration",
    "kennlinie": "table",
    "tabelle": "table",
    "fahrstufen": "steps",
    "fahrtrichtung": "direction reversed",
    "richtung": "direction reversed",
    "analog": "analogue",
    "gleichstrom": "analogue",
    "trimm": "trim",
    "vorwärts": "forward",
    "rückwärts": "reverse",
    "lastregel": "feedback",
    "frequenz": "frequency",
    "periode": "period",
    "zeitüber": "time-out packet",
    "rückmeld": "bidirectional",
    "sperr": "lock",
    "schloss": "lock",
    "licht": "light",
    "index": "index",
}
"""How German words of the trade begin, and the English words for them."""
_SAME: Mapping[str, str] = {
    "long": "extended",
    "short": "primary",
    "top": "maximum",
    "high": "maximum",
    "mid": "middle",
    "id": "manufacturer",
    "accelerating": "acceleration",
    "braking": "deceleration",
    "start": "minimum",
    "voltage": "speed",
    "directional": "bidirectional",
    "config": "configuration",
    "analog": "analogue",
}


def is_like(title: str, setting: Setting, *, by_group: bool = False) -> bool:
    """Whether what a table calls a setting shares a word of weight with its title or name.

    A number counts only where it is all that there is. ``by_group``: one that it shares with the
    group is enough.
    """
    group, _, name = setting.id.partition(".")
    own, other = words(title), words(f"{setting.title} {name} {group if by_group else ''}")
    met = [one for one in own if any(_meet(one, held) for held in other)]
    return any(not one.isdecimal() for one in met) or (bool(met) and len(met) == len(own))


def closeness(title: str, other: str) -> float:
    """How much of two names is the same, from 0 to 1."""
    one, two = words(title), words(other)
    met = sum(any(_meet(word, held) for held in two) for word in one)
    back = sum(any(_meet(word, held) for held in one) for word in two)
    return (met + back) / (len(one) + len(two)) if one and two else 0.0


@cache
def words(text: str) -> frozenset[str]:
    """The words of weight in a name, in English where they are of the trade."""
    found: set[str] = set()
    for word in _WORD.findall(text.casefold().replace("bi-directional", "bidirectional")):
        found.add(word)
        for start, english in _GERMAN.items():
            if start in word if len(start) > 4 else word.startswith(start):
                found.update(english.split())
    found |= {_SAME[one] for one in found if one in _SAME}
    return frozenset(found - _EMPTY)


def _meet(one: str, other: str) -> bool:
    return one == other or (len(one) >= _ALIKE <= len(other) and one[:5] == other[:5])
