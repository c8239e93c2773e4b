"""The answers of all decoders side by side, CV by CV, so that a read is held against all at once.

The index is plain data: one row for each unit of firmware, and for each CV a column with the
number of the expectation that each row has there.
"""

from __future__ import annotations

from array import array
from bisect import bisect_right
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any, TypeAlias

from cvlib.engine.bench.expect import UNKNOWN, Expectation, packed, unpacked
from cvlib.engine.bench.units import EXTENDED_SLOTS, Unit, is_open, units_of
from cvlib.engine.known.identity import MAKER_SLOT
from cvlib.engine.known.line import Known
from cvlib.engine.known.resolve import Resolver
from cvlib.model.cv import Field, Page, Slot
from cvlib.model.profile import IndexPages, Profile, VersionPart
from cvlib.model.ranges import FirmwareRange, Span
from cvlib.model.versions import FirmwareVersion, Scheme

Plain: TypeAlias = tuple[Any, ...]
Column: TypeAlias = Sequence[int]
VERSION_SLOT = Slot(7)
"""Where a standard has the maker's version number, by NMRA S-9.2.2 and RCN-225."""
COLUMN_TYPE = "I"
"""The array type of a column: an unsigned number of four bytes."""


@dataclass(frozen=True, slots=True)
class Listed:
    """What the index tells of one profile."""

    id: str
    maker: str
    name: str
    kind: str
    scheme: Scheme
    parts: tuple[VersionPart, ...]
    """Where the decoder answers its version."""
    pages: tuple[IndexPages, ...]


@dataclass(frozen=True, slots=True)
class Row:
    """What the index tells of one unit of firmware."""

    generation: int
    known: Known
    stretch: str
    """The firmware of the generation, in the spelling of profiles."""
    firmware: FirmwareRange
    releases: tuple[str, ...]
    """Releases as written; empty for firmware that nobody listed."""
    weight: float


@dataclass(frozen=True, slots=True)
class ProfilePart:
    """The part of an index that one profile gives."""

    listed: Plain
    rows: tuple[Plain, ...]
    rest: tuple[Plain, ...]
    sheets: Mapping[Slot, tuple[Plain, ...]]
    """For each CV that any row uses, what each row expects of it."""


