"""Whole CV values out of the settings that share them, with an account of every bit."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass
from enum import IntEnum, StrEnum

from cvlib.engine.account.factory import Values, factory_parts
from cvlib.engine.carry.carry_outcomes import At
from cvlib.model.coding import Fields, Flags, Parts
from cvlib.model.cv import WHOLE, Slot, bits_of
from cvlib.model.profile import Place


class Whence(StrEnum):
    """Where some bits of a composed CV come from."""

    CARRIED = "carried"
    """A saved setting."""
    OFFERED = "offered"
    """The factory value of a setting with no saved value."""
    SAVED = "saved"
    """The saved CV, untouched."""
    DEFAULT = "default"
    """Bits that nobody has read; they stay as they are, which may be their factory value."""
    CLEARED = "cleared"
    """What a setting left there that is gone: the factory value of the byte, else 0."""
    ZERO = "zero"
    """Bits that nobody has read, and of which no factory value is known; they stay too."""


class _Turn(IntEnum):
    """In which order factory values are taken: a byte with a value of its own, fields, bytes."""

    WHOLE = 0
    FIELD = 1
    BYTE = 2


@dataclass(frozen=True, slots=True)
class BitsFrom:
    """Some bits of a composed CV and where they come from."""

    mask: int
    value: int
    """Already in place under the mask."""
    whence: Whence
    setting: str = ""


@dataclass(frozen=True, slots=True)
class Composed:
    """One whole CV value; its parts cover all eight bits once."""

    slot: Slot
    value: int
    parts: tuple[BitsFrom, ...]

    def carries(self) -> bool:
        """Whether any of it was saved as a setting."""
        return any(part.whence is Whence.CARRIED for part in self.parts)

    @property
    def unread(self) -> int:
        """The bits that nobody knows: they are to stay as they are in the decoder."""
        return sum(p.mask for p in self.parts if p.whence in (Whence.DEFAULT, Whence.ZERO))

    @property
    def is_factory(self) -> bool:
        """Whether it holds factory values of new settings, and nothing carried."""
        return bool(self.settings(Whence.OFFERED)) and not self.settings(Whence.CARRIED)

    def settings(self, *whence: Whence) -> tuple[str, ...]:
        """The settings whose bits come from there, each once."""
        return tuple(dict.fromkeys(p.setting for p in self.parts if p.whence in whence))


@dataclass(frozen=True, slots=True)
class Ground:
    """What is under the settings: the CVs as they are, and the factory values."""

    present: Mapping[Slot, int]
    """CV values as far as they are known."""
    known: Mapping[Slot, int]
    """The bits of a present value that are known, where that is not all of them."""
    left: Mapping[Slot, int]
    """The bits of a present value that belonged to a setting and belong to nobody now."""
    places: Mapping[str, Place]
    """The place of every setting at the firmware, for the factory values."""


def compose_bytes(
    carried: Mapping[str, At], offered: Mapping[str, At], ground: Ground
) -> dict[Slot, Composed]:
    """Every CV that a carried or offered setting uses, composed from all of them.

    Bits that no setting sets stay as they are, but for what a gone setting left. Where nobody
    knows what they are, the value holds their factory value or 0 for them, and
    :attr:`Composed.unread` says that they are to be kept.
    """
    given: dict[Slot, list[BitsFrom]] = {}
    for whence, settings in ((Whence.CARRIED, carried), (Whence.OFFERED, offered)):
        for name, held in settings.items():
            owned = owned_bits(held.place)
            for field, bits, part in zip(held.place.fields, owned, held.parts, strict=True):
                there = given.setdefault(field.slot, [])
                mask = bits & ~sum(one.mask for one in there)
                if mask:
                    there.append(BitsFrom(mask, field.put(0, part) & mask, whence, name))
    known = {name: (held.place, held.parts) for name, held in {**offered, **carried}.items()}
    # Bits that are given break up a byte that is made to stand for something as a whole.
    defaults = _factory_bits(ground.places, given, known, (_Turn.FIELD, _Turn.BYTE))
    return {
        slot: _composed(slot, parts, ground, defaults.get(slot, ()))
        for slot, parts in sorted(given.items(), key=lambda item: item[0].order)
    }


def owned_bits(place: Place) -> tuple[int, ...]:
    """The bits of each CV of a place that mean something; of flags, those that have a name."""
    if not isinstance(place.coding, Flags):
        return tuple(field.mask for field in place.fields)
    named = place.coding.encode(frozenset(name for _, name in place.coding.flags))
    return tuple(field.put(0, part) for field, part in zip(place.fields, named, strict=True))


def factory_values(places: Mapping[str, Place]) -> dict[Slot, int]:
    """The CVs whose whole value after a factory reset is known.

    A CV counts when the bits without a factory value of their own belong to no setting; those are
    0 here, though nobody knows them.
    """
    claimed = claimed_bits(places.values())
    found: dict[Slot, int] = {}
    for slot, parts in _factory_bits(places, claimed, {}).items():
        known = sum(bits.mask for bits in parts)
        if not claimed.get(slot, 0) & ~known:
            found[slot] = sum(bits.value for bits in parts)
    return found


def claimed_bits(places: Iterable[Place]) -> dict[Slot, int]:
    """The bits of each CV that belong to a setting."""
    claimed: dict[Slot, int] = {}
    for place in places:
        if not isinstance(place.coding, Fields):
            for field, mask in zip(place.fields, owned_bits(place), strict=True):
                claimed[field.slot] = claimed.get(field.slot, 0) | mask
    return claimed


def _composed(
    slot: Slot, given: list[BitsFrom], ground: Ground, defaults: Iterable[BitsFrom]
) -> Composed:
    parts = list(given)
    free = WHOLE & ~sum(bits.mask for bits in parts)
    present = ground.present.get(slot)
    left = free & ground.left.get(slot, 0) if present is not None else 0
    if present is not None and (known := free & ~left & ground.known.get(slot, WHOLE)):
        parts.append(BitsFrom(known, present & known, Whence.SAVED))
        free &= ~known
    for default in defaults:
        for rest, whence in ((left, Whence.CLEARED), (free & ~left, Whence.DEFAULT)):
            if mask := rest & default.mask:
                parts.append(BitsFrom(mask, default.value & mask, whence, default.setting))
        left, free = left & ~default.mask, free & ~default.mask
    parts += [
        BitsFrom(rest, 0, whence)
        for rest, whence in ((left, Whence.CLEARED), (free & ~left, Whence.ZERO))
        if rest
    ]
    ordered = sorted(parts, key=lambda bits: next(bits_of(bits.mask)))
    return Composed(slot, sum(bits.value for bits in parts), tuple(ordered))


def _factory_bits(
    places: Mapping[str, Place],
    slots: Iterable[Slot],
    known: Values,
    turns: Iterable[_Turn] = tuple(_Turn),
) -> dict[Slot, list[BitsFrom]]:
    """The factory values of the bits of some CVs: those of fields first, then of whole bytes.

    A byte that stands for something as a whole goes before its fields.
    """
    wanted = set(slots)
    found: dict[Slot, list[BitsFrom]] = {}
    left = {name: factory_parts(place, places, known) or () for name, place in places.items()}
    for turn in turns:
        for name, place in places.items():
            parts = left[name]
            if not parts or _turn(place, parts) is not turn:
                continue
            for slot, mask, value in _default_fields(place, parts):
                taken = sum(bits.mask for bits in found.get(slot, ()))
                if slot in wanted and mask & ~taken:
                    free = mask & ~taken
                    bits = BitsFrom(free, value & free, Whence.DEFAULT, name)
                    found.setdefault(slot, []).append(bits)
    return found


def _turn(place: Place, parts: Parts) -> _Turn:
    if not isinstance(place.coding, Fields):
        return _Turn.FIELD
    return _Turn.WHOLE if place.coding.decode(parts).name else _Turn.BYTE


def _default_fields(place: Place, parts: Parts) -> Iterator[tuple[Slot, int, int]]:
    for field, part in zip(place.fields, parts, strict=True):
        yield field.slot, field.mask, field.put(0, part)
