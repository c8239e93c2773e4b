"""CV values in words, a bit at a time, and what lives on a CV, at one firmware."""

from __future__ import annotations

from collections.abc import Hashable, Iterator, Mapping
from dataclasses import dataclass, replace
from decimal import Decimal

from cvlib.engine.account.claims import Basis, Claim, Layout, Owner, canonical
from cvlib.engine.account.verdicts import stray_mask
from cvlib.engine.explain.sums import page_title
from cvlib.engine.known.resolve import Resolver
from cvlib.engine.known.told import coding_text, where_text
from cvlib.errors import problem
from cvlib.model import formulas
from cvlib.model.answer import Answer, Standing
from cvlib.model.coding import Area, Fields, Number, Parts, Reading, ValueFault
from cvlib.model.coding_many import Curve
from cvlib.model.conditions import When
from cvlib.model.cv import WHOLE, Field, Slot, bits_text
from cvlib.model.profile import Place, Setting
from cvlib.model.units import Measure, measured, plain, with_unit
from cvlib.model.versions import FirmwareVersion

_OTHER = {"Hz": ("kHz", Decimal("0.001")), "kHz": ("Hz", Decimal(1000))}
SPEED_TABLE = "speed.table"
"""The standards' setting of 28 steps (CVs 67-94), of which an entry is a share of full drive."""


@dataclass(frozen=True, slots=True)
class Meaning:
    """What some bits of a CV mean, or may mean."""

    mask: int
    raw: int
    """What stands in the bits, shifted down."""
    basis: Basis
    setting: str = ""
    title: str = ""
    """The setting's or area's title, or the use of the index page; empty where nobody knows."""
    value: str = ""
    """The value in words; empty where a CV or the deciding setting is missing."""
    where: str = ""
    legal: str = ""
    help: str = ""
    use: str = ""
    """Of an area: reserved, manufacturer, user, susi or indexed."""
    standing: str = ""
    fault: str = ""
    """out-of-range, undefined-choice or empty."""
    stray: int = 0
    """The bits set in the CV that mean nothing in this setting."""
    needs: tuple[str, ...] = ()
    """The CVs whose values are needed to say more."""
    when: tuple[When, ...] = ()
    """What decides whether the setting is there, where that is not known."""
    rivals: tuple[str, ...] = ()
    """Where else the setting may live, where that is disputed; "nowhere" for absent."""
    failed: str = ""
    """The place that a bench test of this firmware found without effect, for one still possible."""
    place: Place | None = None

    @property
    def bits(self) -> str:
        """The bits in words; empty for the whole CV."""
        return "" if self.mask == WHOLE else bits_text(self.mask)

    def gist(self) -> Hashable:
        """What makes two meanings the same, whatever they are called and how well known."""
        doubt = self.standing in (Standing.DISPUTED, Standing.FAULTY)
        known = (self.setting or self.title, self.where, self.legal)
        return (
            *(self.mask, self.basis, self.use or known, self.value, self.fault, self.stray),
            *(self.needs, self.when, self.rivals, self.failed, doubt and self.standing),
        )


@dataclass(frozen=True, slots=True)
class Tenant:
    """A setting that lives on a CV, or may."""

    setting: Setting
    place: Place
    standing: str
    rivals: tuple[str, ...] = ()
    failed: str = ""

    def gist(self) -> Hashable:
        """What makes two tenants the same, however well known."""
        coding = self.place.coding
        if isinstance(coding, Area):
            return coding.kind, coding.use, self.place.when
        doubt = self.rivals, self.failed, self.standing == Standing.FAULTY
        return self.setting.id, self.place.fields, coding, self.place.when, doubt


def layout_of(
    resolver: Resolver,
    version: FirmwareVersion,
    values: Mapping[Slot, int],
    options: Mapping[str, str | int],
) -> Layout:
    """The owners of the bits of CV values; a second number of a CV stands for the first.

    Raises :class:`~cvlib.errors.InputError` where both have a value and the two differ.
    """
    second = canonical(resolver.profile.settings.values(), values)
    for slot, first in second.items():
        if values.get(first, values[slot]) != values[slot]:
            raise problem(
                f"{slot} is a second number of {first}, and their values differ.",
                advice="Give only one of them.",
            )
    moved = {second[slot]: value for slot, value in values.items() if slot in second}
    kept = {slot: value for slot, value in values.items() if slot not in second}
    return Layout(resolver, version, moved | kept, options)


def meanings(layout: Layout, slot: Slot) -> Iterator[Meaning]:
    """What each bit of a CV value of the layout means, lowest bit first."""
    first = canonical(layout.resolver.profile.settings.values(), {slot: 0}).get(slot, slot)
    groups: dict[tuple[object, ...], tuple[int, Owner]] = {}
    for bit in range(8):
        owner = layout.owner(first, bit)
        key = (owner.basis, owner.names)
        groups[key] = (groups.get(key, (0, owner))[0] | 1 << bit, owner)
    for mask, owner in groups.values():
        raw = Field(first, mask).take(layout.values[first])
        if owner.claims:
            yield from (_meaning(layout, first, one, mask, raw) for one in _foremost(owner))
        else:
            title = page_title(layout.resolver.profile, first.page) if first.page else ""
            yield Meaning(mask, raw, owner.basis, title=title, where=str(first))