class IdentityIndex:
    """All units of all profiles of a store, and what each may answer.

    Rows keep the order of the profiles, and within a profile that of its firmware.
    """

    def __init__(
        self,
        profiles: Sequence[tuple[Plain, int, int]],
        rows: Sequence[Plain],
        expectations: Sequence[Plain],
        columns: Mapping[Slot, Column],
        rest: Column,
        telling: Sequence[Slot],
    ) -> None:
        self._profiles = profiles
        self._rows = rows
        self._expectations = expectations
        self._columns = columns
        self.rest = rest
        """For each row, the number of what it expects of a CV that nobody uses."""
        self._firsts = [first for _, first, _ in profiles]
        self._known: dict[int, Expectation] = {}
        self._listed: dict[int, Listed] = {}
        self._weights: list[float] = []
        self._version_slots: frozenset[Slot] | None = None
        self.telling = tuple(telling)
        """The CVs by which any decoder says who it is, those of most decoders first."""

    def __len__(self) -> int:
        """How many rows there are."""
        return len(self._rows)

    @property
    def count(self) -> int:
        """How many profiles there are."""
        return len(self._profiles)

    @property
    def slots(self) -> Iterable[Slot]:
        """Every CV that any decoder uses."""
        return self._columns.keys()

    def spans(self) -> Iterable[tuple[int, int, int]]:
        """For each profile its number, its first row and the row after its last."""
        return ((at, first, end) for at, (_, first, end) in enumerate(self._profiles))

    def listed(self, number: int) -> Listed:
        """What is told of a profile, by its number."""
        if number not in self._listed:
            self._listed[number] = _listed(self._profiles[number][0])
        return self._listed[number]

    def row(self, number: int) -> Row:
        """What is told of a unit, by its row."""
        generation, known, stretch, scheme, spans, spelt, releases, weight = self._rows[number]
        firmware = FirmwareRange(Scheme(scheme), spans, spelt)
        return Row(generation, Known(known), stretch, firmware, releases, weight)

    def numbers(self, rows: Iterable[int]) -> list[int]:
        """The number of the profile that each row belongs to."""
        return [bisect_right(self._firsts, row) - 1 for row in rows]

    def is_release(self, number: int) -> bool:
        """Whether a row is releases that are known to exist."""
        return bool(self._rows[number][6])

    def has_release(self, number: int, version: FirmwareVersion) -> bool:
        """Whether a profile lists a version among its releases."""
        _, first, end = self._profiles[number]
        own = (self.row(row) for row in range(first, end) if self.is_release(row))
        return any(version in row.firmware for row in own)

    def generation(self, number: int) -> int:
        """The generation of a row, in its profile."""
        return int(self._rows[number][0])

    def weights(self) -> list[float]:
        """How likely each row is before anything is read; all together are 1."""
        if not self._weights:
            self._weights = self._made_weights()
        return self._weights

    def _made_weights(self) -> list[float]:
        found: list[float] = []
        for _, first, end in self._profiles:
            held = [self._rows[at][-1] for at in range(first, end)]
            whole = (sum(held) or 1.0) * len(self._profiles)
            found.extend(weight / whole for weight in held)
        return found

    def column(self, slot: Slot) -> Column:
        """For each row, the number of what it expects of a CV."""
        found = self._columns.get(slot)
        if found is not None:
            return found
        return self._of_any() if is_open(slot, ()) else self.rest

    def _of_any(self) -> Column:
        """The column of a CV that no decoder of the store uses and that may answer nevertheless."""
        number = len(self._expectations)
        self._known[number] = UNKNOWN
        return array(COLUMN_TYPE, [number]) * len(self._rows)

    def expectation(self, number: int) -> Expectation:
        """An expectation by its number."""
        if number not in self._known:
            self._known[number] = unpacked(self._expectations[number])
        return self._known[number]

    def expect(self, row: int, slot: Slot) -> Expectation:
        """What one row expects of a CV."""
        return self.expectation(self.column(slot)[row])

    def version_slots(self) -> frozenset[Slot]:
        """The CVs in which any decoder answers its version."""
        if self._version_slots is None:
            plain = {part[0] for listed, _, _ in self._profiles for part in listed[5]}
            self._version_slots = frozenset(map(_slot, plain))
        return self._version_slots

    def common_slots(self, row: int) -> frozenset[Slot]:
        """The CVs that hold maker and version of a row's decoder."""
        parts = self.listed(self.numbers([row])[0]).parts
        own = (part.field.slot for part in parts)
        return frozenset((VERSION_SLOT, MAKER_SLOT, *EXTENDED_SLOTS, *own))

    def product_slots(self, row: int) -> tuple[Slot, ...]:
        """The CVs by which a row's decoder says which type it is, apart from maker and version."""
        common = self.common_slots(row)
        telling = (slot for slot in self.telling if slot not in common)
        return tuple(slot for slot in telling if self.expect(row, slot).certain)

    def identity_slots(self, row: int) -> frozenset[Slot]:
        """The CVs by which a row's decoder says who it is: maker, version and product answers."""
        return frozenset(slot for slot in self.telling if self.expect(row, slot).certain)

    def clear_products(self, row: int) -> tuple[Slot, ...]:
        """Those of the product answers that allow the fewest values."""
        counts = {
            slot: self.expect(row, slot).certain.bit_count() for slot in self.product_slots(row)
        }
        return tuple(slot for slot, count in counts.items() if count == min(counts.values()))

    def named_by(self, slot: Slot, answer: int) -> frozenset[int]:
        """The profiles, by number, whose product answer this is."""
        column = self.column(slot)
        found = set()
        for number, first, end in self.spans():
            if slot not in self.common_slots(first):
                held = (self.expectation(column[row]).certain for row in range(first, end))
                if any(certain >> answer & 1 for certain in held):
                    found.add(number)
        return frozenset(found)

    def part(self, number: int) -> ProfilePart:
        """The part that one profile gave, as it was when the index was made."""
        listed, first, end = self._profiles[number]
        own = range(first, end)
        rest = [self.rest[at] for at in own]
        sheets = {}
        for slot, column in self._columns.items():
            held = [column[at] for at in own]
            if held != rest:
                sheets[slot] = tuple(self._expectations[one] for one in held)
        rows = tuple(self._rows[at] for at in own)
        return ProfilePart(listed, rows, tuple(self._expectations[one] for one in rest), sheets)

    def plain(self) -> Plain:
        """Everything but the columns as plain data, for keeping."""
        return (tuple(self._profiles), tuple(self._rows), tuple(self._expectations), self.telling)


