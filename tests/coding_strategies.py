"""Every kind of value that a place may hold, for the laws of codings."""

from __future__ import annotations

from decimal import Decimal
from fractions import Fraction
from itertools import pairwise

from hypothesis import strategies as st
from hypothesis.strategies import DrawFn, SearchStrategy, composite

from cvlib.model.coding import Choice, Coding, Fields, Flags, Number, SignForm, Switch
from cvlib.model.coding_many import Address, AddressForm, Curve, Text
from cvlib.model.named import NamedSpan
from cvlib.model.units import Measure, factor_of


def widths(least: int = 1, most: int = 1) -> SearchStrategy[tuple[int, ...]]:
    """The bits of each part: one part of 1-8 bits, or several whole CVs."""
    if most == 1:
        return st.integers(1, 8).map(lambda width: (width,))
    return st.integers(least, most).map(lambda count: (8,) * count)


@composite
def named_spans(draw: DrawFn, low: int, high: int) -> tuple[NamedSpan, ...]:
    """Named raw values between two ends, rising and apart."""
    edges = draw(st.lists(st.integers(low, high), max_size=6, unique=True).map(sorted))
    edges = edges[: len(edges) // 2 * 2]
    held = [NamedSpan(a, b, f"name {a}") for a, b in pairwise(edges)][::2]
    alone = draw(st.booleans())
    return tuple(NamedSpan(s.low, s.low, s.name) if alone else s for s in held)


SCALES = ("1", "2", "0.5", "0.1", "0.896", "100", "-1", "-2.5", "0.007", "1/1024", "1/255", "-2/3")


@composite
def numbers(draw: DrawFn, held: tuple[int, ...] | None = None) -> Number:
    """Numbers of every width, sign, scale and offset."""
    width = held or draw(widths() | widths(1, 3))
    room = sum(width)
    sign = draw(st.none() | st.sampled_from(SignForm)) if room > 1 else None
    top = 1 << room
    ends = {
        None: (0, top - 1),
        SignForm.BIT: (1 - top // 2, top // 2 - 1),
        SignForm.TWOS_COMPLEMENT: (-top // 2, top // 2 - 1),
    }[sign]
    low, high = sorted(draw(st.tuples(st.integers(*ends), st.integers(*ends))))
    return Number(
        width,
        low,
        high,
        factor_of(Fraction(draw(st.sampled_from(SCALES)))),
        Decimal(draw(st.sampled_from(["0", "1", "-3", "0.25"]))),
        draw(st.sampled_from(["", "cm", "s"])),
        sign,
        draw(named_spans(*ends)),
        draw(st.none() | st.sampled_from(Measure)) if sign is None else None,
        draw(st.sampled_from(["", "at the motor"])),
    )


@composite
def choices(draw: DrawFn, held: tuple[int, ...] | None = None) -> Choice:
    """Choices of at least one name."""
    width = held or draw(widths())
    top = (1 << sum(width)) - 1
    return Choice(width, draw(named_spans(0, top)) or (NamedSpan(0, 0, "off"),))


@composite
def flags(draw: DrawFn, held: tuple[int, ...] | None = None) -> Flags:
    """Flags, some bits without a name."""
    width = held or draw(widths() | widths(1, 2))
    bits = draw(st.lists(st.integers(0, sum(width) - 1), unique=True).map(sorted))
    return Flags(width, tuple((bit, f"F{bit}") for bit in bits))


@composite
def addresses(draw: DrawFn) -> Address:
    """Addresses of all three forms."""
    form = draw(st.sampled_from(AddressForm))
    if form is AddressForm.SHORT:
        return Address((8,), form, 1, 127)
    if form is AddressForm.EXTENDED:
        return Address((8, 8), form, 1, 10239)
    width = draw(widths(1, 2))
    top = (1 << sum(width)) - 1
    low, high = sorted(draw(st.tuples(st.integers(0, top), st.integers(0, top))))
    return Address(width, form, low, high)


@composite
def curves(draw: DrawFn, held: tuple[int, ...] | None = None) -> Curve:
    """Curves of two values up to the 28 of the standards' speed table."""
    width = held or draw(widths(2, 28))
    sign = draw(st.none() | st.sampled_from(SignForm))
    least, most = (0, 255) if sign is None else (-127, 127)
    low, high = sorted(draw(st.tuples(st.integers(least, most), st.integers(least, most))))
    return Curve(width, low, high, sign)


def codings() -> SearchStrategy[Coding]:
    """Every kind of value that a person sets."""
    switches: SearchStrategy[Coding] = widths().map(Switch)
    texts: SearchStrategy[Coding] = widths(1, 8).map(Text)
    whole: SearchStrategy[Coding] = named_spans(0, 255).map(lambda names: Fields((8,), names))
    return st.one_of(numbers(), choices(), flags(), addresses(), curves(), switches, texts, whole)


def parts_of(coding: Coding) -> SearchStrategy[tuple[int, ...]]:
    """Parts that the CVs of a coding can hold, legal or not."""
    return st.tuples(*(st.integers(0, (1 << width) - 1) for width in coding.widths))
