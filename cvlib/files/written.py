"""Settings of the model written down as tables of a profile file."""

from __future__ import annotations

from collections.abc import Collection, Iterable
from dataclasses import fields
from decimal import Decimal
from typing import Any

from cvlib.model.assignment import Assignment
from cvlib.model.coding import Area, Choice, Coding, Fields, Flags, Number, Parts
from cvlib.model.coding_many import Address, Curve, Text
from cvlib.model.conditions import When
from cvlib.model.named import span_table
from cvlib.model.profile import Absence, Citation, DefaultCase, Place, Setting, Source
from cvlib.model.ranges import FirmwareRange
from cvlib.model.units import Factor, factor_text

RUN = 4
"""CVs in a row from how many on they are written as a span."""


def written_setting(setting: Setting, sources: Collection[str]) -> dict[str, Any]:
    """The table of a setting; only the citations of the given sources are kept."""
    made: dict[str, Any] = {"id": setting.id, "title": setting.title}
    if setting.help:
        made["help"] = setting.help
    if setting.risk is not None:
        made["risk"] = sorted(mark.value for mark in setting.risk)
    if setting.topic is not None:
        made["topic"] = setting.topic.value
    if setting.maps is not None:
        said = {one.name: getattr(setting.maps, one.name) for one in fields(setting.maps)}
        made["maps"] = {
            name.replace("_", "-"): list(held) if isinstance(held, tuple) else held
            for name, held in said.items()
            if held != getattr(Assignment(), name)
        }
    places = [written_place(place, sources) for place in setting.places]
    return {**made, "place": [*places, *(_absence(one) for one in setting.absences)]}


def _absence(absence: Absence) -> dict[str, Any]:
    """What documents say of a setting that is not there."""
    made: dict[str, Any] = {"absent": True}
    if absence.narrowing is not None:
        made["firmware"] = written_firmware(absence.narrowing)
    return {**made, "sources": [written_citation(one) for one in absence.citations]}


def written_place(place: Place, sources: Collection[str]) -> dict[str, Any]:
    """The table of a place."""
    made: dict[str, Any] = {}
    if place.narrowing is not None:
        made["firmware"] = written_firmware(place.narrowing)
    made |= _where(place)
    made |= {"kind": place.coding.kind, **_coding(place)}
    if place.cases:
        made["default"] = [_case(place.coding, case) for case in place.cases]
    if place.default is not None:
        made["default"] = _default(place.coding, place.default)
    for mark in fields(place.marks):
        held = getattr(place.marks, mark.name)
        if held:
            made[mark.name.replace("_", "-")] = held
    made |= _when(place.when)
    cited = [written_citation(one) for one in place.citations if one.source in sources]
    if cited:
        made["sources"] = cited
    if place.note:
        made["note"] = place.note
    return made


def narrowed(firmware: FirmwareRange | None, documents: Iterable[Source]) -> FirmwareRange | None:
    """The firmware to which a place that calls on documents has to be narrowed.

    Nothing where none is given, and where they speak for no other firmware anyway.
    """
    held = [one.firmware for one in documents]
    if firmware is None or (held and all((one - firmware).is_empty() for one in held)):
        return None
    return firmware


def _when(conditions: tuple[When, ...]) -> dict[str, Any]:
    when = [{"setting": one.setting, one.test.value: list(one.values)} for one in conditions]
    return {"when": when if len(when) > 1 else when[0]} if when else {}


def _case(coding: Coding, case: DefaultCase) -> dict[str, Any]:
    return {**_when(case.when), "value": _default(coding, case.parts)}


def written_firmware(firmware: FirmwareRange) -> str | list[str]:
    """A range as a file gives it: one text, or a list of several."""
    texts = firmware.text().split(" or ")
    return texts if len(texts) > 1 else texts[0]


def written_citation(citation: Citation) -> str | dict[str, Any]:
    """A source called on: in short, or as a table where it has a verdict or a note."""
    if citation.verdict is None and not citation.note:
        return str(citation)
    made: dict[str, Any] = {"source": citation.source}
    if citation.verdict is not None:
        made["verdict"] = citation.verdict.value
    if citation.page:
        made["page"] = citation.page
    return {**made, "note": citation.note} if citation.note else made


def _where(place: Place) -> dict[str, Any]:
    if not place.fields:
        return {"built-in": True}
    first = place.fields[0]
    made: dict[str, Any] = {"cv": first.slot.cv}
    if len(place.fields) > 1:
        made = {"cvs": _numbers([field.slot.cv for field in place.fields])}
    if place.also_at is not None:
        made["also-at"] = place.also_at
    if first.slot.page is not None:
        made["page"] = str(first.slot.page)
    if first.bits is not None:
        made["bits"] = first.bits
    return made


def _numbers(numbers: list[int]) -> str | list[int]:
    if len(numbers) >= RUN and numbers == list(range(numbers[0], numbers[-1] + 1)):
        return f"{numbers[0]}-{numbers[-1]}"
    return numbers


def _coding(place: Place) -> dict[str, Any]:
    coding = place.coding
    match coding:
        case Number():
            return _number(coding)
        case Choice(choices=spans):
            return {"choices": span_table(spans)}
        case Flags(flags=flags):
            shift = place.fields[0].shift if len(place.fields) == 1 else 0
            return {"flags": {str(bit + shift): name for bit, name in flags}}
        case Address():
            return {"form": coding.form.value, "range": [coding.low, coding.high]}
        case Curve(low=low, high=high):
            sign = {"sign": coding.sign.value} if coding.sign else {}
            return {"range": [low, high], **sign}
        case Area(use=use):
            return {"use": use}
        case Fields(names=spans) if spans:
            return {"values": span_table(spans)}
        case _:
            return {}


def _number(coding: Number) -> dict[str, Any]:
    made: dict[str, Any] = {"range": [coding.low, coding.high]}
    if coding.sign is not None:
        made["sign"] = coding.sign.value
    if coding.scale != 1:
        made["scale"] = _figure(coding.scale)
    if coding.offset:
        made["offset"] = _figure(coding.offset)
    if coding.unit:
        made["unit"] = coding.unit
    if coding.refers_to:
        made["refers-to"] = coding.refers_to
    if coding.names:
        made["values"] = span_table(coding.names)
    if coding.measure is not None:
        made["measure"] = coding.measure.value
    return made


def _figure(figure: Factor) -> int | Decimal | str:
    """A figure as a file gives it; a fraction where no decimal of the format stands for it."""
    if figure == int(figure):
        return int(figure)
    is_short = isinstance(figure, Decimal) and figure == round(figure, 9)
    return figure if isinstance(figure, Decimal) and is_short else factor_text(figure)


def _default(coding: Coding, parts: Parts) -> Any:
    """The raw value as a file gives it."""
    match coding:
        case Curve():
            return list(coding.points(parts))
        case Text():
            value = coding.decode(parts).value
            return value if isinstance(value, str) else list(parts)
        case Address() if len(parts) > 1:
            return list(parts)
        case Number():
            return coding.signed(coding.join(parts))
        case Choice():
            return coding.decode(parts).name or coding.join(parts)
        case _:
            return coding.join(parts)
