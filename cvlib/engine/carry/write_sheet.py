"""A write sheet: what is written, read and done, step by step, and what to beware of."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from contextlib import suppress
from dataclasses import dataclass, field, replace
from enum import StrEnum
from typing import NamedTuple, TypeAlias

from cvlib.engine.carry.carry import Carried
from cvlib.engine.carry.carry_outcomes import (
    Clamped,
    Disputed,
    Dropped,
    Gone,
    New,
    Refused,
)
from cvlib.engine.carry.compose_bytes import Composed, Whence
from cvlib.engine.carry.marks import limits_current
from cvlib.engine.known.identity import Expected, expected_answers
from cvlib.engine.known.resolve import Resolver
from cvlib.errors import InputError
from cvlib.model.answer import Answer
from cvlib.model.coding_many import Address, AddressForm, Curve
from cvlib.model.cv import WHOLE, Slot
from cvlib.model.profile import Place, Risk, Setting
from cvlib.model.versions import FirmwareVersion


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
    writes_bits: bool = True
    """Whether single bits can be written there."""
    address: int | None = None
    """The address at which it answers on the main as the work begins, where somebody said it."""
    usual_address: int | None = None
    """The address of the loco, which counts where its CVs do not tell."""


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
    KEEP_READ = "keep-read"
    """What was never saved and has been read is to be carried too."""
    UNPLUG_OTHER = "unplug-other"
    WAIT_FOR_RESET = "wait-for-reset"
    POWER_CYCLE = "power-cycle"
    PAGE_STAYS = "page-stays"
    """The index page that was chosen before is not known."""
    CONFIGURATION_UNKNOWN = "configuration-unknown"
    """Writing CV 1 clears bits of CVs 19 or 29 whose values are not known."""
    CHECK_DECODER = "check-decoder"
    """It cannot be read, so a person looks whether it is the one that is meant."""
    LOCK_UNKNOWN = "lock-unknown"
    """It cannot be read, and nobody noted its lock number."""
    CHECK_VALUES = "check-values"
    """It cannot be read, so a person looks whether the values took."""
    TRY = "try"


class Purpose(StrEnum):
    """Why a CV is read."""

    PROVE = "prove"
    """It shows that the decoder is the one that is meant; else stop."""
    LOCK = "lock"
    """It shows whether the decoder takes writes."""
    NOTE = "note"
    """Its value is needed later."""
    CHANGED = "changed"
    """It has another meaning than before, and nobody saved what it holds."""


class Matter(StrEnum):
    """Why a line of a sheet has nothing to write."""

    DECIDE = "decide"
    """A person has to choose."""
    BY_HAND = "by-hand"
    """No value there stands for the saved one."""
    REFUSED = "refused"
    """The saved value cannot be trusted."""
    CLAMPED = "clamped"
    """Not the whole value fits, and the CV holds what does."""
    UNREAD = "unread"
    """Other bits of its CV are not known, and can be neither read nor left alone."""
    CHANGED = "changed"
    """It has another meaning than before, and can be neither read nor carried."""
    ADDRESS = "address"
    """The long address has no place there."""


@dataclass(frozen=True, slots=True)
class Write:
    """One value written into one CV."""

    number: int
    slot: Slot
    value: int | None
    """Nothing: the value that was read in step ``from_step``. For ``bit``: 0 or 1."""
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
    mask: int = WHOLE
    """The bits that ``value`` sets; the others stay as they were read in ``from_step``."""
    bit: int | None = None
    """The only bit that is written."""
    if_locked: bool = False
    """Only where the reads of the lock showed that it is closed."""


@dataclass(frozen=True, slots=True)
class Read:
    """One CV read, and noted or compared."""

    number: int
    slot: Slot
    purpose: Purpose
    rules: tuple[str, ...] = ()
    address: int | None = None
    expected: Expected | None = None
    """What it must answer."""
    setting: str = ""
    """What it means, where that is why it is read."""


class Due(NamedTuple):
    """What a CV has to hold in the end."""

    slot: Slot
    value: int | None
    """Nothing: what was to be written in ``step``, where that depends on a reading."""
    step: int


@dataclass(frozen=True, slots=True)
class Verify:
    """CVs read once more, when all of them are written."""

    number: int
    due: tuple[Due, ...]
    address: int | None = None
    rules: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Note:
    """A line with nothing to write, at the place of a setting that asks for a look."""

    number: int
    matter: Matter
    setting: str
    slot: Slot | None = None
    rules: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Do:
    """Something done by hand."""

    number: int
    act: Act
    rules: tuple[str, ...] = ()


Step: TypeAlias = Write | Read | Verify | Note | Do


class Caution(StrEnum):
    """What to beware of; the words are in render/views/sheet_words.py."""

    HANDBOOK = "handbook"
    PROGRAMMING_TRACK = "programming-track"
    TWITCH = "twitch"
    BLIND = "blind"
    MAIN_TRACK = "main-track"
    CONSIST = "consist"
    MOVES = "moves"
    STOPPING = "stopping"
    SHARED = "shared"
    RESET = "reset"
    UPDATE = "update"
    MOTOR = "motor"
    CURRENT = "current"
    SMOKE = "smoke"
    COILS = "coils"
    UNMARKED = "unmarked"
    """Nobody has marked what a setting that is written can do."""
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


_SET = (Whence.CARRIED, Whence.OFFERED)


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


class Matters(NamedTuple):
    """A setting that asks for a look, and the CV at which it stands on the sheet."""

    matter: Matter
    setting: str
    slot: Slot | None = None


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
    proof: Mapping[Slot, Expected] = field(default_factory=dict)
    """What the decoder answers if it is the one that is meant."""
    factory: Mapping[Slot, int] = field(default_factory=dict)
    """The factory values of a decoder that nobody has written yet."""
    matters: tuple[Matters, ...] = ()
    """What stands on the sheet without a write."""
    changed: tuple[tuple[Slot, str], ...] = ()
    """CVs of another meaning than before of which nothing is saved, with their settings."""
    settings: Mapping[str, Setting] = field(default_factory=dict)
    """The settings that are written, for what they may do."""

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


def proof_of(
    resolver: Resolver, version: FirmwareVersion, options: Mapping[str, str | int]
) -> dict[Slot, Expected]:
    """What a decoder answers at a firmware: maker, version, type, and facts fixed when built."""
    found = expected_answers(resolver.profile, version)
    for name, choice in options.items():
        answer = resolver.answer(resolver.profile.settings[name], version.key)
        if answer.place is not None and (fields := answer.place.fields):
            with suppress(InputError):
                for held, part in zip(fields, answer.place.coding.raw(choice), strict=True):
                    found[held.slot] = Expected(held.mask, held.put(0, part))
    return {slot: held for slot, held in sorted(found.items()) if slot.page is None}


def job_of(carried: Carried, *, everything: bool = False) -> Job:
    """The writes that carried values ask for, and all else that belongs on their sheet.

    Only CVs whose present value differs or is not known, and the other CVs of a value that takes
    several; with ``everything`` also those that hold it already, and the factory values of new
    settings.
    """
    goal, due = carried.goal, _due(carried, everything)
    writes = {
        slot: held
        for slot, held in due.items()
        if everything or held.unread or carried.present.get(slot) != held.value
    }
    for name in {name for held in writes.values() for name in held.settings(*_SET)}:
        places = goal.resolver.at(goal.version)[name].places()
        if not any(isinstance(place.coding, Curve) for place in places):
            writes |= {slot: held for slot, held in due.items() if name in held.settings(*_SET)}
    values = {slot: held.value for slot, held in due.items() if not held.unread}
    is_new = carried.origin.resolver is not goal.resolver
    return Job(
        writes,
        {**carried.present, **values},
        goal.present,
        carried.present,
        goal.resolver.at(goal.version),
        len(due) - len([slot for slot in due if slot in writes]),
        tuple(_beware(carried, writes)),
        proof_of(goal.resolver, goal.version, goal.options),
        carried.factory if is_new or goal.is_reset else {},
        tuple(_matters(carried, writes)),
        carried.changed,
        goal.resolver.profile.settings,
    )


def _due(carried: Carried, everything: bool) -> dict[Slot, Composed]:
    """The CVs to be set: of what is only offered the bits stay where the CV is not known."""
    image = {slot: held for slot, held in carried.image.items() if slot not in carried.held_back}
    if everything:
        return {**image, **carried.offered}
    found: dict[Slot, Composed] = {}
    for slot, held in image.items():
        parts = tuple(
            replace(part, whence=Whence.DEFAULT)
            if part.whence is Whence.OFFERED and part.setting not in carried.stale
            else part
            for part in held.parts
        )
        found[slot] = held if slot in carried.present else replace(held, parts=parts)
    return {slot: held for slot, held in found.items() if held.unread != WHOLE}


def _matters(carried: Carried, writes: Mapping[Slot, Composed]) -> Iterator[Matters]:
    """What is clamped, left to decide, done by hand or refused, each at its place."""
    for outcome in carried.outcomes:
        name = outcome.setting
        match outcome:
            case Clamped(new=new) if not any(f.slot in writes for f in new.place.fields):
                yield Matters(Matter.CLAMPED, name, _first(new.place))
            case Disputed():
                yield Matters(Matter.DECIDE, name, carried.goal.first_slot(name))
            case Dropped(reason=reason, place=place) if place is not None and place.fields:
                if reason not in (Gone.ASLEEP, Gone.UNUSED):
                    is_limit = limits_current(carried.goal.resolver.profile.settings.get(name))
                    matter = Matter.DECIDE if is_limit else Matter.BY_HAND
                    yield Matters(matter, name, _first(place))
            case New(new=None, is_stale=True, place=place, unread=unread):
                matter = Matter.DECIDE if unread else Matter.BY_HAND
                yield Matters(matter, name, _first(place))
            case Refused():
                yield Matters(Matter.REFUSED, name, carried.goal.first_slot(name))
            case _:
                pass
    for slot in carried.held_back:
        for name in carried.image[slot].settings(Whence.CARRIED):
            yield Matters(Matter.DECIDE, name, slot)
    if carried.lost_address is not None:
        yield Matters(Matter.ADDRESS, "address.extended")


def _first(place: Place) -> Slot | None:
    return place.fields[0].slot if place.fields else None


def _beware(carried: Carried, writes: Iterable[Slot]) -> Iterator[Caution]:
    origin, goal = carried.origin, carried.goal
    if origin.resolver is goal.resolver and origin.version != goal.version:
        yield Caution.UPDATE
    if any(slot in carried.contested for slot in writes):
        yield Caution.CONTESTED
    if any(finding.code in ("beyond", "before", "faulty") for finding in carried.findings):
        yield Caution.DOUBTFUL
