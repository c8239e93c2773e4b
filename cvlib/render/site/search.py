"""What is found by which word: the entries of a decoder for the index.

The index is cut into scripts by the first letters of a word, because a browser lets a page fetch
nothing from a disk, but run scripts that lie beside it.
"""

from __future__ import annotations

import json
import re
import unicodedata
from collections.abc import Iterable, Iterator, Mapping
from typing import NamedTuple

from cvlib.engine.known.told import where_text
from cvlib.engine.known.trade_words import GERMAN, Sought
from cvlib.render.phrases import in_firmware
from cvlib.render.site.facts import DecoderFacts, anchor
from cvlib.render.views.settings import short_where

_WORD = re.compile(r"[a-z0-9]+")
MOST_LETTERS = 40
"""Letters of a word that count."""


class Entry(NamedTuple):
    """One thing that a word leads to, as the script reads it."""

    word: str
    data: str


class CvUse(NamedTuple):
    """One use of a CV by a decoder, for the page of that CV."""

    cv: int
    title: str
    at: str
    """The place on the decoder's page."""
    where: str
    firmware: str


def folded(text: str) -> list[str]:
    """The words of a text as the index has them: small letters, umlauts folded.

    >>> folded("Bremsverzögerung (CV 4)")
    ['bremsverzoegerung', 'cv', '4']
    """
    plain = unicodedata.normalize("NFKD", text.casefold().translate(GERMAN))
    letters = "".join(char for char in plain if not unicodedata.combining(char))
    return [word[:MOST_LETTERS] for word in _WORD.findall(letters)]


def part_of(word: str) -> str:
    """The part of the index that a word stands in: its first two letters."""
    return word[:2]


def entries_of(facts: DecoderFacts) -> Iterator[Entry]:
    """Every word of a decoder with what it leads to."""
    profile = facts.profile
    for word in {*folded(facts.name), *folded(profile.id), *folded(profile.kind)}:
        yield Entry(word, _packed("d", profile.id))
    for version in facts.versions:
        text = str(version)
        whole = "".join(_WORD.findall(text.lower()))
        found = _packed("v", profile.id, text, anchor(f"at-{text}"))
        for word in {whole, *folded(text)}:
            yield Entry(word, found)
    for setting in facts.settings:
        slots = {field.slot.cv for place in setting.places for field in place.fields}
        where = dict.fromkeys(
            f"{short_where(place)} {in_firmware(facts.resolver.known(setting, place).text())}"
            for place in setting.places
        )
        data = _packed("s", profile.id, anchor(f"s-{setting.id}"), setting.title, "; ".join(where))
        for word in {*folded(setting.title), *folded(setting.id), *map(str, slots)}:
            yield Entry(word, data)


def code_entries(folder: str, rows: Iterable[tuple[str, str]]) -> Iterator[Entry]:
    """Every word of codes of findings with the page it leads to."""
    for code, sentence in rows:
        for word in folded(code):
            yield Entry(word, _packed("c", f"codes/{folder}-{code}.html", code, sentence))


def uses_of(facts: DecoderFacts) -> Iterator[CvUse]:
    """Every CV of a decoder with the settings that had it, and in which firmware."""
    for setting in facts.settings:
        for place in setting.places:
            firmware = in_firmware(facts.resolver.known(setting, place).text())
            for cv in sorted({field.slot.cv for field in place.fields}):
                where = where_text(place)
                yield CvUse(cv, setting.title, anchor(f"s-{setting.id}"), where, firmware)


def _packed(*parts: str) -> str:
    return json.dumps(parts, ensure_ascii=True, separators=(",", ":"))


def index_part(name: str, rows: Iterable[tuple[str, str]]) -> str:
    """One script of the index: its words, each with what it leads to. Rows come word by word."""
    found: dict[str, list[str]] = {}
    for word, data in rows:
        found.setdefault(word, []).append(data)
    words = ",\n".join(f"{json.dumps(word)}:[{','.join(held)}]" for word, held in found.items())
    return f"catalogue.part({json.dumps(name)},{{{words}}});\n"


def index_words(
    words: Iterable[str],
    decoders: Iterable[tuple[str, str]],
    cvs: Iterable[int],
    trade: Mapping[str, Sought],
) -> str:
    """The script with every word there is, the decoders, the CVs that have a page, and what to
    look for by each word of the trade.
    """
    data = {
        "words": list(words),
        "decoders": dict(decoders),
        "cvs": list(cvs),
        "trade": {" ".join(folded(name)): list(sought) for name, sought in trade.items()},
    }
    return f"catalogue.words({json.dumps(data, ensure_ascii=True, separators=(',', ':'))});\n"
