"""What in a store and a fleet wants looking at: firmware nobody covered, claims that a bench test
contradicts, questions nobody answered, and values whose meaning changed since their last check.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from datetime import date

from cvlib.engine.account.meaning import MeaningChange
from cvlib.engine.known.line import Known, known_at
from cvlib.engine.known.resolve import Resolver
from cvlib.errors import Fault
from cvlib.findings.catalogue import Severity
from cvlib.model.answer import Answer, Standing
from cvlib.model.cv import Slot
from cvlib.model.facet import same_meaning
from cvlib.model.loco import LastCheck, Loco, SavedDecoder
from cvlib.model.profile import (
    Place,
    Profile,
    Question,
    Release,
    Source,
    SourceKind,
    Verdict,
)
from cvlib.model.ranges import FirmwareRange

OLD = 365
"""Days after which an open question is worth a warning."""


@dataclass(frozen=True, slots=True)
class Uncovered:
    """A release known to exist for which documents do not speak, or not of everything."""

    profile: Profile
    release: Release
    known: Known
    """How it lies to the documents that speak for every setting."""
    settings: int
    documented: int
    disputed: int

    @property
    def severity(self) -> Severity:
        """A warning where nobody knows what some settings are."""
        return Severity.WARNING if self.disputed or self.known is Known.BEYOND else Severity.NOTE


@dataclass(frozen=True, slots=True)
class Contradicted:
    """A source that a bench test contradicts at one firmware."""

    profile: Profile
    setting: str
    test: Source
    verdict: Verdict
    place: Place
    """What was tested."""
    sources: tuple[str, ...]
    """Titles of the documents that say otherwise; empty where they are silent at the firmware and
    only their neighbours would have it so."""
    beside: Answer
    """What the answer would be without the test."""

    @property
    def severity(self) -> Severity:
        """A warning where a document speaks for the very firmware, else a note."""
        return Severity.WARNING if self.sources else Severity.NOTE


@dataclass(frozen=True, slots=True)
class Open:
    """An open question and how long it has been open."""

    profile: Profile
    question: Question
    days: int | None
    """Nothing where it has no date."""

    @property
    def severity(self) -> Severity:
        """A warning for a question that is more than a year old."""
        is_old = self.days is not None and self.days > OLD
        return Severity.WARNING if is_old else Severity.NOTE


@dataclass(frozen=True, slots=True)
class Outside:
    """A loco's decoder whose firmware no document covers in full."""

    loco: Loco
    decoder: SavedDecoder
    known: Known
    is_release: bool
    """Whether the profile lists the firmware."""

    @property
    def severity(self) -> Severity:
        """A warning beyond all documents, else a note."""
        return Severity.WARNING if self.known is Known.BEYOND else Severity.NOTE


@dataclass(frozen=True, slots=True)
class Rechecked:
    """A loco's decoder held against what its last check left in the file."""

    loco: Loco
    decoder: SavedDecoder
    last: LastCheck
    changes: tuple[MeaningChange, ...] = ()
    """Values that mean something else since then, because the definitions changed."""
    edited: tuple[Slot, ...] = ()
    """CVs whose saved value is not the one that was checked."""
    firmware: str = ""
    """The installed firmware, where it is not the one that was checked."""
    profile: str = ""
    """The profile, where it is not the one that was checked."""
    is_same: bool = True
    """Whether the profile still gives the very same answers."""

    @property
    def severity(self) -> Severity | None:
        """An error where values mean something else; nothing where all is as it was checked."""
        if self.changes:
            return Severity.ERROR
        return Severity.NOTE if self.edited or self.firmware or self.profile else None


@dataclass(frozen=True, slots=True)
class Stale:
    """Everything that wants looking at."""

    profiles: tuple[str, ...]
    """The ids looked at."""
    uncovered: tuple[Uncovered, ...]
    contradicted: tuple[Contradicted, ...]
    questions: tuple[Open, ...]
    """Oldest first."""
    outside: tuple[Outside, ...] = ()
    rechecked: tuple[Rechecked, ...] = ()
    """Every decoder with the record of a check."""
    unrecorded: int = 0
    """Decoders without such a record."""
    faults: tuple[Fault, ...] = ()
    """What is wrong with profiles and loco files that could not be used."""

    def severities(self) -> Iterator[Severity]:
        """How grave each single thing is."""
        for group in (self.uncovered, self.contradicted, self.questions, self.outside):
            yield from (one.severity for one in group)
        yield from (one.severity for one in self.rechecked if one.severity)

    def count(self, severity: Severity) -> int:
        """How many things there are of a severity."""
        return sum(held is severity for held in self.severities())

    def has(self, least: Severity) -> bool:
        """Whether anything is as grave as ``least`` or graver."""
        return any(held.at_least(least) for held in self.severities())


