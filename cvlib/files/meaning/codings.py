"""From what a place says about its value to the model's coding."""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping
from decimal import Decimal
from itertools import pairwise
from typing import Any

from cvlib.files.faults import Faults, Path
from cvlib.files.shapes import places as shapes
from cvlib.model.coding import (
    Area,
    Choice,
    Coding,
    Fields,
    Flags,
    Number,
    SignForm,
    Switch,
)
from cvlib.model.coding_many import Address, AddressForm, Curve, Text
from cvlib.model.cv import Field
from cvlib.model.formulas import LONGEST_ADDRESS
from cvlib.model.named import NamedSpan
from cvlib.model.units import Measure

_SPAN = re.compile(r"(-?\d+)(?:\s*-\s*(-?\d+))?", re.ASCII)
_CV_COUNTS: dict[str, tuple[int, int, str]] = {
    "switch": (1, 1, "one CV"),
    "fields": (1, 1, "one CV"),
    "curve": (2, 1024, "two or more CVs"),
    "short": (1, 1, "one CV"),
    "extended": (2, 2, "two CVs"),
    "plain": (1, 2, "one or two CVs"),
}


class Coder:
    """Makes the coding of one place and notes what does not fit."""

    def __init__(
        self,
        faults: Faults,
        path: Path,
        fields: tuple[Field, ...],
        lists: Mapping[str, dict[str, str]],
    ) -> None:
        self.faults = faults
        self.path = path
        self.fields = fields
        self.lists = lists
        self.widths = tuple(field.width for field in fields) or (8,)

    def coding(self, place: shapes.PlaceShape) -> Coding | None:
        """The coding, or nothing where the place cannot be understood."""
        kind = place.kind  # type: ignore[attr-defined]
        before = len(self.faults.paths)
        self._count(kind)
        made = _MAKERS[kind](self, place)
        return made if len(self.faults.paths) == before else None

    def _count(self, kind: str) -> None:
        least, most, words = _CV_COUNTS.get(kind, (0, 1024, ""))
        if self.fields and not least <= len(self.fields) <= most:
            what = kind if kind not in {form.value for form in AddressForm} else f"{kind} address"
            self.faults.add(self.path, f"the {what} needs {words}, not {len(self.fields)}.")

    def _limits(self, sign: str | None, width: int = 0) -> tuple[int, int]:
        top = 1 << (width or sum(self.widths))
        if sign is None:
            return 0, top - 1
        return (1 - top // 2 if sign == "bit" else -top // 2), top // 2 - 1

    def _ends(self, given: list[int] | None, limits: tuple[int, int]) -> tuple[int, int]:
        if given is None:
            return limits
        low, high = given
        if low > high:
            self.faults.add(
                (*self.path, "range"), f"{low} is above {high}.", "Write the lower end first."
            )
        elif low < limits[0] or high > limits[1]:
            self.faults.add(
                (*self.path, "range"),
                f"{low} to {high} does not fit.",
                f"The bits of this place hold {limits[0]} to {limits[1]}.",
            )
        return low, high

    def named(self, key: str, given: dict[str, str] | str | None) -> dict[str, str]:
        """The names that a key gives, itself or by the name of a list."""
        if isinstance(given, str):
            if given not in self.lists:
                self.faults.unknown((*self.path, key), "list", given, self.lists)
            return self.lists.get(given, {})
        return given or {}

    def names(
        self, key: str, given: dict[str, str] | str | None, limits: tuple[int, int]
    ) -> tuple[NamedSpan, ...]:
        """Named raw values in rising order; overlaps and what does not fit are noted."""
        spans: list[NamedSpan] = []
        for text, name in self.named(key, given).items():
            found = _SPAN.fullmatch(text)
            low = int(found[1]) if found else 0
            high = int(found[2] or found[1]) if found else -1
            at = (*self.path, key, text)
            if low > high:
                self.faults.add(at, f'"{text}" is no value or span.', "Write the lower end first.")
            elif low < limits[0] or high > limits[1]:
                self.faults.add(
                    at,
                    f'the value {text} ("{name}") does not fit.',
                    f"The bits of this place hold {limits[0]} to {limits[1]}.",
                )
            spans.append(NamedSpan(low, high, name))
        spans.sort(key=lambda span: (span.low, span.high))
        for one, other in pairwise(spans):
            if other.low <= one.high:
                self.faults.add(
                    (*self.path, key),
                    f'"{one.name}" and "{other.name}" both claim the value {other.low}.',
                    "Give each value one name.",
                )
        return tuple(spans)

    def number(self, place: shapes.NumberPlace) -> Coding:
        """A number with its range, scale and names."""
        limits = self._limits(place.sign)
        low, high = self._ends(place.range, limits)
        return Number(
            self.widths,
            low,
            high,
            place.scale if place.scale is not None else Decimal(1),
            place.offset if place.offset is not None else Decimal(0),
            place.unit or "",
            SignForm(place.sign) if place.sign else None,
            self.names("values", place.values, limits),
            Measure(place.measure) if place.measure else None,
            place.refers_to or "",
        )

    def switch(self, _: shapes.SwitchPlace) -> Coding:
        """Off or on."""
        return Switch(self.widths)

    def choice(self, place: shapes.ChoicePlace) -> Coding:
        """The named values."""
        return Choice(self.widths, self.names("choices", place.choices, self._limits(None)))

    def flags(self, place: shapes.FlagsPlace) -> Coding:
        """The named bits, counted from the lowest bit of the place."""
        shift = self.fields[0].shift if len(self.fields) == 1 else 0
        room = sum(self.widths)
        flags: dict[int, str] = {}
        for text, name in self.named("flags", place.flags).items():
            at = (*self.path, "flags", text)
            if not text.isdecimal():
                self.faults.add(at, f'"{text}" is no bit number.', "Flags have one bit each.")
                continue
            bit = int(text) - shift
            if not 0 <= bit < room:
                self.faults.add(
                    at,
                    f'bit {text} ("{name}") lies outside this place.',
                    f"Its bits are {shift} to {shift + room - 1}.",
                )
            if bit in flags:
                self.faults.add(at, f"bit {int(text)} has two names.")
            if name in flags.values():
                self.faults.twice(at, "the flag", name)
            flags[bit] = name
        return Flags(self.widths, tuple(sorted(flags.items())))

    def address(self, place: shapes.AddressPlace) -> Coding:
        """The form and range of an address."""
        self._count(place.form)
        usual = {"short": (1, 127), "extended": (1, LONGEST_ADDRESS)}.get(place.form)
        limits = self._limits(None)
        if place.form == "extended":
            limits = (0, LONGEST_ADDRESS)
        low, high = self._ends(place.range, limits) if place.range else usual or limits
        return Address(self.widths, AddressForm(place.form), low, high)

    def curve(self, place: shapes.CurvePlace) -> Coding:
        """The range of each value."""
        limits = self._limits(place.sign, min(self.widths))
        sign = SignForm(place.sign) if place.sign else None
        return Curve(self.widths, *self._ends(place.range, limits), sign)

    def text(self, _: shapes.TextPlace) -> Coding:
        """Characters."""
        return Text(self.widths)

    def whole(self, place: shapes.FieldsPlace) -> Coding:
        """A byte of fields, with the values that stand for something as a whole."""
        return Fields(self.widths, self.names("values", place.values, self._limits(None)))

    def area(self, place: shapes.AreaPlace) -> Coding:
        """What the CVs are kept for."""
        return Area(self.widths, use=place.use)


_MAKERS: dict[str, Callable[[Coder, Any], Coding]] = {
    "number": Coder.number,
    "switch": Coder.switch,
    "choice": Coder.choice,
    "flags": Coder.flags,
    "address": Coder.address,
    "curve": Coder.curve,
    "text": Coder.text,
    "fields": Coder.whole,
    "area": Coder.area,
}
