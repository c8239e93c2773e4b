"""From what a file says about a place to the model, index by index where it repeats."""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field

from cvlib.errors import InputError
from cvlib.files.faults import Faults, Path
from cvlib.files.meaning.codings import Coder
from cvlib.files.shapes.places import CaseShape, Cited, Deciding, PlaceShape, When
from cvlib.model import conditions as model
from cvlib.model.coding import Coding, Parts, Written
from cvlib.model.cv import (
    WHOLE,
    Field,
    Page,
    bits_text,
    make_slot,
    parse_bits,
    parse_numbers,
    parse_page,
)
from cvlib.model.profile import PLAIN, Citation, DefaultCase, Marks, Place, Source, Verdict
from cvlib.model.ranges import FirmwareRange
from cvlib.model.versions import Scheme

REPEAT_ONLY = ("step", "page-step", "index", "defaults")

_OF_INDEX = re.compile(r"\[n([+-][0-9]{1,3})?\]", re.ASCII)


@dataclass(frozen=True, slots=True)
class Known:
    """What the places of one file are read against."""

    scheme: Scheme
    kinds: Mapping[str, str]
    """Source ids of the profile, each with its kind, also of sources that are faulty."""
    sources: Mapping[str, Source]
    """The sources that could be understood."""
    faults: Faults
    lists: Mapping[str, dict[str, str]] = field(default_factory=dict)
    """The named lists of the file."""

    def documents(self, citations: Iterable[Citation]) -> list[Source]:
        """The documents and maker's words among what is called on."""
        found = (self.sources.get(one.source) for one in citations)
        return [source for source in found if source is not None and source.is_document]

    def nearest(
        self, levels: Iterable[Iterable[Citation]], decoder: Iterable[Citation], setting: str
    ) -> list[Citation]:
        """The citations of the levels up to the first that names a document, the nearest first.

        ``decoder`` are those of all its settings: of documents that are about some settings only,
        just those count that are about this one.
        """
        found: list[Citation] = []
        about = [one for one in decoder if self._is_about(one, setting)]
        for level in (*levels, about):
            found += level
            if self.documents(found):
                break
        return found

    def _is_about(self, citation: Citation, setting: str) -> bool:
        source = self.sources.get(citation.source)
        return source is None or source.speaks_for(setting)


@dataclass(frozen=True, slots=True)
class Span:
    """The indexes of a repeat; without one, a single index that stands for nothing."""

    first: int = 0
    count: int = 0
    step: int | None = None

    def indexes(self) -> tuple[int | None, ...]:
        """Every index; only "no index" where nothing repeats."""
        return tuple(range(self.first, self.first + self.count)) if self.count else (None,)

    def offset(self, index: int | None) -> int:
        """How many steps an index lies behind the first."""
        return 0 if index is None else index - self.first


def firmware_of(known: Known, given: Iterable[str] | None, path: Path) -> FirmwareRange | None:
    """The range a file gives, every firmware where it gives none, nothing where it is wrong."""
    if given is None:
        return FirmwareRange.everything(known.scheme)
    tried = [
        known.faults.tried((*path, at), FirmwareRange.parse, text, known.scheme)
        for at, text in enumerate(given)
    ]
    found = [one for one in tried if one is not None]
    return FirmwareRange.union(found, known.scheme) if len(found) == len(tried) else None


def cited(
    known: Known, given: list[Cited], path: Path, *, is_general: bool = False
) -> tuple[Citation, ...]:
    """The citations; unknown sources and verdicts of what is no bench test are noted."""
    made = []
    for at, one in enumerate(given):
        kind = known.kinds.get(one.source)
        if kind is None:
            known.faults.unknown((*path, at), "source", one.source, known.kinds)
        elif one.verdict and kind != "bench":
            known.faults.add(
                (*path, at),
                f'"{one.source}" is no bench test and cannot have a verdict.',
                'Leave "verdict" out, or call on a source of kind "bench".',
            )
        verdict = Verdict(one.verdict) if one.verdict else None
        made.append(Citation(one.source, one.page, verdict, one.note, "", is_general))
    return tuple(made)


def claimed(
    known: Known, citations: Iterable[Citation], narrowing: FirmwareRange | None
) -> FirmwareRange:
    """Where documents put a place: what they speak for, cut down to the narrowing.

    Without a document that is the narrowing alone, or every firmware.
    """
    everything = FirmwareRange.everything(known.scheme)
    documents = known.documents(citations)
    if not documents:
        return everything if narrowing is None else narrowing
    held = FirmwareRange.union((one.firmware for one in documents), known.scheme)
    return held if narrowing is None else held & narrowing


