"""Which settings exist at a firmware, where they live, and how well that is known.

The rules and their numbers are those of docs/concepts.md: a bench test at the very firmware
first, then the documents that speak there, then those on either side, then a standard or nobody.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import replace
from functools import cached_property
from itertools import combinations
from typing import TypeAlias

from cvlib.engine.known.conditions import circular, exclude
from cvlib.engine.known.documents import Documents, Statement
from cvlib.engine.known.merged import distinct, given, groups_of, same_set, sides_of
from cvlib.model.answer import Answer, Side, Standing, Trace
from cvlib.model.coding import Area, Fields
from cvlib.model.cv import WHOLE, Slot
from cvlib.model.facet import same_placing
from cvlib.model.profile import (
    Citation,
    Place,
    Profile,
    Setting,
    Source,
    SourceKind,
    Verdict,
)
from cvlib.model.ranges import Cuts, FirmwareRange
from cvlib.model.versions import FirmwareVersion, Key

Decider: TypeAlias = Callable[[Setting, int], Answer]
"""The answer for a deciding setting in a segment."""


class Resolver:
    """Answers for one profile at any firmware; remembers what it was asked."""

    def __init__(self, profile: Profile) -> None:
        self.profile = profile
        self.documents = Documents(profile)
        self._written: dict[tuple[str, int], Answer | None] = {}
        self._alone: dict[tuple[str, int], Answer] = {}
        self._answers: dict[tuple[str, int], Answer] = {}
        self._proofs: dict[int, tuple[Answer, ...]] = {}
        self._coverage: dict[str, FirmwareRange] = {}
        self._present: dict[str, tuple[int, ...]] = {}
        self._documented: dict[tuple[str, int], Answer] = {}

    @property
    def cuts(self) -> Cuts:
        """The points at which any answer may change; between two of them none does."""
        return self.documents.cuts

    @cached_property
    def coverage(self) -> FirmwareRange:
        """The firmware for which any document or the maker's word speaks for any setting."""
        ranges = (source.firmware for source in self.documents.all)
        return FirmwareRange.union(ranges, self.profile.scheme)

    def coverage_of(self, setting: str) -> FirmwareRange:
        """The firmware at which at least one document says something of a setting."""
        found = self._coverage.get(setting)
        if found is None:
            held = self.profile.settings[setting]
            found = self._where(held, lambda own: self._by_documents(held, own) is not None)
            self._coverage[setting] = found
        return found

    def at(self, version: FirmwareVersion) -> Mapping[str, Answer]:
        """The answer for every setting of the profile at one firmware."""
        return self.at_point(version.key)

    def at_point(self, point: Key) -> Mapping[str, Answer]:
        """The answer for every setting at one point of the version line."""
        segment = self.cuts.segment(point)
        return {name: self.in_segment(held, segment) for name, held in self._settings()}

    def answer(self, setting: Setting, point: Key) -> Answer:
        """The answer for one setting at one point of the version line."""
        return self.in_segment(setting, self.cuts.segment(point))

    def in_segment(self, setting: Setting, segment: int) -> Answer:
        """The answer for one setting in one segment between two cuts."""
        key = setting.id, segment
        found = self._answers.get(key)
        if found is None:
            found = self._answers[key] = self._beside_proofs(setting, segment)
        return found

    def effective(self, setting: Setting, place: Place) -> FirmwareRange:
        """The firmware at which documents, or a standard or nobody, put the setting there."""

        def holds(own: int) -> bool:
            return any(same_placing(place, one) for one in self._written_places(setting, own))

        return self._where(setting, holds)

    def known(self, setting: Setting, place: Place) -> FirmwareRange:
        """The firmware known to have a place: by the documents, or seen to act on the bench."""
        held = self.effective(setting, place)
        for citation, source in self._tests(place):
            if citation.verdict is not None and citation.verdict.acts:
                held |= source.firmware
        return held

    def users(self, slot: Slot) -> Iterable[tuple[Setting, Place]]:
        """The settings that use a CV at any firmware, bytes made of fields apart."""
        return [held for held in self._lodgers.get(slot, ()) if not _is_byte_of_fields(held[1])]

    @cached_property
    def circular(self) -> frozenset[str]:
        """The settings whose conditions lead round in a circle, where they decide nothing."""
        return circular(self.profile.settings)

    @cached_property
    def _lodgers(self) -> dict[Slot, list[tuple[Setting, Place]]]:
        """The places on each CV."""
        found: dict[Slot, list[tuple[Setting, Place]]] = {}
        for setting in self.profile.settings.values():
            for place in setting.places:
                for slot in {field.slot for field in place.fields}:
                    found.setdefault(slot, []).append((setting, place))
        return found

    def _own(self, setting: Setting, point: Key) -> int:
        """The number of the segment of a setting's own documents that a point lies in."""
        return self.documents.cuts_of(setting).segment(point)

    def _settings(self) -> Iterable[tuple[str, Setting]]:
        return self.profile.settings.items()

    def _where(self, setting: Setting, holds: Callable[[int], bool]) -> FirmwareRange:
        """All firmware of the segments of a setting for which something holds."""
        found = FirmwareRange.nothing(self.profile.scheme)
        cuts = self.documents.cuts_of(setting)
        for own in range(len(cuts)):
            if holds(own):
                found |= cuts.span(own, own, self.coverage)
        return found

    def _written_places(self, setting: Setting, own: int) -> Sequence[Place]:
        """Where documents, or else a standard or nobody, put a setting."""
        found = self._by_documents(setting, own)
        return found.places() if found else self._uncited(setting, own)

    # Rule 1: what was seen on the bench at this very firmware.

    def _beside_proofs(self, setting: Setting, segment: int) -> Answer:
        """The answer where the bench tests of all settings at this firmware are known."""
        proofs = self._proofs_in(segment)
        found = self._alone_in(setting, segment)
        mine = found.tried if found.standing is Standing.FAULTY else found.places()
        rivals = [one for one in proofs if one.setting != setting.id]
        if not rivals or found.is_absent or setting.is_area:
            return found
        against = [one for one in rivals if any(self._meet(place, one) for place in mine)]
        if not against:
            return found
        kept = (None,) if None in found.candidates else ()
        left = tuple(place for place in mine if not any(self._meet(place, one) for one in against))
        cites = tuple(citation for one in against for citation in one.trace.citations)
        return Answer(
            setting.id,
            Standing.DISPUTED,
            None,
            Trace(1, against[0].trace.firmware, cites),
            (*left, *kept),
            beside=self._written_in(setting, segment),
            tried=found.tried,
            taken_by=against[0].setting,
        )

    def _proofs_in(self, segment: int) -> tuple[Answer, ...]:
        """The settings that a bench test proved at this firmware, undisputed."""
        found = self._proofs.get(segment)
        if found is None:
            point = self.cuts.points[segment]
            here = [one for one in self._bench if one.firmware.holds(point)]
            found = ()
            if here:
                asked = (held for _, held in self._settings() if self._is_tested(held, here))
                answers = (self._alone_in(held, segment) for held in asked)
                found = tuple(one for one in answers if one.standing is Standing.BENCH)
            self._proofs[segment] = found
        return found

    def _alone_in(self, setting: Setting, segment: int) -> Answer:
        """The answer before the bench tests of other settings are looked at."""
        key = setting.id, segment
        found = self._alone.get(key)
        if found is None:
            found = self._from_documents(setting, segment, self._alone_in)
            tested = list(self._tested(setting, self.cuts.points[segment]))
            if tested:
                written = self._from_documents(setting, segment, self._written_in)
                found = replace(self._from_bench(setting, segment, tested, found), beside=written)
            self._alone[key] = found
        return found

    def _from_bench(
        self,
        setting: Setting,
        segment: int,
        tested: Sequence[tuple[Place, Citation, Verdict]],
        written: Answer,
    ) -> Answer:
        acting = distinct(place for place, _, verdict in tested if verdict.acts)
        failed = distinct(place for place, _, verdict in tested if not verdict.acts)
        citations = tuple(dict.fromkeys(citation for _, citation, _ in tested))
        source = self.profile.sources[citations[0].source]
        trace = Trace(1, source.firmware.around(self.cuts.points[segment]), citations)
        is_contradicted = any(same_placing(one, other) for one in acting for other in failed)
        if len(acting) > 1 or is_contradicted:
            return Answer(setting.id, Standing.DISPUTED, None, trace, acting, tried=failed)
        if acting:
            loose = any(verdict is Verdict.UNRELIABLE for _, _, verdict in tested)
            return Answer(
                setting.id, Standing.BENCH, acting[0], trace, tried=failed, is_unreliable=loose
            )
        left = self._left(written, failed)
        if left:
            return Answer(setting.id, Standing.DISPUTED, None, trace, left, tried=failed)
        meant = (p for p in failed if any(same_placing(p, one) for one in written.places()))
        best = next(meant, failed[0])
        return Answer(setting.id, Standing.FAULTY, best, trace, tried=failed)

    def _left(self, written: Answer, failed: Sequence[Place]) -> tuple[Place | None, ...]:
        """What the documents leave, where one of it is on another CV than what had no effect."""
        if written.trace.rule not in (2, 3):
            return ()
        tried = {field.slot for place in failed for field in place.fields}
        left = [
            place
            for place in written.candidates or written.places()
            if place is None or tried.isdisjoint(field.slot for field in place.fields)
        ]
        return tuple(left) if any(place is not None for place in left) else ()

    @cached_property
    def _bench(self) -> list[Source]:
        return [one for one in self.profile.sources.values() if not one.is_document]

    def _is_tested(self, setting: Setting, tests: Iterable[Source]) -> bool:
        ids = {one.id for one in tests}
        return any(c.source in ids for place in setting.places for c in place.citations)

    def _tests(self, place: Place) -> Iterator[tuple[Citation, Source]]:
        """The bench tests of a place that came to a verdict."""
        for citation in place.citations:
            source = self.profile.sources.get(citation.source)
            if source is not None and source.kind is SourceKind.BENCH and citation.verdict:
                yield citation, source

    def _tested(self, setting: Setting, point: Key) -> Iterator[tuple[Place, Citation, Verdict]]:
        for place in setting.places:
            for citation, source in self._tests(place):
                if citation.verdict is not None and source.firmware.holds(point):
                    yield place, citation, citation.verdict

    def _meet(self, place: Place, other: Answer) -> bool:
        """Whether a place uses bits that another setting has at the same time."""
        return any(self._overlap(place, one) for one in other.places())

    def _overlap(self, one: Place, other: Place) -> bool:
        if isinstance(one.coding, Area) or isinstance(other.coding, Area):
            return False
        if _is_byte_of_fields(one) is not _is_byte_of_fields(other):
            part = other if _is_byte_of_fields(one) else one
            if any(field.mask != WHOLE for field in part.fields):
                return False  # a byte of fields and one of its own bits
        used = {field.slot: field.mask for field in other.fields}
        if not any(field.mask & used.get(field.slot, 0) for field in one.fields):
            return False
        return not exclude(self._places_of, one, other)

    def _places_of(self, name: str) -> tuple[Place, ...]:
        held = self.profile.settings.get(name)
        return held.places if held else ()

    def _together(self, places: Sequence[Place]) -> bool:
        """Whether several places of one setting can all be right: no two exist at once."""
        return all(exclude(self._places_of, one, other) for one, other in combinations(places, 2))

    # Rules 2 to 5: what is written.

    def _written_in(self, setting: Setting, segment: int) -> Answer:
        """The answer as if there were no bench test of any setting."""
        key = setting.id, segment
        found = self._documented.get(key)
        if found is None:
            found = self._from_documents(setting, segment, self._written_in)
            self._documented[key] = found
        return found

    def _from_documents(self, setting: Setting, segment: int, decider: Decider) -> Answer:
        """What the documents and standards say; ``decider`` answers for deciding settings."""
        point = self.cuts.points[segment]
        own = self._own(setting, point)
        if setting.is_area:
            return self._area(setting, point)
        found = self._by_documents(setting, own) or self._undocumented(setting, own)
        found = self._decided(found, segment, decider)
        if found.standing.is_guess:
            found = self._beside_documents(found, point)
        if found.is_absent:
            return replace(found, side=self._side(setting, own, point))
        return found

    def _area(self, setting: Setting, point: Key) -> Answer:
        """CVs without a meaning of their own: there where their firmware holds, never denied."""
        here = [place for place in setting.places if place.holds_for(point)]
        everywhere = FirmwareRange.everything(self.profile.scheme)
        trace = Trace(5, everywhere, _cited_by(here))
        side = None if here else Side.NEITHER
        place = here[0] if here else None
        return Answer(setting.id, Standing.ASSUMED, place, trace, side=side)

    def _by_documents(self, setting: Setting, own: int) -> Answer | None:
        """Rule 2; nothing where no document says anything of the setting there."""
        key = setting.id, own
        if key not in self._written:
            said = self.documents.at(setting, own)
            self._written[key] = self._agreed(setting, said, own) if said else None
        return self._written[key]

    def _agreed(self, setting: Setting, said: Sequence[Statement], own: int) -> Answer:
        naming = [one for one in said if one.places]
        silent = [one for one in said if not one.places]
        uncited = self._uncited(setting, own)
        if uncited and not naming and all(one.is_silence for one in silent):
            return self._assumed(setting, uncited, is_passed_over=True)
        if any(one.is_whole_handbook for one in naming):
            denying = [one for one in silent if not one.is_silence or one.is_whole_handbook]
        else:
            denying = [one for one in silent if not one.is_silence]
        spans = FirmwareRange.union((one.source.firmware for one in said), self.profile.scheme)
        point = self.documents.cuts_of(setting).points[own]
        heard = naming + denying if naming else silent
        trace = Trace(2, spans.around(point), _citations(heard))
        if not naming:
            return Answer(setting.id, Standing.DOCUMENTED, None, trace)
        groups = groups_of(place for one in naming for place in one.places)
        if denying or not self._together([group[0] for group in groups]):
            absent = (None,) if denying else ()
            candidates = (*(group[0] for group in groups), *absent)
            return Answer(setting.id, Standing.DISPUTED, None, trace, candidates)
        return given(setting, Standing.DOCUMENTED, trace, groups)

    def _undocumented(self, setting: Setting, own: int) -> Answer:
        """Rules 3 to 5, where no document says anything of the setting."""
        uncited = self._uncited(setting, own)
        if uncited:
            return self._assumed(setting, uncited)
        older, newer = self._neighbours(setting, own)
        if older is not None and newer is not None:
            return self._between(setting, older, newer)
        nearest = older if older is not None else newer
        if nearest is None:
            return self._unspoken(setting)
        standing = Standing.BEYOND if older is not None else Standing.BEFORE
        end = self._end(setting, nearest, is_older=older is not None)
        cuts = self.documents.cuts_of(setting)
        first, last = (nearest + 1, len(cuts) - 1) if older is not None else (0, nearest - 1)
        outside = cuts.span(first, last, self.coverage)
        trace = Trace(4, outside, end.trace.citations)
        if end.is_disputed:
            return replace(end, trace=trace)
        return replace(end, standing=standing, trace=trace)

    def _neighbours(self, setting: Setting, own: int) -> tuple[int | None, int | None]:
        """The nearest segments on either side in which a document says something."""
        below = range(own - 1, -1, -1)
        above = range(own + 1, len(self.documents.cuts_of(setting)))
        older, newer = (
            next((at for at in side if self._by_documents(setting, at) is not None), None)
            for side in (below, above)
        )
        return older, newer

    def _end(self, setting: Setting, own: int, *, is_older: bool) -> Answer:
        """What the documents say just inside the end of what they speak for."""
        cuts = self.documents.cuts_of(setting)
        at = self.cuts.segment(cuts.points[own])
        if is_older:
            at = self.cuts.segment_below(cuts.points[own + 1])
        found = self._by_documents(setting, own)
        assert found is not None
        return self._decided(found, at, self._written_in)

    def _between(self, setting: Setting, older: int, newer: int) -> Answer:
        before = self._end(setting, older, is_older=True)
        after = self._end(setting, newer, is_older=False)
        cites = tuple(dict.fromkeys((*before.trace.citations, *after.trace.citations)))
        gap = self.documents.cuts_of(setting).span(older + 1, newer - 1, self.coverage)
        trace = Trace(3, gap, cites)
        if before.is_absent and after.is_absent:
            return Answer(setting.id, Standing.BETWEEN, None, trace)
        if not (before.is_disputed or after.is_disputed) and same_set(before, after):
            groups = groups_of((*sides_of(before), *sides_of(after)))
            # What only a standard or nobody speaks for on a side is no surer in between.
            is_read = before.trace.rule == 2 and after.trace.rule == 2
            standing = Standing.BETWEEN if is_read else Standing.ASSUMED
            return given(setting, standing, trace, groups)
        candidates: list[Place | None] = []
        for place in (*before.possible(), *after.possible()):
            if not any(same_placing(place, known) for known in candidates):
                candidates.append(place)
        return Answer(setting.id, Standing.DISPUTED, None, trace, tuple(candidates))

    def _uncited(self, setting: Setting, own: int) -> list[Place]:
        return self.documents.uncited(setting, self.documents.cuts_of(setting).points[own])

    def _assumed(
        self, setting: Setting, uncited: Sequence[Place], *, is_passed_over: bool = False
    ) -> Answer:
        """Rule 5: only a standard or an uncited place.

        What a standard demands is documented by it, unless a handbook that somebody read from
        first to last page passes over it.
        """
        everywhere = FirmwareRange.everything(self.profile.scheme)
        trace = Trace(5, everywhere, _cited_by(uncited))
        groups = groups_of(uncited)
        if not self._together([group[0] for group in groups]):
            candidates = tuple(group[0] for group in groups)
            return Answer(setting.id, Standing.DISPUTED, None, trace, candidates)
        demanded = not is_passed_over and all(
            place.citations and place.marks.requirement == "mandatory" for place in uncited
        )
        standing = Standing.DOCUMENTED if demanded else Standing.ASSUMED
        return given(setting, standing, trace, groups)

    def _unspoken(self, setting: Setting) -> Answer:
        """A setting of which no document says anything at any firmware, and that has no place
        here: absent where its places are narrowed to other firmware, else seen by tests alone.
        """
        everywhere = FirmwareRange.everything(self.profile.scheme)
        seen = [
            place for place in setting.places if place.citations and self._is_tested_only(place)
        ]
        if seen:
            candidates = (*distinct(seen), None)
            return Answer(setting.id, Standing.DISPUTED, None, Trace(5, everywhere), candidates)
        trace = Trace(5, everywhere, _cited_by(setting.places))
        return Answer(setting.id, Standing.ASSUMED, None, trace)

    def _is_tested_only(self, place: Place) -> bool:
        """Whether nothing but bench tests speaks for a place."""
        sources = (self.profile.sources.get(one.source) for one in place.citations)
        return all(source is not None and not source.is_document for source in sources)

    def _beside_documents(self, guess: Answer, point: Key) -> Answer:
        """A guess, unless documents that speak here give one of its CVs to another setting."""
        taker = ""
        left: list[Place] = []
        for place in guess.places():
            found = self._taker(guess.setting, place, point)
            taker = taker or found
            left += [] if found else [place]
        if not taker:
            return guess
        return Answer(
            guess.setting,
            Standing.DISPUTED,
            None,
            guess.trace,
            tuple(left),
            beside=guess,
            taken_by=taker,
        )

    def _taker(self, setting: str, place: Place, point: Key) -> str:
        """The setting to which documents give bits of a place; empty where none does."""
        for slot in {field.slot for field in place.fields}:
            for other, theirs in self._lodgers[slot]:
                if other.id == setting or not self._overlap(place, theirs):
                    continue
                found = self._by_documents(other, self._own(other, point))
                given = found.places() if found and found.trace.rule == 2 else ()
                if any(same_placing(theirs, one) for one in given):
                    return other.id
        return ""

    def _decided(self, answer: Answer, segment: int, decider: Decider) -> Answer:
        """The answer without the places whose deciding setting is absent here."""
        if not any(place.when for place in answer.places()):
            return answer
        gone = {id(p) for p in answer.places() if self._lacks(answer, p, segment, decider)}
        if not gone:
            return answer
        left = tuple(place for place in answer.places() if id(place) not in gone)
        if left and answer.is_disputed:
            return replace(answer, candidates=(*left, None))
        if left:
            return replace(answer, place=left[0], also=left[1:])
        return replace(
            answer,
            standing=self._undisputed(answer),
            place=None,
            candidates=(),
            also=(),
            open=(),
            sides=(),
        )

    def _undisputed(self, answer: Answer) -> Standing:
        """The standing that the rule of an answer gives where candidates come to agree."""
        if not answer.is_disputed:
            return answer.standing
        if answer.trace.rule == 4:
            is_first = answer.trace.firmware.oldest == self.cuts.points[0]
            return Standing.BEFORE if is_first else Standing.BEYOND
        return {2: Standing.DOCUMENTED, 3: Standing.BETWEEN}.get(
            answer.trace.rule, Standing.ASSUMED
        )

    def _lacks(self, answer: Answer, place: Place, segment: int, decider: Decider) -> bool:
        """Whether a setting that decides on a place is absent."""
        asked = (
            self.profile.settings.get(when.setting)
            for when in place.when
            if not (when.setting in self.circular and answer.setting in self.circular)
        )
        return any(one is not None and decider(one, segment).is_absent for one in asked)

    def _side(self, setting: Setting, own: int, point: Key) -> Side:
        """Which firmware, as documented, has a setting that is absent at a point.

        A place whose firmware encloses the point counts on both sides.
        """
        if self.documents.claims(setting, point) or self._written_places(setting, own):
            return Side.BOTH
        there = self._present.get(setting.id)
        if there is None:
            segments = range(len(self.documents.cuts_of(setting)))
            there = tuple(at for at in segments if self._written_places(setting, at))
            self._present[setting.id] = there
        older = any(at < own for at in there)
        newer = any(at > own for at in there)
        if older and newer:
            return Side.BOTH
        return Side.OLDER if older else Side.NEWER if newer else Side.NEITHER


def _is_byte_of_fields(place: Place) -> bool:
    return isinstance(place.coding, Fields)


def _citations(statements: Iterable[Statement]) -> tuple[Citation, ...]:
    return tuple(dict.fromkeys(cited for one in statements for cited in one.citations))


def _cited_by(places: Iterable[Place]) -> tuple[Citation, ...]:
    return tuple(dict.fromkeys(cited for place in places for cited in place.citations))