def uncovered(resolver: Resolver) -> Iterator[Uncovered]:
    """The releases of a profile, oldest first, that documents do not cover in full."""
    whole = covered_in_full(resolver)
    for release in resolver.profile.releases:
        answers = [
            resolver.answer(setting, release.version.key)
            for setting in resolver.profile.settings.values()
            if not setting.is_area
        ]
        told = [(held.beside or held).standing for held in answers]
        documented = sum(standing is Standing.DOCUMENTED for standing in told)
        if documented < len(told):
            yield Uncovered(
                resolver.profile,
                release,
                known_at(whole, release.version.key),
                len(told),
                documented,
                sum(held.standing is Standing.DISPUTED for held in answers),
            )


def covered_in_full(resolver: Resolver) -> FirmwareRange:
    """The firmware of the documents that speak for every setting; supplements are left out.

    Where there are supplements only, that of all of them.
    """
    sources = resolver.profile.sources.values()
    general = (
        one.firmware for one in sources if one.kind is not SourceKind.BENCH and not one.about
    )
    covered = FirmwareRange.union(general, resolver.profile.scheme)
    return resolver.coverage if covered.is_empty() else covered


def contradicted(resolver: Resolver) -> Iterator[Contradicted]:
    """Every bench test of a profile that found other than the documents have it."""
    profile = resolver.profile
    for setting in profile.settings.values():
        for place in setting.places:
            for citation in place.citations:
                test = profile.sources.get(citation.source)
                if citation.verdict is None or test is None or test.kind is not SourceKind.BENCH:
                    continue
                for version in test.firmware.singles() or ():
                    beside = resolver.answer(setting, version.key).beside
                    if beside is not None and _disagrees(citation.verdict, place, beside):
                        yield Contradicted(
                            profile,
                            setting.id,
                            test,
                            citation.verdict,
                            place,
                            _speaking(resolver, setting.id, beside),
                            beside,
                        )


def _disagrees(verdict: Verdict, place: Place, beside: Answer) -> bool:
    """Whether a test found other than an answer says; a disputed answer says nothing yet."""
    if beside.candidates:
        return False
    same = beside.place is not None and same_meaning(place, beside.place)
    return not same if verdict is Verdict.WORKS else same


def _speaking(resolver: Resolver, setting: str, beside: Answer) -> tuple[str, ...]:
    if beside.standing is not Standing.DOCUMENTED:
        return ()
    sources = resolver.profile.sources
    cited = [sources[c.source] for c in beside.trace.citations if c.source in sources]
    told = [held for held in cited if held.kind is not SourceKind.BENCH] or [
        held
        for held in sources.values()
        if held.kind is not SourceKind.BENCH
        and held.speaks_for(setting)
        and not (held.firmware & beside.trace.firmware).is_empty()
    ]
    return tuple(dict.fromkeys(held.title or held.id for held in told))


def open_questions(profiles: Iterable[Profile], today: date) -> tuple[Open, ...]:
    """The questions of some profiles, the oldest first; those without date come last."""
    found = [
        Open(held, question, _age(question, today))
        for held in profiles
        for question in held.questions
    ]
    return tuple(sorted(found, key=lambda one: -1 if one.days is None else one.days, reverse=True))


def _age(question: Question, today: date) -> int | None:
    return (today - date.fromisoformat(question.date)).days if question.date else None


def outside(resolver: Resolver, loco: Loco, decoder: SavedDecoder) -> Outside | None:
    """The decoder, if no document speaks for every setting of its firmware; else nothing.

    Nothing too where the firmware is not known.
    """
    if not decoder.firmware:
        return None
    version = resolver.profile.version(decoder.firmware)
    known = known_at(covered_in_full(resolver), version.key)
    if known is Known.COVERED:
        return None
    return Outside(loco, decoder, known, resolver.profile.release_of(version) is not None)
