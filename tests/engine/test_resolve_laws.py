"""Laws of resolution and of the line, on generated profiles of all three schemes.

What the rules come to one by one is held against a second reading in tests/oracle.
"""

from itertools import pairwise

from hypothesis import given
from hypothesis import strategies as st

import make
import strategies
from cvlib.engine.known.line import (
    Known,
    Stretch,
    answer_facets,
    generations,
    same_placed,
    same_said,
    stretches,
)
from cvlib.engine.known.resolve import Resolver
from cvlib.model.answer import Standing
from cvlib.model.facet import facets, same_placing
from cvlib.model.ranges import FirmwareRange
from cvlib.model.versions import FirmwareVersion

TESTED = {Standing.BENCH, Standing.FAULTY}


def answers_at(data: st.DataObject) -> tuple[Resolver, FirmwareVersion]:
    """The answers of a generated profile, and a version to ask about."""
    profile = data.draw(strategies.profiles())
    return Resolver(profile), data.draw(strategies.points(profile.scheme))


@given(st.data())
def test_nothing_is_certain_that_nobody_read(data: st.DataObject) -> None:
    """A documented answer rests on a document at that very firmware, or on a standard's demand."""
    resolver, version = answers_at(data)
    for answer in resolver.at(version).values():
        held = answer.documented()
        assert held.standing not in TESTED
        if held.standing is not Standing.DOCUMENTED:
            continue
        cited = [resolver.profile.sources.get(one.source) for one in held.trace.citations]
        documents = [one for one in cited if one is not None and one.is_document]
        assert any(version in one.firmware for one in documents)


@given(st.data())
def test_an_answer_is_of_one_shape(data: st.DataObject) -> None:
    """Candidates only where disputed, all different; a side just where absent."""
    resolver, version = answers_at(data)
    for answer in resolver.at(version).values():
        assert not (answer.candidates and not answer.is_disputed)
        assert (answer.side is not None) is answer.is_absent
        assert not (answer.is_disputed and answer.place is not None)
        assert answer.candidates.count(None) <= 1
        found = [place for place in answer.candidates if place is not None]
        for at, one in enumerate(found):
            assert not any(same_placing(one, other) for other in found[:at])
        if answer.standing in TESTED:
            assert answer.place is not None
        if answer.trace.rule == 1:
            assert answer.beside is not None


@given(st.data())
def test_the_firmware_lies_in_what_was_looked_at(data: st.DataObject) -> None:
    """The span, gap or end that an answer names holds the firmware and is all of one sort."""
    resolver, version = answers_at(data)
    for answer in resolver.at(version).values():
        assert version in answer.trace.firmware
        coverage = resolver.coverage_of(answer.setting)
        if answer.trace.rule == 2:
            assert version in coverage
        elif answer.trace.rule in (3, 4):
            assert (answer.trace.firmware & coverage).is_empty()


@given(st.data())
def test_what_is_not_known_is_not_given(data: st.DataObject) -> None:
    """A guess between two handbooks differs from neither side in anything that it gives."""
    resolver, version = answers_at(data)
    for answer in resolver.at(version).values():
        if answer.standing is not Standing.BETWEEN or answer.place is None:
            continue
        for side in answer.sides:
            if same_placing(side, answer.place):
                assert facets(side, answer.place) <= set(answer.open)


@given(st.data())
def test_an_answer_is_a_pure_function(data: st.DataObject) -> None:
    """The same profile and version give the same answer, however often and however spelt."""
    resolver, version = answers_at(data)
    again = Resolver(resolver.profile)
    respelt = FirmwareVersion(version.scheme, version.key, "spelt otherwise")
    resolver.at(data.draw(strategies.points(version.scheme)))
    assert resolver.at(version) == again.at(respelt) == resolver.at(version)


@given(st.data())
def test_no_answer_hangs_on_what_was_asked_before(data: st.DataObject) -> None:
    """Asked first or last, a setting has one answer, also where conditions lead in a circle."""
    resolver, version = answers_at(data)
    together = resolver.at(version)
    for setting in reversed(resolver.profile.settings.values()):
        alone = Resolver(resolver.profile)
        assert alone.answer(setting, version.key) == together[setting.id]


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
        written = [
            [a.standing is Standing.DOCUMENTED for a in side.answers] for side in (one, other)
        ]
        same = all(map(same_placed, one.answers, other.answers)) and written[0] == written[1]
        assert one.known is not other.known or not same


@given(st.data())
def test_every_firmware_of_a_stretch_has_its_answers(data: st.DataObject) -> None:
    """The answers at any version are those of the stretch it lies in."""
    resolver, version = answers_at(data)
    asked = list(resolver.profile.settings.values())
    for held in (asked, asked[:1]):
        for stretch in stretches(resolver, held):
            if version in stretch.firmware:
                answers = [resolver.answer(setting, version.key) for setting in held]
                assert all(map(same_said, stretch.answers, answers))


@given(st.data())
def test_known_follows_from_the_coverage_of_what_is_asked(data: st.DataObject) -> None:
    """A stretch is covered, a gap, before or beyond by the documents about the settings asked."""
    resolver, _ = answers_at(data)
    for setting in resolver.profile.settings.values():
        coverage = resolver.coverage_of(setting.id)
        for stretch in stretches(resolver, [setting]):
            assert stretch.known is place_in(stretch, coverage)
            assert stretch.disputed == stretch.answers[0].is_disputed


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
    points = list(resolver.cuts.points)
    assert points == sorted(set(points))
    assert {stretch.point for stretch in stretches(resolver)} <= set(points)


@given(st.data())
def test_facets_are_the_same_from_both_sides(data: st.DataObject) -> None:
    """What differs from one answer to the other differs the other way round."""
    resolver, version = answers_at(data)
    other = data.draw(strategies.points(version.scheme))
    here, there = resolver.at(version), resolver.at(other)
    for name, answer in here.items():
        assert answer_facets(answer, there[name]) == answer_facets(there[name], answer)
        assert answer_facets(answer, answer) == frozenset()


def test_a_circle_of_conditions_decides_nothing_in_either_order() -> None:
    """One of two settings that ask each other asks a third, which is not there."""
    held = make.profile(
        {
            "sources": {"h1": ">=1.0, <=1.9"},
            "settings": {
                "x.gone": [{"at": "9", "in": ">=5.0"}],
                "x.one": [{"at": "10", "when": {"x.two": [1], "x.gone": [1]}}],
                "x.two": [{"at": "11", "when": {"x.one": [1]}}],
            },
        }
    )
    for names in (("x.one", "x.two"), ("x.two", "x.one")):
        resolver = Resolver(held)
        point = held.version("1.0").key
        found = {name: resolver.answer(held.settings[name], point) for name in names}
        assert [found[name].is_absent for name in ("x.one", "x.two")] == [True, False]
