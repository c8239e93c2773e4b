"""Titles, helps and units that mislead: the same thing in two words, or two things in one."""

from __future__ import annotations

import re
from collections import Counter, defaultdict
from collections.abc import Iterable, Iterator, Mapping
from itertools import combinations
from typing import Any

from cvlib.engine.known.conditions import exclude, places_in
from cvlib.engine.known.line import Known
from cvlib.engine.known.neighbours import without_index
from cvlib.engine.lint.finding import LintFinding, LintRule, Spot, Subject, Whole, at_place
from cvlib.findings.catalogue import Severity
from cvlib.model.answer import Answer
from cvlib.model.coding import Number
from cvlib.model.cv import Slot
from cvlib.model.profile import Place, Profile, Setting
from cvlib.model.ranges import FirmwareRange

SPELLINGS = {
    "s": "sec secs second seconds",
    "ms": "msec msecs millisecond milliseconds",
    "µs": "us μs usec microsecond microseconds",
    "min": "mins minute minutes",
    "h": "hr hrs hour hours",
    "mm": "millimetre millimetres millimeter millimeters",
    "cm": "centimetre centimetres centimeter centimeters",
    "m": "metre metres meter meters",
    "V": "volt volts",
    "mV": "millivolt millivolts",
    "A": "amp amps ampere amperes",
    "mA": "milliamp milliamps milliampere milliamperes",
    "Hz": "hertz",
    "kHz": "kilohertz",
    "MHz": "megahertz",
    "dB": "decibel decibels",
    "ohm": "Ω Ω ohms",
    "%": "percent per-cent pct",
    "°C": "℃ celsius degc deg-c degrees-c degree-celsius degrees-celsius",
    "degrees": "° deg degree",
    "1/min": "rpm r/min turns/min revs/min",
}
"""Units with the other ways in which people write them."""

_MEANT = {other.casefold(): unit for unit, more in SPELLINGS.items() for other in more.split()}
_MEANT |= {unit.casefold(): unit for unit in SPELLINGS}
_FILLING = frozenset(
    {"a", "an", "and", "are", "as", "at", "be", "by", "can", "cv", "cvs", "for", "from", "here"}
    | {"in", "is", "it", "its", "of", "or", "set", "sets", "setting", "settings", "that", "the"}
    | {"this", "to", "value", "values", "what", "which", "with", "your"}
)
"""Words that say nothing by themselves."""


def unit_spellings(whole: Whole) -> Iterator[tuple[str, LintFinding]]:
    """Units that most settings of the store spell in another way."""
    counts: dict[str, Counter[str]] = defaultdict(Counter)
    used = list(_units(whole))
    for _, _, _, unit in used:
        counts[meant(unit)][unit] += 1
    usual = {
        key: max(spelt, key=lambda unit: (spelt[unit], unit == key, unit))
        for key, spelt in counts.items()
    }
    for name, setting, place, unit in used:
        right = usual[meant(unit)]
        if unit == right:
            continue
        count = counts[meant(unit)][right]
        yield (
            name,
            LintFinding(
                at_place(setting, place, "unit"),
                f'"{setting.id}" has the unit "{unit}", which is spelt "{right}" in {count} other '
                f"place{'s' if count > 1 else ''}.",
                f'Write "{right}", so that values of this unit can be compared.',
            ),
        )


def meant(unit: str) -> str:
    """The unit that a spelling stands for, the same for every spelling of it."""
    plain = "-".join(unit.strip().strip(".").split())
    if plain in SPELLINGS:
        return plain
    folded = plain.casefold()
    return _MEANT.get(folded) or (_single(folded) if len(folded) > 3 else plain)


def _units(whole: Whole) -> Iterator[tuple[str, Setting, Place, str]]:
    """Each unit of each place that is written in some file, once; of a repeat the first."""
    seen: set[tuple[str, str, int]] = set()
    for name, setting in _written_once(whole):
        for number, place in enumerate(setting.places):
            key = (setting.origin or name, without_index(setting.id), number)
            unit = place.coding.unit if isinstance(place.coding, Number) else ""
            if unit and key not in seen:
                seen.add(key)
                yield name, setting, place, unit


def _written_once(whole: Whole) -> Iterator[tuple[str, Setting]]:
    """The settings that files write, each with the first profile that has it; no areas."""
    seen: set[tuple[str, str]] = set()
    for name, profile in whole.profiles.items():
        for setting in profile.settings.values():
            if setting.origin and "/blocks/" not in setting.origin:
                continue
            key = (setting.origin or name, setting.id)
            if key not in seen and not setting.is_area:
                seen.add(key)
                yield name, setting


