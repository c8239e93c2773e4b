"""Values in few words, for narrow columns and for sheets."""

from __future__ import annotations

from dataclasses import dataclass

from cvlib.model import formulas
from cvlib.model.coding import Number, Parts
from cvlib.model.coding_many import Curve, Text
from cvlib.model.cv import Slot
from cvlib.model.profile import Place
from cvlib.model.units import COURSES, Measure, plain

MOST_POINTS = 8
"""Values of a curve up to which each is shown."""


def short_value(place: Place, parts: Parts) -> str:
    """A value with its meaning, without what a reader of a list can do without.

    Momentum is told as seconds to full speed or to a stand, a long curve by its ends.
    """
    coding = place.coding
    if isinstance(coding, Number) and coding.measure is Measure.MOMENTUM:
        return _momentum(place, coding, parts)
    if len(parts) > MOST_POINTS and not isinstance(coding, Text):
        points = coding.points(parts) if isinstance(coding, Curve) else parts
        return f"{points[0]} … {points[-1]}"
    return coding.decode(parts).text


def _momentum(place: Place, coding: Number, parts: Parts) -> str:
    raw = coding.signed(coding.join(parts))
    if raw == 0:
        return f"0 ({'adds nothing' if coding.sign else 'no momentum'})"
    course = COURSES.get(place.fields[0].slot.cv, "")
    seconds = plain(round(formulas.seconds_in_all(abs(raw)), 2))
    more = ("less " if raw < 0 else "more ") if coding.sign else ""
    return f"{raw} ({f'{seconds} s {more}{course}'.rstrip()})"


@dataclass(frozen=True, slots=True)
class Said:
    """A setting as a sheet names it: title, value, and the CVs it is spread over."""

    title: str
    value: str = ""
    slots: tuple[Slot, ...] = ()

    @classmethod
    def of(cls, title: str, place: Place | None, parts: Parts | None) -> Said:
        """The words for a value at a place, as far as both are known."""
        if place is None or parts is None:
            return cls(title)
        slots = tuple(field.slot for field in place.fields)
        return cls(title, short_value(place, parts), slots)

    def at(self, slot: Slot) -> str:
        """The words for one of its CVs."""
        words = f"{self.title} {self.value}".rstrip()
        if len(self.slots) < 2 or slot not in self.slots:
            return words
        return f"{words}, part {self.slots.index(slot) + 1} of {len(self.slots)}"
