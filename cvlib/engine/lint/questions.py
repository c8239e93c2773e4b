"""Questions of which nobody knows the age, and those that later sources have overtaken."""

from __future__ import annotations

from collections.abc import Iterator

from cvlib.engine.lint.finding import LintFinding, LintRule, Spot, Subject
from cvlib.engine.lint.places import SURE
from cvlib.findings.catalogue import Severity
from cvlib.model.answer import Answer
from cvlib.model.profile import Profile, Question, is_about


def undated_questions(subject: Subject) -> Iterator[LintFinding]:
    """Questions of which nobody can tell how old they are."""
    for question in subject.profile.questions:
        if not question.date:
            yield LintFinding(
                Spot("question", question.id),
                f'The question "{question.id}" does not say when it was asked.',
                "Give it a date, without quotes.",
            )


def settled_questions(subject: Subject) -> Iterator[LintFinding]:
    """Questions of which later sources speak for all the firmware, somewhere they alone."""
    for question in subject.profile.questions:
        firmware = question.firmware
        if not question.date or firmware is None or firmware.is_empty() or not question.about:
            continue
        answers = [
            answer
            for stretch in subject.stretches
            if not (stretch.firmware & firmware).is_empty()
            for answer in stretch.answers
            if is_about(question.about, answer.setting)
        ]
        if not all(answer.standing in SURE for answer in answers):
            continue
        if any(_is_later(subject.profile, answer, question) for answer in answers):
            yield LintFinding(
                Spot("question", question.id),
                f'The question "{question.id}" is about {firmware.text()}, for which sources '
                "that came later now speak.",
                "Take it out if they answer it; else ask what is still open and give that a date.",
            )


def _is_later(profile: Profile, answer: Answer, question: Question) -> bool:
    """Whether an answer rests on nothing that was there on the day of a question."""
    cited = [profile.sources.get(one.reissue or one.source) for one in answer.trace.citations]
    return bool(cited) and all(one is not None and one.date > question.date for one in cited)


RULES = (
    LintRule(
        "undated-question",
        Severity.NOTE,
        "A question does not say when it was asked.",
        undated_questions,
    ),
    LintRule(
        "settled-question",
        Severity.WARNING,
        "Sources that came after a question speak for all the firmware it is about.",
        settled_questions,
        unfinished=True,
    ),
)
