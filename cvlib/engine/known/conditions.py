"""Conditions of two places held against each other: whether both can exist at the same time."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Mapping
from functools import lru_cache
from typing import TypeAlias

from cvlib.errors import InputError
from cvlib.model.answer import Answer
from cvlib.model.coding import Coding, Reading, Written
from cvlib.model.conditions import Test, When
from cvlib.model.profile import Place, Setting

PlacesOf: TypeAlias = Callable[[str], tuple[Place, ...]]
"""Where a deciding setting may live, by its id; nothing where it is not there."""


def places_in(answers: Mapping[str, Answer]) -> PlacesOf:
    """The places that settings have by some answers."""

    def places_of(setting: str) -> tuple[Place, ...]:
        answer = answers.get(setting)
        return answer.places() if answer is not None else ()

    return places_of


def circular(settings: Mapping[str, Setting]) -> frozenset[str]:
    """The settings whose conditions lead round in a circle: among them, none decides anything."""
    asked = _asked(settings)
    _, left = _layers(asked)
    backwards: dict[str, set[str]] = {name: set() for name in left}
    for name in left:
        for other in asked[name] & left:
            backwards[other].add(name)
    return _layers(backwards)[1]


def longest_chain(settings: Mapping[str, Setting]) -> int:
    """How many settings hang on one another by their conditions at most, circles apart."""
    return _layers(_asked(settings))[0]


def _asked(settings: Mapping[str, Setting]) -> dict[str, set[str]]:
    """The settings that each setting asks, at any firmware."""
    return {
        id: {
            when.setting
            for place in setting.places
            for group in (place.when, *(case.when for case in place.cases))
            for when in group
            if when.setting in settings
        }
        for id, setting in settings.items()
    }


def _layers(asked: Mapping[str, set[str]]) -> tuple[int, frozenset[str]]:
    """How often those that ask nobody left can be taken away, and who stays in the end."""
    askers: dict[str, list[str]] = {}
    open_ = {name: len(others) for name, others in asked.items()}
    for name, others in asked.items():
        for other in others:
            askers.setdefault(other, []).append(name)
    layer, depth = [name for name, count in open_.items() if not count], 0
    while layer:
        depth += 1
        freed: list[str] = []
        for name in layer:
            for asker in askers.get(name, ()):
                open_[asker] -= 1
                if not open_[asker]:
                    freed.append(asker)
        layer = freed
    return depth, frozenset(name for name, count in open_.items() if count)


def exclude(places_of: PlacesOf, one: Place, other: Place) -> bool:
    """Whether two places never exist together: a setting would need two values at once."""
    if not one.when or not other.when:
        return False
    mine, theirs = (list(demands(places_of, place.when)) for place in (one, other))
    return any(
        name == same and values.isdisjoint(others)
        for name, values in mine
        for same, others in theirs
    )


def demands(
    places_of: PlacesOf, conditions: Iterable[When]
) -> Iterator[tuple[str, frozenset[int] | frozenset[str]]]:
    """The values that settings must have for conditions to hold, conditions of theirs too.

    Raw values where there are few; else names, and a flag counts by itself: set or not.
    """
    waiting = list(conditions)
    asked: set[str] = set()
    for when in waiting:
        decides = next(iter(places_of(when.setting)), None)
        coding = decides.coding if decides else None
        raw = fitting(coding, when.test, when.values) if coding else None
        if raw is not None:
            yield when.setting, raw
        elif when.test is Test.IS:
            yield when.setting, frozenset(_meant(coding, value) for value in when.values)
        elif when.test is not Test.NOT:
            for flag in when.values:
                yield f"{when.setting} {flag}", frozenset((when.test.value,))
        if decides and when.setting not in asked:
            asked.add(when.setting)
            waiting += decides.when


@lru_cache(maxsize=1 << 12)
def fitting(coding: Coding, test: Test, values: tuple[Written, ...]) -> frozenset[int] | None:
    """The raw values that satisfy a condition; nothing where there are too many to look at."""
    room = sum(coding.widths)
    if room > _FEW_BITS:
        return None
    every = ((raw, coding.decode(coding.split(raw))) for raw in range(1 << room))
    return frozenset(raw for raw, held in every if satisfied(coding, test, values, held))


_FEW_BITS = 8
"""Bits of a deciding setting up to which each of its values is looked at."""


def _meant(coding: Coding | None, written: Written) -> str:
    """A value as a profile writes it, by its name where it has one."""
    if coding is None:
        return str(written)
    try:
        reading = coding.decode(coding.raw(written))
    except InputError:
        return str(written)
    return reading.name or str(reading.value)


def satisfied(coding: Coding, test: Test, operand: Iterable[Written], reading: Reading) -> bool:
    """Whether a value that was read is one of these, is none, has these flags or lacks them."""
    if test in (Test.IS, Test.NOT):
        found = any(_means(coding, written, reading) for written in operand)
        return found is (test is Test.IS)
    flags = reading.value if isinstance(reading.value, frozenset) else frozenset()
    return all((str(name) in flags) is (test is Test.HAS) for name in operand)


def _means(coding: Coding, written: Written, reading: Reading) -> bool:
    if isinstance(written, str) and written == reading.name:
        return True
    try:
        return coding.decode(coding.raw(written)).value == reading.value
    except InputError:
        return False
