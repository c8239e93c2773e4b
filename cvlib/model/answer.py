"""What is known of one setting at one firmware, and how well."""

from __future__ import annotations

from dataclasses import dataclass, replace
from enum import StrEnum

from cvlib.model.facet import Facet, same_placing
from cvlib.model.profile import Citation, Place, Verdict
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
    ASSUMED = "assumed"

    @property
    def is_guess(self) -> bool:
        """Whether it rests on the nearest documents, none of which speaks for the firmware."""
        return self in (Standing.BETWEEN, Standing.BEYOND, Standing.BEFORE)


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
    """1 bench, 2 documents, 3 between them, 4 beyond or before them, 5 a standard or nobody."""
    firmware: FirmwareRange
    """The span that the documents speak for, the gap or end beside it; the tested version for
    rule 1, every firmware for rule 5."""
    citations: tuple[Citation, ...] = ()


@dataclass(frozen=True, slots=True)
class Answer:
    """The place of a setting at one firmware, or that it has none, or who disagrees.

    With standing ``disputed`` ``place`` is empty, and the candidates are what is possible;
    ``None`` among them means "absent", and without any of them the place is not known here.
    With every other standing there are no candidates, and ``place`` is the answer (None: absent).
    """

    setting: str
    standing: Standing
    place: Place | None
    trace: Trace
    candidates: tuple[Place | None, ...] = ()
    side: Side | None = None
    """For an absent setting: which firmware has it."""
    beside: Answer | None = None
    """What the handbooks say where a bench test beat them, or took the place for another."""
    also: tuple[Place, ...] = ()
    """Further places that exist beside ``place``, under conditions that exclude each other."""
    tried: tuple[Place, ...] = ()
    """Places that a bench test found without effect at this very firmware."""
    taken_by: str = ""
    """The setting that a test, or a document that speaks here, gives some of the CVs to."""
    is_unreliable: bool = False
    """Whether a bench test saw it act otherwise than the handbook says."""
    open: tuple[Facet, ...] = ()
    """What of the place is not known here, because the ``sides`` differ in it; the place gives
    nothing for it."""
    sides: tuple[Place, ...] = ()
    """The places that differ in the open facets: of the older side first."""

    @property
    def tried_on(self) -> tuple[int, int]:
        """On how many locos bench tests saw it work, and on how many they saw it act at all."""
        held = self.trace.citations if self.standing is Standing.BENCH else ()
        acting = [one.verdict for one in held if one.verdict is not None and one.verdict.acts]
        return acting.count(Verdict.WORKS), len(acting)

    @property
    def is_disputed(self) -> bool:
        """Whether nothing is picked: several places are possible, or no known one is left."""
        return self.standing is Standing.DISPUTED

    @property
    def is_absent(self) -> bool:
        """Whether the setting is known not to exist at this firmware."""
        return self.place is None and not self.is_disputed

    @property
    def may_exist(self) -> bool:
        """Whether the setting has a place at this firmware, or may have one."""
        return bool(self.places()) or self.is_unplaced

    @property
    def is_unplaced(self) -> bool:
        """Whether the setting may exist, and every place that was known for it is taken."""
        return self.is_disputed and not self.candidates

    def places(self) -> tuple[Place, ...]:
        """Every place the setting may have: its own, none, or the disputed candidates."""
        if self.place is not None:
            return (self.place, *self.also)
        return tuple(place for place in self.candidates if place is not None)

    def possible(self) -> tuple[Place | None, ...]:
        """What it leaves possible, its own place first; nothing among it stands for "absent"."""
        return self.candidates or self.places() or (None,)

    def failures(self) -> tuple[Answer, ...]:
        """A faulty answer for each place tried without effect, where another place is left."""
        if not self.is_disputed:
            return ()
        return tuple(
            replace(self, standing=Standing.FAULTY, place=place, candidates=(), tried=(place,))
            for place in self.tried
            if not any(same_placing(place, held) for held in self.candidates)
        )

    def documented(self) -> Answer:
        """What the documents alone say: the answer itself where no bench test changed it."""
        return self.beside or self
