"""Which settings exist at a firmware, where they live, and how well that is known.

The rules and their numbers are those of docs/concepts.md: a bench test at the very firmware
first, then the documents that cover it, then the covered firmware on either side.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from functools import cached_property

from cvlib.model.answer import Answer, Side, Standing, Trace
from cvlib.model.coding import Fields
from cvlib.model.cv import Slot
from cvlib.model.profile import Citation, Place, Profile, Setting, Source, SourceKind, Verdict
from cvlib.model.ranges import FirmwareRange
from cvlib.model.versions import FirmwareVersion, Key


class Resolver:
    """Answers for one profile at any firmware; remembers what settings share."""

    def __init__(self, profile: Profile) -> None:
        self.profile = profile
        self._coverage: dict[tuple[str, ...], FirmwareRange] = {}
        self._last: tuple[FirmwareRange, Key, FirmwareRange] | None = None
        self._by_setting: dict[str, FirmwareRange] = {}
        self._claimed: dict[str, tuple[FirmwareRange, ...]] = {}

    @cached_property
    def coverage(self) -> FirmwareRange:
        """The firmware for which any document or the maker's word speaks for any setting."""
        return self._union(self._documents)

    def coverage_of(self, setting: str) -> FirmwareRange:
        """The firmware for which documents or the maker's word speak for a setting."""
        found = self._by_setting.get(setting)
        if found is None:
            speaking = [source for source in self._documents if source.speaks_for(setting)]
            names = tuple(source.id for source in speaking)
            if names not in self._coverage:
                self._coverage[names] = self._union(speaking)
            found = self._by_setting[setting] = self._coverage[names]
        return found

    def at(self, version: FirmwareVersion) -> Mapping[str, Answer]:
        """The answer for every setting of the profile at one firmware."""
        return self.at_point(version.key)

    def at_point(self, point: Key) -> Mapping[str, Answer]:
        """The answer for every setting at one point of the version line."""
        return {name: self.answer(held, point) for name, held in self.profile.settings.items()}

    def answer(self, setting: Setting, point: Key) -> Answer:
        """The answer for one setting at one point of the version line."""
        documented = self._from_documents(setting, point)
        tested = self._tested(setting, point)
        return self._from_bench(setting, point, tested, documented) if tested else documented

    def effective(self, setting: Setting, place: Place) -> FirmwareRange:
        """The firmware for which a place's claim counts: its range inside the coverage."""
        return place.firmware & self.coverage_of(setting.id)

    def known(self, setting: Setting, place: Place) -> FirmwareRange:
        """The firmware known to have a place: by the documents, or seen to work on the bench."""
        held = self.effective(setting, place)
        for citation in place.citations:
            source = self.profile.sources.get(citation.source)
            works = citation.verdict is Verdict.WORKS
            if works and source is not None and source.kind is SourceKind.BENCH:
                held |= source.firmware
        return held

    def users(self, slot: Slot) -> Iterable[tuple[Setting, Place]]:
        """The settings that use a CV at any firmware, areas and bytes made of fields apart."""
        return self._users.get(slot, ())

    @cached_property
    def _users(self) -> dict[Slot, list[tuple[Setting, Place]]]:
        found: dict[Slot, list[tuple[Setting, Place]]] = {}
        for setting in self.profile.settings.values():
            for place in setting.places:
                if not isinstance(place.coding, Fields):
                    for slot in {field.slot for field in place.fields}:
                        found.setdefault(slot, []).append((setting, place))
        return found

    def _tested(self, setting: Setting, point: Key) -> list[tuple[Place, Citation]]:
        return [
            (place, citation)
            for place in setting.places
            for citation in place.citations
            if citation.verdict is not None and self._is_bench_at(citation.source, point)
        ]

    def _is_bench_at(self, source: str, point: Key) -> bool:
        held = self.profile.sources.get(source)
        return held is not None and held.kind is SourceKind.BENCH and held.firmware.holds(point)

    def _from_bench(
        self,
        setting: Setting,
        point: Key,
        tested: list[tuple[Place, Citation]],
        documented: Answer,
    ) -> Answer:
        works = _distinct(p for p, c in tested if c.verdict is Verdict.WORKS)
        fails = _distinct(p for p, c in tested if c.verdict is Verdict.NO_EFFECT)
        citations = tuple(dict.fromkeys(citation for _, citation in tested))
        here = self.profile.sources[citations[0].source].firmware.around(point)
        trace = Trace(1, here, citations)
        contradicted = any(one.same_as(other) for one in works for other in fails)
        if len(works) > 1 or contradicted:
            candidates: tuple[Place | None, ...] = (*works, None) if contradicted else works
            return Answer(setting.id, Standing.DISPUTED, None, trace, candidates, beside=documented)
        if works:
            return Answer(setting.id, Standing.BENCH, works[0], trace, beside=documented)
        expected = documented.places()
        faulty = next((p for p in fails if any(p.same_as(e) for e in expected)), fails[0])
        return Answer(setting.id, Standing.FAULTY, faulty, trace, beside=documented)

    def _from_documents(self, setting: Setting, point: Key) -> Answer:
        coverage = self.coverage_of(setting.id)
        if not coverage.spans:
            places = _distinct(setting.places)
            trace = Trace(0, coverage)
            return Answer(setting.id, Standing.DISPUTED, None, trace, (*places, None))
        span = self._around(coverage, point)
        if coverage.holds(point):
            return self._covered(setting, point, span)
        has_older, has_newer = coverage.lies_before(point), coverage.lies_after(point)
        if has_older and has_newer:
            return self._between(setting, span)
        standing = Standing.BEYOND if has_older else Standing.BEFORE
        return self._one_side(setting, point, span, standing)

    def _around(self, coverage: FirmwareRange, point: Key) -> FirmwareRange:
        """The span or gap around a point; most settings share one coverage."""
        if self._last is None or self._last[0] is not coverage or self._last[1] != point:
            self._last = coverage, point, coverage.around(point)
        return self._last[2]

    def _covered(self, setting: Setting, point: Key, span: FirmwareRange) -> Answer:
        place = next((p for p in setting.places if p.firmware.holds(point)), None)
        side = self._side(setting, point) if place is None else None
        trace = Trace(2, span, _citations(place))
        return Answer(setting.id, Standing.DOCUMENTED, place, trace, side=side)

    def _between(self, setting: Setting, gap: FirmwareRange) -> Answer:
        older, newer = _ending_at(setting, gap.oldest), _starting_at(setting, gap.end)
        trace = Trace(3, gap, tuple(dict.fromkeys((*_citations(older), *_citations(newer)))))
        if older is not None and newer is not None and older.same_as(newer):
            return Answer(setting.id, Standing.BETWEEN, newer, trace)
        if older is None and newer is None:
            side = self._side(setting, gap.oldest)
            return Answer(setting.id, Standing.BETWEEN, None, trace, side=side)
        return Answer(setting.id, Standing.DISPUTED, None, trace, (older, newer))

    def _one_side(
        self, setting: Setting, point: Key, end: FirmwareRange, standing: Standing
    ) -> Answer:
        beyond = standing is Standing.BEYOND
        place = _ending_at(setting, end.oldest) if beyond else _starting_at(setting, end.end)
        side = self._side(setting, point) if place is None else None
        return Answer(setting.id, standing, place, Trace(4, end, _citations(place)), side=side)

    def _side(self, setting: Setting, point: Key) -> Side:
        """Which firmware, as documented, knows a setting that is absent at a point."""
        claimed = self._claimed.get(setting.id)
        if claimed is None:
            claimed = tuple(self.effective(setting, place) for place in setting.places)
            self._claimed[setting.id] = claimed
        older = any(held.lies_before(point) for held in claimed)
        newer = any(held.lies_after(point) for held in claimed)
        if older and newer:
            return Side.BOTH
        return Side.OLDER if older else Side.NEWER if newer else Side.NEITHER

    @cached_property
    def _documents(self) -> list[Source]:
        sources = self.profile.sources.values()
        return [source for source in sources if source.kind is not SourceKind.BENCH]

    def _union(self, sources: Iterable[Source]) -> FirmwareRange:
        covered = FirmwareRange.nothing(self.profile.scheme)
        for source in sources:
            covered = covered | source.firmware
        return covered


def _ending_at(setting: Setting, cut: Key) -> Place | None:
    """The place that holds just below a cut."""
    return next((place for place in setting.places if place.firmware.holds_below(cut)), None)


def _starting_at(setting: Setting, cut: Key) -> Place | None:
    """The place that holds just above a cut."""
    return next((place for place in setting.places if place.firmware.holds(cut)), None)


def _citations(place: Place | None) -> tuple[Citation, ...]:
    return () if place is None else place.citations


def _distinct(places: Iterable[Place]) -> tuple[Place, ...]:
    found: list[Place] = []
    for place in places:
        if not any(place.same_as(known) for known in found):
            found.append(place)
    return tuple(found)
