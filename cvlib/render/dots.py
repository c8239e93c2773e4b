"""Measured stops as dots along a line, with characters and as a drawing."""

from __future__ import annotations

from collections.abc import Sequence
from html import escape
from typing import NamedTuple

COLUMNS = 48
"""Characters for the line."""
WIDE, ROW_HIGH, LEFT = 640, 78, 150
"""The drawing: its width, the height of a row, and the room for names, in pixels."""
LONGEST_NAME = 16


class DotRow(NamedTuple):
    """The stops under one condition."""

    name: str
    stops: tuple[float, ...]
    mark: float | None
    """Where they should be."""
    margin: float


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


def dots_svg(rows: Sequence[DotRow], unit: str) -> str:
    """The same as a drawing, read aloud by its title."""
    scale = scale_of(rows)
    high = ROW_HIGH * len(rows) + 28
    told = "; ".join(
        f"{row.name}: {', '.join(f'{stop:g}' for stop in row.stops)} {unit}" for row in rows
    )
    parts = [
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {WIDE} {high}" role="img" '
        f'width="100%" font-family="sans-serif" font-size="13"><title>{escape(told)}</title>'
    ]
    for at, row in enumerate(rows):
        base = ROW_HIGH * (at + 1) - 6
        parts.append(f'<text x="0" y="{base}">{escape(row.name[:LONGEST_NAME])}</text>')
        if row.mark is not None:
            left, right = (_x(scale, row.mark + sign * row.margin) for sign in (-1, 1))
            parts.append(
                f'<rect x="{left:.1f}" y="{base - 66}" width="{right - left:.1f}" height="66" '
                f'fill="#ddd"/><path d="M{_x(scale, row.mark):.1f} {base - 66}v66" stroke="#000" '
                'stroke-dasharray="3 2"/>'
            )
        parts.append(f'<path d="M{LEFT} {base}H{WIDE - 10}" stroke="#000"/>')
        seen: dict[int, int] = {}
        for stop in row.stops:
            x = _x(scale, stop)
            seen[round(x / 9)] = number = seen.get(round(x / 9), 0) + 1
            y = base + 3 - min(number, 8) * 8
            parts.append(f'<circle cx="{x:.1f}" cy="{y}" r="4" fill-opacity="0.7"/>')
    for x, value, anchor in ((LEFT, scale.low, "start"), (WIDE - 10, scale.high, "end")):
        parts.append(
            f'<text x="{x}" y="{high - 8}" text-anchor="{anchor}">{value:.4g} {escape(unit)}</text>'
        )
    return "".join([*parts, "</svg>"])


def _x(scale: Scale, value: float) -> float:
    return LEFT + scale.share(value) * (WIDE - 10 - LEFT)
