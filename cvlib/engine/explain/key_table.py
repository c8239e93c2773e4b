"""Which function key works what, by the saved values of the settings that assign keys."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace

from cvlib.engine.account.cells import Cell, State, cell_of
from cvlib.engine.account.claims import Layout
from cvlib.model.assignment import BITS, ENTRY, VALUE, WIDE, Assignment
from cvlib.model.coding import Choice

LAST_FUNCTION = 28
"""Above it RCN-227 (2018-12-02), sections 3.2 and 3.3, counts binary states, and no functions."""
CLASSIC = 1
"""CV 96 = 1: CVs 33-46, as they are without CV 96. Source: RCN-225 (2025-07-27), CV 96."""
_DIRECTIONS = ("", "forward", "reverse", "")


@dataclass(frozen=True, slots=True)
class KeyWork:
    """One thing that a function key works."""

    key: int
    output: int | None
    """The number of the output; nothing where it works no numbered one."""
    does: str
    """What it works where that is no numbered output, in the profile's words."""
    direction: str
    """forward or reverse where only then; else empty."""
    blocks: bool
    """The key keeps it off."""
    is_state: bool
    """The number is that of a binary state and no function key."""
    setting: str


@dataclass(frozen=True, slots=True)
class KeyTable:
    """What each key works, by key; and which method of function assignment that follows."""

    works: tuple[KeyWork, ...] = ()
    settings: frozenset[str] = frozenset()
    """The settings that the table stands for, those that assign nothing included."""
    method: str = ""
    """The method in words; empty where the decoder has no choice of methods."""
    is_saved: bool = True
    """Whether the method is known; where it is not, the table holds for CVs 33-46."""


NO_KEYS = KeyTable()


def key_table(layout: Layout) -> KeyTable:
    """What each function key works by the saved values.

    Where the decoder has a choice of methods, only what counts under the one in use.
    """
    profile = layout.resolver.profile
    mapped = {name: one.maps for name, one in profile.settings.items() if one.maps is not None}
    chooser = next((name for name, held in mapped.items() if held.method == VALUE), "")
    chosen = cell_of(layout, chooser) if chooser else Cell(State.ABSENT)
    in_use, words, is_saved = CLASSIC, "", True
    if chosen.state is not State.ABSENT:
        is_saved = chosen.state is State.SAVED and chosen.parts is not None
        in_use = chosen.parts[0] if is_saved and chosen.parts else CLASSIC
        words = chosen.text if is_saved else ""
    works: list[KeyWork] = []
    settled = {chooser} if words else set()
    for name, held in mapped.items():
        cell = cell_of(layout, name)
        if held.method not in ("", in_use) or cell.state is not State.SAVED:
            continue
        if cell.is_legal:
            settled.add(name)
            works.extend(_works(name, held, cell))
    limits = dict(_limits(layout, mapped))
    works = [replace(one, direction=limits.get(one.output, one.direction)) for one in works]
    works.sort(key=lambda one: (one.is_state, one.key, one.output or 0, one.does, one.direction))
    return KeyTable(tuple(works), frozenset(settled), words, is_saved)


def _works(name: str, held: Assignment, cell: Cell) -> Iterator[KeyWork]:
    """What one value assigns."""
    place, parts = cell.place, cell.parts
    if place is None or parts is None:
        return
    raw = place.coding.join(parts)
    if raw in held.none:
        return
    word = cell.text if held.output == VALUE else ""
    does = " ".join(filter(None, (held.does, word)))
    if held.output == VALUE and not held.does and not isinstance(place.coding, Choice):
        does = ""
    first = KeyWork(0, None, does, held.direction, held.blocks, False, name)
    bits = [held.first + n for n in range(held.count) if raw >> n & 1]
    if not does:
        first = replace(first, output=raw if held.output == VALUE else _number(held.output))
    match held.key:
        case key if key == BITS:
            yield from (replace(first, key=number) for number in bits)
        case key if key in (ENTRY, WIDE):
            yield from _entry(first, raw, is_wide=key == WIDE)
        case key:
            number = raw + held.first if key == VALUE else int(key)
            is_state = key == VALUE and number > LAST_FUNCTION
            one = replace(first, key=number, is_state=is_state)
            outputs = bits if held.output == BITS else [one.output]
            yield from (replace(one, output=output) for output in outputs)


def _number(output: int | str) -> int | None:
    return output if isinstance(output, int) else None


def _entry(first: KeyWork, raw: int, *, is_wide: bool) -> Iterator[KeyWork]:
    """An entry with its direction, or that it blocks; all bits set leave it unused.

    Source: RCN-227 (2018-12-02), section 3.3.
    """
    if raw == (0xFFFF if is_wide else 0xFF):
        return
    if is_wide:
        number = raw & 0x7FFF
        is_state = number > LAST_FUNCTION
        yield replace(first, key=number, blocks=bool(raw & 0x8000), is_state=is_state)
    else:
        mode = raw >> 6
        yield replace(first, key=raw & 0x3F, direction=_DIRECTIONS[mode], blocks=mode == 3)


def _limits(
    layout: Layout, mapped: dict[str, Assignment]
) -> Iterator[tuple[int | str | None, str]]:
    """The outputs that a bit limits to one direction."""
    for name, held in mapped.items():
        cell = cell_of(layout, name)
        if cell.state is not State.SAVED or cell.place is None or cell.parts is None:
            continue
        raw = cell.place.coding.join(cell.parts)
        limited = {
            word
            for word, bit in (("forward", held.forward_bit), ("reverse", held.reverse_bit))
            if bit is not None and raw >> bit & 1
        }
        if len(limited) == 1:
            yield held.output, limited.pop()
