"""The stretches of firmware over which no setting changes its place."""

from __future__ import annotations

from collections.abc import Iterable
from enum import StrEnum
from typing import NamedTuple

from cvlib.engine.known.resolve import Resolver
from cvlib.model.answer import Answer
from cvlib.model.profile import Place, Profile, Setting, SourceKind
from cvlib.model.ranges import FirmwareRange, points_in_order
from cvlib.model.versions import EARLIEST, FirmwareVersion, Key


class Known(StrEnum):
    """How a stretch of firmware lies to the documents."""

    COVERED = "covered"
    GAP = "gap"
    BEFORE = "before"
    BEYOND = "beyond"


class Stretch(NamedTuple):
    """Firmware over which every asked setting keeps its place, and what is known of it."""

    firmware: FirmwareRange
    known: Known
    answers: tuple[Answer, ...]
    """One for each setting asked, in the order asked."""

    @property
    def disputed(self) -> int:
        """How many of the settings have no agreed place here."""
        return sum(bool(answer.candidates) for answer in self.answers)

    @property
    def point(self) -> Key:
        """A point inside the stretch: its oldest end."""
        return self.firmware.oldest


def stretches(resolver: Resolver, settings: Iterable[Setting]) -> tuple[Stretch, ...]:
    """The whole version line cut into stretches, oldest first, for some settings.

    Gaps between documents, and the ends before and beyond them, are stretches of their own; so is
    a single version at which a bench test changes an answer.
    """
    asked = tuple(settings)
    coverage = _coverage(resolver, asked)
    found: list[Stretch] = []
    points = _cuts(resolver, asked, coverage)
    for start, end in zip(points, [*points[1:], None], strict=True):
        answers = tuple(resolver.answer(setting, start) for setting in asked)
        known = known_at(coverage, start)
        span = FirmwareRange.between(start, end, coverage)
        last = found[-1] if found else None
        if last is not None and last.known is known and _same_answers(last.answers, answers):
            found[-1] = Stretch(last.firmware | span, known, last.answers)
        else:
            found.append(Stretch(span, known, answers))
    return tuple(found)


def generations(resolver: Resolver) -> tuple[Stretch, ...]:
    """The stretches of a whole profile."""
    return stretches(resolver, resolver.profile.settings.values())


def cuts(resolver: Resolver, settings: Iterable[Setting]) -> list[Key]:
    """The points, oldest first, at which an answer for some settings may change; the line's end
    before everything is the first.
    """
    asked = tuple(settings)
    return _cuts(resolver, asked, _coverage(resolver, asked))


def version_within(
    profile: Profile, stretch: Stretch, first: Iterable[FirmwareVersion] = ()
) -> FirmwareVersion:
    """A version inside a stretch: one of ``first``, else a known release, else its oldest end.

    Where nobody ever named the oldest end, it is called by the stretch, such as ``>2.4, <2.9``.
    """
    releases = (release.version for release in profile.releases)
    for version in (*first, *releases):
        if version in stretch.firmware:
            return version
    named = stretch.firmware.begins_with()
    return named or FirmwareVersion(profile.scheme, stretch.point, stretch.firmware.text())


def _coverage(resolver: Resolver, settings: tuple[Setting, ...]) -> FirmwareRange:
    """The firmware for which a document or the maker speaks for any of the settings."""
    covered = FirmwareRange.nothing(resolver.profile.scheme)
    for held in {resolver.coverage_of(setting.id) for setting in settings}:
        covered |= held
    return covered


def _cuts(resolver: Resolver, settings: tuple[Setting, ...], coverage: FirmwareRange) -> list[Key]:
    cuts: set[Key] = {EARLIEST[resolver.profile.scheme], *coverage.cuts()}
    sources = resolver.profile.sources
    for setting in settings:
        cuts.update(resolver.coverage_of(setting.id).cuts())
        for place in setting.places:
            cuts.update(place.firmware.cuts())
            for citation in place.citations:
                source = sources.get(citation.source)
                if source is not None and source.kind is SourceKind.BENCH:
                    cuts.update(source.firmware.cuts())
    return points_in_order(cuts)


def known_at(coverage: FirmwareRange, point: Key) -> Known:
    """How a point of the version line lies to the documents."""
    if coverage.holds(point):
        return Known.COVERED
    older, newer = coverage.lies_before(point), coverage.lies_after(point)
    return Known.GAP if older == newer else Known.BEYOND if older else Known.BEFORE


def _same_answers(one: tuple[Answer, ...], other: tuple[Answer, ...]) -> bool:
    return all(
        a.standing is b.standing and same_answer(a, b) for a, b in zip(one, other, strict=True)
    )


def same_places(one: Iterable[Answer], other: Iterable[Answer]) -> bool:
    """Whether answers for the same settings name the same places, whatever their standing."""
    return all(map(_same_place_in, one, other))


def same_answer(one: Answer, other: Answer) -> bool:
    """Whether two answers name the same place, or the same candidates."""
    marked = one.standing.value in _MARKED or other.standing.value in _MARKED
    if marked and one.standing is not other.standing:
        return False
    return _same_place_in(one, other)


def _same_place_in(one: Answer, other: Answer) -> bool:
    mine, theirs = (one.place, *one.candidates), (other.place, *other.candidates)
    return len(mine) == len(theirs) and all(map(_same_place, mine, theirs))


_MARKED = ("faulty", "disputed", "bench")


def _same_place(one: Place | None, other: Place | None) -> bool:
    if one is None or other is None:
        return one is other
    return one.same_as(other)
