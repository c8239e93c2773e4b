"""What each document says of a setting at a firmware, and what the documents say together.

The clauses (a) to (d) and the order of errata are those of docs/concepts.md.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from functools import cached_property

from cvlib.model.profile import (
    Absence,
    Citation,
    Extent,
    Place,
    Profile,
    Setting,
    Source,
    is_about,
)
from cvlib.model.ranges import Cuts, FirmwareRange
from cvlib.model.versions import Key


@dataclass(frozen=True, slots=True)
class Statement:
    """What one document says of one setting at one firmware."""

    source: Source
    places: tuple[Place, ...]
    """Where it puts the setting; none: it says that the setting is not there."""
    citations: tuple[Citation, ...]
    is_silence: bool = False
    """Whether it says so only by not listing the setting."""

    @property
    def is_whole_handbook(self) -> bool:
        """Whether the document was read whole and is about every setting."""
        return self.source.extent is Extent.WHOLE and not self.source.about


class Documents:
    """What the documents of one profile say, each asked once for each stretch of firmware."""

    def __init__(self, profile: Profile) -> None:
        self.profile = profile
        self.all = tuple(source for source in profile.sources.values() if source.is_document)
        self._cuts: dict[frozenset[Key], Cuts] = {}
        self._cuts_of: dict[str, Cuts] = {}
        self._calls: dict[str, _Calls] = {}

    @cached_property
    def cuts(self) -> Cuts:
        """The points at which anything that a source says of any setting may begin or end."""
        points = {cut for one in self.profile.sources.values() for cut in one.firmware.cuts()}
        for setting in self.profile.settings.values():
            points.update(_narrowed(setting))
        return Cuts(self.profile.scheme, points)

    def cuts_of(self, setting: Setting) -> Cuts:
        """The points at which what the documents say of one setting may change."""
        found = self._cuts_of.get(setting.id)
        if found is None:
            own = frozenset(_narrowed(setting))
            if own not in self._cuts:
                points = {cut for one in self.all for cut in one.firmware.cuts()}
                self._cuts[own] = Cuts(self.profile.scheme, points | own)
            found = self._cuts_of[setting.id] = self._cuts[own]
        return found

    def at(self, setting: Setting, segment: int) -> tuple[Statement, ...]:
        """What the documents say of a setting in one segment of its own cuts, after errata have
        put aside what they replace.
        """
        point = self.cuts_of(setting).points[segment]
        said = [
            one
            for source in self.all
            if source.firmware.holds(point)
            for one in self._says(source, setting, point)
        ]
        aside = self._put_aside(said)
        return tuple(one for one in said if one.source.id not in aside)

    def uncited(self, setting: Setting, point: Key) -> list[Place]:
        """The places of a setting that hold at a point and call on no document of the decoder."""
        return [place for place in self._of(setting).uncited if place.holds_for(point)]

    def claims(self, setting: Setting, point: Key) -> bool:
        """Whether a place holds at a point by its own documents, or by nobody's word."""
        calls = self._of(setting)
        cited = (place for held in calls.places.values() for place, _ in held)
        return any(place.firmware.holds(point) for place in (*cited, *calls.uncited))

    def _of(self, setting: Setting) -> _Calls:
        found = self._calls.get(setting.id)
        if found is None:
            found = self._calls[setting.id] = _Calls.of(setting, self.profile.sources)
        return found

    def _says(self, source: Source, setting: Setting, point: Key) -> tuple[Statement, ...]:
        """What one document says at a point of its own firmware; as a rule one thing or nothing."""
        calls = self._of(setting)
        cited = calls.places.get(source.id, ())
        here = cited.at(point) if cited else ()
        if here:
            places = dict.fromkeys(place for place, _ in here)
            citations = dict.fromkeys(citation for _, citation in here)
            return (Statement(source, tuple(places), tuple(citations)),)
        gone = [
            citation
            for absence, citation in calls.absences.get(source.id, ())
            if absence.narrowing is None or absence.narrowing.holds(point)
        ]
        if gone or cited or is_about(source.without, setting.id):
            return (Statement(source, (), tuple(gone) or (Citation(source.id),)),)
        repeated = tuple(self._repeats(source, setting, point)) if source.reissues else ()
        if repeated or source.extent is not Extent.WHOLE or not source.speaks_for(setting.id):
            return repeated
        return (Statement(source, (), (Citation(source.id),), is_silence=True),)

    def _repeats(self, source: Source, setting: Setting, point: Key) -> Iterator[Statement]:
        """What the document says that this one repeats, at the nearest firmware of its own.

        In a hole of that one's range both ends are nearest: versions have no distance.
        """
        older = self.profile.sources[source.reissues]
        cuts = self.cuts_of(setting)
        for near in older.firmware.nearest(point):
            there = cuts.points[cuts.segment_below(near.end)] if near.lies_before(point) else point
            if near.lies_after(point):
                there = near.oldest
            for found in self._says(older, setting, there):
                citations = tuple(replace(one, reissue=source.id) for one in found.citations)
                yield Statement(source, found.places, citations, found.is_silence)

    def _put_aside(self, said: Iterable[Statement]) -> set[str]:
        """The documents that those who speak replace, directly or not."""
        found: set[str] = set()
        for one in said:
            older = one.source.replaces
            while older and older not in found:
                found.add(older)
                older = self.profile.sources[older].replaces
        return found


