"""The sources themselves: what is never called on, undated, without page or without end."""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Collection, Iterator

from cvlib.engine.known.told import where_text
from cvlib.engine.lint.evidence import written_places
from cvlib.engine.lint.finding import LintFinding, LintRule, Spot, Subject, at_place
from cvlib.findings.catalogue import Severity
from cvlib.model.coding import Area
from cvlib.model.profile import Citation, Setting, Source, SourceKind


def unused_sources(subject: Subject) -> Iterator[LintFinding]:
    """Sources that nothing calls on and without which every answer would be the same."""
    for source in _uncited(subject):
        if source.kind is SourceKind.BENCH:
            what = "nothing says what it saw"
            advice = 'Name it with a "verdict" in the sources of the places that were tried'
        elif _covers_more(subject, source):
            continue
        else:
            what = "nothing calls on it, and other documents cover all its firmware"
            advice = 'Name it, with the page, in the "sources" of what it says'
        yield LintFinding(
            Spot("source", source.id, key=("id",)),
            f'The source "{source.id}" stands in the list, but {what}.',
            f"{advice}, or take it out.",
        )


def uncited_documents(subject: Subject) -> Iterator[LintFinding]:
    """Documents that nothing calls on, though places for their firmware call on other documents.

    Where such places come from standards and blocks, or name no document, the document is there
    for what it covers.
    """
    documents = {source.id for source in _documents(subject)}
    own = [setting for setting in subject.settings if not setting.origin]
    for source in _uncited(subject):
        if source.kind is SourceKind.BENCH or not _covers_more(subject, source):
            continue
        if any(_calls_on(documents, setting, source) for setting in own):
            yield LintFinding(
                Spot("source", source.id, key=("id",)),
                f'Nothing calls on "{source.id}", though there are places for its firmware.',
                "Name it, with the page, in the sources of what it says.",
            )


def unsourced_places(subject: Subject) -> Iterator[LintFinding]:
    """Places of the file that call on nothing, where others call on something.

    What is set aside without a meaning of its own needs nobody who says so.
    """
    own = [
        (setting, place)
        for setting, place in written_places(subject)
        if not setting.origin and not isinstance(place.coding, Area)
    ]
    if not any(place.citations for _, place in own):
        return
    for setting, place in own:
        if not place.citations:
            yield LintFinding(
                at_place(setting, place),
                f'Nothing is said to speak for "{setting.id}" at {where_text(place)}.',
                'Name the source, with the page, in "sources".',
            )


def open_ended_sources(subject: Subject) -> Iterator[LintFinding]:
    """Documents and words of the maker that claim all newer firmware, also what is yet to come."""
    if subject.profile.kind == "standard":
        return
    for source in subject.profile.sources.values():
        spans = source.firmware.spans
        if spans and spans[-1][1] is None:
            yield LintFinding(
                Spot("source", source.id, key=("firmware",)),
                f'"{source.id}" speaks for {source.firmware.text()}, so for every firmware that '
                "is still to come.",
                "End the range with the newest firmware that the source knows.",
            )


def missing_pages(subject: Subject) -> Iterator[LintFinding]:
    """Documents called on without a page.

    Code and tables that lie somewhere, as ``where`` says, have no pages: of those, as of a sheet
    that is called on only once, nothing is said while no page is given anywhere.
    """
    cited = list(_cited(subject))
    paged = {one.source for _, _, one in cited if one.page}
    times = Counter(one.source for _, _, one in cited)
    for source in _all(subject):
        has_pages = source.id in paged or bool(source.where) or times[source.id] < 2
        if source.kind is SourceKind.DOCUMENT and not has_pages:
            yield LintFinding(
                Spot("source", source.id, key=("id",)),
                f'"{source.id}" is called on {times[source.id]} times, and never with a page.',
                f'Write the page behind a colon, as in "{source.id}:31"; where there are no '
                'pages, say in "where" what it is and where it lies.',
            )
    for spot, name, one in cited:
        held = subject.profile.sources.get(one.source)
        is_document = held is not None and held.kind is SourceKind.DOCUMENT
        if is_document and one.source in paged and not one.page:
            yield LintFinding(
                spot,
                f'{name} calls on "{one.source}" without a page, though others give one.',
                f'Write the page behind a colon, as in "{one.source}:31".',
            )


def undated_tests(subject: Subject) -> Iterator[LintFinding]:
    """Bench tests without a date."""
    for source in subject.profile.sources.values():
        if source.kind is SourceKind.BENCH and not source.date:
            yield LintFinding(
                Spot("source", source.id, key=("id",)),
                f'The bench test "{source.id}" has no date.',
                "Give the day on which it was made, such as date = 2026-03-14.",
            )


def missing_verdicts(subject: Subject) -> Iterator[LintFinding]:
    """Places that name a bench test and not what it saw: that counts for nothing."""
    for setting, place in written_places(subject):
        for at, one in enumerate(place.citations):
            source = subject.profile.sources.get(one.source)
            if source is None or source.kind is not SourceKind.BENCH or one.verdict is not None:
                continue
            yield LintFinding(
                at_place(setting, place, "sources", at),
                f'"{setting.id}" at {where_text(place)} names the bench test "{one.source}" '
                "without what it saw, so the test counts for nothing.",
                f'Write {{ source = "{one.source}", verdict = "works" }} or "no-effect".',
            )


