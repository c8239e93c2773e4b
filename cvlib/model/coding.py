"""How CV bytes stand for a value: decode to engineering values, encode back, refuse the rest.

A coding works on *parts*: one whole number for each CV it uses, most significant first, already
shifted down where it uses only some bits of a CV. Decoding never fails: it reports what does not
fit. Encoding raises :class:`~cvlib.errors.InputError` for what cannot be written.
"""

from __future__ import annotations

from abc import ABC, abstractmethod
from collections.abc import Iterable
from dataclasses import dataclass
from decimal import Decimal
from enum import StrEnum
from fractions import Fraction
from typing import ClassVar, TypeAlias

from cvlib.errors import did_you_mean, problem
from cvlib.model.named import NamedSpan, named, number_named, span_texts
from cvlib.model.units import Factor, Measure, factor_text, in_steps, measured, plain, with_unit

Parts: TypeAlias = tuple[int, ...]
Value: TypeAlias = int | Decimal | bool | str | frozenset[str] | tuple[int, ...]
Written: TypeAlias = int | bool | str | list[str] | list[int]
"""A raw value as a profile writes it: for defaults and in conditions."""


class ValueFault(StrEnum):
    """Why a value is not allowed."""

    OUT_OF_RANGE = "out-of-range"
    UNDEFINED_CHOICE = "undefined-choice"


@dataclass(frozen=True, slots=True)
class Reading:
    """What CV bytes mean: the engineering value, its words, and what is wrong with it."""

    value: Value
    text: str
    name: str | None = None
    """The special name the value has, such as "off"."""
    fault: ValueFault | None = None
    stray: int = 0
    """Set bits that mean nothing, counted over all parts together."""


class SignForm(StrEnum):
    """How a number holds its sign."""

    BIT = "bit"
    TWOS_COMPLEMENT = "twos-complement"


def signed_value(bits: int, width: int, sign: SignForm | None) -> int:
    """The raw value that some bits hold, by the sign form."""
    top = 1 << width - 1
    if sign is None or not bits & top:
        return bits
    return -(bits & top - 1) if sign is SignForm.BIT else bits - 2 * top


def signed_bits(raw: int, width: int, sign: SignForm | None) -> int:
    """The bits that hold a raw value, by the sign form; refused where they are too few."""
    if raw >= 0 or sign is None:
        limit = width - bool(sign)
        if raw >= 1 << limit:
            raise problem(f"{raw} does not fit.", advice=f"At most {(1 << limit) - 1} does.")
        return raw
    top = 1 << width - 1
    lowest = 1 - top if sign is SignForm.BIT else -top
    if raw < lowest:
        raise problem(f"{raw} does not fit.", advice=f"At least {lowest} does.")
    return top | -raw if sign is SignForm.BIT else 2 * top + raw


@dataclass(frozen=True, slots=True)
class Coding(ABC):
    """The common part of every kind of value."""

    widths: tuple[int, ...]
    """Bits in each part, most significant part first."""

    kind: ClassVar[str]

    @abstractmethod
    def decode(self, parts: Parts) -> Reading:
        """What the parts mean."""

    @abstractmethod
    def encode(self, value: Value) -> Parts:
        """The parts that stand for an engineering value; raises where none do."""

    @abstractmethod
    def raw(self, written: Written) -> Parts:
        """The parts of a raw value as a profile writes it; raises where it does not fit."""

    def legal(self) -> str:
        """The legal values in words."""
        return f"0-{(1 << sum(self.widths)) - 1}"

    def join(self, parts: Parts) -> int:
        """The parts as one whole number."""
        number = 0
        for part, width in zip(parts, self.widths, strict=True):
            number = number << width | part
        return number

    def split(self, number: int) -> Parts:
        """One whole number as parts; refused where it is too large or negative."""
        room = sum(self.widths)
        if not 0 <= number < 1 << room:
            raise problem(
                f"{plain(number)} does not fit into {room} bit{'s' if room > 1 else ''}.",
                advice=f"Give {f'a number from 0 to {(1 << room) - 1}' if room > 1 else '0 or 1'}.",
            )
        parts = []
        for width in reversed(self.widths):
            parts.append(number & (1 << width) - 1)
            number >>= width
        return tuple(reversed(parts))

    def _whole(self, written: Written) -> Parts:
        if isinstance(written, bool):
            return self.split(int(written))
        if isinstance(written, int):
            return self.split(written)
        if isinstance(written, list) and len(written) == len(self.widths) > 1:
            return self._bytes(written)
        shown = f'"{written}"' if isinstance(written, str) else written
        raise problem(f"{shown} is no {self.kind} value.", advice="Write a whole number.")

    def _bytes(self, written: Iterable[object]) -> Parts:
        parts = tuple(part for part in written if isinstance(part, int))
        if len(parts) != len(self.widths) or any(
            not 0 <= part < 1 << width for part, width in zip(parts, self.widths, strict=False)
        ):
            raise problem(
                f"A list here needs {len(self.widths)} raw values, each within its CV.",
                advice="Write one whole number for each CV, most significant first.",
            )
        return parts


