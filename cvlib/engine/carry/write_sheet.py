"""A write sheet: what is written, read and done, step by step, and what to beware of."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, field
from enum import StrEnum
from typing import TypeAlias

from cvlib.engine.carry.carry import Carried
from cvlib.engine.carry.compose_bytes import Composed
from cvlib.model.answer import Answer
from cvlib.model.coding_many import Address, AddressForm
from cvlib.model.cv import Slot
from cvlib.model.profile import Risk, Setting


class Track(StrEnum):
    """Where the decoder is written."""

    PROGRAMMING = "programming-track"
    MAIN = "main"


@dataclass(frozen=True, slots=True)
class Setup:
    """How the decoder is reached."""

    track: Track = Track.PROGRAMMING
    answers: bool = True
    """Whether the decoder can answer reads there."""
    is_shared: bool = False
    """Whether another decoder has the same address, or stands on the same track."""
    is_reset: bool = False
    """Whether a factory reset comes first."""
    power_cycle: bool = False
    """Whether the power is switched off and on at the end."""
    locks_differ: bool | None = None
    """Whether the lock numbers of the decoders at one address differ; nothing: not known."""


class Reason(StrEnum):
    """Why a CV is written."""

    VALUE = "value"
    """It holds carried settings."""
    UNLOCK = "unlock"
    """So that this decoder takes the writes, and no other."""
    LOCK = "lock"
    """The lock gets back the value it is to have."""
    PAGE = "page"
    """Chooses the index page of the CVs that follow."""
    PAGE_BACK = "page-back"
    """The index page that was chosen before."""
    RESET = "reset"
    """The factory reset."""
    AGAIN = "again"
    """Writing CV 1 cleared it."""
    SHORT_FOR_NOW = "short-for-now"
    """The short address is used while the addresses change."""


class Act(StrEnum):
    """Something to be done that is no read or write."""

    KEEP_ALL = "keep-all"
    UNPLUG_OTHER = "unplug-other"
    WAIT_FOR_RESET = "wait-for-reset"
    POWER_CYCLE = "power-cycle"
    PAGE_STAYS = "page-stays"
    """The index page that was chosen before is not known."""
    CONFIGURATION_UNKNOWN = "configuration-unknown"
    """Writing CV 1 clears bits of CVs 19 or 29 whose values are not known."""
    TRY = "try"


@dataclass(frozen=True, slots=True)
class Write:
    """One value written into one CV."""

    number: int
    slot: Slot
    value: int | None
    """Nothing: the value that was read in step ``from_step``."""
    reason: Reason
    composed: Composed | None = None
    """For a value: where each of its bits comes from."""
    before: int | None = None
    """The value before, as far as known."""
    rules: tuple[str, ...] = ()
    read_back: bool = True
    address: int | None = None
    """On the main: the address at which the decoder answers, as far as known."""
    from_step: int | None = None
    moves_to: int | None = None
    """On the main: the other address at which it answers after this write."""


@dataclass(frozen=True, slots=True)
class Read:
    """One CV read and noted, because its value is needed later."""

    number: int
    slot: Slot
    rules: tuple[str, ...] = ()
    address: int | None = None


@dataclass(frozen=True, slots=True)
class Do:
    """Something done by hand."""

    number: int
    act: Act
    rules: tuple[str, ...] = ()


Step: TypeAlias = Write | Read | Do


class Caution(StrEnum):
    """What to beware of; the words are in render/views/sheet_words.py."""

    HANDBOOK = "handbook"
    PROGRAMMING_TRACK = "programming-track"
    TWITCH = "twitch"
    BLIND = "blind"
    MAIN_TRACK = "main-track"
    CONSIST = "consist"
    MOVES = "moves"
    SHARED = "shared"
    RESET = "reset"
    UPDATE = "update"
    MOTOR = "motor"
    SMOKE = "smoke"
    COILS = "coils"
    SHORT_ADDRESS = "short-address"
    """CV 1 is written, and makers differ in what that clears."""
    CONTESTED = "contested"
    """A CV that is written may belong to a disputed setting."""
    DOUBTFUL = "doubtful"
    """The place of a setting is extrapolated, or failed on the bench."""


CAUTION_RULES: dict[Caution, tuple[str, ...]] = {
    Caution.PROGRAMMING_TRACK: ("service-mode-energy",),
    Caution.TWITCH: ("acknowledge",),
    Caution.BLIND: ("no-motor-no-acknowledge",),
    Caution.MAIN_TRACK: ("main-write-twice",),
    Caution.CONSIST: ("consist-address-no-cv-access",),
    Caution.SHARED: ("shared-address-writes-both",),
    Caution.RESET: ("reset-by-cv8", "note-before-reset"),
    Caution.UPDATE: ("note-before-reset",),
    Caution.SHORT_ADDRESS: ("short-address-maker-choice",),
}
"""The rules behind the cautions, by id."""


@dataclass(frozen=True, slots=True)
class Sheet:
    """The steps in a safe order, and the cautions that stand above them."""

    setup: Setup
    steps: tuple[Step, ...]
    cautions: tuple[Caution, ...]
    unchanged: int
    """How many CVs are left out because they hold the right value already."""

    @property
    def writes(self) -> tuple[Write, ...]:
        """The steps that write."""
        return tuple(step for step in self.steps if isinstance(step, Write))

    @property
    def rules(self) -> tuple[str, ...]:
        """The ids of the rules behind the steps and the cautions, each once."""
        used = [rule for step in self.steps for rule in step.rules]
        used += [rule for caution in self.cautions for rule in CAUTION_RULES.get(caution, ())]
        return tuple(dict.fromkeys(used))


@dataclass(frozen=True, slots=True)
class Job:
    """What is to stand in a decoder at the end, and what stands in it now."""

    writes: Mapping[Slot, Composed]
    final: Mapping[Slot, int]
    """What other CVs are to hold at the end, as far as known."""
    before: Mapping[Slot, int]
    """The CVs as the work begins, as far as known."""
    start: Mapping[Slot, int]
    """The CVs before the first value is written: after the reset, where there is one."""
    answers: Mapping[str, Answer]
    """The settings of the decoder, for what it has: lock, pages, addresses."""
    unchanged: int = 0
    beware: tuple[Caution, ...] = ()
    """Cautions that follow from where the values come from."""
    settings: Mapping[str, Setting] = field(default_factory=dict)
    """For what each of them may harm."""

    def risk_of(self, name: str) -> frozenset[Risk] | None:
        """What a setting may harm; nothing where nobody noted it."""
        held = self.settings.get(name)
        return None if held is None else held.risk

    def bits_of(self, risk: Risk) -> dict[Slot, int]:
        """The CVs, with their bits, in which the decoder keeps settings with a mark."""
        found: dict[Slot, int] = {}
        for name, answer in self.answers.items():
            if answer.place is not None and risk in (self.risk_of(name) or ()):
                for part in answer.place.fields:
                    found[part.slot] = found.get(part.slot, 0) | part.mask
        return found

    @property
    def is_vehicle(self) -> bool:
        """Whether CV 1 is the short address of a loco's decoder."""
        return any(
            isinstance(place.coding, Address)
            and place.coding.form is AddressForm.SHORT
            and place.fields[0].slot == Slot(1)
            for answer in self.answers.values()
            if (place := answer.place) is not None and place.fields
        )