def repeating_helps(subject: Subject) -> Iterator[LintFinding]:
    """Helps that say nothing but the title."""
    told: set[str] = set()
    for setting in subject.written:
        name = without_index(setting.id)
        if name in told or not setting.help:
            continue
        if said(setting.help) <= said(setting.title):
            told.add(name)
            yield LintFinding(
                Spot("setting", setting.id, key=("help",)),
                f'The help of "{setting.id}" only repeats its title "{setting.title}".',
                "Say what it does and what a person would set it for, or leave the help out.",
            )


def said(text: str) -> frozenset[str]:
    """The words of a text that say something, each in one form."""
    words = re.findall(r"[^\W_]+", text.casefold())
    return frozenset(_single(word) for word in words if word not in _FILLING)


def _single(word: str) -> str:
    """A word without the s of its plural."""
    return word[:-1] if len(word) > 3 and word.endswith("s") and word[-2] != "s" else word


def titles_twice(subject: Subject) -> Iterator[LintFinding]:
    """Two settings of one group with the same title that exist together at some firmware."""
    groups: dict[tuple[str, str], list[Setting]] = defaultdict(list)
    for setting in subject.settings:
        if not setting.is_area:
            groups[_owner(setting.id), setting.title.casefold()].append(setting)
    covered = list(subject.answers(Known.COVERED))
    told: set[tuple[str, str]] = set()
    for alike in groups.values():
        for one, other in combinations(alike, 2):
            names = (without_index(one.id), without_index(other.id))
            if names[0] == names[1] or names in told:
                continue
            firmware = _together(covered, one, other)
            if firmware is None:
                continue
            told.add(names)
            mine = min((one, other), key=lambda setting: setting.origin)
            theirs = other if mine is one else one
            yield LintFinding(
                Spot("setting", mine.id, key=("title",)),
                f'"{mine.id}" and "{theirs.id}" are both called "{mine.title}", and both exist at '
                f"{firmware.text()}.",
                "Give each a title of its own, so that people can tell them apart.",
                Spot("setting", theirs.id, key=("title",)),
            )


def _owner(id: str) -> str:
    """What stands before the last dot of an id, with its index."""
    return id.rpartition(".")[0]


def _together(
    covered: Iterable[tuple[FirmwareRange, Mapping[str, Answer]]], one: Setting, other: Setting
) -> FirmwareRange | None:
    """The firmware that has both, neither of them only while the other is not there."""
    found: FirmwareRange | None = None
    for firmware, answers in covered:
        mine, theirs = answers[one.id].place, answers[other.id].place
        if mine is None or theirs is None or exclude(places_in(answers), mine, theirs):
            continue
        found = found | firmware if found else firmware
    return found


def differing_titles(whole: Whole) -> Iterator[tuple[str, LintFinding]]:
    """Settings of one id whose titles have no word in common with those of other profiles.

    Where a standard has the id, its titles are right, but at the CV of the standard a handbook may
    have words of its own; else the title that most profiles of the maker have.
    """
    standard: dict[str, list[Setting]] = defaultdict(list)
    usual: dict[tuple[str, str], Counter[str]] = defaultdict(Counter)
    written = list(_written_once(whole))
    for name, setting in written:
        if _is_standard(whole.profiles[name]):
            standard[setting.id].append(setting)
        else:
            usual[_maker(name), setting.id][setting.title] += 1
    told: set[tuple[str, str]] = set()
    for name, setting in written:
        key = (setting.origin or name, without_index(setting.id))
        if key in told or _is_standard(whole.profiles[name]):
            continue
        kept = standard.get(setting.id, [])
        if _slots(setting) & {slot for one in kept for slot in _slots(one)}:
            continue
        titles = [one.title for one in kept]
        right = _other_title(setting, titles, usual[_maker(name), setting.id])
        if right:
            told.add(key)
            yield name, _differs(setting, right, bool(kept))


def _maker(name: str) -> str:
    return name.partition("/")[0]


def _slots(setting: Setting) -> set[Slot]:
    return {field.slot for place in setting.places for field in place.fields}


def _is_standard(profile: Profile) -> bool:
    return profile.kind == "standard"