class PlaceMaker:
    """Makes the places that one written place stands for."""

    def __init__(
        self,
        known: Known,
        shape: PlaceShape,
        path: Path,
        span: Span,
        levels: Sequence[Sequence[Citation]] = (),
        decoder: Sequence[Citation] = (),
        setting: str = "",
    ) -> None:
        self.levels = levels
        self.decoder = decoder
        self.setting = setting
        self.known = known
        self.faults = known.faults
        self.shape = shape
        self.path = path
        self.span = span

    def places(self) -> dict[int | None, Place]:
        """Each index with its place; indexes that the place leaves out are missing."""
        before = len(self.faults.paths)
        narrowing = firmware_of(self.known, self.shape.firmware, (*self.path, "firmware"))
        citations = cited(self.known, self.shape.sources, (*self.path, "sources"))
        if not self.known.documents(citations) and not self._is_of_tests(citations, narrowing):
            citations += tuple(self.known.nearest(self.levels, self.decoder, self.setting))
        indexes = self._indexes()
        fields: dict[int | None, tuple[Field, ...]] = {}
        for index in indexes:
            found = self._fields(index)
            if found is None:
                return {}
            fields[index] = found
        if narrowing is None or not fields or len(self.faults.paths) > before:
            return {}
        first = next(iter(fields.values()))
        coding = Coder(self.faults, self.path, first, self.known.lists).coding(self.shape)
        if coding is None:
            return {}
        cases = self._cases(coding)
        defaults = {} if cases else self._defaults(coding, indexes)
        marks = marks_of(self.shape)
        given = narrowing if self.shape.firmware is not None else None
        firmware = claimed(self.known, citations, given)
        return {
            index: Place(
                firmware,
                fields[index],
                coding,
                defaults.get(index),
                whens(self.shape.when, index),
                citations,
                marks,
                self._also_at(index),
                numbered(self.shape.note, index),
                tuple(DefaultCase(whens(when, index), parts) for when, parts in cases),
                given,
            )
            for index in indexes
        }

    def _is_of_tests(self, citations: Sequence[Citation], narrowing: FirmwareRange | None) -> bool:
        """Whether only bench tests have seen the place, and it is narrowed to their firmware.

        No document further out is meant to say so too.
        """
        if self.shape.firmware is None or narrowing is None or not citations:
            return False
        for one in citations:
            source = self.known.sources.get(one.source)
            narrowing = narrowing - source.firmware if source else narrowing
        return narrowing.is_empty()

    def _indexes(self) -> tuple[int | None, ...]:
        every = self.span.indexes()
        if not self.span.count:
            for key in REPEAT_ONLY:
                if key in self.shape.given():
                    self.faults.add(
                        (*self.path, key),
                        f'"{key}" is for settings that repeat.',
                        'Give the setting "repeat", or leave this out.',
                    )
            return every
        if self.shape.index is None:
            return every
        last = self.span.first + self.span.count - 1
        at = (*self.path, "index")
        found = self.faults.tried(
            at, parse_numbers, self.shape.index, self.span.first, last, "index"
        )
        return tuple(dict.fromkeys(found or ()))

    def _step(self) -> int:
        step = self.shape.step if self.shape.step is not None else self.span.step
        if step is None and self.span.count > 1 and self.shape.page_step is None:
            self.faults.add(
                self.path,
                "nothing says how far apart the repeats are.",
                'Give "step" here or in "repeat", or "page-step" here.',
            )
        return step or 0

    def _fields(self, index: int | None) -> tuple[Field, ...] | None:
        shape = self.shape
        if shape.built_in:
            for key in ("bits", "page", "also-at"):
                if key in shape.given():
                    self.faults.add((*self.path, key), f'"{key}" needs a CV.', "Leave it out.")
            return ()
        numbers = self._numbers()
        page = self._page(index)
        mask = self._mask()
        if numbers is None or mask is None or (shape.page is not None and page is None):
            return None
        step = self._step() * self.span.offset(index)
        fields: list[Field] = []
        for number in numbers:
            try:
                fields.append(Field(make_slot(number + step, page), mask))
            except InputError as error:
                told = "" if index is None else f"index {index}: "
                key = "cv" if shape.cv is not None else "cvs"
                fault = error.faults[0]
                self.faults.add((*self.path, key), told + fault.problem, fault.advice)
                return None
        return tuple(fields)

    def _numbers(self) -> tuple[int, ...] | None:
        if self.shape.cv is not None:
            return (self.shape.cv,)
        if isinstance(self.shape.cvs, str):
            at = (*self.path, "cvs")
            return self.faults.tried(at, parse_numbers, self.shape.cvs, 1, 1024, "cvs")
        return tuple(self.shape.cvs or ())

    def _page(self, index: int | None) -> Page | None:
        if self.shape.page is None:
            if self.shape.page_step is not None:
                self.faults.add((*self.path, "page-step"), '"page-step" needs "page".')
            return None
        page = self.faults.tried((*self.path, "page"), parse_page, self.shape.page)
        step = self.shape.page_step or 0
        if page is None or not step:
            return page
        low = page.low + step * self.span.offset(index)
        if not 0 <= low <= WHOLE:
            self.faults.add(
                (*self.path, "page-step"), f"index {index} would lie on page {page.high}/{low}."
            )
            return None
        return Page(page.high, low)

    def _mask(self) -> int | None:
        text, at = self.shape.bits, (*self.path, "bits")
        if text is None:
            return WHOLE
        kind = self.shape.kind  # type: ignore[attr-defined]
        if self.shape.cv is None:
            self.faults.add(at, '"bits" is for a place with a single CV.', 'Use "cv".')
        if kind == "fields":
            self.faults.add(at, "a place of kind fields is a whole CV.", "Leave the bits out.")
        mask = self.faults.tried(at, parse_bits, text)
        if mask and kind != "area" and "," in bits_text(mask):
            self.faults.add(
                at, f'the bits "{text}" do not lie together.', 'Write one span, such as "0-3".'
            )
        return mask

    def _also_at(self, index: int | None) -> int | None:
        if self.shape.also_at is None:
            return None
        if self.shape.cv is None:
            self.faults.add((*self.path, "also-at"), '"also-at" is for a single CV.', 'Use "cv".')
        number = self.shape.also_at + self._step() * self.span.offset(index)
        slot = self.faults.tried((*self.path, "also-at"), make_slot, number)
        return slot.cv if slot else None

    def _cases(self, coding: Coding) -> list[tuple[list[When] | None, Parts]]:
        """The defaults that depend on other settings, in their order."""
        shapes, made = cases_of(self.shape), []
        for number, case in enumerate(shapes):
            at = (*self.path, "default", number)
            if case.when is None and number + 1 < len(shapes):
                self.faults.add(
                    at, "no later default is ever reached.", "Write the one without when last."
                )
            parts = self.faults.tried((*at, "value"), coding.raw, case.value)
            if parts is not None:
                made.append((case.when, parts))
        return made

    def _defaults(
        self, coding: Coding, indexes: tuple[int | None, ...]
    ) -> dict[int | None, Parts | None]:
        one: Written | None = getattr(self.shape, "default", None)
        many: list[Written] | None = getattr(self.shape, "defaults", None)
        if many is None:
            if one is None or cases_of(self.shape):
                return {}
            parts = self.faults.tried((*self.path, "default"), coding.raw, one)
            return dict.fromkeys(indexes, parts)
        at = (*self.path, "defaults")
        if one is not None:
            self.faults.add(at, '"default" and "defaults" stand together.', "Give only one.")
        if len(many) > len(indexes):
            self.faults.add(at, f"there are {len(many)} defaults for {len(indexes)} indexes.")
        return {
            index: self.faults.tried((*at, number), coding.raw, value)
            for number, (index, value) in enumerate(zip(indexes, many, strict=False))
        }


