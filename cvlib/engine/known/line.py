"""The line of a profile: every stretch of firmware with the answer for every setting, and in what
two answers differ.

Nobody else walks settings through firmware, and nobody else says whether two answers are the same.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Mapping
from dataclasses import dataclass
from enum import StrEnum
from typing import NamedTuple

from cvlib.engine.known.resolve import Resolver
from cvlib.model.answer import Answer, Standing
from cvlib.model.cv import Slot
from cvlib.model.facet import PLACING, Facet, facets, same_placing
from cvlib.model.profile import Place, Profile, Setting
from cvlib.model.ranges import FirmwareRange
from cvlib.model.versions import FirmwareVersion, Key

WORDS = frozenset((Facet.WORDS,))
_TESTED = (Standing.BENCH, Standing.FAULTY, Standing.DISPUTED)


def answer_facets(one: Answer | None, other: Answer | None) -> frozenset[Facet]:
    """In what two answers for a setting differ, or may differ where one of them is disputed.

    No answer at all counts as "absent". How well a place is known is no facet.
    """
    if one is other:
        return frozenset()
    mine, theirs = _possible(one), _possible(other)
    if not mine or not theirs:
        return frozenset() if mine == theirs else frozenset((Facet.CVS,))
    found: set[Facet] = set()
    pairs = list(_pairs(mine, theirs))
    if len(pairs) == len(mine) == len(theirs):
        for place, held in pairs:
            found |= facets(place, held)
    else:
        for place in mine:
            for held in theirs:
                found |= facets(place, held)
    return frozenset(found | (set(_open(one)) ^ set(_open(other))))


def differ(one: Answer | None, other: Answer | None) -> bool:
    """Whether two answers say something else of the setting, words and standing apart."""
    return not answer_facets(one, other) <= WORDS


def same_said(one: Answer, other: Answer) -> bool:
    """Whether two answers say the same, and know it as well; words apart."""
    if one is other:
        return True
    if one.standing is not other.standing or one.is_unreliable is not other.is_unreliable:
        return False
    if len(one.candidates) != len(other.candidates) or differ(one, other):
        return False
    if one.beside is None or other.beside is None:
        return one.beside is other.beside
    return same_said(one.beside, other.beside)


def same_placed(one: Answer, other: Answer) -> bool:
    """Whether two answers put a setting at the same place, one of them perhaps as a guess only.

    What a bench test proved or disproved, and what is disputed, is never the same as a guess.
    """
    is_tested = one.standing in _TESTED or other.standing in _TESTED
    if is_tested and one.standing is not other.standing:
        return False
    return PLACING.isdisjoint(answer_facets(one, other))


def _possible(answer: Answer | None) -> tuple[Place | None, ...]:
    """The places that an answer leaves possible, nothing for "absent"; none where none is known."""
    if answer is None or answer.is_absent:
        return (None,)
    return answer.candidates or answer.places()


def _pairs(
    mine: Iterable[Place | None], theirs: Iterable[Place | None]
) -> Iterator[tuple[Place | None, Place | None]]:
    """Each place with one of the others that is placed alike."""
    rest = list(theirs)
    for place in mine:
        for at, held in enumerate(rest):
            if same_placing(place, held):
                yield place, rest.pop(at)
                break


def _open(answer: Answer | None) -> tuple[Facet, ...]:
    return () if answer is None else answer.open


class Known(StrEnum):
    """How a stretch of firmware lies to the documents."""

    COVERED = "covered"
    GAP = "gap"
    BEFORE = "before"
    BEYOND = "beyond"


class Stretch(NamedTuple):
    """Firmware over which every asked setting keeps its answer, and what is known of it."""

    firmware: FirmwareRange
    known: Known
    answers: tuple[Answer, ...]
    """One for each setting asked, in the order asked."""

    @property
    def disputed(self) -> int:
        """How many of the settings have no agreed place here."""
        return sum(answer.is_disputed for answer in self.answers)

    @property
    def point(self) -> Key:
        """A point inside the stretch: its oldest end."""
        return self.firmware.oldest


def stretches(resolver: Resolver, settings: Iterable[Setting] | None = None) -> tuple[Stretch, ...]:
    """The whole version line cut into stretches, oldest first, for some settings or for all.

    Gaps between documents, and the ends before and beyond them, are stretches of their own; so is
    a single version at which a bench test changes an answer.
    """
    return tuple(_walked(resolver, settings, lambda answer: answer, _same_answers))


def generations(
    resolver: Resolver, settings: Iterable[Setting] | None = None
) -> tuple[Stretch, ...]:
    """The longest stretches over which no setting changes its place, by the documents alone.

    Where they stop speaking for some settings, as in a gap, a new stretch begins.
    """
    return tuple(_walked(resolver, settings, Answer.documented, _same_places))


def answers_of(resolver: Resolver, setting: Setting) -> Iterator[tuple[FirmwareRange, Answer]]:
    """The answers for one setting through all firmware, oldest first, each as far as it holds."""
    for firmware, _, (answer,) in stretches(resolver, [setting]):
        yield firmware, answer


def side_by_side(
    before: Resolver, after: Resolver, setting: str
) -> Iterator[tuple[FirmwareRange, Answer | None, Answer | None]]:
    """The answers of two states of a profile for one setting, through all firmware.

    A state that does not have the setting has no answer for it.
    """
    sides: list[list[tuple[FirmwareRange, Answer | None]]] = []
    for side in (before, after):
        held = side.profile.settings.get(setting)
        everything = FirmwareRange.everything(side.profile.scheme)
        sides.append([*answers_of(side, held)] if held else [(everything, None)])
    old, new = sides
    for mine, one in old:
        for theirs, other in new:
            common = mine & theirs
            if not common.is_empty():
                yield common, one, other


def _walked(
    resolver: Resolver,
    settings: Iterable[Setting] | None,
    told: Callable[[Answer], Answer],
    alike: Callable[[tuple[Answer, ...], tuple[Answer, ...]], bool],
) -> Iterator[Stretch]:
    asked = tuple(resolver.profile.settings.values() if settings is None else settings)
    coverage = resolver.coverage if settings is None else _coverage(resolver, asked)
    found: Stretch | None = None
    for segment, point in enumerate(resolver.cuts.points):
        answers = tuple(told(resolver.in_segment(setting, segment)) for setting in asked)
        known = known_at(coverage, point)
        span = resolver.cuts.span(segment, segment, resolver.coverage)
        if found is not None and found.known is known and alike(found.answers, answers):
            found = found._replace(firmware=found.firmware | span)
            continue
        if found is not None:
            yield found
        found = Stretch(span, known, answers)
    if found is not None:
        yield found


def _same_answers(one: tuple[Answer, ...], other: tuple[Answer, ...]) -> bool:
    return all(map(same_said, one, other))


def _same_places(one: tuple[Answer, ...], other: tuple[Answer, ...]) -> bool:
    """Whether no setting changes its place, and the documents speak for the same ones."""
    written = Standing.DOCUMENTED
    return all(
        (a.standing is written) is (b.standing is written) and same_placed(a, b)
        for a, b in zip(one, other, strict=True)
    )


def _coverage(resolver: Resolver, settings: Iterable[Setting]) -> FirmwareRange:
    """The firmware at which a document says something of any of the settings."""
    held = {resolver.coverage_of(setting.id) for setting in settings}
    return FirmwareRange.union(held, resolver.profile.scheme)


def known_at(coverage: FirmwareRange, point: Key) -> Known:
    """How a point of the version line lies to the documents."""
    if coverage.holds(point):
        return Known.COVERED
    older, newer = coverage.lies_before(point), coverage.lies_after(point)
    return Known.GAP if older == newer else Known.BEYOND if older else Known.BEFORE


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


class Change(StrEnum):
    """The gravest way in which a setting differs from one state to the other."""

    ADDED = "added"
    REMOVED = "removed"
    MOVED = "moved"
    RECODED = "recoded"
    CONDITION = "condition"
    DEFAULT = "default"
    MARKS = "marks"
    STANDING = "standing"


_CHANGES = (
    (Facet.CVS, Change.MOVED),
    (Facet.CODING, Change.RECODED),
    (Facet.RANGE, Change.RECODED),
    (Facet.CONDITION, Change.CONDITION),
    (Facet.DEFAULT, Change.DEFAULT),
    (Facet.MARKS, Change.MARKS),
)
"""The facets of two places that are there, the gravest first."""


@dataclass(frozen=True, slots=True)
class Difference:
    """One setting that differs, with its answer on either side (nothing: not in that profile)."""

    setting: str
    change: Change
    before: Answer | None
    after: Answer | None
    facets: frozenset[Facet] = frozenset()

    @property
    def slots(self) -> frozenset[Slot]:
        """The CVs that mean something else on one side than on the other."""
        if PLACING.isdisjoint(self.facets):
            return frozenset()
        sides = (self.before, self.after)
        places = (place for answer in sides if answer for place in answer.places())
        return frozenset(field.slot for place in places for field in place.fields)


def differences(
    before: Mapping[str, Answer], after: Mapping[str, Answer]
) -> tuple[Difference, ...]:
    """What differs between two resolved states, setting by setting, matched by id."""
    found: list[Difference] = []
    for name in dict.fromkeys((*before, *after)):
        old, new = before.get(name), after.get(name)
        told = answer_facets(old, new)
        change = _change(old, new, told)
        if change is not None:
            found.append(Difference(name, change, old, new, told))
    return tuple(found)


def differing_slots(found: Iterable[Difference]) -> tuple[Slot, ...]:
    """The CVs that mean something else in one state than in the other, in order.

    A CV means the settings that may own its bits, with their coding and condition.
    """
    slots = {slot for one in found for slot in one.slots}
    return tuple(sorted(slots, key=lambda slot: slot.order))


def _change(old: Answer | None, new: Answer | None, told: frozenset[Facet]) -> Change | None:
    has_old = old is not None and old.may_exist
    has_new = new is not None and new.may_exist
    if old is None or new is None or not (has_old and has_new):
        if has_old == has_new:
            return None
        return Change.ADDED if has_new else Change.REMOVED
    if old.is_disputed or new.is_disputed:
        same = old.standing is new.standing and told <= WORDS
        return None if same else Change.STANDING
    for facet, change in _CHANGES:
        if facet in told:
            return change
    return None if old.standing is new.standing else Change.STANDING
