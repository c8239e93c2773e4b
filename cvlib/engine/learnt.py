"""What a probe has shown, as an observation that a profile can take over."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass

from cvlib.engine.layouts import Bundle, Side
from cvlib.engine.probe import Probed
from cvlib.engine.resolve import Resolver
from cvlib.engine.told import where_text
from cvlib.engine.weigh import Read, gathered
from cvlib.model.cv import Slot
from cvlib.model.profile import Place, Profile, Verdict


@dataclass(frozen=True, slots=True)
class Observation:
    """One thing that was seen of one place."""

    setting: str
    title: str
    where: str
    """The place in words."""
    cv: int
    """The first CV of the place."""
    is_clear: bool
    """Whether that CV tells the place from the others that come into question."""
    firmware: str
    """The firmware the place claims, in the spelling of profiles."""
    verdict: Verdict
    seen: str
    """What was read or tried, in words."""
    origin: str
    """The standard or block the setting was taken over from; empty for the profile's own."""


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
    settled: tuple[Settled, ...]
    inferred: tuple[str, ...]
    """Settings that are settled only because they moved together with others."""
    still_open: tuple[str, ...]
    """Settings that are still disputed."""


def learnt_from(resolver: Resolver, probed: Probed, day: str) -> Learnt:
    """What the reads and tests of a probe have shown.

    Only places whose own CVs were read or tried are observed; what moved together with them is
    inferred, and no observation is made of it.
    """
    observations: list[Observation] = []
    settled: list[Settled] = []
    inferred: list[str] = []
    still_open: list[str] = []
    answers = gathered(probed.reads)
    tried = {result.setting for result in probed.results if result.side is not None}
    for standing, bundle in zip(probed.standings, probed.disputed.bundles, strict=True):
        if standing.side is None:
            still_open.extend(bundle.settings)
            continue
        side = bundle.sides[standing.side]
        chance = max(standing.chances)
        settled.append(Settled(bundle.settings, standing.side, side.firmware, round(chance, 4)))
        for name in bundle.settings:
            made = list(_observed(resolver, bundle, side, name, answers, tried))
            observations.extend(made)
            if not made:
                inferred.append(name)
    profile = resolver.profile
    return Learnt(
        profile.id,
        str(probed.disputed.version),
        _free_id(profile, f"bench-{day}"),
        day,
        _summary(probed),
        tuple(observations),
        tuple(settled),
        tuple(inferred),
        tuple(still_open),
    )


def _observed(
    resolver: Resolver,
    bundle: Bundle,
    side: Side,
    name: str,
    answers: Mapping[Slot, tuple[int, ...]],
    tried: set[str],
) -> Iterator[Observation]:
    """The place that is right, where it was read or tried; else those that are not there."""
    right = side.places[name]
    if right is not None:
        seen = _seen(bundle, right, answers, name in tried)
        if seen:
            yield _observation(resolver, bundle, name, right, Verdict.WORKS, seen)
        return
    for other in bundle.sides:
        place = other.places[name]
        if place is not None:
            seen = _seen(bundle, place, answers, name in tried)
            if seen:
                yield _observation(resolver, bundle, name, place, Verdict.NO_EFFECT, seen)
            return


def _seen(
    bundle: Bundle, place: Place, answers: Mapping[Slot, tuple[int, ...]], is_tried: bool
) -> str:
    """What was read of a place, where the sides expect different answers there; or tried."""
    told = [
        f"{part.slot} {_answers_words(answers[part.slot])}"
        for part in place.fields
        if part.slot in answers and len({held[part.slot] for held in bundle.expected}) > 1
    ]
    said = ", ".join(dict.fromkeys(told))
    if is_tried:
        return f"tried on the bench; {said}" if said else "tried on the bench"
    return said


def _answers_words(answers: Sequence[int]) -> str:
    words = ["gave no answer" if held > 255 else f"read as {held}" for held in answers]
    return " and ".join(dict.fromkeys(words))


def _observation(
    resolver: Resolver, bundle: Bundle, name: str, place: Place, verdict: Verdict, seen: str
) -> Observation:
    setting = resolver.profile.settings[name]
    first = place.fields[0].slot
    others = (side.places[name] for side in bundle.sides)
    there = [
        held
        for held in others
        if held is not None and any(part.slot == first for part in held.fields)
    ]
    return Observation(
        name,
        setting.title,
        where_text(place),
        first.cv,
        all(held.same_as(place) for held in there),
        place.firmware.text(),
        verdict,
        seen,
        setting.origin,
    )


def _summary(probed: Probed) -> str:
    state = "after a factory reset" if probed.terms.after_reset else "as it stood"
    read = ", ".join(_read_words(read) for read in probed.reads)
    tried = ", ".join(result.setting for result in probed.results if result.side is not None)
    parts = [f"read {state}: {read}" if read else "", f"tried: {tried}" if tried else ""]
    return "; ".join(filter(None, parts)) or "nothing was read or tried"


def _read_words(read: Read) -> str:
    return f"{read.slot} {'no answer' if not read.is_answered else f'= {read.answer}'}"


def _free_id(profile: Profile, wanted: str) -> str:
    if wanted not in profile.sources:
        return wanted
    number = 2
    while f"{wanted}-{number}" in profile.sources:
        number += 1
    return f"{wanted}-{number}"
