"""Our definition of one decoder type: settings, places, and the evidence behind them."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass, field
from enum import StrEnum

from cvlib.errors import did_you_mean, problem
from cvlib.model.assignment import Assignment, Topic
from cvlib.model.coding import Area, Coding, Fields, Parts
from cvlib.model.conditions import Rule, When
from cvlib.model.cv import WHOLE, Field, Page, Slot
from cvlib.model.ranges import FirmwareRange
from cvlib.model.versions import FirmwareVersion, Key, Scheme, parse_version

DIGITS = {"hundreds": 100, "tens": 10, "ones": 1}
"""What a decimal digit of a CV value is worth."""

_INDEX = re.compile(r"\[\d+\]", re.ASCII)


class SourceKind(StrEnum):
    """What sort of evidence a source is."""

    DOCUMENT = "document"
    MAKER = "maker"
    BENCH = "bench"


class Extent(StrEnum):
    """How much of a document somebody has read into the profile."""

    WHOLE = "whole"
    """From the first page to the last: what it does not list does not exist there."""
    CITED = "cited"
    """It speaks only for what cites it."""


class Verdict(StrEnum):
    """What a bench test saw of a place."""

    WORKS = "works"
    UNRELIABLE = "unreliable"
    """It acts there, but not as the handbook says."""
    NO_EFFECT = "no-effect"

    @property
    def acts(self) -> bool:
        """Whether something was seen to act there at all."""
        return self is not Verdict.NO_EFFECT


class Risk(StrEnum):
    """What a wrong value of a setting may harm, or set going."""

    MOTOR = "motor"
    """It decides how hard, how fast or how evenly the motor is driven."""
    CURRENT = "current"
    """It guards against too much current, or decides how much may flow."""
    MOTION = "motion"
    """The loco, or what an output moves, may set off by itself or go the other way."""
    STOPPING = "stopping"
    """It decides whether, when or where the loco stops."""
    HEAT = "heat"
    """Something that gets hot may be switched on, or stay on."""
    COIL = "coil"
    """A coil may be switched on, or stay on."""
    LOCK = "lock"
    """It may shut a person out of reading or writing, or send writes elsewhere."""
    ADDRESS = "address"
    """It decides which address the decoder answers at."""


def risk_text(risk: frozenset[Risk] | None) -> str:
    """The mark in words: ``coil, heat``; ``none`` where none was found, ``not known`` without."""
    if risk is None:
        return "not known"
    return ", ".join(sorted(risk)) or "none"


@dataclass(frozen=True, slots=True)
class Source:
    """Evidence: a document, the maker's word or a bench test, and what it speaks for."""

    id: str
    kind: SourceKind
    title: str
    firmware: FirmwareRange
    date: str = ""
    """ISO date, or empty."""
    about: tuple[str, ...] = ()
    """Settings or groups it speaks for; empty means every setting."""
    where: str = ""
    note: str = ""
    extent: Extent = Extent.CITED
    reissues: str = ""
    """The document that it repeats, except in what its own citations say."""
    replaces: str = ""
    """The document that it is an erratum to."""
    without: tuple[str, ...] = ()
    """Settings or groups that it says are gone."""

    @property
    def is_document(self) -> bool:
        """Whether it is a document or the maker's word, and no bench test."""
        return self.kind is not SourceKind.BENCH

    def speaks_for(self, setting: str) -> bool:
        """Whether the source is about a setting."""
        return not self.about or is_about(self.about, setting)


@dataclass(frozen=True, slots=True)
class Citation:
    """One source called on for one place."""

    source: str
    page: str = ""
    verdict: Verdict | None = None
    note: str = ""
    reissue: str = ""
    """The later document that repeats what this source says; empty where it speaks itself."""
    is_general: bool = False
    """Whether it is named for a block, for what is followed or for the whole decoder, and not for
    the setting itself."""

    def __str__(self) -> str:
        """The citation as profiles write it, ``handbook-1:23``."""
        return f"{self.source}:{self.page}" if self.page else self.source


@dataclass(frozen=True, slots=True)
class Marks:
    """What else is true of a place, apart from where it is and how it is coded."""

    read_only: bool = False
    volatile: bool = False
    internal: bool = False
    """State that the decoder keeps for itself."""
    reserved: bool = False
    uniform: bool = False
    """The standard fixes the values; a maker may not choose others."""
    unused: str = ""
    """Why the place does nothing, where it does nothing."""
    requirement: str = ""
    """mandatory, recommended, optional or nothing."""

    @property
    def is_own(self) -> bool:
        """Whether the decoder keeps the value for itself, so that nobody sets it."""
        return self.read_only or self.internal or self.volatile


