"""Places in words and as data: where a setting lives, its values, its default, its marks."""

from __future__ import annotations

from fractions import Fraction

from cvlib.engine.known.told import where_text
from cvlib.model.answer import Answer
from cvlib.model.coding import (
    Area,
    Choice,
    Coding,
    Fields,
    Flags,
    Number,
    Parts,
    Switch,
)
from cvlib.model.coding_many import Address, Curve
from cvlib.model.conditions import Test, When
from cvlib.model.cv import Slot
from cvlib.model.facet import Facet
from cvlib.model.named import NamedSpan, span_table
from cvlib.model.profile import Citation, DefaultCase, Place, Profile
from cvlib.model.units import SHORT, Factor, factor_text, in_steps
from cvlib.render.phrases import listed
from cvlib.render.views.why import citation_data

Data = dict[str, object]

SHORT_LIST = 8
"""Values of a curve up to which each is shown."""


def values_text(coding: Coding) -> str:
    """The values a place allows, in the unit that they mean: ``0 to 510 cm``, ``off, on``."""
    match coding:
        case Number():
            return _number_text(coding)
        case Switch():
            return "off, on"
        case Choice(choices=spans):
            return ", ".join(map(_span_text, spans))
        case Flags():
            shift = ", ".join(name for _, name in coding.flags)
            return f"each on or off: {shift}"
        case Curve(low=low, high=high):
            return f"{len(coding.widths)} values, each {low} to {high}"
        case Area(use=use):
            return use
        case Fields(names=spans):
            return ", ".join(["its bits are settings of their own", *map(_span_text, spans)])
        case Address(low=low, high=high):
            return f"{low} to {high}"
        case _:
            return coding.legal()


def default_text(place: Place, parts: Parts | None = None) -> str:
    """What a factory reset leaves, in a few words; empty where nobody says.

    Where it depends on other settings and ``parts`` do not say which it is, every case.
    """
    if place.cases and parts is None:
        return "; ".join(_case_text(place.coding, case) for case in place.cases)
    known = place.default if parts is None else parts
    return "" if known is None else _default_text(place.coding, known)


def _case_text(coding: Coding, case: DefaultCase) -> str:
    value = _default_text(coding, case.parts)
    if not case.when:
        return f"{value} otherwise"
    return f"{value} while {listed([_condition_text(one) for one in case.when])}"


def _default_text(coding: Coding, parts: Parts) -> str:
    if isinstance(coding, Number):
        raw = coding.signed(coding.join(parts))
        reading = coding.decode(parts)
        figure = coding.figure(raw)
        return f"{figure} ({reading.name})" if reading.name else figure
    if isinstance(coding, Curve) and len(parts) > SHORT_LIST:
        points = coding.points(parts)
        return f"{points[0]} to {points[-1]}"
    return coding.decode(parts).text


def when_text(when: tuple[When, ...]) -> str:
    """The conditions of a place: ``only while output[1].type is coil or servo``."""
    if not when:
        return ""
    return f"only while {listed([_condition_text(one) for one in when])}"


def when_data(when: tuple[When, ...]) -> list[Data]:
    """The conditions of a place as data: the setting and one of is, not, has and lacks."""
    return [{"setting": one.setting, one.test.value: list(one.values)} for one in when]


def _condition_text(one: When) -> str:
    last = "or" if one.test in (Test.IS, Test.NOT) else "and"
    test = "is not" if one.test is Test.NOT else one.test.value
    return f"{one.setting} {test} {listed(list(map(_written, one.values)), last=last)}"


def marks_text(place: Place) -> str:
    """What else is true of a place, as a list of words."""
    marks = place.marks
    said = {
        "read-only": marks.read_only,
        "volatile": marks.volatile,
        "kept by the decoder": marks.internal,
        "reserved": marks.reserved,
        f"unused: {marks.unused}": marks.unused,
    }
    return ", ".join(words for words, holds in said.items() if holds)


def standing_word(answer: Answer) -> str:
    """How well an answer is known; empty for areas, of which nobody has to say anything."""
    places = answer.places()
    if places and all(isinstance(place.coding, Area) for place in places):
        return ""
    return answer.standing.value


def slot_data(slot: Slot) -> Data:
    """A CV and its page."""
    return {"cv": slot.cv, "page": str(slot.page or "")}


def place_data(place: Place) -> Data:
    """A place as data: raw values, as a profile writes them."""
    fields, coding, marks = place.fields, place.coding, place.marks
    page = fields[0].slot.page if fields else None
    return {
        "where": where_text(place),
        "cvs": [field.slot.cv for field in fields],
        "page": str(page) if page else "",
        "bits": (fields[0].bits or "") if fields else "",
        "also_at": place.also_at,
        "built_in": not fields,
        "kind": coding.kind,
        **_coding_data(place),
        "default": None if place.default is None else raw_data(coding, place.default),
        "default_cases": [
            {"when": when_data(case.when), "default": raw_data(coding, case.parts)}
            for case in place.cases
        ],
        "default_text": default_text(place),
        "read_only": marks.read_only,
        "volatile": marks.volatile,
        "internal": marks.internal,
        "reserved": marks.reserved,
        "uniform": marks.uniform,
        "unused": marks.unused,
        "requirement": marks.requirement,
        "when": when_data(place.when),
        "note": place.note,
    }