def _narrowed(setting: Setting) -> Iterator[Key]:
    """Where the writer narrows a place or an absence of a setting."""
    narrowings = [one.narrowing for one in setting.places]
    narrowings += [one.narrowing for one in setting.absences]
    for narrowing in narrowings:
        if narrowing is not None:
            yield from narrowing.cuts()


class _Cited(list[tuple[Place, Citation]]):
    """The places that cite one document, each with its citation."""

    def at(self, point: Key) -> Sequence[tuple[Place, Citation]]:
        """Those that the writer lets hold at a point; many are not looked through each time."""
        if len(self) <= _FEW:
            return [pair for pair in self if pair[0].holds_for(point)]
        cuts, held = self._held
        return held[cuts.segment(point)]

    @cached_property
    def _held(self) -> tuple[Cuts, list[list[tuple[Place, Citation]]]]:
        narrowings = [place.narrowing for place, _ in self if place.narrowing is not None]
        scheme = self[0][0].firmware.scheme
        cuts = Cuts(scheme, (cut for one in narrowings for cut in one.cuts()))
        held: list[list[tuple[Place, Citation]]] = [[] for _ in cuts.points]
        for pair in self:
            whole = FirmwareRange.everything(scheme)
            for start, end in (pair[0].narrowing or whole).spans:
                last = len(cuts) - 1 if end is None else cuts.segment_below(end)
                for segment in range(cuts.segment(start), last + 1):
                    held[segment].append(pair)
        return cuts, held


_FEW = 12
"""Up to so many places it is quicker to look at each; the shipped settings have no more."""


@dataclass(frozen=True, slots=True)
class _Calls:
    """Which documents the places of one setting call on."""

    places: Mapping[str, _Cited]
    absences: Mapping[str, Sequence[tuple[Absence, Citation]]]
    uncited: tuple[Place, ...]
    """Places that nothing or only a standard speaks for."""

    @classmethod
    def of(cls, setting: Setting, sources: Mapping[str, Source]) -> _Calls:
        """The calls of one setting on the documents among the sources of its profile."""
        places: dict[str, list[tuple[Place, Citation]]] = {}
        absences: dict[str, list[tuple[Absence, Citation]]] = {}
        uncited: list[Place] = []
        for place in setting.places:
            known = [sources[one.source] for one in place.citations if one.source in sources]
            for citation in documents_cited(place.citations, sources):
                places.setdefault(citation.source, []).append((place, citation))
            if not known:
                uncited.append(place)
        for absence in setting.absences:
            for citation in documents_cited(absence.citations, sources):
                absences.setdefault(citation.source, []).append((absence, citation))
        cited = {id: _Cited(pairs) for id, pairs in places.items()}
        return cls(cited, absences, tuple(uncited))


def documents_cited(
    citations: Iterable[Citation], sources: Mapping[str, Source]
) -> Iterator[Citation]:
    """The citations that call on a document or the maker's word of the profile itself."""
    for one in citations:
        source = sources.get(one.source)
        if source is not None and source.is_document:
            yield one
