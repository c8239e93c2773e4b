"""Factory defaults that the settings themselves do not allow."""

from __future__ import annotations

from collections.abc import Iterator, Mapping

from cvlib.engine.lint.finding import LintFinding, Subject
from cvlib.engine.told import where_text
from cvlib.model.answer import Answer
from cvlib.model.coding import Fields, Parts
from cvlib.model.cv import Slot, bits_text
from cvlib.model.profile import Place, is_about


def illegal_defaults(subject: Subject) -> Iterator[LintFinding]:
    """Defaults outside the range, without a choice of their own, or with bits that mean nothing.

    A decoder may really leave the factory so: where the place has a note, or a question is about
    the setting, somebody has looked and nothing is said.
    """
    questions = subject.resolver.profile.questions
    asked = tuple(name for question in questions for name in question.about)
    for setting in subject.settings:
        for number, place in enumerate(setting.places):
            if place.default is None or place.note or is_about(asked, setting.id):
                continue
            reading = place.coding.decode(place.default)
            if reading.fault is None and not reading.stray:
                continue
            shown = reading.text if reading.fault else f"bits {bits_text(reading.stray)}"
            yield LintFinding(
                "illegal-default",
                setting.id,
                f'"{setting.id}" at {where_text(place)} has the default {shown}, which its own '
                f"values do not allow: {place.coding.legal()}.",
                "Correct the default or the values that are allowed; if the decoder is really so, "
                "say so in a note.",
                number,
            )


def contradicted_defaults(subject: Subject) -> Iterator[LintFinding]:
    """Bytes whose default is not what the defaults of the settings in their bits come to."""
    seen: set[tuple[str, str]] = set()
    for stretch in subject.stretches:
        answers = {answer.setting: answer for answer in stretch.answers}
        for name, byte, default in _bytes(answers):
            for inner, place, part in _inside(answers, byte.fields[0].slot):
                field = place.fields[0]
                if field.take(default[0]) == part[0] or (name, inner) in seen:
                    continue
                seen.add((name, inner))
                yield LintFinding(
                    "default-contradicts",
                    inner,
                    f'"{inner}" has the default {part[0]}, but {where_text(place)} of '
                    f'"{name}" is {field.take(default[0])} by default.',
                    "Correct one of the two.",
                    next(
                        at
                        for at, held in enumerate(subject.resolver.profile.settings[inner].places)
                        if held is place
                    ),
                )


def _bytes(answers: Mapping[str, Answer]) -> Iterator[tuple[str, Place, Parts]]:
    """Whole CVs of fields that state a default."""
    for name, answer in answers.items():
        place = answer.place
        if place is not None and type(place.coding) is Fields and place.default is not None:
            yield name, place, place.default


def _inside(answers: Mapping[str, Answer], slot: Slot) -> Iterator[tuple[str, Place, Parts]]:
    """Settings in some bits of a CV that always exist and state a default."""
    for name, answer in answers.items():
        place = answer.place
        if place is None or isinstance(place.coding, Fields) or place.default is None:
            continue
        if not place.when and [field.slot for field in place.fields] == [slot]:
            yield name, place, place.default
