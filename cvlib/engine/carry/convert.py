"""One value in another coding: exactly, rounded to a step, held to a limit, or not at all."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from decimal import Decimal
from enum import StrEnum
from fractions import Fraction
from math import ceil, floor
from typing import TypeAlias

from cvlib.errors import InputError
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
from cvlib.model.coding_many import Address, Curve, Text
from cvlib.model.named import NamedSpan, named
from cvlib.model.unit_table import factor, figure_of


class Obstacle(StrEnum):
    """Why a value has no counterpart in another coding."""

    KIND = "kind"
    """Another kind of value, such as a choice instead of a number."""
    UNIT = "unit"
    """Units that do not turn into one another."""
    REFERENCE = "refers-to"
    """The figures are measured against different things."""
    FORMULA = "measure"
    """Only one side follows a formula of the standards, or each follows another."""
    NAME = "name"
    """The named value does not exist there."""
    LENGTH = "length"
    """A curve of another number of values."""
    RANGE = "range"
    """The value does not fit, and the nearest one would mean something else."""
    TOO_LOW = "too-low"
    """A limit of a current: the lowest value there is already above it."""


@dataclass(frozen=True, slots=True)
class Exact:
    """The same value in the other coding."""

    parts: Parts


@dataclass(frozen=True, slots=True)
class Rounded:
    """The nearest value, at most half a step away; figures in the unit of the other coding."""

    parts: Parts
    wanted: Decimal
    got: Decimal


@dataclass(frozen=True, slots=True)
class Limited:
    """As much of the value as the other coding can hold."""

    parts: Parts
    wanted: Decimal | None = None
    got: Decimal | None = None
    lost: tuple[str, ...] = ()
    """What is left out, where that is not a matter of a figure."""


@dataclass(frozen=True, slots=True)
class Impossible:
    """No value of the other coding stands for this one."""

    obstacle: Obstacle


Conversion: TypeAlias = Exact | Rounded | Limited | Impossible

_Named: TypeAlias = Number | Choice | Switch | Fields
_SWITCH = (NamedSpan(0, 0, "off"), NamedSpan(1, 1, "on"))


def convert(old: Coding, parts: Parts, new: Coding, *, only_down: bool = False) -> Conversion:
    """The value that legal parts of one coding stand for, in another coding.

    Figures go by unit, everything else by name; a special name has its figure nowhere else. Bits
    that mean nothing are left behind. With ``only_down`` a figure never becomes a higher one.
    """
    match old, new:
        case (Area(), _) | (_, Area()):
            return Impossible(Obstacle.KIND)
        case Flags(), Flags():
            return _flags(old, parts, new)
        case Fields(), Fields():
            return _by_name(old, old.join(parts), new) or Impossible(Obstacle.NAME)
        case _ if old == new:
            return Exact(parts)
        case Number(), Number():
            return _number(old, parts, new, only_down)
        case (
            (Number() | Choice() | Switch() | Fields()),
            (Number() | Choice() | Switch() | Fields()),
        ):
            figures = isinstance(old, (Number, Fields)) or isinstance(new, (Number, Fields))
            otherwise = Impossible(Obstacle.KIND if figures else Obstacle.NAME)
            return _by_name(old, old.join(parts), new) or otherwise
        case Address(), Address():
            return _address(old, parts, new)
        case Curve(), Curve():
            return _curve(parts, old, new)
        case Text(), Text():
            return _text(str(old.decode(parts).value), new)
        case _:
            return Impossible(Obstacle.KIND)


def _number(old: Number, parts: Parts, new: Number, only_down: bool) -> Conversion:
    raw = old.signed(old.join(parts))
    by_name = _by_name(old, raw, new)
    if by_name is not None:
        return by_name
    if named(old.names, raw) is not None:
        return Impossible(Obstacle.NAME)
    if old.refers_to != new.refers_to:
        return Impossible(Obstacle.REFERENCE)
    if old.measure != new.measure:
        return Impossible(Obstacle.FORMULA)
    ratio = factor(old.unit, new.unit)
    if ratio is None:
        return Impossible(Obstacle.UNIT)
    wanted = old.exact(raw) * ratio
    return _nearest(wanted, new, only_down)


def _nearest(wanted: Fraction, new: Number, only_down: bool) -> Conversion:
    """The raw value nearest to a figure that is a figure there too, never a special name.

    What is exactly 0 does not become something else: where 0 has a name, it has no counterpart.
    """
    exact = (wanted - Fraction(new.offset)) / Fraction(new.scale)
    rounded = floor(exact + Fraction(1, 2))
    if only_down:
        rounded = floor(exact) if new.scale > 0 else ceil(exact)
    raw = min(max(rounded, new.low), new.high)
    if named(new.names, raw) is not None:
        beside = {n for span in new.names for n in (span.low - 1, span.high + 1)}
        fit = [n for n in beside if new.low <= n <= new.high and named(new.names, n) is None]
        if only_down:
            fit = [n for n in fit if new.exact(n) <= wanted] or fit
        if not fit or (raw == exact and not wanted):
            return Impossible(Obstacle.RANGE)
        raw = min(fit, key=lambda n: (abs(n - exact), n))
    if only_down and new.exact(raw) > wanted:
        return Impossible(Obstacle.TOO_LOW)
    if new.measure is not None and raw != exact:
        return Impossible(Obstacle.RANGE)
    parts = _raw_parts(new, raw)
    if raw == exact:
        return Exact(parts)
    figures = figure_of(wanted), new.scaled(raw)
    return Rounded(parts, *figures) if raw == rounded else Limited(parts, *figures)


def _by_name(old: _Named, raw: int, new: _Named) -> Conversion | None:
    """The value of the same name there; nothing where the value has no name that both know."""
    mine = _span_of(_names(old), raw)
    if mine is None:
        return None
    for theirs in _names(new):
        if theirs.name.casefold() != mine.name.casefold():
            continue
        if theirs.high - theirs.low == mine.high - mine.low:
            return Exact(_raw_parts(new, theirs.low + raw - mine.low))
        if theirs.low <= raw <= theirs.high:
            return Exact(_raw_parts(new, raw))
        if mine.low == mine.high:
            return Exact(_raw_parts(new, theirs.low))
        nearest = min(max(raw, theirs.low), theirs.high)
        return Limited(_raw_parts(new, nearest), lost=(f"which value it was, {raw}",))
    return None


def _flags(old: Flags, parts: Parts, new: Flags) -> Conversion:
    number = old.join(parts)
    on = [name for bit, name in old.flags if number >> bit & 1]
    known = {name for _, name in new.flags}
    kept = new.encode(frozenset(name for name in on if name in known))
    lost = tuple(name for name in on if name not in known)
    return Limited(kept, lost=lost) if lost else Exact(kept)


def _address(old: Address, parts: Parts, new: Address) -> Conversion:
    try:
        return Exact(new.encode(old.decode(parts).value))
    except InputError:
        return Impossible(Obstacle.RANGE)


def _curve(parts: Parts, old: Curve, new: Curve) -> Conversion:
    if len(parts) != len(new.widths):
        return Impossible(Obstacle.LENGTH)
    if old.high != new.high or (old.low < 0) is not (new.low < 0):
        return Impossible(Obstacle.RANGE)
    points = old.points(parts)
    held = tuple(max(point, new.low) for point in points)
    pairs = enumerate(zip(points, held, strict=True), 1)
    lost = tuple(f"value {at} is {mine}" for at, (mine, theirs) in pairs if mine != theirs)
    kept = new.encode(held)
    return Limited(kept, lost=lost) if lost else Exact(kept)


def _text(text: str, new: Text) -> Conversion:
    room = len(new.widths)
    parts = new.encode(text[:room])
    return Limited(parts, lost=(text[room:],)) if len(text) > room else Exact(parts)


def _names(coding: _Named) -> tuple[NamedSpan, ...]:
    match coding:
        case Number() | Fields():
            return coding.names
        case Choice():
            return coding.choices
        case Switch():
            return _SWITCH


def _span_of(spans: Iterable[NamedSpan], raw: int) -> NamedSpan | None:
    return next((span for span in spans if span.low <= raw <= span.high), None)


def _raw_parts(coding: _Named, raw: int) -> Parts:
    """The parts of a raw value that the coding allows, with its sign."""
    if isinstance(coding, Number):
        return coding.encode(coding.scaled(raw))
    return coding.split(raw)
