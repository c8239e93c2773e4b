"""Conditions of two places held against each other: whether both can exist at the same time."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Mapping
from functools import lru_cache
from typing import TypeAlias

from cvlib.errors import InputError
from cvlib.model.answer import Answer
from cvlib.model.coding import Coding, Reading, Written
from cvlib.model.conditions import Test, When
from cvlib.model.profile import Place

PlacesOf: TypeAlias = Callable[[str], tuple[Place, ...]]
"""Where a deciding setting may live, by its id; nothing where it is not there."""


def places_in(answers: Mapping[str, Answer]) -> PlacesOf:
    """The places that settings have by some answers."""

    def places_of(setting: str) -> tuple[Place, ...]:
        answer = answers.get(setting)
        return answer.places() if answer is not None else ()

    return places_of


def exclude(places_of: PlacesOf, one: Place, other: Place) -> bool:
    """Whether two places never exist together: a setting would need two values at once."""
    if not one.when or not other.when:
        return False
    mine, theirs = list(demands(places_of, one.when)), list(demands(places_of, other.when))
    return any(
        name == same and values.isdisjoint(others)
        for name, values in mine
        for same, others in theirs
    )


def demands(
    places_of: PlacesOf, conditions: Iterable[When], depth: int = 8
) -> Iterator[tuple[str, frozenset[int] | frozenset[str]]]:
    """The values that settings must have for conditions to hold, conditions of theirs too.

    Raw values where there are few; else names, and a flag counts by itself: set or not.
    """
    for when in conditions:
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
        if depth and decides:
            yield from demands(places_of, decides.when, depth - 1)


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