@dataclass(frozen=True, slots=True)
class Number(Coding):
    """A number, scaled: engineering value = raw value * scale + offset."""

    kind = "number"
    low: int = 0
    high: int = 255
    scale: Factor = Decimal(1)
    offset: Decimal = Decimal(0)
    unit: str = ""
    sign: SignForm | None = None
    names: tuple[NamedSpan, ...] = ()
    measure: Measure | None = None
    refers_to: str = ""
    """What the figure is measured against, where that is not plain from the unit."""

    def decode(self, parts: Parts) -> Reading:
        """The engineering value, with its unit in the words."""
        raw = self.signed(self.join(parts))
        name = named(self.names, raw)
        fits = name is not None or self.low <= raw <= self.high
        fault = None if fits else ValueFault.OUT_OF_RANGE
        return Reading(self.scaled(raw), self._words(raw, name), name, fault)

    @property
    def step(self) -> Factor:
        """What one raw step is worth, whichever way it counts."""
        return -self.scale if self.scale < 0 else self.scale

    def exact(self, raw: int) -> Fraction:
        """The engineering value of a raw one, exact."""
        return raw * Fraction(self.scale) + Fraction(self.offset)

    def scaled(self, raw: int) -> Decimal:
        """The engineering value of a raw one: exact, or to 28 digits where it has no end."""
        if isinstance(self.scale, Decimal):
            return raw * self.scale + self.offset
        exact = self.exact(raw)
        return Decimal(exact.numerator) / Decimal(exact.denominator)

    def figure(self, raw: int) -> str:
        """The engineering value of a raw one, in figures with its unit."""
        return in_steps(self.scaled(raw), self.scale, self.unit)

    def signed(self, bits: int) -> int:
        """The raw value that the bits hold, by the sign form."""
        return signed_value(bits, sum(self.widths), self.sign)

    def encode(self, value: Value) -> Parts:
        """The parts of an engineering value or special name; no rounding is done."""
        if isinstance(value, str):
            return self._unsigned(number_named(self.names, value, self.kind))
        if isinstance(value, (frozenset, tuple)):
            raise problem("A number cannot hold a list.", advice="Give one figure.")
        figure = Decimal(value)
        if not figure.is_finite() or not _is_plain(figure):
            raise problem("No CV could stand for this figure.", advice="Give a plain one.")
        raw = (Fraction(figure) - Fraction(self.offset)) / Fraction(self.scale)
        nearest = round(raw)
        if nearest != raw and self.scaled(nearest) != figure:
            step = f"{factor_text(self.step)} {self.unit}".rstrip()
            raise problem(
                f"{with_unit(figure, self.unit)} cannot be set exactly.",
                advice=f"Values go in steps of {step}.",
            )
        return self._checked(nearest)

    def raw(self, written: Written) -> Parts:
        """The parts of a raw number or special name."""
        if isinstance(written, str):
            return self.encode(written)
        if isinstance(written, int) and not isinstance(written, bool) and self.sign:
            return self._unsigned(written)
        return self._whole(written)

    def legal(self) -> str:
        """The range in raw values, with special names."""
        dash = " to " if self.low < 0 else "-"
        return ", ".join([f"{self.low}{dash}{self.high}", *span_texts(self.names)])

    def _checked(self, raw: int) -> Parts:
        if named(self.names, raw) is None and not self.low <= raw <= self.high:
            low, high = map(self.figure, sorted((self.low, self.high), key=self.scaled))
            raise problem(
                f"{self.figure(raw)} is outside the range.",
                advice=f"Allowed are {low} to {high}.",
            )
        return self._unsigned(raw)

    def _unsigned(self, raw: int) -> Parts:
        return self.split(signed_bits(raw, sum(self.widths), self.sign))

    def _words(self, raw: int, name: str | None) -> str:
        figure = self.figure(raw)
        if self.measure and name is None:
            figure = f"{figure}: {measured(self.measure, raw, is_added=bool(self.sign))}"
        if self.refers_to:
            figure = f"{figure} {self.refers_to}"
        if name is None:
            return figure
        single = any(span.low == span.high == raw for span in self.names)
        return name if single else f"{name} ({figure})"


@dataclass(frozen=True, slots=True)
class Switch(Coding):
    """Off or on."""

    kind = "switch"

    def decode(self, parts: Parts) -> Reading:
        """True for 1, False for 0; anything else is out of range."""
        number = self.join(parts)
        if number > 1:
            return Reading(number, str(number), fault=ValueFault.OUT_OF_RANGE)
        return Reading(bool(number), "on" if number else "off")

    def encode(self, value: Value) -> Parts:
        """The parts of True or False."""
        if value not in (0, 1, "off", "on"):
            raise problem(f'A switch cannot be "{value}".', advice='Give "on" or "off".')
        return self.split(int(value in (1, "on")))

    def raw(self, written: Written) -> Parts:
        """The parts of true, false, "on", "off", 1 or 0."""
        return self._whole(written) if not isinstance(written, str) else self.encode(written)

    def legal(self) -> str:
        """The two legal values."""
        return "0 (off), 1 (on)"