def _other_title(setting: Setting, standard: Iterable[str], usual: Counter[str]) -> str:
    """The title a setting should rather have; empty where its own is right."""
    # Of titles that are as frequent as one another, the first that was met.
    given = list(standard) or [max(usual, key=lambda title: usual[title])]
    return "" if any(_akin(setting.title, title) for title in given) else given[0]


def _akin(title: str, other: str) -> bool:
    """Whether two titles have a word in common, be it in another form: brakes, braking."""
    return not _stems(title).isdisjoint(_stems(other))


def _stems(title: str) -> frozenset[str]:
    words = said(title)
    return frozenset(word[:4] for word in words if not word.isdecimal()) or words


def _differs(setting: Setting, right: str, by_standard: bool) -> LintFinding:
    where = "the standard" if by_standard else "other profiles"
    return LintFinding(
        Spot("setting", setting.id, key=("title",)),
        f'"{setting.id}" is called "{setting.title}" here, and "{right}" in {where}.',
        "Use one title where it is the same thing, or another id where it is not.",
    )


_STRANGE = re.compile(r"[^\x00-\x7f]{2,}")
_LOST = "\N{REPLACEMENT CHARACTER}"
_MOST_TEXT = 60


def damaged_texts(subject: Subject) -> Iterator[LintFinding]:
    """Texts of a profile's file that went through a wrong encoding."""
    yield from _damaged(subject.data)


def damaged_texts_of_blocks(whole: Whole) -> Iterator[tuple[str, LintFinding]]:
    """The same in a file of blocks."""
    for file, data in whole.blocks.items():
        yield from ((file, found) for found in _damaged(data))


def _damaged(data: Mapping[str, Any]) -> Iterator[LintFinding]:
    for path, text in _texts(data, ()):
        meant = _repaired(text)
        if meant != text or _LOST in text:
            table, at, *inner = (*path, "", "")[: max(len(path), 2)]
            held = data[str(table)]
            named = held[at] if isinstance(held, list) and isinstance(at, int) else {}
            name = str(named.get("id") or named.get("version") or "")
            spot = Spot(str(table), name, key=tuple(inner) if name else tuple(path[1:]))
            found = _STRANGE.search(text)
            was = found[0] if found and _LOST not in text else text[:_MOST_TEXT]
            yield LintFinding(
                spot,
                f'The text "{text[:_MOST_TEXT]}" went through a wrong encoding.',
                "Type again what was lost."
                if _LOST in text
                else f'Write "{_repaired(was)}" for "{was}".',
            )


def _texts(node: Any, path: tuple[str | int, ...]) -> Iterator[tuple[tuple[str | int, ...], str]]:
    """Every text below a node with its path, also what is written as a key."""
    if isinstance(node, str):
        yield path, node
    elif isinstance(node, Mapping):
        for key, held in node.items():
            yield from ((path, key) for _ in [0] if not key.isascii())
            yield from _texts(held, (*path, key))
    elif isinstance(node, list):
        for at, held in enumerate(node):
            yield from _texts(held, (*path, at))


def _repaired(text: str) -> str:
    """A text with what was UTF-8 and taken for Windows-1252 turned back."""
    return _STRANGE.sub(lambda found: _turned_back(found[0]), text)


def _turned_back(run: str) -> str:
    """The signs that a run was once, where those are letters and marks of Europe; else the run."""
    try:
        found = b"".join(map(_byte, run)).decode("utf-8")
    except UnicodeError:
        return run
    return found if all(one < "\u0250" or "\u2000" <= one < "\u2300" for one in found) else run


def _byte(sign: str) -> bytes:
    return bytes((ord(sign),)) if ord(sign) < 256 else sign.encode("cp1252")


RULES = (
    LintRule(
        "unit-spellings",
        Severity.WARNING,
        "A unit is spelt in two ways.",
        across=unit_spellings,
    ),
    LintRule(
        "help-repeats-title",
        Severity.NOTE,
        "A help only repeats the title of its setting.",
        repeating_helps,
    ),
    LintRule(
        "title-twice",
        Severity.WARNING,
        "Two settings that exist together have the same title.",
        titles_twice,
    ),
    LintRule(
        "damaged-text",
        Severity.WARNING,
        "A text went through a wrong encoding.",
        damaged_texts,
        damaged_texts_of_blocks,
    ),
    LintRule(
        "titles-differ",
        Severity.NOTE,
        "Profiles give settings of one id titles that have nothing in common.",
        across=differing_titles,
    ),
)
