"""What a decoder answers when asked who it is, at a given firmware."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from typing import NamedTuple

from cvlib.model.cv import WHOLE, Field, Slot
from cvlib.model.formulas import EXTENDED_MAKER
from cvlib.model.profile import DIGITS, Answered, Profile, Release, VersionPart
from cvlib.model.ranges import in_order
from cvlib.model.versions import FirmwareVersion, Scheme, parse_version

MAKER_SLOT = Slot(8)


class Expected(NamedTuple):
    """What some bits of a CV answer."""

    mask: int
    value: int
    """Already in place under the mask; the lowest, where several are possible."""
    spans: tuple[tuple[int, int], ...] = ()
    """Lowest and highest value of each span that it may answer, where it is not just one."""

    def allows(self, value: int, mask: int) -> bool:
        """Whether some bits of a value are as they may be answered."""
        mask &= self.mask
        if not self.spans:
            return value & mask == self.value & mask
        possible = (byte for low, high in self.spans for byte in range(low, high + 1))
        return any(byte & mask == value & mask for byte in possible)

    def __str__(self) -> str:
        """The value, or the values that are possible: ``3 or 5``, ``1-9``."""
        if not self.spans:
            return str(self.value)
        return " or ".join(str(a) if a == b else f"{a}-{b}" for a, b in self.spans)


def expected_answers(profile: Profile, version: FirmwareVersion) -> dict[Slot, Expected]:
    """The CVs whose answer a firmware fixes: manufacturer, version parts, product answers."""
    found = _maker_answers(profile.identity.manufacturer)
    spans: dict[Slot, list[tuple[int, int]]] = {}
    masks: dict[Slot, int] = {}
    for answer in answers_at(profile, version):
        shift = Field(answer.slot, answer.mask).shift
        masks[answer.slot] = masks.get(answer.slot, WHOLE) & answer.mask
        held = spans.setdefault(answer.slot, [])
        held.append((answer.low << shift, answer.high << shift))
    for slot, held in spans.items():
        low, high = held[0]
        one = len(held) == 1 and low == high
        found[slot] = Expected(masks[slot], low, () if one else tuple(sorted(held)))
    found |= _version_answers(profile, version)
    release = profile.release_of(version)
    if release is not None:
        found |= {Slot(cv): Expected(WHOLE, value) for cv, value in release.answers}
    return found


def answers_at(profile: Profile, version: FirmwareVersion) -> Iterator[Answered]:
    """The answers by which a firmware says who it is, apart from maker and version."""
    for answer in profile.identity.answers:
        if answer.firmware is None or version in answer.firmware:
            yield answer


def may_answer(profile: Profile, version: FirmwareVersion, values: Mapping[Slot, int]) -> bool:
    """Whether nothing that is saved contradicts what a firmware answers."""
    expected = expected_answers(profile, version)
    return all(
        expected[slot].allows(values[slot], WHOLE) for slot in expected.keys() & values.keys()
    )


def versions_answering(profile: Profile, values: Mapping[Slot, int]) -> tuple[FirmwareVersion, ...]:
    """The firmware that saved values name through the version parts, oldest first.

    Known releases that answer so; where none does, the version the parts spell, unless it is a
    release that is known to answer otherwise. Empty where the decoder answers no version or not
    all of its answer is saved.
    """
    needed = {part.field.slot for part in profile.parts}
    telling = {Slot(cv) for release in profile.releases for cv, _ in release.answers}
    if not needed <= values.keys() or not (needed | telling) & values.keys():
        return ()
    known = [r for r in profile.releases if _answers_as(profile, r, values, telling)]
    if known:
        return tuple(in_order({release.version for release in known}))
    spelt = spelt_version(profile.scheme, profile.parts, values)
    return (spelt,) if spelt is not None and profile.release_of(spelt) is None else ()


def _answers_as(
    profile: Profile, release: Release, values: Mapping[Slot, int], telling: set[Slot]
) -> bool:
    """Whether a release answers for every part of its version, and each answer is the saved one."""
    expected = expected_answers(profile, release.version)
    parts = {part.field.slot for part in profile.parts}
    asked = (parts | telling) & expected.keys() & values.keys()
    return parts <= asked and all(expected[slot].allows(values[slot], WHOLE) for slot in asked)


def _maker_answers(manufacturer: int | None) -> dict[Slot, Expected]:
    """What a manufacturer ID comes to in CV 8, and in CVs 107 and 108 where it is above 255."""
    if manufacturer is None:
        return {}
    if manufacturer <= WHOLE:
        return {MAKER_SLOT: Expected(WHOLE, manufacturer)}
    return {
        MAKER_SLOT: Expected(WHOLE, EXTENDED_MAKER),
        Slot(107): Expected(0x0F, manufacturer >> 8),
        Slot(108): Expected(WHOLE, manufacturer & WHOLE),
    }


def spelt_version(
    scheme: Scheme, parts: Sequence[VersionPart], values: Mapping[Slot, int]
) -> FirmwareVersion | None:
    """The version that version CVs spell; nothing without them, where one was not answered, and
    for dates, whose CVs do not tell the century.
    """
    if not parts or any(part.field.slot not in values for part in parts):
        return None
    figures = [part.take(values[part.field.slot]) for part in parts]
    match scheme:
        case Scheme.DOTTED:
            return parse_version(".".join(map(str, figures)), scheme)
        case Scheme.NUMBER:
            number = 0
            for part, figure in zip(parts, figures, strict=True):
                number = number * _radix(part) + figure
            return parse_version(str(number), scheme)
        case Scheme.DATE:
            return None


def _version_answers(profile: Profile, version: FirmwareVersion) -> dict[Slot, Expected]:
    """The answers of the version CVs; none of a CV that cannot hold its part of the version."""
    figures = _figures(profile, version)
    found: dict[Slot, Expected] = {}
    unfit: set[Slot] = set()
    for part, figure in zip(profile.parts, figures, strict=False):
        slot = part.field.slot
        weight = DIGITS[part.digit] if part.digit else 1
        before = found.get(slot, Expected(0, 0))
        value = before.value + (figure * weight << part.field.shift)
        found[slot] = Expected(before.mask | part.field.mask, value)
        if figure >= _radix(part) or value > WHOLE:
            unfit.add(slot)
    return {slot: held for slot, held in found.items() if slot not in unfit}


def _figures(profile: Profile, version: FirmwareVersion) -> list[int]:
    count = len(profile.parts)
    match version.scheme:
        case Scheme.DOTTED:
            return [*version.figures, *[0] * count][:count]
        case Scheme.NUMBER:
            return _digits(profile, version.figures[0])
        case Scheme.DATE:
            year, *rest = version.figures
            return [year % 100, *rest][:count]


def _digits(profile: Profile, number: int) -> list[int]:
    """A single number as its parts answer it; what is too large for them stands in the first."""
    figures: list[int] = []
    for part in reversed(profile.parts[1:]):
        figures.append(number % _radix(part))
        number //= _radix(part)
    return [number, *reversed(figures)]


def _radix(part: VersionPart) -> int:
    return 10 if part.digit else 1 << part.field.width