@dataclass(frozen=True, slots=True)
class Choice(Coding):
    """One of several named values."""

    kind = "choice"
    choices: tuple[NamedSpan, ...] = ()

    def decode(self, parts: Parts) -> Reading:
        """The name; where a name covers several raw values, the raw value beside it."""
        raw = self.join(parts)
        for span in self.choices:
            if span.low <= raw <= span.high:
                alone = span.low == span.high
                words = span.name if alone else f"{span.name} ({raw})"
                return Reading(span.name if alone else raw, words, span.name)
        return Reading(raw, str(raw), fault=ValueFault.UNDEFINED_CHOICE)

    def encode(self, value: Value) -> Parts:
        """The parts of a name, or of a raw number that has one."""
        if isinstance(value, str):
            return self.split(number_named(self.choices, value, self.kind))
        if not isinstance(value, int) or named(self.choices, value) is None:
            raise problem(f"No choice has the value {value}.", advice=f"There are {self.legal()}.")
        return self.split(int(value))

    def raw(self, written: Written) -> Parts:
        """The parts of a raw number or a name."""
        return self.encode(written) if isinstance(written, str) else self._whole(written)

    def legal(self) -> str:
        """The choices."""
        return ", ".join(span_texts(self.choices))


@dataclass(frozen=True, slots=True)
class Flags(Coding):
    """Several bits, each with a name, each set or clear."""

    kind = "flags"
    flags: tuple[tuple[int, str], ...] = ()
    """Bit of the joined parts and its name, lowest bit first."""

    def decode(self, parts: Parts) -> Reading:
        """The names of the bits set; set bits without a name are stray."""
        number = self.join(parts)
        on = [name for bit, name in self.flags if number >> bit & 1]
        known = sum(1 << bit for bit, _ in self.flags)
        return Reading(frozenset(on), ", ".join(on) or "none", stray=number & ~known)

    def encode(self, value: Value) -> Parts:
        """The parts with just the named bits set."""
        if not isinstance(value, (frozenset, tuple)):
            raise problem(f"{value} is not a set of flags.", advice=f"Flags are {self.legal()}.")
        return self.raw([str(name) for name in value])

    def raw(self, written: Written) -> Parts:
        """The parts of a raw number or of a list of flag names."""
        if not isinstance(written, list):
            return self._whole(written)
        known = {name: bit for bit, name in self.flags}
        for name in written:
            if name not in known:
                raise problem(
                    f'No flag "{name}".',
                    advice=did_you_mean(str(name), known) or f"Flags are {self.legal()}.",
                )
        return self.split(sum(1 << known[str(name)] for name in set(written)))

    def legal(self) -> str:
        """The flags' names."""
        return ", ".join(f"{bit} {name}" for bit, name in self.flags)


@dataclass(frozen=True, slots=True)
class Fields(Coding):
    """A whole CV whose bits are settings of their own, unless it has a value with a name."""

    kind = "fields"
    names: tuple[NamedSpan, ...] = ()
    """Values of the whole byte that stand for something themselves: its bits then mean nothing."""

    def name_of(self, byte: int) -> str | None:
        """What the whole byte stands for, where its bits mean nothing."""
        return named(self.names, byte)

    def decode(self, parts: Parts) -> Reading:
        """The byte as it stands, by its name where it has one."""
        byte = self.join(parts)
        name = self.name_of(byte)
        return Reading(byte, name or str(byte), name)

    def encode(self, value: Value) -> Parts:
        """The byte as it stands, or that of a name."""
        if isinstance(value, str) and self.names:
            return self.split(number_named(self.names, value, "byte"))
        if not isinstance(value, int):
            raise problem(f"{value} is not a whole number.")
        return self.split(value)

    def raw(self, written: Written) -> Parts:
        """The byte as it stands, or that of a name."""
        is_name = isinstance(written, str) and bool(self.names)
        return self.encode(str(written)) if is_name else self._whole(written)

    def legal(self) -> str:
        """Every byte, with special names."""
        return ", ".join(["0-255", *span_texts(self.names)])


@dataclass(frozen=True, slots=True)
class Area(Fields):
    """CVs that a standard sets aside without a meaning of their own."""

    kind = "area"
    use: str = "reserved"

    def raw(self, written: Written) -> Parts:
        """Never: an area has no default."""
        raise problem(
            f"An area has no value of its own, not even {written}.", advice="Leave it out."
        )

    def decode(self, parts: Parts) -> Reading:
        """The bytes as they stand."""
        return Reading(tuple(parts), " ".join(map(str, parts)))

    def legal(self) -> str:
        """What the area is set aside for."""
        return self.use


def _is_plain(figure: Decimal) -> bool:
    """Whether a figure is of a size and length that a person would write."""
    _, digits, exponent = figure.as_tuple()
    return len(digits) <= 40 and isinstance(exponent, int) and -40 <= exponent <= 20