def tenants(resolver: Resolver, version: FirmwareVersion, slot: Slot) -> Iterator[Tenant]:
    """What lives on a CV at one firmware; without a page, on any page of that number."""
    answers = resolver.at(version).items()
    told = [(name, one) for name, answer in answers for one in (answer, *answer.failures())]
    for name, answer in told:
        for place in answer.places():
            held = [field.slot for field in place.fields]
            held += [Slot(place.also_at)] if place.also_at is not None else []
            if any(one.cv == slot.cv and slot.page in (None, one.page) for one in held):
                setting = resolver.profile.settings[name]
                rivals, failed = _rivals(answer, place), _failed(answer)
                yield Tenant(setting, place, answer.standing.value, rivals, failed)


def _foremost(owner: Owner) -> tuple[Claim, ...]:
    """The claims on a bit; a byte of fields gives way to the settings in its bits."""
    inner = tuple(one for one in owner.claims if not isinstance(one.place.coding, Fields))
    return inner or owner.claims


def _meaning(layout: Layout, slot: Slot, claim: Claim, mask: int, raw: int) -> Meaning:
    place, coding = claim.place, claim.place.coding
    told = Meaning(
        mask,
        raw,
        claim.basis,
        claim.setting.id,
        claim.setting.title,
        where=where_text(place),
        standing=claim.answer.standing.value,
        failed=_failed(claim.answer),
        rivals=_rivals(claim.answer, place),
        place=place,
    )
    if isinstance(coding, Area):
        return replace(told, use=coding.use, standing="")
    is_byte = isinstance(coding, Fields) and claim.basis is not Basis.SETTING
    if is_byte or place.marks.reserved:
        return replace(told, use="reserved")
    parts = place.parts(layout.values)
    reading = None if parts is None else coding.decode(parts)
    if isinstance(coding, Curve):
        reading = _entry(claim, coding, slot, layout.values[slot])
    return replace(
        told,
        value="" if reading is None else _words(place, parts or (), reading),
        legal=coding_text(place),
        help=claim.setting.help,
        fault="" if reading is None or reading.fault is None else reading.fault.value,
        stray=0 if reading is None else stray_mask(claim, slot, reading.stray),
        needs=tuple(str(f.slot) for f in place.fields if not (reading or f.slot in layout.values)),
        when=place.when if claim.basis is Basis.UNDECIDED else (),
    )


def _words(place: Place, parts: Parts, reading: Reading) -> str:
    """A value in words; a number that is not allowed as it stands, and a frequency both ways."""
    coding = place.coding
    if not isinstance(coding, Number) or reading.name is not None:
        return reading.text
    raw = coding.signed(coding.join(parts))
    if reading.fault is not None:
        return str(raw)
    if coding.measure is Measure.MOMENTUM:
        cv, is_added = place.fields[0].slot.cv, bool(coding.sign)
        return f"{raw}: {measured(coding.measure, raw, cv=cv, is_added=is_added)}"
    if coding.measure is Measure.PWM_PERIOD:
        hertz = 1_000_000 / formulas.pwm_period(raw)
        return f"{reading.text}, {hertz:.4g} Hz ({hertz / 1000:.4g} kHz)"
    if coding.unit not in _OTHER:
        return reading.text
    other, size = _OTHER[coding.unit]
    return f"{reading.text} ({with_unit(coding.scaled(raw) * size, other)})"


def _entry(claim: Claim, curve: Curve, slot: Slot, value: int) -> Reading:
    """One entry of a curve by itself: of a speed table the step and its share of full drive."""
    fields = claim.place.fields
    at = next(n for n, field in enumerate(fields) if field.slot == slot)
    part = fields[at].take(value)
    if not curve.low <= part <= curve.high:
        return Reading(part, str(part), fault=ValueFault.OUT_OF_RANGE)
    if claim.setting.id != SPEED_TABLE:
        return Reading(part, f"entry {at + 1} of {len(fields)}: {part}")
    share = part * 100 / curve.high
    percent = plain(round(share, 1 if share < 10 else 0))
    return Reading(part, f"step {at + 1}: {percent} % ({part} of {curve.high})")


def _rivals(answer: Answer, place: Place) -> tuple[str, ...]:
    others = (one for one in answer.candidates if one is not place)
    return tuple("nowhere" if one is None else where_text(one) for one in others)


def _failed(answer: Answer) -> str:
    """Where a bench test found the setting without effect, for the places still possible."""
    return ", ".join(where_text(one.places()[0]) for one in answer.failures())
