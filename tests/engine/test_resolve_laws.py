"""Laws of resolution and of generations, on generated profiles of all three schemes."""

from dataclasses import dataclass
from itertools import pairwise

from hypothesis import given
from hypothesis import strategies as st

import strategies
from cvlib.engine.known.line import Known, Stretch, cuts, generations, stretches
from cvlib.engine.known.resolve import Resolver
from cvlib.model.answer import Answer, Side, Standing
from cvlib.model.profile import Place, Profile, Setting, Source, SourceKind, Verdict
from cvlib.model.ranges import FirmwareRange
from cvlib.model.versions import FirmwareVersion, Scheme, parse_version

DOCUMENTED = {Standing.DOCUMENTED}
TESTED = {Standing.BENCH, Standing.FAULTY}


def answers_at(data: st.DataObject) -> tuple[Resolver, FirmwareVersion]:
    """The answers of a generated profile, and a version to ask about."""
    profile = data.draw(strategies.profiles())
    return Resolver(profile), data.draw(strategies.points(profile.scheme))


def alike(one: Answer, other: Answer) -> bool:
    """Whether two answers say the same of a setting, sources and defaults apart."""
    mine = (one.place, *one.candidates)
    theirs = (other.place, *other.candidates)
    return (
        (one.setting, one.standing, one.side) == (other.setting, other.standing, other.side)
        and len(mine) == len(theirs)
        and all(
            a is b or (a is not None and b is not None and a.same_as(b))
            for a, b in zip(mine, theirs, strict=True)
        )
    )


@given(st.data())
def test_documented_only_within_coverage(data: st.DataObject) -> None:
    """An answer is documented exactly when a document or the maker speaks for the firmware."""
    resolver, version = answers_at(data)
    for answer in resolver.at(version).values():
        held = answer.beside or answer
        covered = version in resolver.coverage_of(answer.setting)
        assert (held.standing in DOCUMENTED) is covered
        assert (held.trace.rule == 2) is covered
        assert held.standing not in TESTED
        assert (answer.trace.rule == 1) is (answer.beside is not None)


@given(st.data())
def test_an_answer_is_of_one_shape(data: st.DataObject) -> None:
    """Candidates exactly where disputed, at least two and all different; a side where absent."""
    resolver, version = answers_at(data)
    for answer in resolver.at(version).values():
        assert bool(answer.candidates) is (answer.standing is Standing.DISPUTED)
        assert (answer.side is not None) is answer.is_absent
        if answer.candidates:
            assert answer.place is None
            assert len(answer.candidates) > 1
            assert answer.candidates.count(None) <= 1
            found = [place for place in answer.candidates if place is not None]
            for at, one in enumerate(found):
                assert not any(one.same_as(other) for other in found[:at])
        if answer.standing in TESTED:
            assert answer.place is not None


@given(st.data())
def test_the_firmware_lies_in_what_was_looked_at(data: st.DataObject) -> None:
    """The span, gap or end that an answer names holds the firmware and is all of one sort."""
    resolver, version = answers_at(data)
    for answer in resolver.at(version).values():
        if answer.trace.rule == 0:
            assert answer.trace.firmware.is_empty()
            continue
        assert version in answer.trace.firmware
        coverage = resolver.coverage_of(answer.setting)
        if answer.trace.rule == 2:
            assert (answer.trace.firmware - coverage).is_empty()
        elif answer.trace.rule in (3, 4):
            assert (answer.trace.firmware & coverage).is_empty()


@given(st.data())
def test_an_answer_is_a_pure_function(data: st.DataObject) -> None:
    """The same profile and version give the same answer, however often and however spelt."""
    resolver, version = answers_at(data)
    again = Resolver(resolver.profile)
    respelt = FirmwareVersion(version.scheme, version.key, "spelt otherwise")
    resolver.at(data.draw(strategies.points(version.scheme)))
    assert resolver.at(version) == again.at(respelt) == resolver.at(version)


@given(st.data())
def test_generations_cover_the_line_once_and_in_order(data: st.DataObject) -> None:
    """All firmware, each once; every generation is one span and follows the one before."""
    resolver, _ = answers_at(data)
    found = generations(resolver)
    covered = FirmwareRange.nothing(resolver.profile.scheme)
    for stretch in found:
        assert len(stretch.firmware.spans) == 1
        assert (covered & stretch.firmware).is_empty()
        if not covered.is_empty():
            assert covered.end == stretch.firmware.oldest
        covered |= stretch.firmware
    assert covered.is_everything()


@given(st.data())
def test_adjacent_generations_differ(data: st.DataObject) -> None:
    """No generation could be joined with the next: an answer differs, or what is known does."""
    resolver, _ = answers_at(data)
    found = generations(resolver)
    for one, other in pairwise(found):
        same = all(map(alike, one.answers, other.answers))
        assert one.known is not other.known or not same


@given(st.data())
def test_every_firmware_of_a_generation_has_its_answers(data: st.DataObject) -> None:
    """The answers at any version are those of the stretch it lies in."""
    resolver, version = answers_at(data)
    asked = list(resolver.profile.settings.values())
    for held in (asked, asked[:1]):
        for stretch in stretches(resolver, held):
            if version in stretch.firmware:
                answers = [resolver.answer(setting, version.key) for setting in held]
                assert all(map(alike, stretch.answers, answers))


@given(st.data())
def test_known_follows_from_the_coverage_of_what_is_asked(data: st.DataObject) -> None:
    """A stretch is covered, a gap, before or beyond by the documents about the settings asked."""
    resolver, _ = answers_at(data)
    for setting in resolver.profile.settings.values():
        coverage = resolver.coverage_of(setting.id)
        for stretch in stretches(resolver, [setting]):
            assert stretch.known is place_in(stretch, coverage)
            assert stretch.disputed == bool(stretch.answers[0].candidates)


