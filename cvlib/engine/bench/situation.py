"""How the decoder is reached, and what that changes: facts that are asked about or detected.

The facts are those of NMRA S-9.2.3 (2012-07), section D, and of common practice with no source:
a decoder acknowledges by drawing current, so without a motor or a lamp it cannot; on the main
only bidirectional communication carries an answer back; two decoders on one track answer both.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, replace
from enum import StrEnum

from cvlib.engine.bench.weigh import Read, gathered
from cvlib.engine.carry.write_sheet import Track
from cvlib.model.cv import FIRST_PAGED, LAST_PAGED, Slot
from cvlib.model.loco import State

LOADLESS_KINDS = ("function", "accessory")
"""Kinds of decoders without a motor; they acknowledge with what hangs on their outputs."""
SURELY_SILENT = 3
"""So many CVs without any answer are a sign that the decoder cannot answer at all."""


class Fact(StrEnum):
    """Something only the person at the bench knows."""

    TRACK = "track"
    """Whether the decoder stands on the programming track or on the main."""
    LOAD = "load"
    """Whether a motor is connected, or a lamp to a decoder without one."""
    BIDIRECTIONAL = "bidirectional"
    """Whether the main has bidirectional communication and the decoder's is on."""
    ALONE = "alone"
    """Whether it is the only decoder at its address, or on the programming track."""
    CHOSEN = "chosen"
    """Where it is not: whether the other is unplugged, or this one chosen by CVs 15 and 16."""
    RESET = "reset"
    """Whether the decoder was reset to its factory values just before."""
    LEFTOVER = "leftover"
    """Where it was not: what became of its values when its firmware was last changed; without a
    factory reset they may be left over."""


class Hint(StrEnum):
    """What to do first, or to beware of."""

    CONNECT_MOTOR = "connect-motor"
    CONNECT_LAMP = "connect-lamp"
    CONNECT_LOAD = "connect-load"
    """A motor or a lamp: it is not known which sort of decoder it is."""
    TO_PROGRAMMING_TRACK = "to-programming-track"
    """On the main nothing answers without bidirectional communication."""
    UNPLUG_OTHER = "unplug-other"
    USE_LOCK = "use-lock"
    """Choose the decoder by CVs 15 and 16 where the other cannot be unplugged."""
    NOTHING_ANSWERS = "nothing-answers"
    """Detected: not one CV was answered."""
    ANSWERS_DIFFER = "answers-differ"
    """Detected: one CV answered differently when it was read again."""
    TWO_SUSPECTED = "two-suspected"
    """Detected: no single decoder fits, as when two answer at once."""
    OTHER_DECODER = "other-decoder"
    """Detected: an answer that this decoder type does not give at this firmware."""
    PAGE_NOT_TOLD = "page-not-told"
    """Detected: a CV that lies on an index page was given without its page."""
    LEFTOVERS = "leftovers"
    """Values may be left over from before an update, so only their being there tells anything."""
    ONLY_TESTS = "only-tests"
    """Nothing can be read, so the plan is made of behaviour tests."""


@dataclass(frozen=True, slots=True)
class Situation:
    """What is known of how the decoder is reached; nothing where it was not asked or told."""

    track: Track | None = None
    has_load: bool | None = None
    has_bidirectional: bool | None = None
    is_alone: bool | None = None
    is_reset: bool | None = None
    is_chosen: bool | None = None
    state: State | None = None
    """What became of the values at the last update; unknown where the person does not know."""

    def told(self, fact: Fact, answer: bool | State) -> Situation:
        """The situation with one more fact; ``TRACK`` is true for the programming track."""
        if isinstance(answer, State):
            return replace(self, state=answer)
        match fact:
            case Fact.TRACK:
                return replace(self, track=Track.PROGRAMMING if answer else Track.MAIN)
            case Fact.LOAD:
                return replace(self, has_load=answer)
            case Fact.BIDIRECTIONAL:
                return replace(self, has_bidirectional=answer)
            case Fact.ALONE:
                return replace(self, is_alone=answer)
            case Fact.CHOSEN:
                return replace(self, is_chosen=answer)
            case Fact.RESET:
                return replace(self, is_reset=answer)
            case Fact.LEFTOVER:
                return replace(self, state=State.NOT_RESET if answer else State.RESET)

    @property
    def has_leftovers(self) -> bool | None:
        """Whether values may be left over from other firmware; nothing where it was not asked."""
        return None if self.state is None else self.state in (State.UNKNOWN, State.NOT_RESET)

    @property
    def is_apart(self) -> bool:
        """Whether what is read and written concerns this decoder alone, as far as is known."""
        return self.is_alone is not False or self.is_chosen is not False

    @property
    def is_surely_apart(self) -> bool:
        """Whether no other decoder answers as well, by what was told."""
        return self.is_alone is not False or self.is_chosen is True

    @property
    def can_read(self) -> bool:
        """Whether the decoder can answer reads, and it alone, as far as is known."""
        if not self.is_apart:
            return False
        if self.track is Track.MAIN:
            return self.has_bidirectional is not False
        return self.has_load is not False


