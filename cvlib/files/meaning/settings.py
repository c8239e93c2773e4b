"""From written settings and rules to the model, repeats spread out."""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import replace

from cvlib.files.bounds import BESIDE
from cvlib.files.faults import Path
from cvlib.files.meaning.places import (
    Known,
    PlaceMaker,
    Span,
    cited,
    firmware_of,
    indexed,
    numbered,
    tests_of,
)
from cvlib.files.shapes.places import AbsentPlace
from cvlib.files.shapes.settings import ConditionShape, Recurrence, RuleShape, SettingShape
from cvlib.model.assignment import BITS, INDEX, Assignment, Topic
from cvlib.model.coding import Written
from cvlib.model.conditions import Condition, Rule, Test
from cvlib.model.profile import Absence, Citation, Place, Risk, Setting, is_about
from cvlib.model.ranges import FirmwareRange


def settings_of(
    known: Known,
    shapes: Iterable[SettingShape],
    around: Path,
    levels: Sequence[Sequence[Citation]] = (),
    decoder: Sequence[Citation] = (),
    whole: Sequence[str] | None = None,
    groups: Mapping[str, Sequence[str]] | None = None,
    topics: Mapping[str, str] | None = None,
) -> dict[str, Setting]:
    """The settings by id, in the order of the file; ``around`` is the path of their list.

    ``levels`` are the sources named further out, the nearest first, for places that name none;
    ``decoder`` are those of all its settings. What settings may harm is said by themselves, else
    by the longest fitting name of ``groups``, else by ``whole``; ``topics`` says in the same way
    what they are about, "" for all of them.
    """
    made: dict[str, Setting] = {}
    by_length = sorted((groups or {}).items(), key=lambda held: -len(held[0]))
    for at, shape in enumerate(shapes):
        path = (*around, at)
        marks = [held for name, held in by_length if is_about((name,), shape.id)]
        said = next((held for held in (shape.risk, *marks, whole) if held is not None), None)
        risk = None if said is None else frozenset(map(Risk, said))
        topic = shape.topic or _nearest(topics or {}, shape.id)
        for setting in spread(known, shape, path, levels, decoder):
            if setting.id in made:
                known.faults.twice((*path, "id"), "the setting", setting.id)
            made[setting.id] = replace(setting, risk=risk, topic=Topic(topic) if topic else None)
    return made


def _nearest(topics: Mapping[str, str], id: str) -> str:
    """What the longest name that fits an id says; "" fits every one."""
    fitting = [name for name in topics if not name or is_about((name,), id)]
    return topics[max(fitting, key=len)] if fitting else ""


def spread(
    known: Known,
    shape: SettingShape,
    path: Path,
    levels: Sequence[Sequence[Citation]] = (),
    decoder: Sequence[Citation] = (),
) -> list[Setting]:
    """The settings that one written setting stands for: one, or one for each index."""
    span = span_of(known, shape, path)
    places: dict[int | None, list[Place]] = {index: [] for index in span.indexes()}
    own = cited(known, shape.sources, (*path, "sources"))
    absences: list[Absence] = []
    for number, place in enumerate(shape.place):
        at = (*path, "place", number)
        if isinstance(place, AbsentPlace):
            absences.extend(_absence(known, place, at))
            continue
        maker = PlaceMaker(known, place, at, span, (own, *levels), decoder, shape.id)
        for index, made in maker.places().items():
            places[index].append(made)
    if absences and len(absences) == len(shape.place):
        known.faults.add(
            (*path, "place"), "every place says that it is not there.", "Say where it lives."
        )
    maps = assignment_of(known, shape, path)
    if any(_most_at_once(found) > BESIDE for found in places.values() if len(found) > BESIDE):
        known.faults.add(
            (*path, "place"),
            f"more than {BESIDE} places hold at one firmware.",
            "Give each the firmware that it holds for.",
        )
    return [
        Setting(
            indexed(shape.id, index),
            numbered(shape.title, index),
            tuple(found),
            numbered(shape.help, index),
            absences=tuple(absences),
            maps=maps.at(index) if maps is not None else None,
        )
        for index, found in places.items()
        if found
    ]


def assignment_of(known: Known, shape: SettingShape, path: Path) -> Assignment | None:
    """How the values of a setting assign keys; an index that nothing repeats is noted."""
    said = shape.maps
    if said is None:
        return None
    if shape.repeat is None and INDEX in (said.key, said.output):
        known.faults.add((*path, "maps"), "nothing repeats that n could stand for.", "Number it.")
    given = {name: value for name, value in said if value is not None}
    if said.output == BITS and said.first is None:
        given["first"] = 1
    return Assignment(**given | {"none": tuple(said.none or ())})


