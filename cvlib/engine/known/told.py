"""What places, values and claims come to in words: the facts that findings carry."""

from __future__ import annotations

from collections.abc import Iterable, Iterator

from cvlib.engine.known.resolve import Resolver
from cvlib.findings.finding import Told
from cvlib.model.answer import Answer
from cvlib.model.coding import Area, Number, Parts, SignForm
from cvlib.model.coding_many import Address, Curve
from cvlib.model.cv import Slot, bit_words, spans_text
from cvlib.model.profile import Place, Setting
from cvlib.model.units import factor_text, with_unit


def where_text(place: Place) -> str:
    """Where a place is, in words: ``CV 141``, ``CVs 67-94``, ``bits 0-3 of CV 29``."""
    if not place.fields:
        return "fixed when the decoder was built"
    numbers = [field.slot.cv for field in place.fields]
    first = place.fields[0]
    pages = {field.slot.page for field in place.fields if field.slot.page is not None}
    on_page = f" on page {', '.join(map(str, sorted(pages)))}" if pages else ""
    if len(numbers) == 1:
        name = f"CV {numbers[0]}{on_page}"
        if first.bits is None:
            return name
        return f"{bit_words(first.mask)} of {name}"
    rising = numbers == sorted(numbers)
    shown = spans_text(tuple(numbers)) if rising else ", ".join(map(str, numbers))
    return f"CVs {shown}{on_page}"


def coding_text(place: Place) -> str:
    """How a value is coded at a place, in words, to tell two codings of one setting apart."""
    coding = place.coding
    parts = [f"{coding.kind} {coding.legal()}"]
    if isinstance(coding, Address):
        parts[0] = f"{coding.form} {parts[0]}"
    if isinstance(coding, Number):
        parts.extend(_number_texts(coding))
    if isinstance(coding, Curve):
        parts.extend(_sign_text(coding.sign))
    return ", ".join(parts)


def _number_texts(coding: Number) -> Iterator[str]:
    if coding.scale != 1:
        yield f"in steps of {factor_text(coding.scale)} {coding.unit}".rstrip()
    elif coding.unit:
        yield f"in {coding.unit}"
    if coding.offset:
        yield f"0 stands for {with_unit(coding.offset, coding.unit)}"
    yield from _sign_text(coding.sign)
    if coding.measure is not None:
        yield f"by the {coding.measure} formula"
    if coding.refers_to:
        yield coding.refers_to


def _sign_text(sign: SignForm | None) -> Iterator[str]:
    if sign is not None:
        yield "minus by the highest bit" if sign is SignForm.BIT else "in two's complement"


def tell(setting: Setting, place: Place, parts: Parts | None = None, firmware: str = "") -> Told:
    """A setting at one of its places, with the meaning of a value where one is given."""
    reading = None if parts is None else place.coding.decode(parts)
    value = "" if reading is None else reading.text
    if value and place.marks.unused:
        value = f"nothing: {place.marks.unused}"
    return Told(
        setting.id,
        setting.title,
        where_text(place),
        value,
        coding_text(place),
        firmware,
        reading is None or reading.fault is None,
        _keeper(place),
    )


def _keeper(place: Place) -> str:
    """Who keeps a value that no person sets."""
    marks, coding = place.marks, place.coding
    if marks.reserved or (isinstance(coding, Area) and coding.use == "reserved"):
        return "reserved"
    if marks.unused:
        return "nobody"
    return "decoder" if marks.is_own else ""


def tell_answer(resolver: Resolver, answer: Answer) -> tuple[Told, ...]:
    """Where a setting lives by an answer: once, not at all, or at each disputed candidate."""
    setting = resolver.profile.settings[answer.setting]
    return tuple(
        tell(setting, place, firmware=resolver.effective(setting, place).text())
        for place in answer.places()
    )


def tell_uses(resolver: Resolver, names: Iterable[str], slot: Slot, mask: int) -> tuple[Told, ...]:
    """The settings of any firmware that use some bits, with the firmware they do so in."""
    found: list[Told] = []
    for name in names:
        setting = resolver.profile.settings[name]
        for place in setting.places:
            if any(field.slot == slot and field.mask & mask for field in place.fields):
                firmware = resolver.known(setting, place).text()
                found.append(tell(setting, place, firmware=firmware))
    return tuple(found)
