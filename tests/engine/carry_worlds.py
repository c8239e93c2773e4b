"""Decoders of two firmwares for the laws of carrying: settings that move and are coded anew."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from decimal import Decimal

from hypothesis import strategies as st
from hypothesis.strategies import DrawFn, SearchStrategy, composite

from cvlib.engine.account.check import Saved
from cvlib.engine.carry.carry import Carried, Goal, carry
from cvlib.engine.carry.saved_settings import Origin
from cvlib.engine.known.resolve import Resolver
from cvlib.model.coding import Choice, Coding, Flags, Number, Parts, Switch
from cvlib.model.coding_many import Curve
from cvlib.model.cv import WHOLE, Field, Page, Slot
from cvlib.model.named import NamedSpan
from cvlib.model.profile import Place, Profile, Setting, Source, SourceKind
from cvlib.model.ranges import FirmwareRange
from cvlib.model.versions import FirmwareVersion, Scheme, parse_version
from make import read_whole

NAMES = ("distance", "time", "lamps", "mode", "keys", "shape")
SLOTS = (*map(Slot, range(40, 52)), *(Slot(257 + n, Page(16, 2)) for n in range(3)))
NIBBLES = ((0x0F, 0xF0), (0x03, 0xFC), (0x01, 0xFE))


def version(text: str) -> FirmwareVersion:
    """A firmware of the worlds: "1" or "2"."""
    return parse_version(text, Scheme.NUMBER)


@composite
def _fields(draw: DrawFn, count: int) -> list[tuple[Field, ...]]:
    """Room for some settings, none of it used twice: whole CVs, parts of CVs, two CVs."""
    free = list(draw(st.permutations(SLOTS)))
    made: list[tuple[Field, ...]] = []
    while len(made) < count:
        slot = free.pop()
        shape = draw(st.sampled_from(["whole", "whole", "parts", "two"]))
        if shape == "parts":
            made += [(Field(slot, mask),) for mask in draw(st.sampled_from(NIBBLES))]
        elif shape == "two":
            made.append((Field(slot), Field(free.pop())))
        else:
            made.append((Field(slot),))
    return made[:count]


@composite
def _coding(draw: DrawFn, name: str, widths: tuple[int, ...]) -> Coding:
    """A coding of the kind that the name stands for, whatever room there is."""
    top = (1 << sum(widths)) - 1
    match name:
        case "distance" | "time":
            units = ["cm", "mm"] if name == "distance" else ["s", "ms", "min"]
            scale = Decimal(draw(st.sampled_from(["1", "2", "0.5", "0.1", "10"])))
            whole = st.just((0, top))
            ends = draw(st.tuples(st.integers(0, top), st.integers(0, top)) | whole | whole)
            low, high = sorted(ends)
            names = (NamedSpan(0, 0, "off"),) if draw(st.booleans()) else ()
            names += (NamedSpan(top, top, "always on"),) if top and draw(st.booleans()) else ()
            return Number(widths, low, high, scale, unit=draw(st.sampled_from(units)), names=names)
        case "lamps":
            return Switch(widths)
        case "mode":
            order = draw(st.permutations(["steam", "diesel", "railcar"]))[: top + 1]
            return Choice(widths, tuple(NamedSpan(at, at, word) for at, word in enumerate(order)))
        case "keys":
            held = draw(st.permutations(["F1", "F2", "F3", "F4"]))[: sum(widths)]
            return Flags(widths, tuple(enumerate(held)))
        case _:
            if len(widths) == 1:
                return Switch(widths)
            return Curve(widths, draw(st.sampled_from([0, 1])), draw(st.sampled_from([100, 255])))


@composite
def generations(draw: DrawFn, at: str) -> dict[str, Place]:
    """The places of every setting at one firmware, none of them over another."""
    here = FirmwareRange.exactly(version(at))
    room = draw(_fields(len(NAMES)))
    made = {}
    for name, fields in zip(NAMES, room, strict=True):
        coding = draw(_coding(name, tuple(field.width for field in fields)))
        default = draw(st.none() | legal_parts(coding))
        made[name] = Place(here, fields, coding, default, narrowing=here)
    return made


def legal_parts(coding: Coding) -> SearchStrategy[Parts]:
    """Parts with which nothing is wrong."""
    held = st.tuples(*(st.integers(0, (1 << width) - 1) for width in coding.widths))
    match coding:
        case Number():
            return st.integers(coding.low, coding.high).map(coding.split)
        case Choice():
            return st.sampled_from(coding.choices).map(lambda span: coding.split(span.low))
        case Switch():
            return st.integers(0, 1).map(coding.split)
        case Flags():
            known = sum(1 << bit for bit, _ in coding.flags)
            return held.map(lambda parts: coding.split(coding.join(parts) & known))
        case Curve():
            return st.tuples(*(st.integers(coding.low, coding.high) for _ in coding.widths))
        case _:
            return held


@dataclass(frozen=True)
class World:
    """A decoder with two firmwares, and whole values of all its settings at the first."""

    resolver: Resolver
    values: Mapping[Slot, int]
    parts: Mapping[str, Parts]

    def carry(
        self, values: Mapping[Slot, int], start: str, to: str, *, is_reset: bool = False
    ) -> Carried:
        """Values saved for one firmware carried to the other."""
        saved = Saved(values, dict.fromkeys(values, version(start)), {})
        origin = Origin(self.resolver, saved, {})
        return carry(origin, Goal(self.resolver, version(to), values, is_reset, {}, {}))


@composite
def worlds(draw: DrawFn, *, alike: bool = False) -> World:
    """Decoders; ``alike`` keeps every coding and only moves the settings."""
    first = draw(generations("1"))
    second = draw(generations("2"))
    if alike:
        free = [place.fields for place in second.values()]
        second = {}
        for name, place in first.items():
            widths = [field.width for field in place.fields]
            at = next((n for n, held in enumerate(free) if [f.width for f in held] == widths), None)
            fields = free.pop(at) if at is not None else place.fields
            here = FirmwareRange.exactly(version("2"))
            second[name] = replace(place, firmware=here, narrowing=here, fields=fields)
        taken = [(f.slot, bit) for p in second.values() for f in p.fields for bit in _bits(f.mask)]
        if len(taken) != len(set(taken)):
            only = FirmwareRange.exactly(version("2"))
            second = {
                name: replace(place, firmware=only, narrowing=only) for name, place in first.items()
            }
    settings = {
        f"a.{name}": Setting(f"a.{name}", name, (first[name], second[name])) for name in NAMES
    }
    covered = FirmwareRange.parse(">=1, <=2", Scheme.NUMBER)
    source = Source("handbook", SourceKind.DOCUMENT, "Handbook", covered)
    whole = Profile(
        "test/two", "Ferrow", "Two", "motor", Scheme.NUMBER, settings, {"handbook": source}
    )
    profile = read_whole(whole)
    values: dict[Slot, int] = {}
    parts: dict[str, Parts] = {}
    for name in NAMES:
        place = first[name]
        parts[f"a.{name}"] = draw(legal_parts(place.coding))
        for field, part in zip(place.fields, parts[f"a.{name}"], strict=True):
            values[field.slot] = field.put(values.get(field.slot, 0), part)
    return World(Resolver(profile), values, parts)


def _bits(mask: int) -> list[int]:
    return [bit for bit in range(8) if mask >> bit & 1 and mask <= WHOLE]