def _most_at_once(places: Sequence[Place]) -> int:
    """How many places hold at the firmware at which most do."""
    spans = [span for place in places for span in place.firmware.spans]
    ends = sorted(end for _, end in spans if end is not None)
    starts = enumerate(sorted(start for start, _ in spans), 1)
    return max((at - bisect_right(ends, start) for at, start in starts), default=0)


def _absence(known: Known, shape: AbsentPlace, path: Path) -> Iterator[Absence]:
    """What documents say of a setting that they do not have."""
    citations = cited(known, shape.sources, (*path, "sources"))
    narrowing = firmware_of(known, shape.firmware, (*path, "firmware"))
    if narrowing is None:
        return
    if citations and not known.documents(citations):
        known.faults.add(
            (*path, "sources"),
            "no document says that it is not there.",
            "Name the document with its page; what a test saw is a verdict on a place.",
        )
    yield Absence(citations, narrowing if shape.firmware is not None else None)


def span_of(known: Known, shape: SettingShape, path: Path) -> Span:
    """The repeat of a setting; a repeat and ``[n]`` in the id go together."""
    marks = shape.id.count("[n]")
    if shape.repeat is None:
        if marks:
            known.faults.add(
                (*path, "id"),
                "the id has [n], but nothing repeats.",
                'Give "repeat", or leave [n] out.',
            )
        return Span()
    if marks != 1:
        known.faults.add(
            (*path, "repeat"),
            "a setting that repeats needs [n] once in its id.",
            'Write the id as in "output[n].brightness".',
        )
        return Span()
    return Span(shape.repeat.first, shape.repeat.count, shape.repeat.step)


def rules_of(known: Known, shapes: Iterable[RuleShape], around: Path) -> tuple[Rule, ...]:
    """The rules in the order of the file; ``around`` is the path of their list."""
    made: dict[str, RuleShape] = {}
    rules: list[Rule] = []
    for at, shape in enumerate(shapes):
        path = (*around, at)
        if shape.id in made:
            known.faults.twice((*path, "id"), "the rule", shape.id)
        firmware = None
        if shape.firmware is not None:
            firmware = firmware_of(known, shape.firmware, (*path, "firmware"))
        made[shape.id] = shape
        indexes = recurrence(shape.repeat).indexes()
        rules.extend(_rule(shape, firmware, index) for index in indexes)
    return tuple(rules)


def recurrence(repeat: Recurrence | None) -> Span:
    """The indexes for which a rule holds."""
    return Span(repeat.first, repeat.count) if repeat else Span()


def _rule(shape: RuleShape, firmware: FirmwareRange | None, index: int | None) -> Rule:
    def named(settings: Iterable[str]) -> tuple[str, ...]:
        return tuple(indexed(setting, index) for setting in settings)

    return Rule(
        shape.id if index is None else f"{shape.id}[{index}]",
        shape.severity,
        numbered(shape.text, index),
        numbered(shape.repair, index),
        shape.source,
        firmware,
        _conditions(shape.if_, index),
        _conditions(shape.requires, index),
        _conditions(shape.conflicts, index),
        named(shape.order or ()),
        tuple(shape.ignore or ()),
        named(shape.sum.of if shape.sum else ()),
        shape.sum.max if shape.sum else None,
        bool(shape.trap),
    )


def _conditions(given: list[ConditionShape] | None, index: int | None) -> tuple[Condition, ...]:
    return tuple(
        Condition(indexed(one.setting, index), test, operand)
        for one in given or ()
        for test, operand in _tests(one, index)
    )


def _tests(shape: ConditionShape, index: int | None) -> Iterator[tuple[Test, tuple[Written, ...]]]:
    """The one test of a condition."""
    yield from tests_of(shape)
    if shape.factory is not None:
        yield Test.FACTORY, tuple(shape.factory)
    other = None if shape.same_as is None else indexed(shape.same_as, index)
    single: dict[Test, int | bool | str | None] = {
        Test.MIN: shape.min,
        Test.MAX: shape.max,
        Test.LEGAL: shape.legal,
        Test.SHAPE: shape.shape,
        Test.SAME_AS: other,
    }
    for test, value in single.items():
        if value is not None:
            yield test, (value,)
