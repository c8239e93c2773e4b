"""Places and what speaks for them: claims that no source covers."""

from __future__ import annotations

from collections.abc import Iterator

from cvlib.engine.lint.finding import LintFinding, Subject
from cvlib.engine.told import where_text
from cvlib.model.profile import Place, SourceKind
from cvlib.model.ranges import FirmwareRange


def uncovered_claims(subject: Subject) -> Iterator[LintFinding]:
    """Places that reach beyond the firmware for which a document, the maker or a test speaks.

    A range may span gaps between its own sources: there both sides say the same.
    """
    for setting in subject.settings:
        for number, place in enumerate(setting.places):
            counts = subject.resolver.effective(setting, place)
            over = place.firmware - counts - _tested(subject, place) - _hull(counts)
            if place.firmware.is_everything() or over.is_empty():
                continue
            kept = "nothing of it counts" if counts.is_empty() else f"{counts.text()} counts"
            yield LintFinding(
                "uncovered-claim",
                setting.id,
                f'"{setting.id}" at {where_text(place)} claims {over.text()}, for which no '
                f"source speaks; {kept}.",
                "End the range where the sources end, or add the source.",
                number,
            )


def placeless_settings(subject: Subject) -> Iterator[LintFinding]:
    """Settings that exist at no covered firmware and that no bench test has seen."""
    for setting in subject.settings:
        held = (subject.resolver.effective(setting, place) for place in setting.places)
        tested = (_tested(subject, place) for place in setting.places)
        if all(one.is_empty() for one in (*held, *tested)):
            yield LintFinding(
                "placeless",
                setting.id,
                f'"{setting.id}" has no place at any firmware for which a source speaks.',
                "Give it a place inside the firmware of a source, or take it out.",
            )


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