PLAIN = Marks()


@dataclass(frozen=True, slots=True)
class DefaultCase:
    """One of several defaults, and what other settings must hold for it."""

    when: tuple[When, ...]
    """All must hold; empty: in every other case."""
    parts: Parts


@dataclass(frozen=True, slots=True)
class Place:
    """Where a setting lives and how its value is coded, for a range of firmware."""

    firmware: FirmwareRange
    """Where its own documents put it: what they speak for, cut down to the narrowing. Without any
    document: the narrowing, or every firmware. Reissues are no part of it."""
    fields: tuple[Field, ...]
    """Most significant first; empty for a fact fixed at build time."""
    coding: Coding
    default: Parts | None = None
    """What a factory reset leaves, as raw parts, where that depends on nothing."""
    when: tuple[When, ...] = ()
    """All must hold for the place to exist."""
    citations: tuple[Citation, ...] = ()
    marks: Marks = PLAIN
    also_at: int | None = None
    """A second number of the same CV."""
    note: str = ""
    cases: tuple[DefaultCase, ...] = ()
    """What a factory reset leaves where that depends on other settings: the first that fits."""

    narrowing: FirmwareRange | None = None
    """The firmware that the writer gives; it only narrows what the documents speak for."""

    @property
    def can_be_set(self) -> bool:
        """Whether a person can set a value of its own there, whether or not it acts."""
        if isinstance(self.coding, (Area, Fields)) or not self.fields:
            return False
        return not (self.marks.is_own or self.marks.reserved)

    @property
    def said_default(self) -> Parts | tuple[DefaultCase, ...] | None:
        """The default as the profile says it, whatever it depends on."""
        return self.cases or self.default

    @property
    def defaults(self) -> tuple[Parts, ...]:
        """Every value that a factory reset may leave."""
        always = () if self.default is None else (self.default,)
        return (*always, *(case.parts for case in self.cases))

    def factory(self, holds: Callable[[When], bool | None]) -> Parts | None:
        """What a factory reset leaves; nothing where nobody says, or what decides is not known.

        ``holds`` judges a condition; it gives nothing where the deciding value is not known.
        """
        if not self.cases:
            return self.default
        possible: set[Parts | None] = set()
        for case in self.cases:
            judged = [holds(when) for when in case.when]
            if False in judged:
                continue
            possible.add(case.parts)
            if None not in judged:
                break
        else:
            possible.add(None)
        return possible.pop() if len(possible) == 1 else None

    def holds_for(self, point: Key) -> bool:
        """Whether the writer's narrowing lets the place hold at a point of the version line."""
        return self.narrowing is None or self.narrowing.holds(point)

    def parts(self, values: Mapping[Slot, int]) -> Parts | None:
        """The raw parts out of saved CV values, or nothing where a CV is missing."""
        found = [values.get(field.slot) for field in self.fields]
        if not found or any(value is None for value in found):
            return None
        return tuple(
            field.take(value)
            for field, value in zip(self.fields, found, strict=True)
            if value is not None
        )


@dataclass(frozen=True, slots=True)
class Absence:
    """What documents say of a setting that is not there."""

    citations: tuple[Citation, ...]
    narrowing: FirmwareRange | None = None


@dataclass(frozen=True, slots=True)
class Setting:
    """One thing a person sets, named once for the whole life of the decoder type."""

    id: str
    title: str
    places: tuple[Place, ...]
    help: str = ""
    origin: str = ""
    """The standard or block it was taken over from; empty for the profile's own."""
    absences: tuple[Absence, ...] = ()
    risk: frozenset[Risk] | None = None
    """What it may harm; empty where somebody looked and found nothing, nothing where nobody did."""
    topic: Topic | None = None
    maps: Assignment | None = None
    """How its value assigns function keys, where it does."""

    @property
    def group(self) -> str:
        """The part of the id before the first dot, without index."""
        return group_of(self.id)

    @property
    def is_area(self) -> bool:
        """Whether it is CVs without a meaning of their own, and nothing else."""
        return all(isinstance(place.coding, Area) for place in self.places)


@dataclass(frozen=True, slots=True)
class Answered:
    """A CV that a decoder answers in a known way when asked who it is."""

    slot: Slot
    low: int
    high: int
    """Of the bits alone, as a number of their own."""
    firmware: FirmwareRange | None = None
    mask: int = WHOLE
    """The bits that are known; nothing is said of the others."""


@dataclass(frozen=True, slots=True)
class Identity:
    """What the decoder answers when asked who it is."""

    manufacturer: int | None = None
    answers: tuple[Answered, ...] = ()
    no_answer: tuple[int, ...] = ()


