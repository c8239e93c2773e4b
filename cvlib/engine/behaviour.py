"""Behaviour tests: what to set and what to watch where no read tells two places apart.

A test sets one setting at a time. It says which value to write where, what each side would show,
what to beware of, and how to put things back.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator
from dataclasses import dataclass

from cvlib.engine.layouts import Bundle, Disputed, Tried
from cvlib.engine.resolve import Resolver
from cvlib.engine.told import coding_text, where_text
from cvlib.engine.write_sheet import Caution
from cvlib.errors import InputError
from cvlib.model.coding import Area, Choice, Coding, Fields, Flags, Number, Parts, Switch
from cvlib.model.cv import Slot
from cvlib.model.profile import Place, Setting, group_of

_SMOKE = re.compile(r"\b(?:smoke|heater|heat|hot|burns?)\b", re.I)
_COILS = re.compile(r"\b(?:coils?|couplers?|turnouts?|hook|pulse)\b", re.I)
_MOVES = re.compile(r"\b(?:motor|speed|momentum|braking|brakes?|stopping|stop|loco)\b", re.I)
_RISKY_UNITS = ("A", "mA", "V", "W", "°C")
_UNTRIED = ("address", "consist", "lock", "index", "identity", "user", "name")
"""Groups that are not tried: a wrong value there hides the decoder or shows nothing."""


@dataclass(frozen=True, slots=True)
class Trial:
    """One value written at one place, and what it would mean there."""

    side: int
    """The side of the bundle that this place belongs to."""
    where: str
    """The place in words."""
    writes: tuple[tuple[Slot, int, int], ...]
    """For each CV its slot, the mask of the bits to set, and those bits in place."""
    meaning: str
    """What the value means if the setting lives there; empty where it is not allowed there."""
    coding: str
    """How the value is coded there."""
    page: str = ""


@dataclass(frozen=True, slots=True)
class BenchTest:
    """A behaviour test of one setting of a bundle."""

    bundle: int
    setting: str
    title: str
    watch: str
    """What the setting does, in the profile's words."""
    trials: tuple[Trial, ...]
    """The places to try, the older side first; a side without the setting has none."""
    absent: tuple[int, ...]
    """The sides on which the setting does not exist."""
    answers: int
    """How many sides there are: the test shows the number of one of them, or nothing."""
    is_same_place: bool
    """Whether the sides differ only in how the value is coded."""
    cautions: tuple[Caution, ...]


def bench_tests(
    resolver: Resolver,
    disputed: Disputed,
    bundles: Iterable[int],
    done: Iterable[Tried] = (),
) -> tuple[BenchTest, ...]:
    """The tests for some bundles: the one that shows most clearly first, for each bundle in turn.

    Settings that were tested already are left out.
    """
    tried = {result.setting for result in done}
    found: list[list[BenchTest]] = []
    for at in bundles:
        tests = [
            test
            for name in disputed.bundles[at].settings
            if name not in tried
            and (test := _test(resolver, at, disputed.bundles[at], name)) is not None
        ]
        found.append(sorted(tests, key=_clearness))
    longest = max(map(len, found), default=0)
    return tuple(tests[at] for at in range(longest) for tests in found if at < len(tests))


def _clearness(test: BenchTest) -> tuple[int, int, str]:
    """Tests without danger first, then those whose places differ, then by name."""
    danger = len(set(test.cautions) - {Caution.HANDBOOK, Caution.MOVES})
    return danger, int(test.is_same_place) + 2 * (not test.trials), test.setting


def _test(resolver: Resolver, at: int, bundle: Bundle, name: str) -> BenchTest | None:
    setting = resolver.profile.settings[name]
    if group_of(name) in _UNTRIED:
        return None
    places = [side.places[name] for side in bundle.sides]
    held = [place for place in places if place is not None]
    if not held or not all(_is_triable(place) for place in held) or _all_same(places):
        return None
    is_same_place = len(held) == len(places) and all(
        place.fields == held[0].fields for place in held
    )
    trials = _same_place(places) if is_same_place else tuple(_trials(setting, places))
    if not trials:
        return None
    absent = tuple(side for side, place in enumerate(places) if place is None)
    return BenchTest(
        at,
        name,
        setting.title,
        setting.help,
        trials,
        absent,
        len(places),
        is_same_place,
        tuple(_cautions(setting, held)),
    )


def _is_triable(place: Place) -> bool:
    marks = place.marks
    if not place.fields or isinstance(place.coding, (Area, Fields)):
        return False
    return not (marks.read_only or marks.volatile or marks.internal or marks.reserved)


def _all_same(places: list[Place | None]) -> bool:
    first = places[0]
    return all(
        place is first or (place is not None and first is not None and place.same_as(first))
        for place in places
    )


