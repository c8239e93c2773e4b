"""Questions that have waited for long, and those that later sources have overtaken."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from datetime import date

from cvlib.engine.known.line import Stretch
from cvlib.engine.lint.finding import LintFinding, LintRule, Spot, Subject
from cvlib.engine.lint.places import SURE
from cvlib.findings.catalogue import Severity
from cvlib.model.profile import Profile, Question, Setting, SourceKind, is_about
from cvlib.model.ranges import FirmwareRange

_YEAR = 365
"""Days after which a question is old."""


def undated_questions(subject: Subject) -> Iterator[LintFinding]:
    """Questions of which nobody can tell how old they are."""
    for question in subject.profile.questions:
        if not question.date:
            yield LintFinding(
                Spot("question", question.id),
                f'The question "{question.id}" does not say when it was asked.',
                "Give it a date, without quotes.",
            )


def old_questions(subject: Subject) -> Iterator[LintFinding]:
    """Questions that have been open for more than a year."""
    if subject.today == date.max:
        return
    for question in subject.profile.questions:
        asked = _day(question.date)
        if asked is not None and (subject.today - asked).days > _YEAR:
            yield LintFinding(
                Spot("question", question.id, key=("date",)),
                f'The question "{question.id}" has been open since {question.date}, for more '
                "than a year.",
                f"Settle it: {question.settle}",
            )


def settled_questions(subject: Subject) -> Iterator[LintFinding]:
    """Questions about firmware that was open when they were asked and is covered by now."""
    for question in subject.profile.questions:
        firmware = question.firmware
        if not question.date or firmware is None or firmware.is_empty() or not question.about:
            continue
        settings = [setting for setting in subject.settings if is_about(question.about, setting.id)]
        if not any(_was_open(subject.profile, setting, question) for setting in settings):
            continue
        if all(_is_sure(subject.stretches, {s.id for s in settings}, firmware)):
            yield LintFinding(
                Spot("question", question.id),
                f'The question "{question.id}" is about {firmware.text()}, for which sources '
                "that came later now speak.",
                "Take it out if they answer it; else ask what is still open and give that a date.",
            )


def _was_open(profile: Profile, setting: Setting, question: Question) -> bool:
    """Whether no source spoke for a setting, on the day of a question, at some of its firmware."""
    left = question.firmware or FirmwareRange.everything(profile.scheme)
    for source in profile.sources.values():
        if source.date and source.date > question.date:
            continue
        is_bench = source.kind is SourceKind.BENCH
        if is_bench and not _tests(setting, source.id):
            continue
        if is_bench or source.speaks_for(setting.id):
            left -= source.firmware
    return not left.is_empty()


def _tests(setting: Setting, source: str) -> bool:
    return any(one.source == source for place in setting.places for one in place.citations)


def _is_sure(
    stretches: Iterable[Stretch], names: set[str], firmware: FirmwareRange
) -> Iterator[bool]:
    """For each answer about some firmware, whether a source speaks for it."""
    for stretch in stretches:
        if not (stretch.firmware & firmware).is_empty():
            yield from (a.standing in SURE for a in stretch.answers if a.setting in names)


def _day(text: str) -> date | None:
    try:
        return date.fromisoformat(text)
    except ValueError:
        return None


RULES = (
    LintRule(
        "undated-question",
        Severity.NOTE,
        "A question does not say when it was asked.",
        undated_questions,
    ),
    LintRule(
        "old-question",
        Severity.NOTE,
        "A question has been open for more than a year.",
        old_questions,
    ),
    LintRule(
        "settled-question",
        Severity.WARNING,
        "Sources that came after a question speak for all the firmware it is about.",
        settled_questions,
        unfinished=True,
    ),
)
