"""Places and what speaks for them: claims that no source covers, and ends that nobody knows."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from typing import Any

from cvlib.engine.known.neighbours import without_index
from cvlib.engine.known.told import where_text
from cvlib.engine.lint.finding import LintFinding, LintRule, Spot, Subject, at_place
from cvlib.findings.catalogue import Severity
from cvlib.model.profile import Citation, Place, Setting, Source, SourceKind, is_about
from cvlib.model.ranges import FirmwareRange
from cvlib.model.versions import FirmwareVersion, Key


def uncovered_claims(subject: Subject) -> Iterator[LintFinding]:
    """Places that reach beyond the firmware for which a document, the maker or a test speaks.

    A range may span gaps between its own sources: there both sides say the same. Where the range
    is that of ``follows``, it is wrong there, and told once for all settings that it brings.
    """
    told: set[tuple[int, FirmwareRange]] = set()
    for setting in subject.settings:
        for place in setting.places:
            if place.firmware.is_everything():
                continue
            counts = subject.resolver.effective(setting, place)
            over = place.firmware - counts
            if not over.is_empty():
                over = over - _tested(subject, place) - _hull(counts)
            entry = _followed(subject, place) if setting.origin else None
            if over.is_empty() or (entry is not None and (entry, over) in told):
                continue
            kept = "nothing of it counts" if counts.is_empty() else f"{counts.text()} counts"
            what, spot = f'"{setting.id}" at {where_text(place)}', at_place(setting, place)
            if entry is not None:
                told.add((entry, over))
                what = f'What is taken over from "{_entries(subject)[entry]["from"]}"'
                spot = Spot("decoder", key=("follows", entry, "firmware"))
            yield LintFinding(
                spot,
                f"{what} claims {over.text()}, for which no source speaks; {kept}.",
                "End the range where the sources end, or add the source.",
            )


def placeless_settings(subject: Subject) -> Iterator[LintFinding]:
    """Settings that exist at no covered firmware and that no bench test has seen."""
    for setting in subject.settings:
        held = (subject.resolver.effective(setting, place) for place in setting.places)
        tested = (_tested(subject, place) for place in setting.places)
        if all(one.is_empty() for one in (*held, *tested)):
            yield LintFinding(
                Spot("setting", setting.id),
                f'"{setting.id}" has no place at any firmware for which a source speaks.',
                "Give it a place inside the firmware of a source, or take it out.",
            )


def single_observations(subject: Subject) -> Iterator[LintFinding]:
    """Places that begin or end with the one firmware of a bench test, and for no other reason.

    A place that only tests have seen, at just their firmware, is no such range. A documented place
    is one where it is cut down to the test.
    """
    for setting, place in written_places(subject):
        observed = list(_observed(subject, setting))
        if not observed:
            continue
        alone = _tested(subject, place)
        if not is_of_tests(subject, place):
            alone = alone - subject.resolver.coverage_of(setting.id)
        ranged = _beside(place.firmware, alone)
        cuts = set(ranged.cuts()) - _other_edges(subject, setting, place)
        for source, version in observed:
            if not cuts.isdisjoint(FirmwareRange.exactly(version).cuts()):
                yield LintFinding(
                    at_place(setting, place, "firmware"),
                    f'"{setting.id}" at {where_text(place)} has the range '
                    f"{place.firmware.text()}, whose end {version} is known from the bench test "
                    f'"{source.id}" alone.',
                    "Give the place the range of its handbook, and let the test speak for its own "
                    "firmware.",
                )
                break


def _entries(subject: Subject) -> list[Any]:
    """What the profile follows, as its file says it."""
    found = subject.data.get("decoder", {}).get("follows", ())
    return [one if isinstance(one, dict) else {"from": one} for one in found]


def _followed(subject: Subject, place: Place) -> int | None:
    """The entry of ``follows`` that gives a place just its firmware; nothing where none does."""
    scheme = subject.profile.scheme
    for at, entry in enumerate(_entries(subject)):
        written = entry.get("firmware")
        if written and FirmwareRange.parse(written, scheme) == place.firmware:
            return at
    return None


def is_of_tests(subject: Subject, place: Place) -> bool:
    """Whether a place is what bench tests saw at their own firmware, and nothing else says so."""
    is_cited = next(_cited_documents(subject, place), None) is not None
    return not is_cited and (place.firmware - _tested(subject, place)).is_empty()


def last_seen_bounds(subject: Subject) -> Iterator[LintFinding]:
    """Places that end before the documents they call on do, with nothing behind them.

    Where the place has a note, or a question is about the setting, somebody has looked.
    """
    for setting, place in written_places(subject):
        firmware = place.firmware
        if firmware.is_empty() or firmware.spans[-1][1] is None or place.note:
            continue
        end = firmware.end
        longer = [one for one in _cited_documents(subject, place) if _ends_behind(one, end)]
        if not longer or _goes_on(setting, place, end) or _is_asked(subject, setting, end):
            continue
        if end in _document_edges(subject, setting):
            continue
        yield LintFinding(
            at_place(setting, place, "firmware"),
            f'"{setting.id}" at {where_text(place)} ends {_end_text(firmware)}, but '
            f'"{longer[0].id}" speaks for {longer[0].firmware.text()} and nothing tells what comes '
            "after.",
            "End it where the document ends, or say in a note of the place that it is gone then.",
        )


def stray_sources(subject: Subject) -> Iterator[LintFinding]:
    """Places that call on a document which speaks for none of their firmware, or not of them."""
    for setting, place in written_places(subject):
        for at, one in enumerate(place.citations):
            source = subject.profile.sources.get(one.source)
            if source is None or source.kind is SourceKind.BENCH:
                continue
            if not source.speaks_for(setting.id):
                why = f"which is about {', '.join(source.about)} only"
            elif not place.firmware.is_empty() and not _meets(source, place):
                why = f"which speaks for {source.firmware.text()}, not for {place.firmware.text()}"
            else:
                continue
            yield LintFinding(
                at_place(setting, place, "sources", at),
                f'"{setting.id}" at {where_text(place)} calls on "{source.id}", {why}.',
                "Name the source that says it, or correct the firmware of the place.",
            )


def uncited_claims(subject: Subject) -> Iterator[LintFinding]:
    """Places that count where another document speaks, and call on a document for the rest only.

    A document that nothing calls on is a finding of its own, and a place without a range holds
    for every firmware anyhow.
    """
    used = {
        citation.source
        for setting in subject.settings
        for place in setting.places
        for citation in place.citations
    }
    for setting, place in written_places(subject):
        if place.firmware.is_everything():
            continue
        cited = [one for one in _cited_documents(subject, place) if _meets(one, place)]
        if not cited:
            continue
        over = subject.resolver.effective(setting, place)
        for source in cited:
            over -= source.firmware
        if over.is_empty():
            continue
        speaking = next(
            (
                one
                for one in subject.profile.sources.values()
                if one.id in used
                and one.kind is not SourceKind.BENCH
                and one.speaks_for(setting.id)
                and not (one.firmware & over).is_empty()
            ),
            None,
        )
        if speaking is None:
            continue
        yield LintFinding(
            at_place(setting, place, "sources"),
            f'"{setting.id}" at {where_text(place)} counts at {over.text()} too, where '
            f'"{speaking.id}" speaks, but the place does not call on it.',
            f'Look into "{speaking.id}": name it with its page, or end the range before it.',
        )


def written_places(subject: Subject) -> Iterator[tuple[Setting, Place]]:
    """The places that the profile and its blocks write, each once.

    Of a setting that recurs only the first with the same firmware and the same sources is taken.
    """
    seen: set[tuple[str, FirmwareRange, tuple[Citation, ...]]] = set()
    for setting in subject.written:
        recurs = "[" in setting.id
        for place in setting.places:
            if recurs:
                key = (without_index(setting.id), place.firmware, place.citations)
                if key in seen:
                    continue
                seen.add(key)
            yield setting, place


def _beside(firmware: FirmwareRange, tested: FirmwareRange) -> FirmwareRange:
    """The spans of a range that hold more than what was tested."""
    spans = (FirmwareRange(firmware.scheme, (span,)) for span in firmware.spans)
    kept = [one.spans[0] for one in spans if not (one - tested).is_empty()]
    return FirmwareRange(firmware.scheme, tuple(kept))


def _other_edges(subject: Subject, setting: Setting, place: Place) -> set[Key]:
    """Where a document that speaks for the setting, or another place of it, begins or ends."""
    others = (one.firmware for one in setting.places if one is not place)
    return _document_edges(subject, setting) | {cut for one in others for cut in one.cuts()}


def _document_edges(subject: Subject, setting: Setting) -> set[Key]:
    return {
        cut
        for source in subject.profile.sources.values()
        if source.kind is not SourceKind.BENCH and source.speaks_for(setting.id)
        for cut in source.firmware.cuts()
    }


def _observed(subject: Subject, setting: Setting) -> Iterator[tuple[Source, FirmwareVersion]]:
    """The bench tests that name the setting, with each of their versions."""
    named = dict.fromkeys(one.source for place in setting.places for one in place.citations)
    for source in _sources(subject, named):
        if source.kind is SourceKind.BENCH:
            for version in source.firmware.singles() or ():
                yield source, version


def _cited_documents(subject: Subject, place: Place) -> Iterator[Source]:
    for source in _sources(subject, dict.fromkeys(one.source for one in place.citations)):
        if source.kind is not SourceKind.BENCH:
            yield source


def _sources(subject: Subject, ids: Iterable[str]) -> Iterator[Source]:
    held = subject.profile.sources
    return (held[id] for id in ids if id in held)


def _meets(source: Source, place: Place) -> bool:
    """Whether a source speaks for any firmware of a place."""
    return not (source.firmware & place.firmware).is_empty()


def _ends_behind(source: Source, cut: Key) -> bool:
    """Whether a source speaks for the firmware on both sides of a cut, and ends somewhere."""
    firmware = source.firmware
    if firmware.is_empty() or firmware.spans[-1][1] is None:
        return False
    return firmware.holds_below(cut) and firmware.holds(cut)


def _goes_on(setting: Setting, place: Place, cut: Key) -> bool:
    """Whether another place of the setting holds at a cut or behind it."""
    others = (one.firmware for one in setting.places if one is not place)
    return any(one.holds(cut) or one.lies_after(cut) for one in others)


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


def _hull(firmware: FirmwareRange) -> FirmwareRange:
    """All firmware from the oldest to the newest of a range."""
    if firmware.is_empty():
        return firmware
    return FirmwareRange.between(firmware.oldest, firmware.spans[-1][1], firmware)


def _tested(subject: Subject, place: Place) -> FirmwareRange:
    """The firmware of the bench tests that name a place."""
    profile = subject.resolver.profile
    found = FirmwareRange.nothing(profile.scheme)
    for citation in place.citations:
        source = profile.sources.get(citation.source)
        if source is not None and source.kind is SourceKind.BENCH:
            found |= source.firmware
    return found


RULES = (
    LintRule(
        "uncovered-claim",
        Severity.WARNING,
        "A place claims firmware for which no source speaks, and that counts for nothing.",
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
    LintRule(
        "uncited-claim",
        Severity.NOTE,
        "A place counts where another document speaks, and does not call on that one.",
        uncited_claims,
    ),
)