def _trials(setting: Setting, places: list[Place | None]) -> Iterator[Trial]:
    """A clear value at each place, each place once."""
    seen: list[Place] = []
    for side, place in enumerate(places):
        if place is None or any(place.same_as(known) for known in seen):
            continue
        seen.append(place)
        parts = _clear_value(place.coding, place.default, _is_risky(setting, place))
        if parts is not None:
            yield _trial(side, place, parts)


def _same_place(places: list[Place | None]) -> tuple[Trial, ...]:
    """One value that means the most different things by the codings of one place."""
    held = [place for place in places if place is not None]
    width = sum(held[0].coding.widths)
    best: tuple[float, Parts] | None = None
    for raw in range(1, min(1 << width, 256)):
        parts = held[0].coding.split(raw)
        readings = [place.coding.decode(parts) for place in held]
        if any(reading.fault is not None for reading in readings):
            continue
        if len({reading.text for reading in readings}) < len(readings):
            continue
        apart = _ratio([reading.value for reading in readings])
        if best is None or apart > best[0]:
            best = apart, parts
    chosen = best[1] if best is not None else _allowed_once(held)
    if chosen is None:
        return ()
    return tuple(
        _trial(side, place, chosen) for side, place in enumerate(places) if place is not None
    )


def _allowed_once(places: list[Place]) -> Parts | None:
    """A value that only some of the codings allow; it acts by these and not by the others."""
    for raw in range(min(1 << sum(places[0].coding.widths), 256)):
        parts = places[0].coding.split(raw)
        faults = [place.coding.decode(parts).fault is not None for place in places]
        if any(faults) and not all(faults):
            return parts
    return None


def _ratio(values: list[object]) -> float:
    """How far engineering values lie apart, beside the smaller one; middling figures preferred."""
    figures = [abs(float(str(v))) for v in values if isinstance(v, int) or _is_figure(v)]
    if len(figures) < len(values) or min(figures) == 0:
        return 1.0
    return min(max(figures) / min(figures), 4.0)


def _is_figure(value: object) -> bool:
    return value.__class__.__name__ == "Decimal"


def _trial(side: int, place: Place, parts: Parts) -> Trial:
    writes = tuple(
        (part.slot, part.mask, part.put(0, value))
        for part, value in zip(place.fields, parts, strict=True)
    )
    page = next((str(part.slot.page) for part in place.fields if part.slot.page), "")
    reading = place.coding.decode(parts)
    meaning = reading.text if reading.fault is None else ""
    return Trial(side, where_text(place), writes, meaning, coding_text(place), page)


def _is_risky(setting: Setting, place: Place) -> bool:
    """Whether a high value may do harm: currents, voltages, heat."""
    unit = place.coding.unit if isinstance(place.coding, Number) else ""
    words = f"{setting.id} {setting.title} {setting.help}"
    return unit in _RISKY_UNITS or bool(_SMOKE.search(words))


def _clear_value(coding: Coding, default: Parts | None, is_risky: bool) -> Parts | None:
    """A legal value that shows plainly beside the factory value; a low one where high may harm."""
    factory = coding.join(default) if default is not None else 0
    match coding:
        case Switch():
            return coding.split(1 - (factory & 1))
        case Choice():
            others = [span.low for span in coding.choices if not span.low <= factory <= span.high]
            return coding.split(others[0]) if others else None
        case Flags():
            if not coding.flags:
                return None
            return coding.split(factory ^ 1 << coding.flags[0][0])
        case Number():
            return _clear_number(coding, factory, is_risky)
    return None


def _clear_number(coding: Number, factory: int, is_risky: bool) -> Parts | None:
    low, high = coding.low, coding.high
    span = high - low
    if span <= 0:
        return None
    wanted = low + span // 8 if is_risky else low + span // 4
    if not is_risky and abs(coding.signed(factory) - wanted) < span // 4:
        wanted = low + span * 3 // 4
    if is_risky:
        wanted = min(wanted, max(coding.signed(factory), low))
    if wanted == coding.signed(factory):
        wanted = low if factory != low else low + 1
    try:
        return coding.raw(wanted)
    except InputError:
        return None


def _cautions(setting: Setting, places: Iterable[Place]) -> Iterator[Caution]:
    yield Caution.HANDBOOK
    words = f"{setting.id} {setting.title} {setting.help}"
    if _MOVES.search(words):
        yield Caution.MOVES
    if setting.id.startswith("motor.") or any(_is_risky(setting, place) for place in places):
        yield Caution.MOTOR
    if _SMOKE.search(words):
        yield Caution.SMOKE
    if _COILS.search(words):
        yield Caution.COILS
