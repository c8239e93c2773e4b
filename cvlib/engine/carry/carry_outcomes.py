"""What becomes of one saved setting at another firmware: each outcome a small frozen class."""

from __future__ import annotations

from dataclasses import dataclass
from decimal import Decimal
from enum import StrEnum
from typing import TypeAlias

from cvlib.engine.carry.convert import Obstacle
from cvlib.model.answer import Side, Standing
from cvlib.model.coding import Parts, Reading
from cvlib.model.cv import Slot
from cvlib.model.profile import Place
from cvlib.model.versions import FirmwareVersion


@dataclass(frozen=True, slots=True)
class At:
    """A value of a setting at one of its places, and how well the place is known."""

    place: Place
    parts: Parts
    standing: Standing
    firmware: FirmwareVersion

    @property
    def reading(self) -> Reading:
        """What the value means there."""
        return self.place.coding.decode(self.parts)


@dataclass(frozen=True, slots=True)
class Same:
    """Same CVs, same raw value, same meaning."""

    setting: str
    old: At
    new: At
    kind = "same"


@dataclass(frozen=True, slots=True)
class Moved:
    """Another place, the raw value as before."""

    setting: str
    old: At
    new: At
    kind = "moved"


@dataclass(frozen=True, slots=True)
class Converted:
    """Another raw value for the same meaning, as near as the steps there allow."""

    setting: str
    old: At
    new: At
    wanted: Decimal | None = None
    """Where it was rounded: the figure asked for, in the new unit."""
    got: Decimal | None = None
    """Where it was rounded: the figure that is set, at most half a step away."""
    kind = "converted"


@dataclass(frozen=True, slots=True)
class Clamped:
    """The new place cannot hold the whole value; the nearest it can hold is taken."""

    setting: str
    old: At
    new: At
    wanted: Decimal | None = None
    got: Decimal | None = None
    lost: tuple[str, ...] = ()
    """What is left out: flags, the end of a text."""
    kind = "clamped"


class Gone(StrEnum):
    """Why a setting is dropped, where it is not the coding."""

    ABSENT = "absent"
    """The firmware does not have it."""
    NOT_IN_PROFILE = "not-in-profile"
    """The other decoder type has no setting of this name."""
    ASLEEP = "asleep"
    """It exists there only while another setting has another value."""
    UNUSED = "unused"
    """It has a CV there, which does nothing."""
    BUILT_IN = "built-in"
    """There it is fixed when the decoder is built."""
    NO_ADDRESS = "no-address"
    """It is part of a long address, of which that decoder has not all parts."""


@dataclass(frozen=True, slots=True)
class Dropped:
    """Nothing there stands for the value."""

    setting: str
    old: At
    reason: Gone | Obstacle
    place: Place | None = None
    """Where the setting lives there, though it cannot take the value."""
    side: Side | None = None
    """For an absent setting: which firmware has it."""
    kind = "dropped"


@dataclass(frozen=True, slots=True)
class New:
    """A setting there that has no saved value; its factory value is offered."""

    setting: str
    new: At | None
    """Nothing where the factory value is not known, or what it would replace is not."""
    place: Place
    standing: Standing
    is_stale: bool = False
    """Its CVs hold what was saved for another setting, so the offer is part of the sheet."""
    unread: tuple[Slot, ...] = ()
    """CVs that nobody saved, whose value the offer would replace."""
    kind = "new"


@dataclass(frozen=True, slots=True)
class Candidate:
    """One of the places that a disputed setting may have, with the value it would get."""

    place: Place | None
    """Nothing: the setting may be absent."""
    parts: Parts | None = None
    """Nothing where the place cannot take the value, or for a disputed saved value."""


@dataclass(frozen=True, slots=True)
class Disputed:
    """Nobody knows which place applies; nothing is written without a choice."""

    setting: str
    old: At | None
    """Nothing where it is the saved value whose place is disputed."""
    candidates: tuple[Candidate, ...]
    kind = "disputed"


@dataclass(frozen=True, slots=True)
class ReadOnly:
    """The value is the decoder's own; it is not written."""

    setting: str
    old: At
    place: Place | None
    kind = "read-only"


class Refusal(StrEnum):
    """Why a saved value is not passed on."""

    OUT_OF_RANGE = "out-of-range"
    UNDEFINED_CHOICE = "undefined-choice"
    UNDECIDED = "undecided"
    """What the CV means depends on a setting with no saved value."""
    INCOMPLETE = "incomplete"
    """Some of its CVs are not saved."""
    NO_EFFECT = "no-effect"
    """The place did nothing in the firmware it was saved for."""
    TAKEN = "taken"
    """Another setting goes to its bits, and one CV cannot hold both."""


@dataclass(frozen=True, slots=True)
class Refused:
    """A saved value that cannot be trusted; it is reported and not passed on."""

    setting: str
    reason: Refusal
    place: Place
    firmware: FirmwareVersion
    value: str = ""
    """The saved value in words, where there is a whole one."""
    needs: tuple[str, ...] = ()
    """Settings or CVs whose value is missing, or settings that are in the way."""
    kind = "refused"


Written: TypeAlias = Same | Moved | Converted | Clamped
"""The outcomes that have a value to write."""

Outcome: TypeAlias = Written | Dropped | New | Disputed | ReadOnly | Refused


@dataclass(frozen=True, slots=True)
class Left:
    """Saved bits that no setting owned in the firmware they were saved for."""

    slot: Slot
    mask: int
    value: int
    firmware: FirmwareVersion


@dataclass(frozen=True, slots=True)
class Superseded:
    """A value saved for older firmware, of which a later saved one exists."""

    setting: str
    old: At
