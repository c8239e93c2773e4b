"""What changed in a profile beside its answers: sources, releases, rules, identity, and words."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, fields, is_dataclass
from enum import Enum, StrEnum
from typing import Any

from cvlib.engine.known.neighbours import without_index
from cvlib.model.conditions import Condition
from cvlib.model.cv import WHOLE, Field, Slot, bits_text
from cvlib.model.profile import Answered, Citation, Place, Profile, Setting, risk_text
from cvlib.model.ranges import FirmwareRange
from cvlib.model.versions import FirmwareVersion, spell_key


class ItemChange(StrEnum):
    """What happened to a part of a profile."""

    ADDED = "added"
    REMOVED = "removed"
    CHANGED = "changed"


@dataclass(frozen=True, slots=True)
class Detail:
    """One key of a part, with what it said before and says now."""

    key: str
    before: str
    after: str


@dataclass(frozen=True, slots=True)
class Item:
    """A part of a profile that is no answer, and what happened to it."""

    part: str
    """source, sources (those that the places of a setting name), risk (what a setting is marked
    for), release, rule, advisory, question, identity, version, page, decoder, or setting (written
    in another way, but no answer changed)."""
    id: str
    """Its id; the setting's id for sources, empty for those that are named for many settings at
    once; empty for identity, version and decoder."""
    change: ItemChange
    details: tuple[Detail, ...] = ()


@dataclass(frozen=True, slots=True)
class Wording:
    """Words that changed and that no answer depends on."""

    part: str
    id: str
    key: str
    before: str
    after: str


_WORDS = {
    "source": ("title", "where", "note"),
    "release": ("note",),
    "rule": ("text", "repair", "source"),
    "advisory": ("text", "do"),
    "question": ("text", "settle"),
    "page": ("title",),
}
"""The keys of each part that are words alone."""

_CALLED = {
    "given": "if",
    "sum_of": "sum",
    "sum_max": "sum, most",
    "no_answer": "no-answer",
    "citations": "sources",
}
"""What profiles call a key, where the program has another name for it."""


def items_of(before: Profile, after: Profile) -> tuple[Item, ...]:
    """The parts of a profile that were added, removed or changed, words apart."""
    old, new = _parts(before), _parts(after)
    found = [item for part in new for item in _items(part, old[part], new[part])]
    found += _heads(before, after)
    found += _citations(before, after)
    found += _risks(before, after)
    return tuple(found)


def wording_of(before: Profile, after: Profile) -> tuple[Wording, ...]:
    """The words that changed in parts which both states have."""
    found = [
        Wording("decoder", "", key, getattr(before, key), getattr(after, key))
        for key in ("maker", "name", "note")
        if getattr(before, key) != getattr(after, key)
    ]
    for name, setting in after.settings.items():
        if name in before.settings:
            found += _setting_words(before.settings[name], setting)
    old, new = _parts(before), _parts(after)
    for part, keys in _WORDS.items():
        for id in new[part].keys() & old[part].keys():
            one, other = old[part][id], new[part][id]
            for key in keys:
                was, now = str(getattr(one, key)), str(getattr(other, key))
                if was != now:
                    found.append(Wording(part, id, key, was, now))
    return tuple(sorted(found, key=lambda one: (one.part, one.id, one.key)))


def _setting_words(old: Setting, new: Setting) -> Iterator[Wording]:
    for key in ("title", "help", "topic", "maps"):
        was, now = (str(getattr(one, key) or "") for one in (old, new))
        if was != now:
            yield Wording("setting", new.id, key, was, now)
    was, now = _notes(old.places), _notes(new.places)
    if was != now:
        yield Wording("setting", new.id, "note", was, now)


def _notes(places: Iterable[Place]) -> str:
    return " / ".join(dict.fromkeys(place.note for place in places if place.note))


def _parts(profile: Profile) -> dict[str, dict[str, Any]]:
    """The parts of a profile by kind and id; rules of one id are counted."""
    rules: dict[str, Any] = {}
    for rule in profile.rules:
        number = sum(one.id == rule.id for one in rules.values()) + 1
        rules[rule.id if number == 1 else f"{rule.id} ({number})"] = rule
    return {
        "source": dict(profile.sources),
        "release": {spell_key(held.version.key, profile.scheme): held for held in profile.releases},
        "rule": rules,
        "advisory": {held.id: held for held in profile.advisories},
        "question": {held.id: held for held in profile.questions},
        "page": {f"{_span(held.high)}/{_span(held.low)}": held for held in profile.pages},
    }


def _items(part: str, old: Mapping[str, Any], new: Mapping[str, Any]) -> Iterator[Item]:
    for id in dict.fromkeys((*new, *old)):
        if id not in old:
            yield Item(part, id, ItemChange.ADDED)
        elif id not in new:
            yield Item(part, id, ItemChange.REMOVED)
        elif details := tuple(_details(old[id], new[id], _WORDS[part])):
            yield Item(part, id, ItemChange.CHANGED, details)


def _details(old: Any, new: Any, words: Iterable[str]) -> Iterator[Detail]:
    for field in fields(new):
        if field.name in words:
            continue
        was, now = getattr(old, field.name), getattr(new, field.name)
        if was != now:
            key = _CALLED.get(field.name, field.name.replace("_", "-"))
            yield Detail(key, _said(was), _said(now))


def _heads(before: Profile, after: Profile) -> Iterator[Item]:
    """What the head of a profile says of the decoder, its identity and its version."""
    details = tuple(_details(before.identity, after.identity, ()))
    if details:
        yield Item("identity", "", ItemChange.CHANGED, details)
    if before.parts != after.parts:
        detail = Detail("parts", _said(before.parts), _said(after.parts))
        yield Item("version", "", ItemChange.CHANGED, (detail,))
    told = tuple(
        Detail(key, _said(was), _said(now))
        for key in ("kind", "scheme", "follows")
        if (was := getattr(before, key)) != (now := getattr(after, key))
    )
    if told:
        yield Item("decoder", "", ItemChange.CHANGED, told)


def _citations(before: Profile, after: Profile) -> Iterator[Item]:
    """Settings that name other sources than before; those named further out are told once."""
    further: dict[Detail, None] = {}
    for name, setting in after.settings.items():
        if name not in before.settings:
            continue
        for is_general in (False, True):
            was = _cited(before.settings[name], is_general=is_general)
            now = _cited(setting, is_general=is_general)
            detail = Detail("sources", ", ".join(was), ", ".join(now))
            if was != now and is_general:
                further[detail] = None
            elif was != now:
                yield Item("sources", name, ItemChange.CHANGED, (detail,))
                break
    for detail in further:
        yield Item("sources", "", ItemChange.CHANGED, (detail,))


def _risks(before: Profile, after: Profile) -> Iterator[Item]:
    """Settings that are marked for another harm than before, those of a repeat once."""
    common = before.settings.keys() & after.settings.keys()
    marks = {
        without_index(name): (before.settings[name].risk, after.settings[name].risk)
        for name in after.settings
        if name in common
    }
    for name, (was, now) in marks.items():
        if was != now:
            detail = Detail("risk", risk_text(was), risk_text(now))
            yield Item("risk", name, ItemChange.CHANGED, (detail,))


def _cited(setting: Setting, *, is_general: bool) -> list[str]:
    """What its places call on, or what is named for them further out."""
    said = {
        _said(one)
        for place in setting.places
        for one in place.citations
        if one.is_general is is_general
    }
    gone = () if is_general else (one for held in setting.absences for one in held.citations)
    return sorted({*said, *(f"{one} (not there)" for one in gone)})


def _span(ends: tuple[int, int]) -> str:
    low, high = ends
    return str(low) if low == high else f"{low}-{high}"


def _said(value: Any) -> str:
    """A value of a profile in a few words, as a profile would write it."""
    if value is None:
        return ""
    if isinstance(value, FirmwareRange):
        return value.text()
    if isinstance(value, (Enum, FirmwareVersion, Slot)):
        return str(value)
    if isinstance(value, Citation):
        return f"{value}{f' ({value.verdict})' if value.verdict else ''}"
    if isinstance(value, Answered):
        return _answered(value)
    if isinstance(value, Condition):
        operand = ", ".join(map(str, value.operand))
        return f"{value.setting} {value.test} {operand}"
    if isinstance(value, Field):
        return str(value.slot) + (f" bits {value.bits}" if value.bits else "")
    if is_dataclass(value) and not isinstance(value, type):
        held = (_said(getattr(value, field.name)) for field in fields(value))
        return " ".join(filter(None, held))
    if isinstance(value, tuple) and not isinstance(value, Slot):
        return "; ".join(map(_said, value))
    return str(value)


def _answered(value: Answered) -> str:
    """An answer of the identity: ``CV 250 = 14 at >=34``, ``bits 4-7 of CV 47 = 5``."""
    bits = "" if value.mask == WHOLE else f"bits {bits_text(value.mask)} of "
    span = str(value.low) if value.low == value.high else f"{value.low}-{value.high}"
    at = f" at {value.firmware.text()}" if value.firmware is not None else ""
    return f"{bits}{value.slot} = {span}{at}"
