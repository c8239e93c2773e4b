"""Locos side by side, setting by setting in engineering units, for running in multiple."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from decimal import Decimal
from fractions import Fraction

from cvlib.engine.account.cells import Cell, State, cell_of
from cvlib.engine.account.claims import Layout
from cvlib.engine.carry.carry import is_settable
from cvlib.engine.carry.convert import Exact, convert
from cvlib.engine.compare.curves import Times, curve_of, times_of
from cvlib.engine.compare.motion import Drawn, largest_deviation
from cvlib.model.coding import Number
from cvlib.model.profile import is_about
from cvlib.model.unit_table import factor, figure_of

RUNNING = (
    "speed",
    "momentum",
    "braking",
    "stopping",
    "consist",
    "safety",
    "configuration.reversed",
    "configuration.speed-steps",
    "configuration.speed-table",
)
"""Groups and settings that matter when locos run together."""


@dataclass(frozen=True, slots=True)
class Row:
    """One setting across the locos."""

    setting: str
    title: str
    cells: tuple[Cell, ...]
    differs: bool | None
    """Whether saved values differ; nothing where fewer than two are known."""
    apart: tuple[Decimal | None, ...] = ()
    """For figures: how far each loco is from the first, in the first one's unit."""
    unit: str = ""


@dataclass(frozen=True, slots=True)
class Member:
    """One loco of a comparison: its name and its values at its firmware."""

    name: str
    layout: Layout


@dataclass(frozen=True, slots=True)
class Apart:
    """How far the curve of one loco lies from that of the first, at worst."""

    step: int
    drive: Fraction
    """In drive levels of 255; positive where the loco is faster than the first."""


@dataclass(frozen=True, slots=True)
class Compared:
    """Locos side by side."""

    members: tuple[Member, ...]
    rows: tuple[Row, ...]
    curves: tuple[Drawn | None, ...]
    """The speed curve of each loco; nothing where it cannot be told from what is saved."""
    forward: tuple[Apart | None, ...]
    reverse: tuple[Apart | None, ...]
    times: tuple[Times, ...]


def compare(members: Sequence[Member], *, everything: bool = False) -> Compared:
    """Two or more locos held against the first: what differs, by how much, what cannot be set.

    Only what matters for running together, unless ``everything`` is asked for; settings of which
    no loco has a saved value are left out.
    """
    names = dict.fromkeys(name for member in members for name in member.layout.answers)
    asked = [name for name in names if everything or is_about(RUNNING, name)]
    rows = [row for name in asked if (row := _row(members, name)) is not None]
    curves = tuple(curve_of(member.layout) for member in members)
    return Compared(
        tuple(members),
        tuple(rows),
        curves,
        tuple(_apart(curves[0], held, reverse=False) for held in curves),
        tuple(_apart(curves[0], held, reverse=True) for held in curves),
        tuple(times_of(member.layout) for member in members),
    )


def _row(members: Sequence[Member], name: str) -> Row | None:
    bare = [cell_of(member.layout, name) for member in members]
    if not any(cell.state is State.SAVED for cell in bare):
        return None
    places = [cell.place for cell in bare if cell.place is not None]
    if not any(is_settable(place) for place in places):
        return None
    cells = tuple(
        Cell(cell.state, cell.place, cell.parts, cell.standing, tuple(_cannot(cell, bare, at)))
        for at, cell in enumerate(bare)
    )
    title = next(
        held.title
        for member in members
        if (held := member.layout.resolver.profile.settings.get(name)) is not None
    )
    apart, unit = _figures_apart(cells)
    return Row(name, title, cells, _differs(cells), apart, unit)


def _cannot(cell: Cell, others: Sequence[Cell], at: int) -> Iterator[int]:
    """The other locos that cannot hold the value of a cell as it is."""
    if cell.state is not State.SAVED or cell.place is None or cell.parts is None:
        return
    for number, other in enumerate(others):
        if number == at or other.state in (State.DISPUTED, State.UNDECIDED):
            continue
        if other.place is None or not is_settable(other.place):
            yield number
            continue
        made = convert(cell.place.coding, cell.parts, other.place.coding)
        if not isinstance(made, Exact):
            yield number


def _differs(cells: Sequence[Cell]) -> bool | None:
    saved = [cell for cell in cells if cell.state is State.SAVED]
    if len(saved) < 2:
        return True if any(cell.state is State.ABSENT for cell in cells) else None
    return any(not _alike(saved[0], cell) for cell in saved[1:])


def _alike(one: Cell, other: Cell) -> bool:
    """Whether two saved values mean the same."""
    if one.place is None or other.place is None or one.parts is None or other.parts is None:
        return False
    made = convert(one.place.coding, one.parts, other.place.coding)
    if isinstance(made, Exact):
        return made.parts == other.parts
    back = convert(other.place.coding, other.parts, one.place.coding)
    return isinstance(back, Exact) and back.parts == one.parts


def _figures_apart(cells: Sequence[Cell]) -> tuple[tuple[Decimal | None, ...], str]:
    """How far each saved figure is from the first loco's, where the units allow it."""
    first = _figure(cells[0])
    if first is None:
        return (), ""
    unit = first[1]
    found: list[Decimal | None] = []
    for cell in cells:
        held = _figure(cell)
        ratio = None if held is None else factor(held[1], unit)
        if held is None or ratio is None or not _comparable(cells[0], cell):
            found.append(None)
        else:
            found.append(figure_of(Fraction(held[0]) * ratio - Fraction(first[0])))
    return tuple(found), unit


def _figure(cell: Cell) -> tuple[Decimal, str] | None:
    if cell.state is not State.SAVED or cell.place is None or cell.parts is None:
        return None
    coding = cell.place.coding
    if not isinstance(coding, Number):
        return None
    reading = coding.decode(cell.parts)
    raw = coding.signed(coding.join(cell.parts))
    is_only_a_name = reading.name is not None and not coding.low <= raw <= coding.high
    return None if is_only_a_name else (coding.scaled(raw), coding.unit)


def _comparable(one: Cell, other: Cell) -> bool:
    mine, theirs = (cell.place.coding if cell.place else None for cell in (one, other))
    if not isinstance(mine, Number) or not isinstance(theirs, Number):
        return False
    return mine.refers_to == theirs.refers_to and mine.measure == theirs.measure


def _apart(first: Drawn | None, other: Drawn | None, *, reverse: bool) -> Apart | None:
    if first is None or other is None:
        return None
    mine, theirs = (held.reverse if reverse else held.forward for held in (first, other))
    return Apart(*largest_deviation(theirs, mine))
