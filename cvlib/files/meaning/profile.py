"""From a profile file to the profile's own part: all but what it takes over from elsewhere."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace

from cvlib.errors import InputError
from cvlib.files.bounds import STEPS
from cvlib.files.faults import Faults, Path
from cvlib.files.meaning.places import Known, cited, firmware_of
from cvlib.files.meaning.settings import rules_of, settings_of
from cvlib.files.shapes.base import Day
from cvlib.files.shapes.evidence import (
    AdvisoryShape,
    Answered,
    AnySource,
    IdentityShape,
    PagesShape,
    PartShape,
    QuestionShape,
    ReleaseShape,
    WrittenSource,
)
from cvlib.files.shapes.profile import ProfileFile
from cvlib.model import profile as model
from cvlib.model.cv import WHOLE, Field, Slot, bits_text, make_slot, parse_bits, parse_page
from cvlib.model.ranges import FirmwareRange, in_order
from cvlib.model.versions import FirmwareVersion, Scheme, parse_version


def own_part(known: Known, file: ProfileFile) -> model.Profile:
    """The profile without what it follows; faults are noted."""
    decoder = file.decoder
    level = cited(known, decoder.sources, ("decoder", "sources"), is_general=True)
    return model.Profile(
        id=decoder.id,
        maker=decoder.maker,
        name=decoder.name,
        kind=decoder.kind,
        scheme=known.scheme,
        settings=settings_of(
            known, file.setting, ("setting",), (), level, decoder.risk, file.risk, file.topic
        ),
        sources=known.sources,
        identity=_identity(known, file.identity or IdentityShape.model_validate({})),
        parts=_parts(known, file.firmware.parts),
        releases=_releases(known, file.firmware.release),
        pages=tuple(_pages(known, file.page)),
        rules=rules_of(known, file.rule, ("rule",)),
        advisories=_advisories(known, file.advisory),
        questions=_questions(known, file.question),
        note=decoder.note,
    )


def _day(given: Day | None) -> str:
    return given.isoformat() if given else ""


def sources_of(known: Known, shapes: Iterable[AnySource]) -> dict[str, model.Source]:
    """The sources by id, each with the extent and the subjects that it has from what it repeats."""
    made: dict[str, model.Source] = {}
    written: dict[str, AnySource] = {}
    for at, shape in enumerate(shapes):
        path: Path = ("source", at)
        if shape.id in made:
            known.faults.twice((*path, "id"), "the source", shape.id)
        firmware = firmware_of(known, shape.firmware, (*path, "firmware"))
        if firmware is None:
            continue
        if shape.kind == "bench" and not _is_exact(shape.firmware):
            known.faults.add(
                (*path, "firmware"),
                "a bench test speaks for the firmware it was made on, not for a range.",
                'Write that version, such as "==2.9.201".',
            )
        made[shape.id] = model.Source(
            shape.id,
            model.SourceKind(shape.kind),
            shape.title,
            firmware,
            _day(shape.date),
            tuple(shape.about or ()),
            shape.where,
            shape.note,
            *_relations(shape),
        )
        written[shape.id] = shape
    for at, shape in enumerate(shapes):
        if isinstance(shape, WrittenSource):
            for key in ("reissues", "replaces"):
                _follow(known, made, ("source", at, key), shape.id, key)
    return {id: _inherited(made, written, source) for id, source in made.items()}


def _relations(shape: AnySource) -> tuple[model.Extent, str, str, tuple[str, ...]]:
    """How a source stands to other documents, and to settings."""
    if not isinstance(shape, WrittenSource):
        return model.Extent.CITED, "", "", ()
    extent = model.Extent(shape.extent or "cited")
    return extent, shape.reissues or "", shape.replaces or "", tuple(shape.without or ())


def _follow(known: Known, made: dict[str, model.Source], path: Path, id: str, key: str) -> None:
    """Note a source that repeats or replaces what is no document, or in a circle itself.

    Such a relation is left out, so that the rest can be looked at.
    """
    source = made.get(id)
    named = getattr(source, key, "")
    if source is None or not named:
        return
    seen, step = [id], named
    while step and step not in seen and len(seen) <= STEPS:
        seen.append(step)
        step = getattr(made.get(step), key, "")
    documents = [one.id for one in made.values() if one.is_document]
    if named not in documents:
        known.faults.unknown(path, "document", named, documents)
    elif step == id:
        way = f", by way of {seen[-1]}" if len(seen) > 1 else ""
        known.faults.add(path, f'"{id}" {key} itself{way}.', "Leave one of the steps out.")
    elif len(seen) > STEPS:
        what = f'"{id}" {key} another, and so on over more than {STEPS} documents.'
        known.faults.add(path, what, "Name the first of them that says all of it.")
    else:
        return
    made[id] = replace(source, reissues="") if key == "reissues" else replace(source, replaces="")


def _inherited(
    made: dict[str, model.Source], written: dict[str, AnySource], source: model.Source
) -> model.Source:
    """A source with what it has from the document it repeats, where it says nothing itself."""
    shape = written[source.id]
    if not source.reissues or not isinstance(shape, WrittenSource):
        return source
    older = _inherited(made, written, made[source.reissues])
    return replace(
        source,
        extent=source.extent if shape.extent is not None else older.extent,
        about=source.about if shape.about is not None else older.about,
    )


def _is_exact(texts: Iterable[str]) -> bool:
    return all(text.strip().startswith("==") and "," not in text for text in texts)


def _identity(known: Known, shape: IdentityShape) -> model.Identity:
    answers: list[model.Answered] = []
    for at, one in enumerate(shape.answers):
        path: Path = ("identity", "answers", at)
        slot = slot_of(known.faults, path, one.cv, one.page)
        firmware = None
        if one.firmware is not None:
            firmware = firmware_of(known, one.firmware, (*path, "firmware"))
        mask = _mask(known.faults, path, one.bits)
        if slot is not None and mask is not None:
            highest = mask >> Field(slot, mask).shift
            for low, high in _spans(known.faults, path, one, highest):
                answers.append(model.Answered(slot, low, high, firmware, mask))
    return model.Identity(shape.manufacturer, tuple(answers), tuple(shape.no_answer))


def _mask(faults: Faults, path: Path, text: str | None) -> int | None:
    """The bits that a text names, or all of them; nothing where they do not lie together."""
    if text is None:
        return WHOLE
    mask = faults.tried((*path, "bits"), parse_bits, text)
    if mask and "," in bits_text(mask):
        faults.add(
            (*path, "bits"),
            f'the bits "{text}" do not lie together.',
            'Write one span, such as "0-3".',
        )
        return None
    return mask


def _spans(faults: Faults, path: Path, shape: Answered, highest: int) -> list[tuple[int, int]]:
    """The spans of values that an answer may have; ``highest`` is the most its bits can hold."""
    if shape.range is not None:
        low, high = shape.range
        if not 0 <= low <= high <= highest:
            faults.add(
                (*path, "range"),
                f"{low} to {high} is no range of CV values.",
                f"Write the lower end first, both from 0 to {highest}.",
            )
        return [(low, high)]
    values = shape.values or ([] if shape.value is None else [shape.value])
    if any(value > highest for value in values):
        faults.add(
            (*path, "value" if shape.values is None else "values"),
            f"{max(values)} is more than the bits hold.",
            f"Give the value of the bits alone, from 0 to {highest}.",
        )
    spans: list[tuple[int, int]] = []
    for value in sorted(set(values)):
        if spans and spans[-1][1] == value - 1:
            spans[-1] = (spans[-1][0], value)
        else:
            spans.append((value, value))
    return spans


def slot_of(faults: Faults, path: Path, cv: int, page: str | None) -> Slot | None:
    """The CV on its page, if both are possible."""
    if page is None:
        return Slot(cv)
    parsed = faults.tried((*path, "page"), parse_page, page)
    return parsed and faults.tried((*path, "page"), make_slot, cv, parsed)


def _parts(known: Known, shapes: Iterable[PartShape]) -> tuple[model.VersionPart, ...]:
    made = []
    for at, shape in enumerate(shapes):
        path: Path = ("firmware", "parts", at)
        slot = slot_of(known.faults, path, shape.cv, shape.page)
        mask: int | None = WHOLE
        if shape.bits is not None:
            mask = known.faults.tried((*path, "bits"), parse_bits, shape.bits)
        if slot is not None and mask is not None:
            made.append(model.VersionPart(Field(slot, mask), shape.digit or ""))
    return tuple(made)


def _releases(known: Known, shapes: list[ReleaseShape]) -> tuple[model.Release, ...]:
    made: dict[FirmwareVersion, model.Release] = {}
    known_labels: set[str] = set()
    for at, shape in enumerate(shapes):
        path: Path = ("firmware", "release", at)
        version = known.faults.tried((*path, "version"), parse_version, shape.version, known.scheme)
        if version is None:
            continue
        if version in made:
            known.faults.twice((*path, "version"), "the release", shape.version)
        label, *more = shape.label or ("",)
        for number, text in enumerate(shape.label or ()):
            if text.casefold() in known_labels:
                known.faults.twice((*path, "label", number), "the label", text)
            known_labels.add(text.casefold())
        answers = tuple((one.cv, one.value) for one in shape.answers)
        made[version] = model.Release(
            version, _day(shape.date), label, answers, shape.note, tuple(more)
        )
    for at, shape in enumerate(shapes):
        for number, text in enumerate(shape.label or ()):
            if _names_another(text, shape.version, known.scheme, made):
                known.faults.add(
                    ("firmware", "release", at, "label", number),
                    f'the label "{text}" is the version of another release.',
                    "Choose a label that cannot be taken for a version.",
                )
    return tuple(made[version] for version in in_order(made))


def _names_another(
    label: str, own: str, scheme: Scheme, made: dict[FirmwareVersion, model.Release]
) -> bool:
    try:
        named = parse_version(label, scheme)
        return named in made and named != parse_version(own, scheme)
    except InputError:
        return False


def _pages(known: Known, shapes: Iterable[PagesShape]) -> Iterable[model.IndexPages]:
    for at, shape in enumerate(shapes):
        spans = []
        for part in shape.pages.split("/"):
            low, _, high = part.partition("-")
            spans.append((int(low), int(high or low)))
        if any(not low <= high <= WHOLE for low, high in spans):
            known.faults.add(
                ("page", at, "pages"),
                f'"{shape.pages}" is no span of index pages.',
                "Write numbers 0-255, the lower one first.",
            )
        yield model.IndexPages(spans[0], spans[1], shape.use, shape.title)


def _advisories(known: Known, shapes: Iterable[AdvisoryShape]) -> tuple[model.Advisory, ...]:
    made: dict[str, model.Advisory] = {}
    for at, shape in enumerate(shapes):
        path: Path = ("advisory", at)
        if shape.id in made:
            known.faults.twice((*path, "id"), "the advisory", shape.id)
        firmware = firmware_of(known, shape.firmware, (*path, "firmware"))
        made[shape.id] = model.Advisory(
            shape.id,
            firmware or FirmwareRange.nothing(known.scheme),
            shape.text,
            shape.do,
            tuple(shape.about or ()),
            cited(known, shape.sources, (*path, "sources")),
        )
    return tuple(made.values())


def _questions(known: Known, shapes: Iterable[QuestionShape]) -> tuple[model.Question, ...]:
    made: dict[str, model.Question] = {}
    for at, shape in enumerate(shapes):
        path: Path = ("question", at)
        if shape.id in made:
            known.faults.twice((*path, "id"), "the question", shape.id)
        firmware = None
        if shape.firmware is not None:
            firmware = firmware_of(known, shape.firmware, (*path, "firmware"))
        made[shape.id] = model.Question(
            shape.id,
            shape.text,
            shape.settle,
            _day(shape.date),
            tuple(shape.about or ()),
            firmware,
        )
    return tuple(made.values())
