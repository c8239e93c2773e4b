"""What a probe has shown, as an observation that a profile can take over."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import TypeGuard

from cvlib.engine.bench.behaviour import BenchTest, bench_tests
from cvlib.engine.bench.layouts import Bundle, Side
from cvlib.engine.bench.probe import Probed
from cvlib.engine.bench.weigh import Read, gathered
from cvlib.engine.known.resolve import Resolver
from cvlib.engine.known.told import where_text
from cvlib.model.cv import Slot
from cvlib.model.profile import Place, Profile, Verdict


@dataclass(frozen=True, slots=True)
class Observation:
    """What was seen of one place when it was tried."""

    setting: str
    title: str
    where: str
    """The place in words."""
    slot: Slot
    """The first CV of the place."""
    at: str
    """A firmware that tells the place from others of the setting on that CV; empty: there are
    none."""
    firmware: str
    """The firmware the place claims, in the spelling of profiles."""
    verdict: Verdict
    seen: str
    """What was tried and read, in words."""
    origin: str
    """The standard or block the setting was taken over from; empty for the profile's own."""


@dataclass(frozen=True, slots=True)
class Readout:
    """What reads alone have shown of a setting: where it lives, and not that it acts there."""

    setting: str
    title: str
    where: str
    """The place that the answers speak for, in words; empty where they speak for none."""
    seen: str
    """What was read, in words."""
    unread: tuple[Slot, ...]
    """The CVs of that place that were not read."""


@dataclass(frozen=True, slots=True)
class Settled:
    """A bundle that is known now."""

    settings: tuple[str, ...]
    side: int
    firmware: str
    """The firmware whose handbooks are right here."""
    chance: float


@dataclass(frozen=True, slots=True)
class Learnt:
    """What came out of a probe."""

    profile: str
    firmware: str
    source: str
    """The id of the new source."""
    day: str
    """ISO date."""
    summary: str
    """What was read and tried, in one sentence."""
    observations: tuple[Observation, ...]
    """Of places that were tried."""
    readouts: tuple[Readout, ...]
    """Of settings that are settled by reads of their own CVs alone."""
    tests: tuple[BenchTest, ...]
    """What would show that these settings act."""
    settled: tuple[Settled, ...]
    inferred: tuple[str, ...]
    """Settings that are settled only because they moved together with others."""
    still_open: tuple[str, ...]
    """Settings that are still disputed."""
    is_outside: bool = False
    """Whether no handbook covers the firmware; then a read alone is no observation of a place."""


def learnt_from(resolver: Resolver, probed: Probed, day: str) -> Learnt:
    """What the reads and tests of a probe have shown.

    Only places that were tried are observed. A read shows where a setting lives and not that it
    acts; what moved together with others is inferred.
    """
    settled: list[Settled] = []
    readouts: list[Readout] = []
    inferred: list[str] = []
    still_open: list[str] = []
    disputed = probed.disputed
    answers = {} if disputed.is_outside else gathered(probed.reads)
    tried = {result.setting for result in probed.results if result.side is not None}
    for standing, bundle in zip(probed.standings, disputed.bundles, strict=True):
        if standing.side is None:
            still_open.extend(bundle.settings)
            continue
        side = bundle.sides[standing.side]
        chance = max(standing.chances)
        settled.append(Settled(bundle.settings, standing.side, side.firmware, round(chance, 4)))
        for name in bundle.settings:
            seen = _seen(bundle, name, answers)
            if name in tried:
                continue
            if seen:
                readouts.append(_readout(resolver, side, name, seen, answers))
            else:
                (still_open if side.is_unknown else inferred).append(name)
    profile = resolver.profile
    return Learnt(
        profile.id,
        str(disputed.version),
        _free_id(profile, day),
        day,
        _summary(probed),
        tuple(_observations(resolver, probed, answers)),
        tuple(readouts),
        _tests(resolver, probed, {one.setting for one in readouts}),
        tuple(settled),
        tuple(inferred),
        tuple(still_open),
        disputed.is_outside,
    )


def _tests(resolver: Resolver, probed: Probed, wanted: set[str]) -> tuple[BenchTest, ...]:
    known = [standing.bundle for standing in probed.standings if standing.side is not None]
    tests = bench_tests(resolver, probed.disputed, known, probed.results)
    return tuple(test for test in tests if test.setting in wanted)