def part_of(profile: Profile) -> ProfilePart:
    """The part of an index that a profile gives; the published standards give none."""
    units = () if profile.kind == "standard" else units_of(Resolver(profile))
    slots = dict.fromkeys(slot for unit in units for slot in unit.sheet)
    return ProfilePart(
        _plain_listed(profile),
        tuple(_plain_row(unit) for unit in units),
        tuple(packed(unit.rest) for unit in units),
        {slot: tuple(packed(unit.expect(slot)) for unit in units) for slot in slots},
    )


def merged(parts: Iterable[ProfilePart]) -> IdentityIndex:
    """The index of several profiles; those without any firmware are left out."""
    given = [part for part in parts if part.rows]
    numbers: dict[Plain, int] = {}
    profiles: list[tuple[Plain, int, int]] = []
    rows: list[Plain] = []
    rest = array(COLUMN_TYPE)
    for part in given:
        profiles.append((part.listed, len(rows), len(rows) + len(part.rows)))
        rows.extend(part.rows)
        rest.extend(numbers.setdefault(one, len(numbers)) for one in part.rest)
    slots = dict.fromkeys(slot for part in given for slot in part.sheets)
    columns: dict[Slot, Column] = {}
    pages = [_listed(part.listed).pages for part in given]
    for slot in sorted(slots, key=lambda held: held.order):
        columns[slot] = _column(slot, given, pages, profiles, rest, numbers)
    telling = _telling(given)
    return IdentityIndex(profiles, rows, list(numbers), columns, rest, telling)


def _column(
    slot: Slot,
    parts: Sequence[ProfilePart],
    all_pages: Sequence[tuple[IndexPages, ...]],
    profiles: Sequence[tuple[Plain, int, int]],
    rest: array[int],
    numbers: dict[Plain, int],
) -> Column:
    column = array(COLUMN_TYPE, rest)
    for part, pages, (_, first, _) in zip(parts, all_pages, profiles, strict=True):
        held = part.sheets.get(slot)
        if held is None:
            if not is_open(slot, pages):
                continue
            held = (packed(UNKNOWN),) * len(part.rest)
        for at, one in enumerate(held, first):
            column[at] = numbers.setdefault(one, len(numbers))
    return column


def _telling(parts: Iterable[ProfilePart]) -> list[Slot]:
    """The CVs of which identity says anything, by how many profiles it says so."""
    counts: dict[Slot, int] = {}
    for part in parts:
        for slot, held in part.sheets.items():
            if any(unpacked(one).certain for one in held):
                counts[slot] = counts.get(slot, 0) + 1
    return sorted(counts, key=lambda slot: (-counts[slot], slot.order))


def _plain_listed(profile: Profile) -> Plain:
    parts = tuple(
        (_plain_slot(part.field.slot), part.field.mask, part.digit) for part in profile.parts
    )
    pages = tuple(
        (held.high, held.low, held.use) for held in profile.pages if held.use == "defined"
    )
    return (
        profile.id, profile.maker, profile.name, profile.kind, profile.scheme.value, parts, pages
    )  # fmt: skip


def _listed(plain: Plain) -> Listed:
    id, maker, name, kind, scheme, parts, pages = plain
    made = tuple(VersionPart(Field(_slot(slot), mask), digit) for slot, mask, digit in parts)
    held = tuple(IndexPages(high, low, use, "") for high, low, use in pages)
    return Listed(id, maker, name, kind, Scheme(scheme), made, held)


def _plain_slot(slot: Slot) -> Plain:
    return slot.cv, None if slot.page is None else tuple(slot.page)


def _slot(plain: Plain) -> Slot:
    cv, page = plain
    return Slot(cv, None if page is None else Page(*page))


def _plain_row(unit: Unit) -> Plain:
    spans: tuple[Span, ...] = unit.firmware.spans
    return (
        unit.generation,
        unit.stretch.known.value,
        unit.home.text(),
        unit.firmware.scheme.value,
        spans,
        unit.firmware.spelt,
        tuple(version.text for version in unit.releases),
        unit.weight,
    )
