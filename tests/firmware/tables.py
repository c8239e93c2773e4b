"""What each bit of each CV is at a firmware version, by its CV table alone.

An accessory table gives the block of the first address only. Here the blocks are written out for a
decoder that was built for certain function types.
"""

import re
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, replace

from firmware.rows import FURTHER, Row, halves

Types = Mapping[int, str]
"""The function type of each address that has one."""

_SECOND = re.compile(r"\boutput 2 (?=kind|parameter)")
_CODES = re.compile(r"(\d+) (F\w+|off)")


@dataclass(frozen=True)
class Entry:
    """One setting of a version: what it is called there, where it lives and how it is coded."""

    name: tuple[str, str, int]
    """Title, function type and address; equal names are the same setting."""
    cv: int
    mask: int
    coding: tuple[object, ...]
    row: Row
    is_byte: bool = False
    """Whether it is a CV whose bits have rows of their own."""
    is_further: bool = False
    """Whether the table only gives the block before it."""


@dataclass(frozen=True)
class Blocks:
    """Where the blocks of the addresses lie in a version."""

    base: int
    stride: int

    def of(self, cv: int) -> int:
        """The address whose block a CV is in; 0 where it is in none."""
        return (cv - self.base) // self.stride + 1 if cv >= self.base else 0


BEFORE_7, FROM_7 = Blocks(50, 5), Blocks(120, 10)


def types_in(rows: list[Row]) -> set[str]:
    """The function types that a table knows, apart from that of further addresses."""
    firsts = {row.first_type for row in rows} - {""}
    return {row.type for row in rows if row.type} - {FURTHER} | firsts


def type_codes(rows: list[Row]) -> Mapping[str, int]:
    """The numbers of the types where the decoder tells them, none where it does not."""
    told = (row for row in rows if row.title == "function type of address 1")
    return {name: int(code) for row in told for code, name in _CODES.findall(row.detail)}


def entries(rows: list[Row], types: Types) -> list[Entry]:
    """Every setting of a version for a decoder of these types."""
    blocks = FROM_7 if type_codes(rows) else BEFORE_7
    found = [_entry(row, row.cv, 0) for whole in rows for row in halves(whole) if not row.type]
    found += [output for row in rows for output in _further_outputs(row)]
    for address, kind in types.items():
        found += _of_block(rows, blocks, address, kind, types)
    return list(_with_bytes(found))


def _of_block(
    rows: list[Row], blocks: Blocks, address: int, kind: str, types: Types
) -> Iterator[Entry]:
    """The settings of one address; the first block is the model for all but further ones."""
    for row in (row for whole in rows for row in halves(whole) if row.type == kind):
        own = blocks.of(row.cv)
        if kind == FURTHER:
            if own == address and row.first_type in ("", types[1]):
                yield _entry(row, row.cv, address)
        else:
            yield _entry(row, row.cv + blocks.stride * (address - 1), address)


def _further_outputs(row: Row) -> Iterator[Entry]:
    """V01 has one block for each output, of which its table gives two; six are supposed."""
    if _SECOND.search(row.title):
        for number in range(3, 7):
            title = _SECOND.sub(f"output {number} ", row.title)
            entry = _entry(replace(row, title=title), row.cv + 4 * (number - 2), 0)
            yield replace(entry, is_further=True)


def _entry(row: Row, cv: int, address: int) -> Entry:
    low, _, high = row.bits.partition("-")
    mask = sum(1 << bit for bit in range(int(low), int(high or low) + 1)) if row.bits else 255
    coding = (row.bits and mask.bit_count(), row.span or (0, row.largest), row.detail)
    return Entry((row.title, row.type, address), cv, mask, coding, row)


def _with_bytes(found: list[Entry]) -> Iterator[Entry]:
    """The entries, whole CVs of which single bits have a row told apart."""
    for entry in found:
        parts = (one for one in found if one.cv == entry.cv and one.mask != 255)
        of_same = any(one.name[1:] == entry.name[1:] for one in parts)
        yield replace(entry, is_byte=entry.mask == 255 and of_same)


def factory_values(found: list[Entry], types: Types, codes: Mapping[str, int]) -> dict[int, int]:
    """What a factory reset leaves in each CV; the largest value where the table does not say.

    The decoder tells the types it was built for where it tells types at all.
    """
    values: dict[int, int] = {}
    for entry in sorted(found, key=lambda one: one.mask != 255):
        high = entry.row.span[1] if entry.row.span else entry.row.largest
        if entry.mask == 255:
            unstated = 0 if entry.is_byte else high
            values[entry.cv] = unstated if entry.row.default is None else entry.row.default
        elif entry.row.default is not None or not _byte_is_stated(found, entry):
            shift = (entry.mask & -entry.mask).bit_length() - 1
            given = high if entry.row.default is None else entry.row.default
            values[entry.cv] = values.get(entry.cv, 0) & ~entry.mask | given << shift
    for entry in found:
        if entry.name[0].startswith("function type of address "):
            address = int(entry.name[0].rpartition(" ")[2])
            values[entry.cv] = codes.get(types.get(address, "off"), 0)
    return values


def _byte_is_stated(found: list[Entry], part: Entry) -> bool:
    return any(one.is_byte and one.cv == part.cv and one.row.default is not None for one in found)


def owners(found: list[Entry], cv: int, bit: int, values: Mapping[int, int]) -> list[Entry]:
    """The settings that a bit belongs to: the one in these bits first, then the whole byte."""
    here = [one for one in found if one.cv == cv and one.mask >> bit & 1]
    return sorted((one for one in here if _exists(one, found, values)), key=lambda one: one.is_byte)


def _exists(entry: Entry, found: list[Entry], values: Mapping[int, int]) -> bool:
    """Whether the switch that it depends on, if any, is as it must be."""
    if entry.row.switch is None:
        return True
    title, wanted = entry.row.switch
    switch = next(one for one in found if one.name == (title, *entry.name[1:]))
    return bool(values.get(switch.cv, 0) & switch.mask) is wanted