def _observations(
    resolver: Resolver, probed: Probed, answers: Mapping[Slot, tuple[int, ...]]
) -> Iterator[Observation]:
    """What the tests showed, setting by setting; nothing where they contradict each other."""
    for bundle in probed.disputed.bundles:
        for name in bundle.settings:
            sides = {held.side for held in probed.results if held.setting == name} - {None}
            if len(sides) == 1:
                seen = "; ".join(filter(None, ("tried on the bench", _seen(bundle, name, answers))))
                yield from _observed(resolver, bundle, name, min(filter(_is_side, sides)), seen)


def _is_side(side: int | None) -> TypeGuard[int]:
    return side is not None


def _observed(
    resolver: Resolver, bundle: Bundle, name: str, side: int, seen: str
) -> Iterator[Observation]:
    """The place that acted; else the first of those that did nothing."""
    right = bundle.sides[side].places[name]
    if right is not None:
        yield _observation(resolver, name, right, Verdict.WORKS, seen)
        return
    others = (other.places[name] for other in bundle.sides)
    for place in others:
        if place is not None:
            yield _observation(resolver, name, place, Verdict.NO_EFFECT, seen)
            return


def _readout(
    resolver: Resolver, side: Side, name: str, seen: str, answers: Mapping[Slot, tuple[int, ...]]
) -> Readout:
    place = side.places[name]
    where = "" if place is None else where_text(place)
    fields = () if place is None else place.fields
    unread = tuple(dict.fromkeys(part.slot for part in fields if part.slot not in answers))
    return Readout(name, resolver.profile.settings[name].title, where, seen, unread)


def _seen(bundle: Bundle, name: str, answers: Mapping[Slot, tuple[int, ...]]) -> str:
    """What was read of the places of a setting, where the sides expect different answers."""
    places = [side.places[name] for side in bundle.sides]
    told = [
        f"{part.slot} {_answers_words(answers[part.slot])}"
        for place in places
        if place is not None
        for part in place.fields
        if part.slot in answers and len({held[part.slot] for held in bundle.expected}) > 1
    ]
    return ", ".join(dict.fromkeys(told))


def _answers_words(answers: Sequence[int]) -> str:
    words = ["gave no answer" if held > 255 else f"read as {held}" for held in answers]
    return " and ".join(dict.fromkeys(words))


def _observation(
    resolver: Resolver, name: str, place: Place, verdict: Verdict, seen: str
) -> Observation:
    setting = resolver.profile.settings[name]
    first = place.fields[0].slot
    there = [held for held in setting.places if any(part.slot == first for part in held.fields)]
    return Observation(
        name,
        setting.title,
        where_text(place),
        first,
        _version_of(resolver.profile, place) if len(there) > 1 else "",
        place.firmware.text(),
        verdict,
        seen,
        setting.origin,
    )


def _version_of(profile: Profile, place: Place) -> str:
    """A firmware that has the place: a release, or the oldest that the place claims."""
    held = [release.version for release in profile.releases if release.version in place.firmware]
    first = held[-1] if held else place.firmware.begins_with()
    return "" if first is None else str(first)


def _summary(probed: Probed) -> str:
    state = "after a factory reset" if probed.terms.after_reset else "as it stood"
    read = ", ".join(_read_words(read) for read in probed.reads)
    tried = ", ".join(result.setting for result in probed.results if result.side is not None)
    parts = [f"read {state}: {read}" if read else "", f"tried: {tried}" if tried else ""]
    return "; ".join(filter(None, parts)) or "nothing was read or tried"


def _read_words(read: Read) -> str:
    return f"{read.slot} {'no answer' if not read.is_answered else f'= {read.answer}'}"


def _free_id(profile: Profile, day: str) -> str:
    """An id by the month; by the day, then counted, where others have it."""
    for wanted in (f"bench-{day[:7]}", f"bench-{day}"):
        if wanted not in profile.sources:
            return wanted
    number = 2
    while f"bench-{day}-{number}" in profile.sources:
        number += 1
    return f"bench-{day}-{number}"
