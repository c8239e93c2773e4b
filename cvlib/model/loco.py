"""A saved loco: its decoders, their firmware, the values, and how each was obtained."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field, replace
from enum import StrEnum

from cvlib.errors import Position, problem
from cvlib.model.cv import Slot
from cvlib.model.trial import BenchTrial


class State(StrEnum):
    """What has become of a decoder's values since its firmware was last changed."""

    UNKNOWN = ""
    """Nobody said; treated as not reset."""
    RESET = "reset"
    """A factory reset followed the update, and all that is set now was set after it."""
    NOT_RESET = "not-reset"
    """It was updated without a factory reset: a value may be left over."""
    NEVER_UPDATED = "never-updated"
    """It has the firmware it came with."""


@dataclass(frozen=True, slots=True)
class SavedValue:
    """One CV value, with where it came from."""

    slot: Slot
    value: int
    firmware: str = ""
    """The firmware it was saved for, as written; empty where not known."""
    date: str = ""
    how: str = ""
    """read, written, typed, carried, or nothing."""
    position: Position | None = field(default=None, compare=False)
    installed: str = ""
    """The firmware that was in the decoder on that day; empty where not known."""
    since: str = ""
    """The firmware of an earlier reading with another number: it cannot be meant for older one."""
    outlived: bool = False
    """Whether ``firmware`` is no more than what was in the decoder when the value was noted, before
    an update: it may have been meant for older firmware already then."""


@dataclass(frozen=True, slots=True)
class Reading:
    """The values of one decoder noted on one day, with the firmware that was in it then."""

    values: Mapping[Slot, SavedValue]
    """Each as this reading has it, whatever other readings say."""
    date: str = ""
    how: str = ""
    firmware: str = ""
    """What was in the decoder on that day, as written; empty where not known."""
    saved_for: str = ""
    """What the values were meant for, where somebody noted it."""
    state: State = State.UNKNOWN
    """What had become of the values at the update before that day."""
    note: str = ""

    @property
    def meant_for(self) -> str:
        """The firmware that all its values were meant for; empty where it depends, or is not known.

        What is written, carried, or read after a reset is meant for the firmware of that day.
        """
        is_new = self.how in ("written", "carried") or self.state in (
            State.RESET,
            State.NEVER_UPDATED,
        )
        return self.saved_for or (self.firmware if is_new else "")


@dataclass(frozen=True, slots=True)
class CheckedValue:
    """What the last check made of one CV value."""

    value: int
    digest: str
    """Stands for the meaning; see :mod:`cvlib.engine.account.meaning`."""
    means: str
    """The meaning in words."""


@dataclass(frozen=True, slots=True)
class LastCheck:
    """What the last recorded check left in the loco file for one decoder."""

    date: str
    """ISO date."""
    profile: str
    firmware: str
    """The firmware that was checked for."""
    digest: str
    """The behaviour digest that the profile had."""
    values: Mapping[Slot, CheckedValue]


@dataclass(frozen=True, slots=True)
class SavedDecoder:
    """One decoder of a loco and what is saved of it."""

    values: Mapping[Slot, SavedValue]
    profile: str = ""
    """Profile id; empty where not known."""
    role: str = ""
    firmware: str = ""
    """The installed firmware, as written; empty where not known."""
    options: Mapping[str, str | int] = field(default_factory=dict)
    """Facts fixed at build time: setting id and choice."""
    last_check: LastCheck | None = None
    """What `check --record` left in the file, if anything."""
    state: State = State.UNKNOWN
    readings: tuple[Reading, ...] = ()
    """How ``values`` came about, oldest first, where the file keeps them apart."""


@dataclass(frozen=True, slots=True)
class Loco:
    """One loco and its decoders."""

    name: str
    decoders: tuple[SavedDecoder, ...]
    file: str = ""
    address: int | None = None
    note: str = ""
    path: str = field(default="", compare=False)
    """The file under its true name, which need not be fit to be shown; empty: none."""
    digest: str = field(default="", compare=False)
    """The digest of what the file held when it was read."""
    trials: tuple[BenchTrial, ...] = ()
    """Runs measured at the layout, each with its plan."""


def decoders_of(loco: Loco, role: str) -> tuple[SavedDecoder, ...]:
    """The decoders of a loco that have a role, or all where none is said; raises where none has."""
    held = tuple(one for one in loco.decoders if not role or one.role == role)
    if not held:
        roles = _roles(loco)
        raise problem(
            f'{loco.file or loco.name}: no decoder has the role "{role}".',
            advice=f"Its roles are {roles}." if roles else "Its decoders have no roles.",
        )
    return held


def one_decoder(loco: Loco, role: str) -> SavedDecoder:
    """The decoder that is meant; raises where a role has to say it and does not."""
    held = decoders_of(loco, role)
    if len(held) > 1:
        raise problem(
            f"{loco.file or loco.name}: this loco has {len(held)} decoders, and one is taken at a "
            "time.",
            advice=f"Choose one with --role; the roles are {_roles(loco)}.",
        )
    return held[0]


def _roles(loco: Loco) -> str:
    return ", ".join(f'"{one.role}"' for one in loco.decoders if one.role)


def latest_values(readings: Iterable[Reading], installed: str) -> Mapping[Slot, SavedValue]:
    """What a decoder with that firmware holds, by its readings: a later one wins, CV by CV.

    A number that outlived an update keeps what it was meant for, and so the doubt whether that was
    the firmware of its reading or an older one. One that a reading finds changed
    since other firmware is open, from that firmware on; without an update between, somebody set it.
    """
    held: dict[Slot, SavedValue] = {}
    for reading in readings:
        for slot, value in reading.values.items():
            held[slot] = _after(held.get(slot), value, reading)
    return {slot: _outlived(value, installed) for slot, value in held.items()}


def _after(before: SavedValue | None, value: SavedValue, reading: Reading) -> SavedValue:
    """A value of a reading, by what the readings before it had there."""
    if reading.meant_for or before is None:
        return replace(value, firmware=reading.meant_for)
    if before.value == value.value:
        meant = _outlived(before, reading.firmware)
        return replace(
            value,
            firmware=meant.firmware,
            date=before.date or value.date,
            since=before.since,
            outlived=meant.outlived,
        )
    if reading.how == "read" and before.installed and before.installed == reading.firmware:
        return replace(value, firmware=reading.firmware)
    return replace(value, since=before.installed)


def _outlived(value: SavedValue, firmware: str) -> SavedValue:
    """The value with what it was meant for at most, where an update to this firmware followed."""
    if value.firmware or not value.installed or not firmware or value.installed == firmware:
        return value
    return replace(value, firmware=value.installed, outlived=True)
