"""What is known of one setting's value in one loco."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum

from cvlib.engine.account.claims import Layout
from cvlib.model.answer import Answer, Standing
from cvlib.model.coding import Parts
from cvlib.model.profile import Place


class State(StrEnum):
    """What is known of a setting's value in one loco."""

    SAVED = "saved"
    UNSAVED = "unsaved"
    """The decoder has it, but no value is saved; a factory value may be known."""
    DISPUTED = "disputed"
    UNDECIDED = "undecided"
    """The place exists only while another setting, of which nothing is saved, has some value."""
    ABSENT = "absent"


@dataclass(frozen=True, slots=True)
class Cell:
    """One setting in one loco."""

    state: State
    place: Place | None = None
    parts: Parts | None = None
    """The saved value, or for an unsaved setting the factory value."""
    standing: Standing | None = None
    cannot: tuple[int, ...] = ()
    """Which other locos, by number from 0, cannot hold this value."""

    @property
    def text(self) -> str:
        """The value in words; empty where none is known."""
        if self.place is None or self.parts is None:
            return ""
        return self.place.coding.decode(self.parts).text

    @property
    def is_legal(self) -> bool:
        """Whether the value is one that the decoder allows."""
        if self.place is None or self.parts is None:
            return False
        return self.place.coding.decode(self.parts).fault is None


def cell_of(layout: Layout, name: str) -> Cell:
    """What is known of one setting in one loco."""
    answer: Answer | None = layout.answers.get(name)
    if answer is None or answer.is_absent:
        return Cell(State.ABSENT)
    if answer.place is None:
        return Cell(State.DISPUTED, standing=answer.standing)
    place = answer.place
    active = layout.active(place)
    if active is False:
        return Cell(State.ABSENT)
    if active is None:
        return Cell(State.UNDECIDED, place, standing=answer.standing)
    parts = place.parts(layout.values)
    if parts is None:
        return Cell(State.UNSAVED, place, layout.factory(place), answer.standing)
    return Cell(State.SAVED, place, parts, answer.standing)
