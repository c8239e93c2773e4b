"""Kinds of value that span several CVs as a rule: addresses, curves and texts."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from enum import StrEnum

from cvlib.errors import problem
from cvlib.model import formulas
from cvlib.model.coding import (
    Coding,
    Parts,
    Reading,
    SignForm,
    Value,
    ValueFault,
    Written,
    signed_bits,
    signed_value,
)


class AddressForm(StrEnum):
    """How an address is held."""

    SHORT = "short"
    EXTENDED = "extended"
    PLAIN = "plain"


@dataclass(frozen=True, slots=True)
class Address(Coding):
    """A track address.

    Sources: NMRA S-9.2.2 (2012-07) and RCN-225 (2025-07-27), CVs 1 and 17-18.
    """

    kind = "address"
    form: AddressForm = AddressForm.SHORT
    low: int = 1
    high: int = 127

    def decode(self, parts: Parts) -> Reading:
        """The address; out of range where the CVs hold no legal one."""
        if self.form is AddressForm.EXTENDED:
            address = (parts[0] - formulas.ADDRESS_BASE) * 256 + parts[1]
            marked = formulas.ADDRESS_BASE <= parts[0] <= formulas.ADDRESS_TOP
        else:
            address, marked = self.join(parts), True
        fits = marked and self.low <= address <= self.high
        words = str(address) if marked else f"no address ({parts[0]}, {parts[1]})"
        return Reading(address, words, fault=None if fits else ValueFault.OUT_OF_RANGE)

    def encode(self, value: Value) -> Parts:
        """The parts of an address within the range."""
        if not isinstance(value, int) or not self.low <= value <= self.high:
            raise problem(
                f"{value} is not an address of this kind.",
                advice=f"Give a whole number from {self.low} to {self.high}.",
            )
        if self.form is AddressForm.EXTENDED:
            return self.split((formulas.ADDRESS_BASE << 8) + value)
        return self.split(value)

    def raw(self, written: Written) -> Parts:
        """The parts of an address, or the raw CV values as a list."""
        if self.form is AddressForm.EXTENDED and isinstance(written, int):
            return self.encode(written)
        return self._whole(written)

    def legal(self) -> str:
        """The range of addresses."""
        return f"{self.low}-{self.high}"


@dataclass(frozen=True, slots=True)
class Curve(Coding):
    """Many CVs, one value each."""

    kind = "curve"
    low: int = 0
    high: int = 255
    sign: SignForm | None = None

    def decode(self, parts: Parts) -> Reading:
        """The values in order."""
        points = self.points(parts)
        fits = all(self.low <= point <= self.high for point in points)
        fault = None if fits else ValueFault.OUT_OF_RANGE
        return Reading(points, " ".join(map(str, points)), fault=fault)

    def points(self, parts: Parts) -> tuple[int, ...]:
        """The value of each part, by the sign form."""
        pairs = zip(parts, self.widths, strict=True)
        return tuple(signed_value(part, width, self.sign) for part, width in pairs)

    def encode(self, value: Value) -> Parts:
        """The parts of as many values as there are CVs, each within the range."""
        fits = isinstance(value, tuple) and len(value) == len(self.widths)
        if not isinstance(value, tuple) or not fits:
            raise problem(f"This curve needs {len(self.widths)} values.")
        for point in value:
            if not self.low <= point <= self.high:
                raise problem(
                    f"{point} is outside the curve's range.",
                    advice=f"Each value may be {self.low} to {self.high}.",
                )
        return self._held(value)

    def raw(self, written: Written) -> Parts:
        """The parts of a list of values, or one value for all."""
        if isinstance(written, int):
            written = [written] * len(self.widths)
        if isinstance(written, str):
            raise problem("A curve is written as a list of whole numbers.")
        points = [point for point in written if isinstance(point, int)]
        fit = self.sign is not None and len(points) == len(written) == len(self.widths)
        return self._held(points) if fit else self._bytes(written)

    def legal(self) -> str:
        """The range of each value."""
        return f"{self.low}{' to ' if self.low < 0 else '-'}{self.high} each"

    def _held(self, points: Iterable[int]) -> Parts:
        pairs = zip(points, self.widths, strict=True)
        return tuple(signed_bits(point, width, self.sign) for point, width in pairs)


@dataclass(frozen=True, slots=True)
class Text(Coding):
    """Characters of plain ASCII, one a CV; a zero ends the text."""

    kind = "text"

    def decode(self, parts: Parts) -> Reading:
        """The text up to the first zero."""
        shown = bytes(parts).partition(b"\0")[0]
        if not all(32 <= code < 127 for code in shown):
            words = f"no text ({', '.join(map(str, parts))})"
            return Reading(tuple(parts), words, fault=ValueFault.OUT_OF_RANGE)
        text = shown.decode("ascii")
        return Reading(text, f'"{text}"')

    def encode(self, value: Value) -> Parts:
        """The characters, filled up with zeros."""
        if not isinstance(value, str) or not (value.isascii() and value.isprintable()):
            raise problem("Only plain printable ASCII characters can be written here.")
        if len(value) > len(self.widths):
            raise problem(
                f"The text has {len(value)} characters.",
                advice=f"There is room for {len(self.widths)}.",
            )
        return tuple(value.encode("ascii").ljust(len(self.widths), b"\0"))

    def raw(self, written: Written) -> Parts:
        """The parts of a text, or the raw CV values as a list."""
        return self.encode(written) if isinstance(written, str) else self._whole(written)

    def legal(self) -> str:
        """The room for characters."""
        count = len(self.widths)
        return f"up to {count} character{'s' if count > 1 else ''}"
