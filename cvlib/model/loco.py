"""A saved loco: its decoders, their firmware, the values, and how each was obtained."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from enum import StrEnum

from cvlib.errors import Position
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