def cases_of(shape: PlaceShape) -> list[CaseShape]:
    """The defaults that a place gives for several cases; none where it gives one for all."""
    given = getattr(shape, "default", None)
    listed = given if isinstance(given, list) else []
    return [case for case in listed if isinstance(case, CaseShape)]


def default_whens(shape: PlaceShape) -> Iterator[tuple[Path, When]]:
    """Every condition that a default depends on, with its path from the place on."""
    for number, case in enumerate(cases_of(shape)):
        for count, when in enumerate(case.when or ()):
            yield ("default", number, "when", count), when


def marks_of(shape: PlaceShape) -> Marks:
    """The marks that a place carries."""
    marks = Marks(
        shape.read_only,
        shape.volatile,
        shape.internal,
        shape.reserved,
        shape.uniform,
        shape.unused or "",
        shape.requirement or "",
    )
    return PLAIN if marks == PLAIN else marks


def whens(given: list[When] | None, index: int | None) -> tuple[model.When, ...]:
    """The conditions of a place at one index of its repeat."""
    return tuple(
        model.When(indexed(one.setting, index), values, test)
        for one in given or ()
        for test, values in tests_of(one)
    )


def tests_of(shape: Deciding) -> Iterator[tuple[model.Test, tuple[Written, ...]]]:
    """What is asked of the values of a deciding setting."""
    given = {
        model.Test.IS: shape.is_,
        model.Test.NOT: shape.not_,
        model.Test.HAS: shape.has,
        model.Test.LACKS: shape.lacks,
    }
    for test, values in given.items():
        if values is not None:
            yield test, tuple(values)


def indexed(setting: str, index: int | None) -> str:
    """A setting id with its index in place of ``n``, and that of a neighbour for ``n-1``."""
    if index is None:
        return setting
    return _OF_INDEX.sub(lambda found: f"[{index + int(found[1] or 0)}]", setting)


def numbered(text: str, index: int | None) -> str:
    """A text with the index in place of ``{n}``."""
    return text if index is None else text.replace("{n}", str(index))