def job_of(carried: Carried, *, everything: bool = False) -> Job:
    """The writes that carried values ask for.

    Only CVs whose present value differs or is not known; with ``everything`` also those that hold
    it already, and the factory values of new settings.
    """
    due = {slot: held for slot, held in carried.image.items() if slot not in carried.held_back}
    writes = {
        slot: held
        for slot, held in due.items()
        if everything or carried.present.get(slot) != held.value
    }
    if everything:
        writes |= carried.offered
    values = {slot: held.value for slot, held in due.items()}
    return Job(
        writes,
        {**carried.present, **values},
        carried.goal.present,
        carried.present,
        carried.goal.resolver.at(carried.goal.version),
        len(due) - len([slot for slot in due if slot in writes]),
        tuple(_beware(carried, writes)),
        carried.goal.resolver.profile.settings,
    )


def _beware(carried: Carried, writes: Iterable[Slot]) -> Iterator[Caution]:
    origin, goal = carried.origin, carried.goal
    if origin.resolver is goal.resolver and origin.version != goal.version:
        yield Caution.UPDATE
    if any(slot in carried.contested for slot in writes):
        yield Caution.CONTESTED
    if any(finding.code in ("beyond", "before", "faulty") for finding in carried.findings):
        yield Caution.DOUBTFUL