def place_in(stretch: Stretch, coverage: FirmwareRange) -> Known:
    """How a stretch lies to a coverage, by the algebra alone."""
    if not (stretch.firmware & coverage).is_empty():
        assert (stretch.firmware - coverage).is_empty()
        return Known.COVERED
    older = FirmwareRange.between(
        FirmwareRange.everything(coverage.scheme).oldest, stretch.point, coverage
    )
    newer = ~(older | stretch.firmware)
    sides = [not (part & coverage).is_empty() for part in (older, newer)]
    if sides[0] is sides[1]:
        return Known.GAP
    return Known.BEYOND if sides[0] else Known.BEFORE


@given(st.data())
def test_answers_change_only_at_cuts(data: st.DataObject) -> None:
    """Every generation begins at a cut, and the cuts are in order."""
    resolver, _ = answers_at(data)
    points = cuts(resolver, resolver.profile.settings.values())
    assert points == sorted(set(points))
    assert {stretch.point for stretch in generations(resolver)} <= set(points)


@dataclass(frozen=True)
class Judge:
    """Section 5 of the design worked out number by number, with no algebra at all."""

    profile: Profile
    setting: Setting

    def lies_in(self, held: FirmwareRange, number: int) -> bool:
        """Whether a number lies in a range."""
        return parse_version(str(number), Scheme.NUMBER) in held

    def covered(self, number: int) -> bool:
        """Whether a document or the maker speaks for the setting at a number."""
        return any(
            self.lies_in(source.firmware, number)
            for source in self.profile.sources.values()
            if source.kind is not SourceKind.BENCH and source.speaks_for(self.setting.id)
        )

    def documented(self, number: int) -> Place | None:
        """The place that holds at a covered number."""
        return next((p for p in self.setting.places if self.lies_in(p.firmware, number)), None)

    def side(self, number: int) -> Side:
        """Where else the setting is documented."""
        others = [n for n in range(LAST) if self.covered(n) and self.documented(n) is not None]
        older, newer = any(n < number for n in others), any(n > number for n in others)
        return {
            (True, True): Side.BOTH,
            (True, False): Side.OLDER,
            (False, True): Side.NEWER,
            (False, False): Side.NEITHER,
        }[older, newer]

    def from_documents(self, number: int) -> tuple[Standing, list[Place | None]]:
        """Standing and place, or candidates, by rules 2 to 4."""
        if self.covered(number):
            return Standing.DOCUMENTED, [self.documented(number)]
        below = next((n for n in range(number, -1, -1) if self.covered(n)), None)
        above = next((n for n in range(number, LAST) if self.covered(n)), None)
        if below is None and above is None:
            distinct: list[Place | None] = []
            for place in self.setting.places:
                if not any(known is not None and known.same_as(place) for known in distinct):
                    distinct.append(place)
            return Standing.DISPUTED, [*distinct, None]
        if below is None:
            return Standing.BEFORE, [self.documented(above or 0)]
        if above is None:
            return Standing.BEYOND, [self.documented(below)]
        b, a = self.documented(below), self.documented(above)
        if (a is None and b is None) or (a is not None and b is not None and a.same_as(b)):
            return Standing.BETWEEN, [a]
        return Standing.DISPUTED, [b, a]

    def verdicts(self, number: int, verdict: Verdict) -> list[Place]:
        """The places that bench tests at this very number gave a verdict on."""

        def is_here(source: Source) -> bool:
            return source.kind is SourceKind.BENCH and self.lies_in(source.firmware, number)

        return [
            place
            for place in self.setting.places
            for citation in place.citations
            if citation.verdict is verdict and is_here(self.profile.sources[citation.source])
        ]


LAST = 16
"""Beyond every number that generated ranges name."""


def same(one: Place | None, other: Place | None) -> bool:
    """Whether two places are the same, or both absent."""
    return one is other or (one is not None and other is not None and one.same_as(other))


@given(strategies.profiles(Scheme.NUMBER), st.integers(0, LAST - 2))
def test_answers_are_those_of_the_rules_worked_out_one_by_one(
    profile: Profile, number: int
) -> None:
    """Resolution by intervals gives what counting through every number gives."""
    resolver = Resolver(profile)
    for setting in profile.settings.values():
        judge = Judge(profile, setting)
        answer = resolver.answer(setting, (number,))
        documented = answer.beside or answer
        standing, wanted = judge.from_documents(number)
        assert documented.standing is standing
        found = list(documented.candidates) or [documented.place]
        assert len(found) == len(wanted)
        assert all(map(same, found, wanted))
        if documented.is_absent:
            assert documented.side is judge.side(number)
        works = judge.verdicts(number, Verdict.WORKS)
        fails = judge.verdicts(number, Verdict.NO_EFFECT)
        assert (answer.beside is not None) is bool(works or fails)
        if answer.beside is None:
            continue
        clash = any(same(a, b) for a in works for b in fails)
        if clash or any(not same(a, works[0]) for a in works):
            assert answer.standing is Standing.DISPUTED
            assert (None in answer.candidates) is clash
            assert all(any(same(c, w) for w in works) for c in answer.candidates if c is not None)
            assert all(any(same(c, w) for c in answer.candidates) for w in works)
        elif works:
            assert answer.standing is Standing.BENCH
            assert same(answer.place, works[0])
        else:
            assert answer.standing is Standing.FAULTY
            expected = [f for f in fails if any(same(f, e) for e in documented.places())]
            assert same(answer.place, (expected or fails)[0])
