"""Short names for what a profile says, and the version its store must have next.

A profile has two digests. The behaviour digest stands for the resolved answers at all firmware,
the wording digest for titles, help and other words: a reworded help text changes the second alone.
They are built from plain data that is spelt out here, so that they stay what they are when the
program changes.
"""

from __future__ import annotations

import json
from collections.abc import Collection, Iterable, Iterator, Mapping
from dataclasses import fields, is_dataclass
from decimal import Decimal
from enum import Enum, StrEnum
from fractions import Fraction
from hashlib import blake2b
from typing import Any

from cvlib.engine.known.line import answers_of, same_said, side_by_side
from cvlib.engine.known.resolve import Resolver
from cvlib.errors import problem
from cvlib.model.answer import Answer
from cvlib.model.coding import Coding
from cvlib.model.conditions import Test, When
from cvlib.model.cv import Slot
from cvlib.model.facet import Facet
from cvlib.model.profile import Place, Profile, Setting, risk_text
from cvlib.model.versions import FirmwareVersion


class Step(StrEnum):
    """How far the store's version must go on, from the smallest step to the largest."""

    NONE = "none"
    """Nothing changed."""
    PATCH = "patch"
    """No resolved answer changed."""
    MINOR = "minor"
    """There are new answers, and every old one is as it was."""
    MAJOR = "major"
    """An answer changed or is gone."""

    @property
    def size(self) -> int:
        """Its place in the order of steps."""
        return tuple(Step).index(self)


def largest(*steps: Step) -> Step:
    """The largest of some steps; none of them is no step."""
    return max(steps, key=lambda step: step.size, default=Step.NONE)


def next_version(version: str, step: Step) -> str:
    """The version of the store after a step.

    >>> next_version("1.4.2", Step.MINOR)
    '1.5.0'
    """
    numbers = version.split(".")
    if len(numbers) != 3 or not all(part.isascii() and part.isdecimal() for part in numbers):
        raise problem(f'"{version}" is no version of a store.', advice="It is like 1.4.2.")
    major, minor, patch = map(int, numbers)
    match step:
        case Step.MAJOR:
            return f"{major + 1}.0.0"
        case Step.MINOR:
            return f"{major}.{minor + 1}.0"
        case Step.PATCH:
            return f"{major}.{minor}.{patch + 1}"
        case Step.NONE:
            return version


def digest(data: object) -> str:
    """The digest of plain data."""
    text = json.dumps(data, sort_keys=True, separators=(",", ":"), ensure_ascii=True)
    return blake2b(text.encode("ascii"), digest_size=16).hexdigest()


def behaviour_digest(resolver: Resolver) -> str:
    """The digest of a profile's resolved answers and marks; its id is no part of it."""
    profile = resolver.profile
    told = {
        name: [
            [firmware.spans, content(answer)] for firmware, answer in answers_of(resolver, setting)
        ]
        for name, setting in profile.settings.items()
    }
    marks = {id: risk_text(s.risk) for id, s in profile.settings.items() if s.risk is not None}
    return digest([profile.scheme.value, told, *([marks] if marks else [])])


def wording_digest(profile: Profile) -> str:
    """The digest of all words of a profile that change no answer, and of what a card follows."""
    marks = {
        held.id: [plain(held.topic), plain(held.maps)]
        for held in profile.settings.values()
        if held.topic or held.maps
    }
    return digest(
        [
            [profile.maker, profile.name, profile.note],
            {
                held.id: [held.title, held.help, [place.note for place in held.places]]
                for held in profile.settings.values()
            },
            {held.id: [held.title, held.where, held.note] for held in profile.sources.values()},
            [[str(held.version), held.note] for held in profile.releases],
            [held.title for held in profile.pages],
            [[held.id, held.text, held.repair, held.source] for held in profile.rules],
            [[held.id, held.text, held.do] for held in profile.advisories],
            [[held.id, held.text, held.settle] for held in profile.questions],
            *([marks] if marks else []),
        ]
    )


def content(answer: Answer) -> dict[str, object]:
    """What an answer says, as plain data: equal exactly when two answers say the same.

    The sources behind it and the side on which an absent setting is known are left out: they
    follow from evidence and from answers elsewhere.
    """
    told: dict[str, object] = {
        "standing": answer.standing.value,
        "place": place_content(answer.place),
    }
    if answer.candidates:
        told["candidates"] = sorted(map(place_content, answer.candidates), key=repr)
    if answer.also:
        told["also"] = [place_content(place) for place in answer.also]
    if answer.open:
        told["open"] = [facet.value for facet in answer.open if facet is not Facet.WORDS]
    if answer.is_unreliable:
        told["unreliable"] = True
    if answer.beside is not None:
        told["beside"] = content(answer.beside)
    return told


