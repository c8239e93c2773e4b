"""Random locos for write sheets: two firmwares or two decoder types, values, and a decoder.

The meanings are worked out here from the tables alone, not by the package.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from fractions import Fraction
from random import Random
from typing import Any

from cvlib.engine.carry.write_sheet import Setup, Track
from cvlib.engine.known.resolve import Resolver
from cvlib.model.cv import Slot, parse_bits, parse_slot
from cvlib.model.loco import Loco, SavedDecoder, SavedValue
from cvlib.model.profile import Profile, Risk
from engine.simulated_decoder import SimulatedDecoder
from make import profile

Table = dict[str, Any]
MARKS = ("motor", "current", "motion", "stopping", "heat", "coil")
UNITS = {"cm": 10, "mm": 1, "s": 1000, "ms": 1, "mA": 1, "A": 1000}
PLAIN = [str(cv) for cv in range(40, 58)]
PAGED = [f"{cv}@16/{low}" for low in (2, 3) for cv in (257, 258, 300)]
BASE: Table = {
    "address.short": {"at": "1", "kind": "short", "default": 3, "risk": ["address"]},
    "address.extended": {
        "at": "17, 18",
        "kind": "extended",
        "default": [192, 100],
        "risk": ["address"],
    },
    "consist.address": {"at": "19:0-6", "default": 0, "risk": ["address"]},
    "consist.reversed": {"at": "19:7", "kind": "switch", "default": 0},
    "configuration.extended-address": {
        "at": "29:5",
        "kind": "switch",
        "default": 0,
        "risk": ["address"],
    },
    "index.high": {"at": "31"},
    "index.low": {"at": "32"},
}
LOCK: Table = {
    "lock.key": {"at": "15", "default": 0, "risk": ["lock"]},
    "lock.identity": {"at": "16", "default": 0, "risk": ["lock"]},
}


@dataclass
class World:
    """A loco, what it is carried to, and the decoder that will be written."""

    loco: Loco
    origin: Resolver
    goal: Resolver
    old: dict[str, Table]
    new: dict[str, Table]
    """The places of every setting before and after, as written."""
    marks: dict[str, frozenset[str] | None]
    saved: dict[Slot, int]
    decoder: SimulatedDecoder
    setup: Setup
    is_other_type: bool
    start: dict[Slot, int] = field(default_factory=dict)


def fields_of(place: Table) -> list[tuple[Slot, int]]:
    """The CVs of a place with their bits, most significant first."""
    found = []
    for part in place["at"].split(","):
        slot, _, bits = part.strip().partition(":")
        found.append((parse_slot(slot), parse_bits(bits) if bits else 0xFF))
    return found


def owned(place: Table) -> dict[Slot, int]:
    """The bits that mean something; of flags those that have a name."""
    fields = fields_of(place)
    if place.get("kind") != "flags":
        return dict(fields)
    (slot, mask) = fields[0]
    shift = (mask & -mask).bit_length() - 1
    return {slot: sum(1 << int(bit) + shift for bit in place["names"])}


def raw_of(place: Table, memory: Mapping[Slot, int]) -> int | None:
    """The number that stands at a place; nothing where a CV is not known."""
    number = 0
    for slot, mask in fields_of(place):
        if slot not in memory:
            return None
        shift = (mask & -mask).bit_length() - 1
        number = number << bin(mask).count("1") | (memory[slot] & mask) >> shift
    return number


def meaning(place: Table, raw: int) -> object:
    """What a raw number means: a name, a set of names, or a figure in its smallest unit.

    Nothing where it is not allowed.
    """
    names = place.get("names", {})
    match place.get("kind", "number"):
        case "flags":
            return frozenset(name for bit, name in names.items() if raw >> int(bit) & 1)
        case "switch":
            return bool(raw)
        case "choice":
            return names.get(str(raw))
        case _:
            if str(raw) in names:
                return names[str(raw)]
            low, high = place["range"]
            if not low <= raw <= high:
                return None
            return raw * Fraction(str(place["scale"])) * UNITS[place["unit"]]


def _coding(rng: Random, kind: str, width: int, unit: str) -> Table:
    top = (1 << width) - 1
    match kind:
        case "switch":
            return {"kind": "switch"} if width == 1 else {"kind": "choice", "names": SWITCHED}
        case "choice":
            words = rng.sample(["steam", "diesel", "railcar", "tram"], min(4, top + 1))
            return {"kind": "choice", "names": {str(at): word for at, word in enumerate(words)}}
        case "flags":
            words = rng.sample(["F1", "F2", "F3", "F4", "F5"], min(width, rng.randint(1, 5)))
            bits = rng.sample(range(width), len(words))
            return {"kind": "flags", "names": dict(zip(map(str, bits), words, strict=True))}
        case _:
            units = ["cm", "mm"] if unit == "length" else ["s", "ms"]
            units = ["mA", "A"] if unit == "current" else units
            low = rng.choice([0, 0, 0, min(top, 5)])
            high = rng.choice([top, max(low, top // 2)])
            names = {"0": "off"} if rng.random() < 0.3 else {}
            names |= {str(top): "always on"} if rng.random() < 0.3 else {}
            scale = rng.choice(["1", "2", "0.1", "0.5", "10"])
            return {"range": [low, high], "scale": scale, "unit": rng.choice(units), "names": names}


SWITCHED = {"0": "off", "1": "on"}


def _room(rng: Random, count: int) -> list[tuple[str, int]]:
    """Places for some settings, none over another: whole CVs, bits, two CVs, on pages."""
    free = [*PLAIN, *PAGED]
    rng.shuffle(free)
    made: list[tuple[str, int]] = []
    while len(made) < count:
        slot = free.pop()
        shape = rng.choice(["whole", "whole", "bits", "two", "some"])
        if shape == "bits":
            made += [(f"{slot}:0-2", 3), (f"{slot}:3-6", 4)]
        elif shape == "some":
            made.append((f"{slot}:4-5", 2))
        elif shape == "two":
            made.append((f"{slot}, {free.pop()}", 16))
        else:
            made.append((slot, 8))
    return made[:count]


def _places(rng: Random, kinds: Mapping[str, tuple[str, str]]) -> dict[str, Table]:
    made: dict[str, Table] = {}
    for (name, (kind, unit)), (at, width) in zip(
        kinds.items(), _room(rng, len(kinds)), strict=True
    ):
        if rng.random() < 0.1:
            continue
        place = {"at": at, **_coding(rng, kind, width, unit)}
        if "," in at and kind in ("switch", "choice", "flags"):
            place["at"] = at.partition(",")[0]
            place |= _coding(rng, kind, 8, unit)
        if rng.random() < 0.6 and (legal := _legal(rng, place)) is not None:
            place["default"] = legal
        made[name] = place
    for bit in rng.sample([0, 1, 2, 3, 4], 3):
        made[f"configuration.bit-{bit}"] = {"at": f"29:{bit}", "kind": "switch", "default": 0}
    return made


def _legal(rng: Random, place: Table) -> int | None:
    width = sum(bin(mask).count("1") for _, mask in fields_of(place))
    for _ in range(60):
        raw = rng.choice([0, (1 << width) - 1, rng.randrange(1 << width)])
        if place.get("kind") == "flags":
            raw &= sum(1 << int(bit) for bit in place["names"])
        if meaning(place, raw) is not None:
            return raw
    return None


def _profile(places: Mapping[str, Any], marks: Mapping[str, frozenset[str] | None]) -> Profile:
    made = profile(
        {
            "scheme": "number",
            "sources": {"h": ">=1, <=2"},
            "parts": [{"at": "7"}],
            "identity": {"manufacturer": 13},
            "settings": places,
        }
    )
    settings = {
        name: replace(s, risk=_risk(marks[name])) if name in marks else s
        for name, s in made.settings.items()
    }
    return replace(made, settings=settings)


def _risk(marks: frozenset[str] | None) -> frozenset[Risk] | None:
    return None if marks is None else frozenset(map(Risk, marks))


def world(seed: int) -> World:
    """The loco of a seed."""
    rng = Random(seed)
    kinds = {
        f"a.s{n}": (
            rng.choice(["number", "number", "number", "choice", "flags", "switch"]),
            rng.choice(["length", "time", "current"]),
        )
        for n in range(9)
    }
    marks: dict[str, frozenset[str] | None] = {
        name: rng.choice([None, frozenset(rng.sample(MARKS, rng.randint(0, 2)))]) for name in kinds
    }
    marks |= {
        name: frozenset({"current"}) for name, (kind, unit) in kinds.items() if unit == "current"
    }
    has_lock, is_other = rng.random() < 0.6, rng.random() < 0.3
    base = {**BASE, **(LOCK if has_lock else {})}
    old, new = _places(rng, kinds), _places(rng, kinds)
    for name in kinds:
        if name in old and rng.random() < 0.25:
            new_room = {slot for other, p in new.items() if other != name for slot in owned(p)}
            if not new_room & owned(old[name]).keys():
                new[name] = dict(old[name])
    before: Table = {**base, **{n: [{**p, "in": "==1"}] for n, p in old.items()}}
    after: Table = {**base, **{n: [{**p, "in": "==2"}] for n, p in new.items()}}
    both = {**before, **after}
    both |= {n: [*before[n], *after[n]] for n in old.keys() & new.keys()}
    origin = Resolver(_profile(before if is_other else both, marks))
    goal = Resolver(replace(_profile(after, marks), id="test/other")) if is_other else origin
    saved = _saved(rng, old, has_lock)
    on_main = rng.random() < 0.5
    answers = rng.random() < (0.4 if on_main else 0.7)
    decoder = _decoder(rng, {} if is_other else saved, has_lock, answers)
    known = is_other or {Slot(1), Slot(17), Slot(18), Slot(29)} <= saved.keys()
    setup = Setup(
        Track.MAIN if on_main else Track.PROGRAMMING,
        answers,
        writes_bits=rng.random() < 0.8,
        address=None if known else decoder.address(),
    )
    values = {slot: SavedValue(slot, value, "1") for slot, value in saved.items()}
    loco = Loco("Loco", (SavedDecoder(values, "test/decoder", firmware="1"),))
    return World(
        loco,
        origin,
        goal,
        {**base, **old},
        {**base, **new},
        marks,
        saved,
        decoder,
        setup,
        is_other,
        dict(decoder.memory),
    )


def _saved(rng: Random, places: Mapping[str, Table], has_lock: bool) -> dict[Slot, int]:
    """What is saved: legal values of most settings, now and then half of one or none."""
    found: dict[Slot, int] = {}
    for place in places.values():
        raw = _legal(rng, place)
        fields = fields_of(place)
        for slot, mask in reversed(fields):
            width = bin(mask).count("1")
            shift = (mask & -mask).bit_length() - 1
            part = (raw or 0) & (1 << width) - 1
            raw = (raw or 0) >> width
            found[slot] = found.get(slot, rng.randrange(256)) & ~mask | part << shift
    found |= {Slot(1): rng.choice([3, 44, 99]), Slot(17): rng.randint(193, 230)}
    found |= {Slot(18): rng.randrange(256), Slot(19): rng.choice([0, 0, 5, 0x85])}
    found[Slot(29)] = found.get(Slot(29), 0) & ~0x20 | rng.choice([0, 0x20])
    if has_lock:
        number = rng.choice([0, 0, 7])
        found |= {Slot(16): number, Slot(15): rng.choice([number, number, 3])}
    found |= {Slot(31): rng.choice([0, 16]), Slot(32): rng.choice([0, 2])}
    lost = [slot for slot in found if rng.random() < 0.12]
    return {slot: value for slot, value in found.items() if slot not in lost}


def _decoder(
    rng: Random, saved: Mapping[Slot, int], has_lock: bool, answers: bool
) -> SimulatedDecoder:
    """The decoder as it is: what is saved, else anything; a new one has its factory address."""
    memory = {parse_slot(text): rng.randrange(256) for text in [*PLAIN, *PAGED]}
    memory |= {Slot(1): 3, Slot(17): 192, Slot(18): 100, Slot(19): 0, Slot(29): 0}
    memory |= {Slot(31): 0, Slot(32): 0}
    if saved:
        memory |= {Slot(1): 11, Slot(17): 200, Slot(18): 5, Slot(19): rng.choice([0, 9])}
        memory[Slot(29)] = rng.randrange(256)
    else:
        memory[Slot(29)] = rng.randrange(256) & 0xC0
    if has_lock:
        number = rng.choice([0, 7])
        memory |= {Slot(16): number, Slot(15): rng.choice([number, 3]) if saved else number}
    memory |= saved
    memory |= {Slot(7): 2, Slot(8): 13}
    if memory.get(Slot(16)) == 0 and Slot(15) not in saved and not answers:
        memory[Slot(15)] = 0
    return SimulatedDecoder(memory, has_lock=has_lock, clears_extended=rng.random() < 0.8)