def future_dates(subject: Subject) -> Iterator[LintFinding]:
    """Sources and releases dated later than today."""
    today = subject.today.isoformat()
    dated = [
        *((Spot("source", one.id), f'The source "{one.id}"', one.date) for one in _all(subject)),
        *(
            (Spot("firmware.release", str(one.version)), f"Release {one.version}", one.date)
            for one in subject.profile.releases
        ),
    ]
    for spot, name, day in dated:
        if day > today:
            yield LintFinding(
                Spot(spot.table, spot.id, key=("date",)),
                f"{name} is dated {day}, which is still to come.",
                "Correct the date.",
            )


def early_tests(subject: Subject) -> Iterator[LintFinding]:
    """Bench tests dated before the firmware that they tried was released."""
    for source in _all(subject):
        if source.kind is not SourceKind.BENCH or not source.date:
            continue
        for version in source.firmware.singles() or ():
            release = subject.profile.release_of(version)
            if release is not None and source.date < release.date:
                yield LintFinding(
                    Spot("source", source.id, key=("date",)),
                    f'The bench test "{source.id}" of {source.date} tried firmware {version}, '
                    f"which was released on {release.date}.",
                    "Correct the date of the one or of the other, or the firmware of the test.",
                )


def _all(subject: Subject) -> list[Source]:
    return list(subject.profile.sources.values())


def _cited(subject: Subject) -> Iterator[tuple[Spot, str, Citation]]:
    """Every citation of places and advisories, with where it stands and who calls."""
    for setting, place in written_places(subject):
        for at, one in enumerate(place.citations):
            name = f'"{setting.id}" at {where_text(place)}'
            yield at_place(setting, place, "sources", at), name, one
    for advisory in subject.profile.advisories:
        for at, one in enumerate(advisory.citations):
            spot = Spot("advisory", advisory.id, key=("sources", at))
            yield spot, f'The advisory "{advisory.id}"', one


def _used(subject: Subject) -> set[str]:
    """The ids of all sources that are called on; rules and questions may name them in words."""
    profile = subject.profile
    places = (place for setting in profile.settings.values() for place in setting.places)
    found = {one.source for place in places for one in place.citations}
    found |= {one.source for advisory in profile.advisories for one in advisory.citations}
    words = " ".join(
        (
            *(rule.source for rule in profile.rules),
            *(f"{question.text} {question.settle}" for question in profile.questions),
        )
    )
    return found | {id for id in profile.sources if _names(words, id)}


def _names(words: str, id: str) -> bool:
    return re.search(rf"(?<![\w-]){re.escape(id)}(?![\w-])", words) is not None


def _uncited(subject: Subject) -> Iterator[Source]:
    used = _used(subject)
    return (source for source in _all(subject) if source.id not in used)


def _documents(subject: Subject) -> Iterator[Source]:
    """The documents and the maker's words: what is covered by them."""
    return (source for source in _all(subject) if source.kind is not SourceKind.BENCH)


def _covers_more(subject: Subject, source: Source) -> bool:
    """Whether a document covers firmware of a setting that no other one covers."""
    others = [one for one in _documents(subject) if one is not source]
    seen: set[tuple[str, ...]] = set()
    for setting in subject.settings:
        if not source.speaks_for(setting.id):
            continue
        speaking = [one for one in others if one.speaks_for(setting.id)]
        names = tuple(one.id for one in speaking)
        if names in seen:
            continue
        seen.add(names)
        rest = source.firmware
        for other in speaking:
            rest -= other.firmware
        if not rest.is_empty():
            return True
    return not subject.profile.settings


def _calls_on(documents: Collection[str], setting: Setting, source: Source) -> bool:
    """Whether a place for the firmware of one document names any of the documents."""
    return source.speaks_for(setting.id) and any(
        any(one.source in documents for one in place.citations)
        and not (place.firmware & source.firmware).is_empty()
        for place in setting.places
    )


RULES = (
    LintRule(
        "unused-source",
        Severity.WARNING,
        "Nothing calls on a source, and without it every answer would be the same.",
        unused_sources,
        unfinished=True,
    ),
    LintRule(
        "uncited-document",
        Severity.NOTE,
        "Nothing calls on a document, though there are places for its firmware.",
        uncited_documents,
    ),
    LintRule(
        "open-ended-source",
        Severity.WARNING,
        "A document or the maker's word claims every firmware that is still to come.",
        open_ended_sources,
    ),
    LintRule(
        "unsourced-place",
        Severity.NOTE,
        "A place names no source, though others in the file do.",
        unsourced_places,
    ),
    LintRule(
        "page-missing",
        Severity.NOTE,
        "A document is called on without a page.",
        missing_pages,
    ),
    LintRule(
        "undated-test",
        Severity.WARNING,
        "A bench test has no date.",
        undated_tests,
    ),
    LintRule(
        "verdict-missing",
        Severity.WARNING,
        "A place names a bench test and not what it saw, and so the test counts for nothing.",
        missing_verdicts,
    ),
    LintRule(
        "future-date",
        Severity.WARNING,
        "A source or a release is dated later than today.",
        future_dates,
    ),
    LintRule(
        "test-before-release",
        Severity.WARNING,
        "A bench test is dated before the firmware that it tried was released.",
        early_tests,
    ),
)
