"""Which value to write in a behaviour test: one that shows plainly and can do no harm."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass

from cvlib.engine.bench.harm import Harm, harm_of, is_within
from cvlib.engine.bench.visible import (
    PLAIN,
    TELLS,
    apart,
    coded_alike,
    is_practical,
    stands_for_key,
)
from cvlib.engine.known.resolve import Resolver
from cvlib.errors import InputError
from cvlib.model.coding import Choice, Coding, Flags, Number, Parts, Switch
from cvlib.model.cv import Slot
from cvlib.model.profile import Place, Setting
from cvlib.model.unit_table import factor
from cvlib.model.versions import FirmwareVersion

Writes = tuple[tuple[Slot, int, int], ...]
"""For each CV its slot, the mask of the bits to set, and those bits in place."""
MOST_TRIED = 256
"""So many values of a wide setting are looked at."""


@dataclass(frozen=True, slots=True)
class Bench:
    """A decoder on the bench: what else may live in the CVs that a test writes."""

    lives: Mapping[Slot, Sequence[tuple[Setting, Place]]]
    """For each CV every setting that it has, or may have, at this firmware."""

    def is_harmless(self, setting: str, writes: Writes) -> bool:
        """Whether bits may be written, whatever else those CVs turn out to be."""
        for slot, mask, value in writes:
            for other, place in self.lives.get(slot, ()):
                if other.id != setting and not self._allows(other, place, slot, mask, value):
                    return False
        return True

    def _allows(self, other: Setting, place: Place, slot: Slot, mask: int, value: int) -> bool:
        part = next(field for field in place.fields if field.slot == slot)
        if not part.mask & mask:
            return True
        harm = harm_of(other)
        if harm is Harm.NONE:
            return True
        alone = len(place.fields) == 1
        return alone and is_within(harm, place, (part.take(value),))


def bench_of(resolver: Resolver, version: FirmwareVersion) -> Bench:
    """The decoder at a firmware, with every place that comes into question there."""
    lives: dict[Slot, list[tuple[Setting, Place]]] = {}
    for name, answer in resolver.at(version).items():
        setting = resolver.profile.settings[name]
        for place in answer.places():
            if place.coding.kind not in ("area", "fields"):
                for slot in {field.slot for field in place.fields}:
                    lives.setdefault(slot, []).append((setting, place))
    return Bench(lives)


def writes_of(place: Place, parts: Parts) -> Writes:
    """What is written for the parts of a value."""
    return tuple(
        (part.slot, part.mask, part.put(0, value))
        for part, value in zip(place.fields, parts, strict=True)
    )


def value_apart(bench: Bench, setting: Setting, place: Place) -> Parts | None:
    """A value that shows plainly beside the factory value; nothing where none does without harm."""
    harm = harm_of(setting)
    best: tuple[float, Parts] | None = None
    for parts in _candidates(place, harm):
        if place.coding.decode(parts).fault is not None or parts == place.default:
            continue
        if not is_within(harm, place, parts):
            continue
        if not bench.is_harmless(setting.id, writes_of(place, parts)):
            continue
        if place.default is None:
            return parts
        clear = _clearness(place, parts, apart(place, parts, place, place.default))
        if clear >= PLAIN:
            return parts
        if clear >= TELLS and (best is None or clear > best[0]):
            best = clear, parts
    return best[1] if best is not None else None


def values_at_one_place(
    bench: Bench, setting: Setting, places: Sequence[Place]
) -> tuple[Writes, tuple[Parts, ...]] | None:
    """One write that means plainly different things by every coding of one place.

    Where codings differ only in what they allow, a value that one of them allows; only where that
    can do no harm.
    """
    harm = harm_of(setting)
    best: tuple[float, Writes, tuple[Parts, ...]] | None = None
    allowed_once: tuple[Writes, tuple[Parts, ...]] | None = None
    for writes, held in _common_writes(places):
        if not bench.is_harmless(setting.id, writes):
            continue
        faults = [p.coding.decode(parts).fault is not None
                  for p, parts in zip(places, held, strict=True)]  # fmt: skip
        if any(faults):
            if harm is Harm.NONE and not all(faults) and allowed_once is None:
                allowed_once = writes, held
            continue
        if not all(is_within(harm, p, parts) for p, parts in zip(places, held, strict=True)):
            continue
        if harm and not all(isinstance(place.coding, Number) for place in places):
            continue
        clear = min(_clearness(p, parts, _apart_from_rest(places, held, at))
                    for at, (p, parts) in enumerate(zip(places, held, strict=True)))  # fmt: skip
        if clear >= TELLS and (best is None or clear > best[0]):
            best = clear, writes, held
    if best is not None:
        return best[1], best[2]
    return allowed_once if _is_named(places) else None


def _is_named(places: Sequence[Place]) -> bool:
    """Whether each value stands for something of its own, as names do, and keys of a function.

    A figure that is out of range may act all the same, or be taken as the highest one allowed.
    """
    return all(isinstance(p.coding, Choice) or stands_for_key(p.coding) for p in places)


def _apart_from_rest(places: Sequence[Place], held: Sequence[Parts], at: int) -> float:
    one = places[at], held[at]
    return min(
        (0.0 if coded_alike(one[0], other) else apart(*one, other, parts))
        for number, (other, parts) in enumerate(zip(places, held, strict=True))
        if number != at
    )


def _clearness(place: Place, parts: Parts, clear: float) -> float:
    """How plainly a value shows; less where it is 0, or takes too long or too much track."""
    if not is_practical(place.coding, parts):
        clear /= 2
    is_zero = isinstance(place.coding, Number) and place.coding.join(parts) == 0
    return clear * 0.7 if is_zero else clear


def _common_writes(places: Sequence[Place]) -> Iterator[tuple[Writes, tuple[Parts, ...]]]:
    """Writes into the CVs that all places share, with what they are at each place."""
    first = places[0]
    if all(place.fields == first.fields for place in places):
        room = 1 << sum(first.coding.widths)
        for number in range(0, room, max(1, room // MOST_TRIED)):
            parts = first.coding.split(number)
            yield writes_of(first, parts), (parts,) * len(places)
        return
    if any(len(place.fields) != 1 for place in places):
        return
    mask = 0
    for place in places:
        mask |= place.fields[0].mask
    for byte in range(256):
        if byte & ~mask == 0:
            held = tuple((place.fields[0].take(byte),) for place in places)
            yield ((first.fields[0].slot, mask, byte),), held


def _candidates(place: Place, harm: Harm) -> Iterator[Parts]:
    """Values worth a look, those that show best first."""
    coding = place.coding
    factory = coding.join(place.default) if place.default is not None else 0
    numbers: Iterable[int] = ()
    match coding:
        case Switch():
            numbers = (1 - (factory & 1),)
        case Choice():
            numbers = [s.low for s in coding.choices if not s.low <= factory <= s.high]
        case Flags():
            if harm:
                numbers = [factory & ~(1 << bit) for bit, _ in coding.flags if factory >> bit & 1]
            else:
                numbers = [factory ^ 1 << bit for bit, _ in coding.flags]
        case Number():
            yield from _numbers(coding, factory, harm)
            return
    for number in numbers:
        yield coding.split(number)


def _numbers(coding: Number, factory: int, harm: Harm) -> Iterator[Parts]:
    low, high = coding.low, coding.high
    if harm:
        known = coding.signed(factory)
        wanted = [span.low for span in coding.names]
        wanted += [low + (known - low) * at // 4 for at in (1, 2, 0)]
    else:
        wanted = [*_measured(coding), *(low + (high - low) * at // 8 for at in (2, 4, 6, 1, 7))]
    for raw in dict.fromkeys(wanted):
        try:
            yield coding.raw(raw)
        except InputError:
            continue


def _measured(coding: Number) -> Iterator[int]:
    """Raw values of times and lengths that a watch or a tape shows well."""
    targets = {"s": (5, 10, 2, 20, 1, 30, 60), "cm": (100, 50, 150, 20, 200)}
    for unit, figures in targets.items():
        for figure in figures:
            raw = _nearest(coding, figure, unit)
            if raw is not None and coding.low <= raw <= coding.high:
                yield raw


def _nearest(coding: Coding, figure: int, unit: str) -> int | None:
    size = factor(coding.unit, unit) if isinstance(coding, Number) and coding.unit else None
    if size is None or not isinstance(coding, Number) or coding.scale <= 0:
        return None
    return round((float(figure) / float(size) - float(coding.offset)) / float(coding.scale))
