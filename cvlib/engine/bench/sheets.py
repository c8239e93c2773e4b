"""What every CV may answer when settings live at given places."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass
from functools import lru_cache

from cvlib.engine.account.factory import factory_parts, holds_at_factory
from cvlib.engine.bench.expect import ANY_VALUE, Expectation, Keeping, Presence
from cvlib.model.coding import Area, Coding, Fields, Number, signed_bits
from cvlib.model.coding_many import Address, AddressForm, Curve, Text
from cvlib.model.cv import WHOLE, Field, Slot
from cvlib.model.formulas import ADDRESS_BASE, ADDRESS_TOP
from cvlib.model.profile import Place, Setting, group_of

PERSONAL = frozenset(("address", "consist", "user", "lock"))
"""Groups of settings that nearly every owner sets to something of his own."""
BY_ITSELF = frozenset(("index.high", "index.low"))
"""Settings that reading a paged CV changes."""

Chosen = Mapping[str, Place | None]
"""A place, or none, for each setting."""


@dataclass(frozen=True, slots=True)
class Part:
    """One setting's part in one CV."""

    mask: int
    legal: int
    """The values of the part itself that are allowed, as a set."""
    default: int | None
    """In place under the mask."""
    keeping: Keeping
    is_loose: bool
    is_whole: bool
    """Whether it is the byte that other settings are fields of."""
    special: int = 0
    """Values of that byte that stand for something as a whole, as a set."""


def sheet_of(settings: Mapping[str, Setting], chosen: Chosen) -> dict[Slot, Expectation]:
    """What each CV that the chosen places use may answer, by its slot."""
    parts: dict[Slot, list[Part]] = {}
    for name, place in chosen.items():
        if place is None or not place.fields:
            continue
        if isinstance(place.coding, Area) and place.coding.use != "user":
            continue
        for slot, part in _parts(settings[name], place, chosen):
            parts.setdefault(slot, []).append(part)
    return {slot: _joined(tuple(held)) for slot, held in parts.items()}


def _parts(setting: Setting, place: Place, chosen: Chosen) -> Iterator[tuple[Slot, Part]]:
    keeping = _keeping(setting.id, place)
    holds = all(holds_at_factory(when, chosen) for when in place.when)
    factory = factory_parts(place, chosen) if holds else None
    for at, field in enumerate(place.fields):
        default = None
        if factory is not None:
            default = factory[at] << field.shift & field.mask
        part = Part(
            field.mask,
            legal_part(place.coding, at),
            default,
            keeping,
            bool(place.when),
            isinstance(place.coding, Fields) and not isinstance(place.coding, Area),
            _special(place.coding),
        )
        yield field.slot, part
        if place.also_at is not None and at == 0:
            yield Slot(place.also_at), part


def _keeping(name: str, place: Place) -> Keeping:
    marks = place.marks
    if marks.volatile or marks.internal or name in BY_ITSELF:
        return Keeping.DECODER
    if marks.read_only:
        return Keeping.MAKER
    return Keeping.PERSONAL if group_of(name) in PERSONAL else Keeping.OWNER


@lru_cache(maxsize=1 << 12)
def _joined(parts: tuple[Part, ...]) -> Expectation:
    """One CV out of the parts that settings have in it."""
    fine = [part for part in parts if not part.is_whole] or list(parts)
    is_loose = any(part.is_loose for part in fine)
    default, mask = _default(parts)
    keepings = {part.keeping for part in fine}
    legal = ANY_VALUE if is_loose else _legal(tuple((part.mask, part.legal) for part in fine))
    for part in parts:
        legal |= part.special
    if keepings == {Keeping.DECODER}:
        keeping, mask = Keeping.DECODER, 0
    else:
        keeping = min(keepings - {Keeping.DECODER})
    return Expectation(
        Presence.HELD, legal, 0, default & mask, mask, keeping, is_loose and mask != WHOLE
    )


def _default(parts: Iterable[Part]) -> tuple[int, int]:
    """The factory value and which of its bits are known; single bits win over the whole byte.

    A byte that stands for something as a whole wins over its bits.
    """
    default = mask = 0
    for part in sorted(parts, key=_weight):
        if part.keeping is Keeping.DECODER:
            default, mask = default & ~part.mask, mask & ~part.mask
        elif part.default is not None:
            default = default & ~part.mask | part.default
            mask |= part.mask
    return default, mask


def _weight(part: Part) -> int:
    if not part.is_whole:
        return 1
    return 2 if part.default is not None and part.special >> part.default & 1 else 0


def _special(coding: Coding) -> int:
    spans = coding.names if isinstance(coding, Fields) else ()
    return sum(1 << byte for span in spans for byte in range(span.low, span.high + 1))


@lru_cache(maxsize=1 << 12)
def _legal(parts: tuple[tuple[int, int], ...]) -> int:
    """The byte values in which every part is allowed and no other bit is set."""
    if len(parts) == 1 and parts[0][0] == WHOLE:
        return parts[0][1]
    owned = 0
    for mask, _ in parts:
        owned |= mask
    fields = [(Field(Slot(1), mask), legal) for mask, legal in parts]
    found = 0
    for byte in range(256):
        if byte & ~owned == 0 and all(legal >> held.take(byte) & 1 for held, legal in fields):
            found |= 1 << byte
    return found or ANY_VALUE


@lru_cache(maxsize=1 << 12)
def legal_part(coding: Coding, at: int) -> int:
    """The values one CV of a setting may have, as a set; all of them where others decide too."""
    width = coding.widths[at]
    everything = (1 << (1 << width)) - 1
    match coding:
        case Fields():
            return everything
        case Curve():
            points = range(coding.low, coding.high + 1)
            held = {signed_bits(point, width, coding.sign) for point in points}
            return sum(1 << bits for bits in held) & everything
        case Text():
            return 1 | _span(32, 126)
        case Address(form=AddressForm.EXTENDED):
            return _span(ADDRESS_BASE, ADDRESS_TOP) if at == 0 else everything
    if len(coding.widths) == 1:
        fits = 0
        for value in range(1 << width):
            reading = coding.decode((value,))
            fits |= (reading.fault is None and not reading.stray) << value
        return fits or everything
    if at == 0 and isinstance(coding, Number) and coding.sign is None and not coding.names:
        below = sum(coding.widths[1:])
        return _span(max(coding.low, 0) >> below, coding.high >> below) & everything or everything
    return everything


def _span(low: int, high: int) -> int:
    return (1 << high + 1) - (1 << low) if 0 <= low <= high else 0
