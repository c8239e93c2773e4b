"""Conditions of two places held against each other: whether both can exist at the same time."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Mapping
from typing import TypeAlias

from cvlib.errors import InputError
from cvlib.model.answer import Answer
from cvlib.model.coding import Coding, Written
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
) -> Iterator[tuple[str, frozenset[str]]]:
    """The values that settings must have for conditions to hold, conditions of theirs too.

    A flag counts by itself: it is set or it is not.
    """
    for when in conditions:
        decides = next(iter(places_of(when.setting)), None)
        coding = decides.coding if decides else None
        if when.test is Test.IS:
            yield when.setting, frozenset(_meant(coding, value) for value in when.values)
        else:
            for flag in when.values:
                yield f"{when.setting} {flag}", frozenset((when.test.value,))
        if depth and decides:
            yield from demands(places_of, decides.when, depth - 1)


def _meant(coding: Coding | None, written: Written) -> str:
    """A value as a profile writes it, by its name where it has one."""
    if coding is None:
        return str(written)
    try:
        reading = coding.decode(coding.raw(written))
    except InputError:
        return str(written)
    return reading.name or str(reading.value)
