"""Places and the documents behind them: what they claim beyond, and ends that nobody knows."""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator
from itertools import islice

from cvlib.engine.known.documents import documents_cited
from cvlib.engine.known.told import where_text
from cvlib.engine.lint.finding import LintFinding, LintRule, Spot, Subject, at_place, each_once
from cvlib.engine.lint.written import citations_of, entries_of
from cvlib.findings.catalogue import Severity
from cvlib.model.profile import Citation, Place, Setting, Source, is_about
from cvlib.model.ranges import FirmwareRange
from cvlib.model.versions import EARLIEST, Key


def uncovered_claims(subject: Subject) -> Iterator[LintFinding]:
    """Places whose firmware goes beyond the documents and tests that they call on.

    It may span gaps between those documents, and have an open end. Where it is that of an entry of
    ``follows``, it is wrong there, and told once for all settings that the entry brings.
    """
    told: set[tuple[int, FirmwareRange]] = set()
    for setting, place in each_once(subject.settings):
        over = _beyond(subject, place)
        if over.is_empty():
            continue
        what, spot = f'"{setting.id}" at {where_text(place)}', at_place(setting, place, "firmware")
        entry = _entry(subject, setting, place)
        if entry is not None:
            if (entry, over) in told:
                continue
            told.add((entry, over))
            what = f'What is taken over from "{setting.origin}"'
            spot = Spot("decoder", key=("follows", entry, "firmware"))
        left = place.narrowing - over if place.narrowing else over
        kept = "nothing of it is left" if left.is_empty() else f"{left.text()} is left"
        yield LintFinding(
            spot,
            f"{what} claims {over.text()}, for which no source speaks that it calls on; {kept}.",
            "Leave out what goes beyond the sources, or name the source that speaks for it.",
        )


def placeless_settings(subject: Subject) -> Iterator[LintFinding]:
    """Settings whose places all lie outside their documents, and that no bench test has seen."""
    for setting in subject.settings:
        if all(
            place.firmware.is_empty() and _tested(subject, place).is_empty()
            for place in setting.places
        ):
            yield LintFinding(
                Spot("setting", setting.id),
                f'"{setting.id}" has no place at any firmware for which a source speaks.',
                "Give it a place inside the firmware of a source, or take it out.",
            )


def single_observations(subject: Subject) -> Iterator[LintFinding]:
    """Places that begin or end with the one firmware of a bench test, and for no other reason.

    A place that only tests have seen, at just their firmware, is no such range.
    """
    for setting, place in each_once(subject.written):
        if is_of_tests(subject, place):
            continue
        words = _words(subject, place)
        others = (one.firmware for one in setting.places if one is not place)
        documents = (one.firmware for one in subject.resolver.documents.all)
        cuts = set(place.firmware.cuts()) - _cuts(others) - _cuts(documents)
        for source in _tests(subject, setting.places):
            named = re.escape(str(source.firmware.begins_with()))
            if re.search(rf"(?<![\w.]){named}(?!\.?\w)", words):
                continue  # a document names the version itself
            if not cuts.isdisjoint(source.firmware.cuts()):
                yield LintFinding(
                    at_place(setting, place, "firmware"),
                    f'"{setting.id}" at {where_text(place)} has the range '
                    f"{place.firmware.text()}, whose end at {source.firmware.text()} is known from "
                    f'the bench test "{source.id}" alone.',
                    "Give the place the range of its handbook, and let the test speak for its own "
                    "firmware.",
                )
                break


def _words(subject: Subject, place: Place) -> str:
    """What a place and the documents that it calls on say in words: a version may stand there."""
    cited = _documents(subject, place.citations)
    return " ".join((place.note, *(f"{one.title} {one.note}" for one in cited)))


def last_seen_bounds(subject: Subject) -> Iterator[LintFinding]:
    """Places that end before the documents they call on do, with nothing behind them.

    Where the place has a note, or a question is about the setting, somebody has looked.
    """
    edges = _cuts(one.firmware for one in subject.resolver.documents.all)
    for setting, place in each_once(subject.written):
        firmware = place.firmware
        if place.narrowing is None or place.note or firmware.is_empty():
            continue
        if firmware.spans[-1][1] is None or (end := firmware.end) in edges:
            continue
        cited = _documents(subject, place.citations)
        longer = next((one for one in cited if one.firmware.holds(end)), None)
        if longer is None or _goes_on(setting, place, end) or _is_asked(subject, setting, end):
            continue
        yield LintFinding(
            at_place(setting, place, "firmware"),
            f'"{setting.id}" at {where_text(place)} ends {_end_text(firmware)}, but '
            f'"{longer.id}" speaks for {longer.firmware.text()} and nothing tells what comes '
            "after.",
            "End it where the document ends; if it is gone then, say so in a note of the place, or "
            "with a place that is absent.",
        )


def stray_sources(subject: Subject) -> Iterator[LintFinding]:
    """Places that call on a document which speaks for none of their firmware, or not of them."""
    advice = "Name the source that says it, or correct the firmware of the place."
    for setting, place in each_once(subject.written):
        for at, one in enumerate(place.citations):
            source = subject.profile.sources.get(one.source)
            if source is None or not source.is_document or one.is_general:
                continue
            if not source.speaks_for(setting.id):
                why = f"which is about {', '.join(source.about)} only"
            elif place.narrowing and (source.firmware & place.narrowing).is_empty():
                why = f"which speaks for {source.firmware.text()}, not for {place.narrowing.text()}"
            else:
                continue
            yield LintFinding(
                at_place(setting, place, "sources", at),
                f'"{setting.id}" at {where_text(place)} calls on "{source.id}", {why}.',
                advice,
                Spot("source", source.id, key=("firmware",)),
            )
    yield from _stray_entries(subject)