def open_facts(
    situation: Situation, *, ask_reset: bool = False, ask_leftover: bool = False
) -> tuple[Fact, ...]:
    """The facts that still matter and are not known, in the order in which to ask."""
    found: list[Fact] = []
    if situation.track is None:
        found.append(Fact.TRACK)
    elif situation.track is Track.MAIN and situation.has_bidirectional is None:
        found.append(Fact.BIDIRECTIONAL)
    elif situation.track is Track.PROGRAMMING and situation.has_load is None:
        found.append(Fact.LOAD)
    if situation.is_alone is None:
        found.append(Fact.ALONE)
    elif situation.is_alone is False and situation.is_chosen is None:
        found.append(Fact.CHOSEN)
    if ask_reset and situation.is_reset is None and situation.can_read:
        found.append(Fact.RESET)
    left = situation.has_leftovers
    if ask_leftover and situation.is_reset is False and left is None and situation.can_read:
        found.append(Fact.LEFTOVER)
    return tuple(found)


def hints_for(situation: Situation, kind: str, *, has_lock: bool = True) -> tuple[Hint, ...]:
    """What the situation asks for before any read, for a decoder of a kind (empty: not known)."""
    found: list[Hint] = []
    if situation.track is Track.MAIN and situation.has_bidirectional is False:
        found += [Hint.TO_PROGRAMMING_TRACK, Hint.ONLY_TESTS]
    elif situation.track is not Track.MAIN and situation.has_load is False:
        found += [_load_hint(kind), Hint.ONLY_TESTS]
    if situation.is_alone is False and situation.is_chosen is not True:
        found.append(Hint.UNPLUG_OTHER)
        if has_lock:
            found.append(Hint.USE_LOCK)
    return tuple(found)


def detected(
    reads: Iterable[Read], kind: str, *, control: Slot | None = None, is_none: bool = False
) -> tuple[Hint, ...]:
    """What the reads themselves give away.

    ``control`` is a CV that the decoder surely has: if it was read without answer, and nothing
    else was answered, the decoder cannot answer. Without one it takes several CVs. ``is_none``
    says that no profile fits the reads.
    """
    answers = gathered(reads)
    found: list[Hint] = []
    is_silent = not any(_is_value(answer) for held in answers.values() for answer in held)
    enough = len(answers) >= SURELY_SILENT if control is None else control in answers
    if enough and is_silent:
        found += [Hint.NOTHING_ANSWERS, _load_hint(kind)]
    if any(len(set(held)) > 1 for held in answers.values()):
        found.append(Hint.ANSWERS_DIFFER)
    elif is_none and len(answers) > SURELY_SILENT and not is_silent:
        found.append(Hint.TWO_SUSPECTED)
    if any(slot.page is None and FIRST_PAGED <= slot.cv <= LAST_PAGED for slot in answers):
        found.append(Hint.PAGE_NOT_TOLD)
    return tuple(found)


def _is_value(answer: int) -> bool:
    return answer < 256


def _load_hint(kind: str) -> Hint:
    if not kind:
        return Hint.CONNECT_LOAD
    return Hint.CONNECT_LAMP if kind in LOADLESS_KINDS else Hint.CONNECT_MOTOR
