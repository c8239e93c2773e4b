"""Measured stops as dots along a line, with characters and as a drawing."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING, NamedTuple

from cvlib.render.view import DotRow

if TYPE_CHECKING:
    from cvlib.render.html import Element

COLUMNS = 48
"""Characters for the line."""
WIDE, ROW_HIGH, LEFT = 640, 78, 150
"""The drawing: its width, the height of a row, and the room for names, in pixels."""
LONGEST_NAME = 16


class Scale(NamedTuple):
    """The stretch that a line shows."""

    low: float
    high: float

    def share(self, value: float) -> float:
        """Where a value lies: 0 at the left end, 1 at the right."""
        return min(1.0, max(0.0, (value - self.low) / (self.high - self.low)))


def scale_of(rows: Sequence[DotRow]) -> Scale:
    """A stretch that holds all stops and marks, with a little room."""
    held = [stop for row in rows for stop in row.stops]
    for row in rows:
        if row.mark is not None:
            held += [row.mark - row.margin, row.mark + row.margin]
    low, high = min(held), max(held)
    room = (high - low) * 0.04 or 1.0
    return Scale(low - room, high + room)


def dots_text(rows: Sequence[DotRow], unit: str) -> str:
    """One line of dots for each condition, stacked where stops are alike; the mark is ``^``."""
    scale = scale_of(rows)
    wide = min(max(len(row.name) for row in rows), LONGEST_NAME)
    lines: list[str] = []
    for row in rows:
        counts = [0] * COLUMNS
        for stop in row.stops:
            counts[_column(scale, stop)] += 1
        for level in range(max(counts, default=0), 0, -1):
            name = row.name[:LONGEST_NAME] if level == 1 else ""
            dots = "".join("o" if count >= level else " " for count in counts)
            lines.append(f"{name:<{wide}}  {dots}".rstrip())
        base = ["-"] * COLUMNS
        if row.mark is not None:
            base[_column(scale, row.mark - row.margin)] = "["
            base[_column(scale, row.mark + row.margin)] = "]"
            base[_column(scale, row.mark)] = "^"
        lines.append(f"{'':<{wide}}  {''.join(base)}")
    ends = f"{scale.low:.4g} {unit}", f"{scale.high:.4g} {unit}"
    lines.append(f"{'':<{wide}}  {ends[0]}{ends[1]:>{COLUMNS - len(ends[0])}}")
    return "\n".join(lines)


def _column(scale: Scale, value: float) -> int:
    return round(scale.share(value) * (COLUMNS - 1))


def dots_svg(rows: Sequence[DotRow], unit: str) -> Element:
    """The same as a drawing, read aloud by its title."""
    from cvlib.render.html import tag

    scale = scale_of(rows)
    high = ROW_HIGH * len(rows) + 28
    told = "; ".join(
        f"{row.name}: {', '.join(f'{stop:g}' for stop in row.stops)} {unit}" for row in rows
    )
    parts: list[Element] = [tag("title", told)]
    for at, row in enumerate(rows):
        base = ROW_HIGH * (at + 1) - 6
        parts.append(tag("text", row.name[:LONGEST_NAME], x=0, y=base))
        if row.mark is not None:
            left, right = (_x(scale, row.mark + sign * row.margin) for sign in (-1, 1))
            width = f"{right - left:.1f}"
            parts.append(
                tag("rect", x=f"{left:.1f}", y=base - 66, width=width, height=66, class_="margin")
            )
            path = f"M{_x(scale, row.mark):.1f} {base - 66}v66"
            parts.append(tag("path", d=path, stroke_dasharray="3 2"))
        parts.append(tag("path", d=f"M{LEFT} {base}H{WIDE - 10}"))
        seen: dict[int, int] = {}
        for stop in row.stops:
            x = _x(scale, stop)
            seen[round(x / 9)] = number = seen.get(round(x / 9), 0) + 1
            y = base + 3 - min(number, 8) * 8
            parts.append(tag("circle", cx=f"{x:.1f}", cy=y, r=4))
    for x, value, anchor in ((LEFT, scale.low, "start"), (WIDE - 10, scale.high, "end")):
        parts.append(tag("text", f"{value:.4g} {unit}", x=x, y=high - 8, text_anchor=anchor))
    return tag("svg", parts, class_="dots", viewBox=f"0 0 {WIDE} {high}", role="img")


def _x(scale: Scale, value: float) -> float:
    return LEFT + scale.share(value) * (WIDE - 10 - LEFT)