def _stray_entries(subject: Subject) -> Iterator[LintFinding]:
    """Sheets that are named for all that an entry of ``follows`` brings, though about less."""
    told: set[tuple[str, str]] = set()
    for setting, place in each_once(subject.settings):
        for source in _documents(subject, (one for one in place.citations if one.is_general)):
            if source.speaks_for(setting.id) or (setting.origin, source.id) in told:
                continue
            told.add((setting.origin, source.id))
            calling = (
                at
                for at, entry in entries_of(subject.data, setting.origin)
                if source.id in {cited.source for cited in citations_of(entry)}
            )
            yield LintFinding(
                Spot("decoder", key=("follows", *islice(calling, 1))),
                f'What is taken over from "{setting.origin}" calls on "{source.id}", which is '
                f'about {", ".join(source.about)} only, and not about "{setting.id}".',
                'Name it for what it is about alone, in an entry with "only".',
            )


def is_of_tests(subject: Subject, place: Place) -> bool:
    """Whether a place is what bench tests saw at their own firmware, and nothing else says so."""
    is_cited = next(_documents(subject, place.citations), None) is not None
    return not is_cited and (place.firmware - _tested(subject, place)).is_empty()


def is_uncited(subject: Subject, place: Place) -> bool:
    """Whether no source of the decoder is named for a place at all."""
    return not any(one.source in subject.profile.sources for one in place.citations)


def _beyond(subject: Subject, place: Place) -> FirmwareRange:
    """What a place claims of firmware for which none of its sources speaks."""
    nothing = FirmwareRange.nothing(place.firmware.scheme)
    if place.narrowing is None or is_uncited(subject, place):
        return nothing
    is_cited = next(_documents(subject, place.citations), None) is not None
    kept = place.firmware if is_cited else nothing
    over = place.narrowing - _tested(subject, place)
    if kept.is_empty():
        return over
    spans = (over - FirmwareRange.between(kept.oldest, kept.spans[-1][1], kept)).spans
    named = tuple(one for one in spans if one[0] != EARLIEST[kept.scheme] and one[1] is not None)
    return FirmwareRange(over.scheme, named, over.spelt)


def _entry(subject: Subject, setting: Setting, place: Place) -> int | None:
    """The entry of ``follows`` that narrows a place; nothing where the place does so itself."""
    for at, entry in entries_of(subject.data, setting.origin):
        written = entry.get("firmware")
        if written and subject.profile.range(written) == place.narrowing:
            return at
    return None


def _cuts(ranges: Iterable[FirmwareRange]) -> set[Key]:
    """The points at which any of some ranges begins or ends."""
    return {cut for one in ranges for cut in one.cuts()}


def _documents(subject: Subject, citations: Iterable[Citation]) -> Iterator[Source]:
    """The documents that are called on."""
    sources = subject.profile.sources
    return (sources[one.source] for one in documents_cited(citations, sources))


def _tests(subject: Subject, places: Iterable[Place]) -> list[Source]:
    """The bench tests that some places name, each once."""
    named = dict.fromkeys(one.source for place in places for one in place.citations)
    held = (subject.profile.sources.get(id) for id in named)
    return [one for one in held if one is not None and not one.is_document]


def _tested(subject: Subject, place: Place) -> FirmwareRange:
    """The firmware of the bench tests that name a place."""
    tests = _tests(subject, (place,))
    return FirmwareRange.union((one.firmware for one in tests), place.firmware.scheme)


def _goes_on(setting: Setting, place: Place, cut: Key) -> bool:
    """Whether a place of the setting, or the word that it is not there, follows behind a cut."""
    others: list[FirmwareRange | None] = [
        one.firmware for one in setting.places if one is not place
    ]
    others += [one.narrowing for one in setting.absences]
    return any(one is None or one.holds(cut) or one.lies_after(cut) for one in others)


def _is_asked(subject: Subject, setting: Setting, cut: Key) -> bool:
    """Whether a question is about a setting at a cut or behind it."""
    return any(
        is_about(one.about, setting.id)
        and (one.firmware is None or one.firmware.holds(cut) or one.firmware.lies_after(cut))
        for one in subject.profile.questions
    )


def _end_text(firmware: FirmwareRange) -> str:
    """Where a range ends, in words: ``with 2.4.118``, ``before 4.0``."""
    last = firmware.texts()[-1].rpartition(" ")[2]
    return f"before {last[1:]}" if last.startswith("<") and last[1] != "=" else f"with {last[2:]}"


RULES = (
    LintRule(
        "uncovered-claim",
        Severity.WARNING,
        "A place claims firmware for which no source speaks that it calls on.",
        uncovered_claims,
    ),
    LintRule(
        "placeless",
        Severity.ERROR,
        "A setting has no place at any firmware for which a source speaks.",
        placeless_settings,
    ),
    LintRule(
        "single-observation",
        Severity.WARNING,
        "A place begins or ends with the firmware of one bench test, and for no other reason.",
        single_observations,
    ),
    LintRule(
        "last-seen-bound",
        Severity.WARNING,
        "A place ends before its document does, and nothing tells what comes after.",
        last_seen_bounds,
    ),
    LintRule(
        "stray-source",
        Severity.WARNING,
        "A place calls on a document that speaks for none of its firmware, or not of the setting.",
        stray_sources,
    ),
)