def place_content(place: Place | None) -> dict[str, object] | None:
    """A place as plain data, without firmware, sources and note; nothing for "absent"."""
    if place is None:
        return None
    cases = [[[_when(when) for when in one.when], plain(one.parts)] for one in place.cases]
    return {
        "at": [[held.slot.cv, str(held.slot.page or ""), held.mask] for held in place.fields],
        "also-at": place.also_at,
        "coding": plain(place.coding),
        "default": plain(place.default),
        **({"cases": cases} if cases else {}),
        "when": [_when(when) for when in place.when],
        "marks": plain(place.marks),
    }


def _when(when: When) -> list[object]:
    """A condition as plain data; the test is named where it is not that of a value."""
    named = [] if when.test is Test.IS else [when.test.value]
    return [when.setting, plain(when.values), *named]


def plain(value: Any) -> Any:
    """A frozen value as plain data; what stands at its usual value is left out of a record.

    >>> from cvlib.model.coding import Number
    >>> plain(Number((8,), scale=Decimal("2.0"), unit="cm"))
    {'kind': 'number', 'widths': [8], 'scale': '2', 'unit': 'cm'}
    """
    if isinstance(value, Enum):
        return value.value
    if isinstance(value, Decimal):
        text = f"{value:f}"
        return text.rstrip("0").rstrip(".") if "." in text else text
    if isinstance(value, Fraction):
        return str(value)
    if is_dataclass(value) and not isinstance(value, type):
        made = {"kind": value.kind} if isinstance(value, Coding) else {}
        for field in fields(value):
            held = getattr(value, field.name)
            if held != field.default:
                made[field.name] = plain(held)
        return made
    if isinstance(value, (tuple, list)):
        return [plain(held) for held in value]
    return value


def step_between(before: Resolver, after: Resolver) -> Step:
    """The step that the answers of one profile ask for, at every release known before.

    A profile that lists no release is looked at in every stretch of its firmware. Whether
    anything but answers changed is not looked at.
    """
    old, new = before.profile, after.profile
    if old.scheme is not new.scheme or old.settings.keys() - new.settings.keys():
        return Step.MAJOR
    known = {release.version for release in old.releases}
    listed = {release.version for release in new.releases}
    if known - listed:
        return Step.MAJOR
    names = touched(old, new) & old.settings.keys()
    steps = [_step_of(before, after, name, known) for name in names]
    more = listed - known or new.settings.keys() - old.settings.keys()
    marks = [old.settings[name].risk for name in names
             if old.settings[name].risk != new.settings[name].risk]  # fmt: skip
    if any(mark is not None for mark in marks):
        return Step.MAJOR
    return largest(*steps, Step.MINOR if more or marks else Step.NONE)


def touched(before: Profile, after: Profile) -> frozenset[str]:
    """The settings whose answers may differ: all others are written as before, and so is every
    setting that has a say in them, by a condition or by a bench test of the same CV.
    """
    old, new = before.settings, after.settings
    if before.sources != after.sources:
        return frozenset((*old, *new))
    found = {name for name in (*old, *new) if old.get(name) != new.get(name)}
    size = 0
    while len(found) > size:
        size = len(found)
        tested = {slot for side in (old, new) for slot in _tested_slots(side, found)}
        found |= {held.id for held in new.values() if _hangs_on(held, found, tested)}
    return frozenset(found)


def _tested_slots(settings: Mapping[str, Setting], names: Iterable[str]) -> Iterator[Slot]:
    """The CVs at which a bench test saw any of some settings act."""
    for name in names:
        for place in settings[name].places if name in settings else ():
            if any(citation.verdict for citation in place.citations):
                yield from (field.slot for field in place.fields)


def _hangs_on(setting: Setting, changed: Collection[str], tested: Collection[Slot]) -> bool:
    return any(
        any(when.setting in changed for when in place.when)
        or any(field.slot in tested for field in place.fields)
        for place in setting.places
    )


def _step_of(
    before: Resolver, after: Resolver, name: str, releases: Collection[FirmwareVersion]
) -> Step:
    """The step that one setting asks for, at the releases, or at all firmware without any."""
    found = Step.NONE
    for firmware, old, new in side_by_side(before, after, name):
        if releases and not any(version in firmware for version in releases):
            continue
        if old is None or new is None or same_said(old, new):
            continue
        if not old.is_absent or new.is_absent:
            return Step.MAJOR
        found = Step.MINOR
    return found
