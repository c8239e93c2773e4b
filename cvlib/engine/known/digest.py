"""Short names for what a profile says, and the version its store must have next.

A profile has two digests. The behaviour digest stands for the resolved answers at all firmware,
the wording digest for titles, help and other words: a reworded help text changes the second alone.
They are built from plain data that is spelt out here, so that they stay what they are when the
program changes.
"""

from __future__ import annotations

import json
from collections.abc import Iterable, Iterator
from dataclasses import fields, is_dataclass
from decimal import Decimal
from enum import Enum, StrEnum
from hashlib import blake2b
from typing import Any

from cvlib.engine.known.generations import cuts
from cvlib.engine.known.resolve import Resolver
from cvlib.errors import problem
from cvlib.model.answer import Answer
from cvlib.model.coding import Coding
from cvlib.model.conditions import Test, When
from cvlib.model.profile import Place, Profile, Setting, risk_text
from cvlib.model.ranges import FirmwareRange
from cvlib.model.versions import Key


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
        name: [[firmware.spans, content(answer)] for firmware, answer in told_of(resolver, setting)]
        for name, setting in profile.settings.items()
    }
    marks = {id: risk_text(s.risk) for id, s in profile.settings.items() if s.risk is not None}
    return digest([profile.scheme.value, told, *([marks] if marks else [])])


def wording_digest(profile: Profile) -> str:
    """The digest of all words of a profile that change no answer."""
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
        ]
    )


def told_of(resolver: Resolver, setting: Setting) -> Iterator[tuple[FirmwareRange, Answer]]:
    """The answers for one setting through all firmware, oldest first, each as far as it holds."""
    points = cuts(resolver, [setting])
    like = resolver.coverage_of(setting.id)
    held: tuple[FirmwareRange, Answer] | None = None
    for start, end in zip(points, [*points[1:], None], strict=True):
        span, answer = FirmwareRange.between(start, end, like), resolver.answer(setting, start)
        if held is not None and says_same(held[1], answer):
            held = (held[0] | span, held[1])
            continue
        if held is not None:
            yield held
        held = (span, answer)
    if held is not None:
        yield held


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
        told["candidates"] = [place_content(place) for place in answer.candidates]
    if answer.beside is not None:
        told["beside"] = content(answer.beside)
    return told


def says_same(one: Answer, other: Answer) -> bool:
    """Whether two answers say the same: their content is equal."""
    if one.standing is not other.standing or len(one.candidates) != len(other.candidates):
        return False
    mine, theirs = (one.place, *one.candidates), (other.place, *other.candidates)
    if not all(map(_is_same_place, mine, theirs)):
        return False
    if one.beside is None or other.beside is None:
        return one.beside is other.beside
    return says_same(one.beside, other.beside)


def _is_same_place(one: Place | None, other: Place | None) -> bool:
    if one is None or other is None or one is other:
        return one is other
    return (
        one.same_as(other)
        and one.default == other.default
        and one.when == other.when
        and one.marks == other.marks
        and one.also_at == other.also_at
    )


def place_content(place: Place | None) -> dict[str, object] | None:
    """A place as plain data, without firmware, sources and note; nothing for "absent"."""
    if place is None:
        return None
    return {
        "at": [[held.slot.cv, str(held.slot.page or ""), held.mask] for held in place.fields],
        "also-at": place.also_at,
        "coding": plain(place.coding),
        "default": plain(place.default),
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
    points = [version.key for version in known] or _points(before, after)
    names = [name for name in old.settings if not is_untouched(old, new, name)]
    steps = [_step_at(before, after, names, point) for point in points]
    more = listed - known or new.settings.keys() - old.settings.keys()
    marks = [old.settings[name].risk for name in names
             if old.settings[name].risk != new.settings[name].risk]  # fmt: skip
    if any(mark is not None for mark in marks):
        return Step.MAJOR
    return largest(*steps, Step.MINOR if more or marks else Step.NONE)


def _points(before: Resolver, after: Resolver) -> list[Key]:
    sides = (before, after)
    return [point for side in sides for point in cuts(side, side.profile.settings.values())]


def is_untouched(before: Profile, after: Profile, setting: str) -> bool:
    """Whether a setting is written as before, with the same sources: then no answer can differ."""
    held = before.settings.get(setting)
    return held == after.settings.get(setting) and before.sources == after.sources


def _step_at(before: Resolver, after: Resolver, names: Iterable[str], point: Key) -> Step:
    found = Step.NONE
    for name in names:
        old = before.answer(before.profile.settings[name], point)
        new = after.answer(after.profile.settings[name], point)
        if says_same(old, new):
            continue
        if not old.is_absent or new.is_absent:
            return Step.MAJOR
        found = Step.MINOR
    return found
