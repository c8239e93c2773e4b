"""What is known of one setting at one firmware, and how well."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum

from cvlib.model.profile import Citation, Place
from cvlib.model.ranges import FirmwareRange


class Standing(StrEnum):
    """How well a place is known at one firmware."""

    DOCUMENTED = "documented"
    BENCH = "bench"
    FAULTY = "faulty"
    BETWEEN = "between"
    BEYOND = "beyond"
    BEFORE = "before"
    DISPUTED = "disputed"


class Side(StrEnum):
    """Which firmware knows a setting that the firmware in question does not."""

    OLDER = "older"
    NEWER = "newer"
    BOTH = "both"
    NEITHER = "neither"


@dataclass(frozen=True, slots=True)
class Trace:
    """Why an answer is what it is: the rule that gave it and what it looked at."""

    rule: int
    """1 bench, 2 inside coverage, 3 between, 4 beyond or before; 0 no coverage at all."""
    firmware: FirmwareRange
    """The coverage span, gap or end the firmware lies in; the tested version for rule 1."""
    citations: tuple[Citation, ...] = ()


@dataclass(frozen=True, slots=True)
class Answer:
    """The place of a setting at one firmware, or that it has none, or who disagrees.

    With standing ``disputed`` there are two or more candidates, of which ``None`` means "absent",
    and ``place`` is empty; otherwise no candidates, and ``place`` is the answer (None: absent).
    """

    setting: str
    standing: Standing
    place: Place | None
    trace: Trace
    candidates: tuple[Place | None, ...] = ()
    side: Side | None = None
    """For an absent setting: which firmware has it."""
    beside: Answer | None = None
    """What the handbooks say where a bench test beat them."""

    @property
    def is_absent(self) -> bool:
        """Whether the setting is known not to exist at this firmware."""
        return self.place is None and not self.candidates

    def places(self) -> tuple[Place, ...]:
        """Every place the setting may have: one, none, or the disputed candidates."""
        if self.place is not None:
            return (self.place,)
        return tuple(place for place in self.candidates if place is not None)
