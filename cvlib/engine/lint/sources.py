"""The sources themselves: what is never called on, undated, without page or without end."""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Collection, Iterator

from cvlib.engine.known.told import where_text
from cvlib.engine.lint.evidence import is_uncited
from cvlib.engine.lint.finding import LintFinding, LintRule, Spot, Subject, at_place, each_once
from cvlib.engine.lint.written import citations_of, entries_of
from cvlib.findings.catalogue import Severity
from cvlib.model.coding import Area
from cvlib.model.profile import Citation, Extent, Source, SourceKind


def unused_sources(subject: Subject) -> Iterator[LintFinding]:
    """Sources that nothing calls on and without which every answer would be the same."""
    used = _used(subject)
    for source in _all(subject):
        if not _is_idle(subject, source, used):
            continue
        if not source.is_document:
            what = "nothing says what it saw"
            advice = 'Name it with a "verdict" in the sources of the places that were tried'
        elif source.reissues:
            what = f'it says nothing that "{source.reissues}" does not say there anyway'
            advice = "Give it the firmware and the pages that it is for"
        else:
            what = "nothing calls on it"
            advice = 'Name it, with the page, in the "sources" of what it says'
        yield LintFinding(
            Spot("source", source.id, key=("id",)),
            f'The source "{source.id}" stands in the list, but {what}.',
            f"{advice}, or take it out.",
        )


def _is_idle(subject: Subject, source: Source, used: Collection[str]) -> bool:
    """Whether a source that nothing calls on says nothing of its own either."""
    if source.id in used or source.without or not subject.profile.settings:
        return False
    older = subject.profile.sources.get(source.reissues)
    if older is not None:
        return (source.firmware - older.firmware).is_empty() or _is_idle(subject, older, used)
    return source.extent is not Extent.WHOLE


def uncited_documents(subject: Subject) -> Iterator[LintFinding]:
    """Documents that are said to be read whole, and that nothing calls on: they deny everything."""
    used = _used(subject)
    for source in subject.resolver.documents.all:
        if source.extent is Extent.WHOLE and source.id not in used and not source.reissues:
            yield LintFinding(
                Spot("source", source.id, key=("extent",)),
                f'"{source.id}" is said to be read whole, and nothing calls on it: by it nothing '
                f"that it is about exists at {source.firmware.text()}.",
                'Name it, with the page, in the sources of what it says; until then, say extent = "'
                'cited".',
            )


def idle_errata(subject: Subject) -> Iterator[LintFinding]:
    """Errata that speak for no firmware of the document that they replace."""
    for source in subject.resolver.documents.all:
        older = subject.profile.sources.get(source.replaces)
        if older is not None and (source.firmware & older.firmware).is_empty():
            yield LintFinding(
                Spot("source", source.id, key=("replaces",)),
                f'"{source.id}" speaks for {source.firmware.text()} and replaces "{older.id}", '
                f"which speaks for {older.firmware.text()} and so says nothing there.",
                "Correct the firmware of one of them; a later issue that repeats the other says "
                '"reissues".',
            )


def unsourced_places(subject: Subject) -> Iterator[LintFinding]:
    """Places that call on nothing; where the whole file does not, that is told once.

    What is set aside without a meaning of its own needs nobody who says so.
    """
    own = [held for held in each_once(subject.written) if not isinstance(held[1].coding, Area)]
    bare = [(setting, place) for setting, place in own if is_uncited(subject, place)]
    if len(bare) == len(own) > 1:
        yield LintFinding(
            Spot("decoder", key=("id",)),
            f"Nothing is said to speak for any of its {len(bare)} places: all are only assumed.",
            'Name the document, with the page, in the "sources" of each, or once under [decoder].',
        )
        return
    for setting, place in bare:
        yield LintFinding(
            at_place(setting, place),
            f'Nothing is said to speak for "{setting.id}" at {where_text(place)}: it is only '
            "assumed.",
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
    """Documents called on without a page; what is named for many places at once, once.

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
    for setting, place in each_once(subject.written):
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
        if source.is_document or not source.date:
            continue
        for version in source.firmware.singles() or ():
            release = subject.profile.release_of(version)
            if release is not None and source.date < release.date:
                yield LintFinding(
                    Spot("source", source.id, key=("date",)),
                    f'The bench test "{source.id}" of {source.date} tried firmware {version}, '
                    f"which was released on {release.date}.",
                    "Correct the date of the one or of the other, or the firmware of the test.",
                    Spot("firmware.release", str(version), key=("date",)),
                )


def early_documents(subject: Subject) -> Iterator[LintFinding]:
    """Documents dated before releases that lie in their range, without a note that says why."""
    for source in subject.resolver.documents.all:
        later = [
            str(release.version)
            for release in subject.profile.releases
            if release.date > source.date and release.version in source.firmware
        ]
        if source.date and later and not source.note:
            yield LintFinding(
                Spot("source", source.id, key=("date",)),
                f'"{source.id}" of {source.date} speaks for {" and ".join(later)}, released after '
                "that day.",
                "End its range before, or correct the date; where it speaks for that firmware all "
                'the same, say in a "note" who says so.',
                Spot("firmware.release", later[0], key=("date",)),
            )


def _all(subject: Subject) -> list[Source]:
    return list(subject.profile.sources.values())


def _cited(subject: Subject) -> Iterator[tuple[Spot, str, Citation]]:
    """Every citation, with where it stands and who calls; what is named for many places, once."""
    for setting, place in each_once(subject.written):
        for at, one in enumerate(place.citations):
            if not one.is_general:
                name = f'"{setting.id}" at {where_text(place)}'
                yield at_place(setting, place, "sources", at), name, one
    for at, one in enumerate(citations_of(subject.data.get("decoder", {}))):
        yield Spot("decoder", key=("sources", at)), "The decoder", one
    for number, entry in entries_of(subject.data):
        for at, one in enumerate(citations_of(entry)):
            spot = Spot("decoder", key=("follows", number, "sources", at))
            yield spot, f'What is taken over from "{entry["from"]}"', one
    for advisory in subject.profile.advisories:
        for at, one in enumerate(advisory.citations):
            spot = Spot("advisory", advisory.id, key=("sources", at))
            yield spot, f'The advisory "{advisory.id}"', one


def _used(subject: Subject) -> set[str]:
    """The ids of all sources that are called on; rules and questions may name them in words."""
    profile = subject.profile
    settings = profile.settings.values()
    calling = [
        *(place.citations for setting in settings for place in setting.places),
        *(absence.citations for setting in settings for absence in setting.absences),
        *(advisory.citations for advisory in profile.advisories),
    ]
    found = {one.source for citations in calling for one in citations}
    words = " ".join(
        (
            *(rule.source for rule in profile.rules),
            *(f"{question.text} {question.settle}" for question in profile.questions),
        )
    )
    return found | {id for id in profile.sources if _names(words, id)}


def _names(words: str, id: str) -> bool:
    return re.search(rf"(?<![\w-]){re.escape(id)}(?![\w-])", words) is not None


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
        Severity.WARNING,
        "Nothing calls on a document that is said to be read whole.",
        uncited_documents,
        unfinished=True,
    ),
    LintRule(
        "idle-erratum",
        Severity.WARNING,
        "A document replaces another one that says nothing at its firmware.",
        idle_errata,
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
        "No source is named for a place, so that it is only assumed.",
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
    LintRule(
        "document-before-release",
        Severity.ERROR,
        "A document is dated before a release that it speaks for, and nothing says why.",
        early_documents,
    ),
)
