"""The speed curve and the momentum of one loco, out of its saved values."""

from __future__ import annotations

from dataclasses import dataclass
from decimal import Decimal

from cvlib.engine.account.cells import Cell, State, cell_of
from cvlib.engine.account.claims import Layout
from cvlib.engine.compare.motion import (
    FULL,
    STEPS,
    Drawn,
    Speeds,
    drawn,
    seconds_to_full_speed,
    trim_factor,
)
from cvlib.model.coding import Number, Parts
from cvlib.model.coding_many import Curve


@dataclass(frozen=True, slots=True)
class Times:
    """Seconds from a stand to full speed and back, by the standards' formula."""

    speeding_up: Decimal | None
    slowing_down: Decimal | None


def curve_of(layout: Layout) -> Drawn | None:
    """The speed curve of one loco's saved values; nothing where they do not tell it.

    Values not saved count as their factory value where the profile knows one.
    """
    asked = {
        "configuration.speed-table": "uses_table",
        "speed.minimum": "minimum",
        "speed.middle": "middle",
        "speed.maximum": "maximum",
        "speed.table-choice": "choice",
        "speed.forward-trim": "forward_trim",
        "speed.reverse-trim": "reverse_trim",
    }
    found: dict[str, int] = {}
    for name, key in asked.items():
        cell = cell_of(layout, name)
        if cell.state in (State.SAVED, State.UNSAVED) and _is_level(cell) and cell.parts:
            found[key] = cell.parts[0]
    points = table_points(cell_of(layout, "speed.table"))
    uses_table = bool(found.pop("uses_table", 0))
    if not uses_table and "minimum" not in found:
        return None
    return drawn(Speeds(uses_table, points, **found))


def table_points(cell: Cell) -> Parts | None:
    """The values of a speed table of the standards' form: 28 of them, up to 255."""
    if cell.place is None or not isinstance(cell.place.coding, Curve):
        return None
    is_standard = len(cell.place.fields) == STEPS and cell.place.coding.high == FULL
    return cell.parts if is_standard else None


def _is_level(cell: Cell) -> bool:
    """Whether a value is coded as the standards have it: 0-255 as it stands, n/128, or a switch."""
    if cell.place is None:
        return False
    coding = cell.place.coding
    if not isinstance(coding, Number):
        return coding.kind == "switch"
    plain = coding.offset == 0 and not coding.unit and not coding.sign
    return plain and coding.scale in (1, trim_factor(1))


def times_of(layout: Layout) -> Times:
    """The seconds of one loco, as far as its saved values tell them."""
    return Times(_seconds(layout, "acceleration"), _seconds(layout, "deceleration"))


def _seconds(layout: Layout, what: str) -> Decimal | None:
    base = _momentum(layout, f"momentum.{what}")
    change = _momentum(layout, f"momentum.{what}-adjustment")
    return None if base is None else seconds_to_full_speed(base, change or 0)


def _momentum(layout: Layout, name: str) -> int | None:
    cell = cell_of(layout, name)
    if cell.state is not State.SAVED or cell.place is None or cell.parts is None:
        return None
    coding = cell.place.coding
    if not isinstance(coding, Number) or coding.measure is None:
        return None
    return coding.signed(coding.join(cell.parts))
