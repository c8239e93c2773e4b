"""Behaviour tests: what to set and what to watch where no read tells two places apart.

A test sets one setting at a time. It says which value to write where, what each side would show,
what to beware of, and how to put things back.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass

from cvlib.engine.bench.harm import Harm, harm_of, needs_motor
from cvlib.engine.bench.layouts import Bundle, Disputed, Tried
from cvlib.engine.bench.situation import LOADLESS_KINDS
from cvlib.engine.bench.trials import (
    Bench,
    Writes,
    bench_of,
    value_apart,
    values_at_one_place,
    writes_of,
)
from cvlib.engine.carry.cautions import risk_cautions
from cvlib.engine.carry.write_sheet import Caution
from cvlib.engine.known.resolve import Resolver
from cvlib.engine.known.told import coding_text, where_text
from cvlib.model.coding import Parts
from cvlib.model.cv import Slot
from cvlib.model.facet import same_meaning
from cvlib.model.profile import Place, Setting


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
    unknown: tuple[int, ...]
    """The sides that only say that it is otherwise."""
    answers: int
    """How many sides there are: the test shows the number of one of them, or nothing."""
    is_same_place: bool
    """Whether the sides differ only in how the value is coded."""
    cautions: tuple[Caution, ...]
    needs_motor: bool
    """Whether the loco has to run for it."""


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
    bench = bench_of(resolver, disputed.version)
    found: list[list[BenchTest]] = []
    for at in bundles:
        tests = [
            test
            for name in disputed.bundles[at].settings
            if name not in tried
            and (test := _test(resolver, bench, at, disputed.bundles[at], name)) is not None
        ]
        found.append(sorted(tests, key=_clearness))
    longest = max(map(len, found), default=0)
    return tuple(tests[at] for at in range(longest) for tests in found if at < len(tests))


def _clearness(test: BenchTest) -> tuple[int, int, str]:
    """Tests without danger first, then those whose places differ, then by name."""
    danger = len(set(test.cautions) - {Caution.HANDBOOK, Caution.MOVES})
    return danger, int(test.is_same_place) + 2 * (not test.trials), test.setting


def _test(resolver: Resolver, bench: Bench, at: int, bundle: Bundle, name: str) -> BenchTest | None:
    """The test of one setting; nothing where none shows plainly without harm."""
    setting = resolver.profile.settings[name]
    places = [side.places[name] for side in bundle.sides]
    held = [place for place in places if place is not None]
    if not held or not all(place.can_be_set for place in held) or _all_same(places):
        return None
    if harm_of(setting) is Harm.NEVER or any(place.marks.unused for place in held):
        return None
    slots = [{part.slot for part in place.fields} for place in held]
    is_same_place = len(held) == len(places) and all(one == slots[0] for one in slots)
    if is_same_place:
        trials = tuple(_same_place(bench, setting, held))
    elif _share_cvs(_distinct(held)):
        return None
    else:
        trials = tuple(_trials(bench, setting, places))
    if not trials:
        return None
    unknown = tuple(side for side, held in enumerate(bundle.sides) if held.is_unknown)
    absent = tuple(
        side for side, place in enumerate(places) if place is None and side not in unknown
    )
    return BenchTest(
        at,
        name,
        setting.title,
        setting.help,
        trials,
        absent,
        unknown,
        len(places),
        is_same_place,
        _cautions(resolver.profile.kind, setting),
        needs_motor(resolver.profile.kind, setting),
    )


def _cautions(kind: str, setting: Setting) -> tuple[Caution, ...]:
    """The general ones, for a loco may move after any write, and what the mark asks for."""
    moves = () if kind in LOADLESS_KINDS else (Caution.MOVES,)
    return tuple(dict.fromkeys((Caution.HANDBOOK, *moves, *risk_cautions(setting.risk))))


def _all_same(places: list[Place | None]) -> bool:
    first = places[0]
    return all(
        place is first or (place is not None and same_meaning(place, first)) for place in places
    )


def _distinct(places: Iterable[Place]) -> list[Place]:
    found: list[Place] = []
    for place in places:
        if not any(same_meaning(place, known) for known in found):
            found.append(place)
    return found


def _share_cvs(places: list[Place]) -> bool:
    """Whether a write at one place reaches into another, so that neither is tried alone."""
    seen: set[Slot] = set()
    for place in places:
        slots = {part.slot for part in place.fields}
        if slots & seen:
            return True
        seen |= slots
    return False


def _trials(bench: Bench, setting: Setting, places: list[Place | None]) -> Iterator[Trial]:
    """A value that shows at each place, each place once; none where one place cannot be tried."""
    found: list[Trial] = []
    for place in _distinct(place for place in places if place is not None):
        parts = value_apart(bench, setting, place)
        if parts is None:
            return
        side = next(
            at for at, one in enumerate(places) if one is not None and same_meaning(one, place)
        )
        found.append(_trial(side, place, writes_of(place, parts), parts))
    yield from found


def _same_place(bench: Bench, setting: Setting, places: list[Place]) -> Iterator[Trial]:
    """One write that means plainly different things by the codings of one place."""
    found = values_at_one_place(bench, setting, places)
    if found is not None:
        writes, held = found
        for side, (place, parts) in enumerate(zip(places, held, strict=True)):
            yield _trial(side, place, writes, parts)


def _trial(side: int, place: Place, writes: Writes, parts: Parts) -> Trial:
    page = next((str(part.slot.page) for part in place.fields if part.slot.page), "")
    reading = place.coding.decode(parts)
    meaning = reading.text if reading.fault is None else ""
    return Trial(side, where_text(place), writes, meaning, coding_text(place), page)
