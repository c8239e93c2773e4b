"""The states that a file went through, and what became of saved values from one to the next."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from itertools import zip_longest

from cvlib.model.cv import Slot
from cvlib.model.loco import Loco, SavedDecoder


@dataclass(frozen=True, slots=True)
class StateChange:
    """One thing in which a state differs from the next."""

    decoder: int
    """The number of the decoder in the file, from 1."""
    what: Slot | str
    """A CV, or the key of the decoder: profile or firmware."""
    was: int | str | None
    """Nothing where it was not there."""
    now: int | str | None


@dataclass(frozen=True, slots=True)
class FormerState:
    """A state that something took the place of."""

    number: int
    until: str
    """ISO date and time, UTC."""
    cause: str
    """The command that took its place."""
    changes: tuple[StateChange, ...]
    """What the next state has otherwise; none where one of the two cannot be read as a loco."""
    is_held: bool = False
    """Whether it is what the file holds now."""


@dataclass(frozen=True, slots=True)
class StateLog:
    """The states of one file that are kept, oldest first."""

    file: str
    states: tuple[FormerState, ...]


@dataclass(frozen=True, slots=True)
class Undone:
    """A file that was put back to a former state."""

    file: str
    state: FormerState
    kept: int
    """The number under which the state that was there is kept."""


def changes_between(before: Loco, after: Loco) -> tuple[StateChange, ...]:
    """What a later state of a loco has otherwise, decoder by decoder, CVs in their order."""
    nothing = SavedDecoder({})
    pairs = zip_longest(before.decoders, after.decoders, fillvalue=nothing)
    return tuple(
        change for number, pair in enumerate(pairs, 1) for change in _changes(number, *pair)
    )


def _changes(number: int, before: SavedDecoder, after: SavedDecoder) -> Iterator[StateChange]:
    for key in ("profile", "firmware"):
        was, now = getattr(before, key), getattr(after, key)
        if was != now:
            yield StateChange(number, key, was or None, now or None)
    for slot in sorted(before.values.keys() | after.values.keys(), key=lambda one: one.order):
        old, new = before.values.get(slot), after.values.get(slot)
        one, other = (held.value if held else None for held in (old, new))
        if one != other:
            yield StateChange(number, slot, one, other)