def sources_data(profile: Profile, answer: Answer, place: Place | None) -> list[Data]:
    """The sources of a place, those named further out only where they speak at this firmware."""
    return [citation_data(profile, one) for one in telling_citations(answer, place)]


def telling_citations(answer: Answer, place: Place | None) -> tuple[Citation, ...]:
    """What is called on for a place itself, and what the answer rests on."""
    heard = answer.trace.citations
    if place is None or answer.is_disputed:
        own = place.citations if place is not None else ()
        return tuple(one for one in own if not one.is_general) or heard
    own = tuple(one for one in place.citations if not one.is_general)
    return tuple(dict.fromkeys((*own, *heard)))


def open_data(answer: Answer) -> list[Data]:
    """What of an answer is not known, with what each side says of it."""
    return [
        {"facet": facet.value, "sides": list(dict.fromkeys(map(words, answer.sides)))}
        for facet, words in _LEFT_OPEN.items()
        if facet in answer.open
    ]


def open_text(answer: Answer) -> str:
    """The same in words: ``default not known: 10 or 200``."""
    told = []
    for facet, words in _LEFT_OPEN.items():
        if facet in answer.open:
            sides = dict.fromkeys(words(side) or "none" for side in answer.sides)
            told.append(f"{facet} not known: {' or '.join(sides)}")
    return "; ".join(told)


_LEFT_OPEN = {Facet.DEFAULT: default_text, Facet.MARKS: marks_text}
"""What two sides of a gap may differ in without a dispute, each with its words."""


def raw_data(coding: Coding, parts: Parts) -> int | list[int]:
    """A raw value as data: one number for a single CV, with its sign; a list for several."""
    if isinstance(coding, Curve):
        return list(coding.points(parts))
    if len(parts) != 1:
        return list(parts)
    return coding.signed(parts[0]) if isinstance(coding, Number) else parts[0]


def _coding_data(place: Place) -> Data:
    coding = place.coding
    data: Data = dict.fromkeys(
        ("form", "scale", "offset", "sign", "measure", "values", "choices", "flags", "use")
    )
    data |= {"range": _range(coding), "unit": "", "refers_to": ""}
    match coding:
        case Number():
            data["scale"], data["offset"] = _figure(coding.scale), _figure(coding.offset)
            data["unit"], data["refers_to"] = coding.unit, coding.refers_to
            data["sign"] = coding.sign.value if coding.sign else None
            data["measure"] = coding.measure.value if coding.measure else None
            data["values"] = span_table(coding.names)
        case Choice(choices=spans):
            data["choices"] = span_table(spans)
        case Flags():
            shift = place.fields[0].shift if len(place.fields) == 1 else 0
            data["flags"] = {str(bit + shift): name for bit, name in coding.flags}
        case Curve():
            data["sign"] = coding.sign.value if coding.sign else None
        case Address():
            data["form"] = coding.form.value
        case Area():
            data["use"] = coding.use
        case Fields(names=spans) if spans:
            data["values"] = span_table(spans)
    return data


def _range(coding: Coding) -> list[int] | None:
    """The lowest and highest raw value; nothing for texts and areas."""
    match coding:
        case Number(low=low, high=high) | Curve(low=low, high=high) | Address(low=low, high=high):
            return [low, high]
        case Choice(choices=spans):
            return [min(s.low for s in spans), max(s.high for s in spans)] if spans else None
        case Switch():
            return [0, 1]
        case Area():
            return None
        case Flags() | Fields():
            return [0, (1 << sum(coding.widths)) - 1]
        case _:
            return None


def _number_text(coding: Number) -> str:
    return ", ".join([_range_text(coding), *map(_span_text, coding.names)])


def _range_text(coding: Number) -> str:
    """The range in engineering values with the step; raw where a formula gives the meaning."""
    step, exact = factor_text(coding.step), Fraction(coding.scale)
    is_long = "/" in step or len(step) > SHORT
    if coding.measure:
        text = f"{coding.low} to {coding.high}"
    elif is_long and exact.numerator == 1 and not coding.offset:
        whole = exact.denominator
        text = f"{coding.low}/{whole} to {coding.high}/{whole} {coding.unit}".rstrip()
    else:
        low = in_steps(coding.scaled(coding.low), coding.scale, "")
        text = f"{low} to {coding.figure(coding.high)}"
        text += f" in steps of {step}" if step != "1" else ""
    return f"{text}, {coding.refers_to}" if coding.refers_to else text


def _span_text(span: NamedSpan) -> str:
    raw = str(span.low) if span.low == span.high else f"{span.low}-{span.high}"
    return f"{raw} = {span.name}"


def _figure(figure: Factor) -> int | float:
    return int(figure) if figure == int(figure) else float(figure)


def _written(value: object) -> str:
    if isinstance(value, bool):
        return "on" if value else "off"
    return str(value)