@dataclass(frozen=True, slots=True)
class VersionPart:
    """One part of the firmware version as the decoder answers it."""

    field: Field
    digit: str = ""
    """hundreds, tens or ones, where the part is a decimal digit of the CV."""

    def take(self, byte: int) -> int:
        """The part out of the CV's value."""
        value = self.field.take(byte)
        return value // DIGITS[self.digit] % 10 if self.digit else value


@dataclass(frozen=True, slots=True)
class Release:
    """A firmware known to exist."""

    version: FirmwareVersion
    date: str = ""
    label: str = ""
    """Another name people use for it."""
    answers: tuple[tuple[int, int], ...] = ()
    """CV and value it really answers, where that is not what its version says."""
    note: str = ""
    more_labels: tuple[str, ...] = ()
    """Further names."""

    @property
    def labels(self) -> tuple[str, ...]:
        """Every other name people use for it."""
        return (self.label, *self.more_labels) if self.label else ()


@dataclass(frozen=True, slots=True)
class IndexPages:
    """Some index pages and what they are for."""

    high: tuple[int, int]
    low: tuple[int, int]
    use: str
    title: str

    @property
    def text(self) -> str:
        """The pages as people write them, such as ``0/40-43``."""
        spans = ((str(low) if low == top else f"{low}-{top}") for low, top in (self.high, self.low))
        return "/".join(spans)

    def holds(self, page: Page) -> bool:
        """Whether a page is one of them."""
        return self.high[0] <= page.high <= self.high[1] and self.low[0] <= page.low <= self.low[1]


@dataclass(frozen=True, slots=True)
class Advisory:
    """What is known to misbehave at some firmware."""

    id: str
    firmware: FirmwareRange
    text: str
    do: str
    about: tuple[str, ...] = ()
    citations: tuple[Citation, ...] = ()


@dataclass(frozen=True, slots=True)
class Question:
    """Something the profile does not know, with what would settle it."""

    id: str
    text: str
    settle: str
    date: str = ""
    about: tuple[str, ...] = ()
    firmware: FirmwareRange | None = None


@dataclass(frozen=True, slots=True)
class Profile:
    """One decoder type, complete with everything taken over from standards and blocks."""

    id: str
    maker: str
    name: str
    kind: str
    scheme: Scheme
    settings: Mapping[str, Setting]
    sources: Mapping[str, Source]
    identity: Identity = Identity()
    parts: tuple[VersionPart, ...] = ()
    releases: tuple[Release, ...] = ()
    """Oldest first."""
    pages: tuple[IndexPages, ...] = ()
    rules: tuple[Rule, ...] = ()
    advisories: tuple[Advisory, ...] = ()
    questions: tuple[Question, ...] = ()
    follows: tuple[str, ...] = ()
    note: str = ""
    standards: Mapping[str, str] = field(default_factory=dict)
    """Titles of the standards followed, by the id that citations of them use."""

    def source_title(self, id: str) -> str:
        """The title of a source, or of a standard that is followed; else the id itself."""
        found = self.sources.get(id)
        return (found.title if found else self.standards.get(id, "")) or id

    def version(self, text: str) -> FirmwareVersion:
        """The firmware a text names: a version of the scheme, or a release's label."""
        asked = text.strip().casefold()
        for release in self.releases:
            if any(label.casefold() == asked for label in release.labels):
                return release.version
        return parse_version(text, self.scheme)

    def range(self, text: str | Iterable[str]) -> FirmwareRange:
        """The firmware range a text means under the profile's scheme."""
        return FirmwareRange.parse(text, self.scheme)

    def setting(self, name: str) -> Setting:
        """The setting of an id; raises with the nearest known id."""
        found = self.settings.get(name)
        if found is None:
            raise problem(
                f'No setting "{name}" in {self.id}.', advice=did_you_mean(name, self.settings)
            )
        return found

    def release_of(self, version: FirmwareVersion) -> Release | None:
        """The release of a version, if it is a known one."""
        return next((known for known in self.releases if known.version == version), None)


def group_of(setting: str) -> str:
    """The group of a setting id: what stands before the first dot, without index."""
    return _INDEX.sub("", setting.partition(".")[0]).removesuffix("[n]")


def is_about(names: Iterable[str], setting: str) -> bool:
    """Whether a setting is one of the named settings, or in one of the named groups."""
    plain = _INDEX.sub("[n]", setting)
    return any(
        name in (setting, plain) or setting.startswith((f"{name}.", f"{name}[")) for name in names
    )
