"""Speed curves drawn with characters for a terminal, and with lines for a page."""

from __future__ import annotations

from collections.abc import Sequence
from fractions import Fraction
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from cvlib.render.html import Element

ROWS = 14
TOP = 255
LETTERS = "ABCDEFGH"
BOTH = "*"
"""Where curves lie on each other."""
WIDTH = 2
"""Characters for each step."""


def curves_text(curves: Sequence[Sequence[Fraction] | None]) -> str:
    """Curves over speed steps: one letter for each, ``*`` where they meet.

    The first curve is A, the second B; a curve that is not known is left out. The scale is the
    drive in per cent of the full voltage.
    """
    known = [(LETTERS[at], curve) for at, curve in enumerate(curves) if curve is not None]
    steps = max((len(curve) for _, curve in known), default=0)
    cells = [[" "] * (steps * WIDTH) for _ in range(ROWS + 1)]
    for letter, curve in known:
        for step, level in enumerate(curve):
            row, column = ROWS - _row(level), step * WIDTH
            held = cells[row][column]
            cells[row][column] = letter if held == " " else BOTH
    lines = [f"{_label(ROWS - at):>5} |{''.join(row).rstrip()}" for at, row in enumerate(cells)]
    marks = "".join(
        f"{step:<{WIDTH * 7}}" if step % 7 == 0 else "" for step in range(7, steps + 1, 7)
    )
    axis = f"      +{'-' * (steps * WIDTH)}"
    ticks = f"       {'1':<{WIDTH * 6}}{marks}".rstrip()
    return "\n".join([*lines, axis, f"{ticks}  step"])


def _row(level: Fraction) -> int:
    return min(ROWS, int(level * ROWS / TOP + Fraction(1, 2)))


def _label(row: int) -> str:
    share = row * 100 / ROWS
    return f"{share:.0f} %" if row in (0, ROWS // 2, ROWS) else ""


LEFT, ABOVE, HIGH, STEP = 26, 6, 90, 9
"""Of a drawing, in its own units: the margins, the height of full drive, the width of a step."""
DASHES = ("", "4 2", "1 2", "6 2 1 2")
"""How the lines of several curves differ, without colour."""


def curves_svg(curves: Sequence[tuple[str, Sequence[Fraction]]], caption: str = "") -> Element:
    """Curves over speed steps as a drawing for a page, with axes and a name for each line."""
    from cvlib.render.html import tag

    steps = max((len(curve) for _, curve in curves), default=2)
    right, floor = LEFT + (steps - 1) * STEP, ABOVE + HIGH
    parts: list[Element] = []
    for share in (0, 50, 100):
        y = floor - HIGH * share // 100
        parts.append(tag("text", f"{share} %", x=LEFT - 3, y=y + 3, text_anchor="end"))
        parts.append(tag("path", class_="grid", d=f"M{LEFT} {y}H{right}"))
    for step in (1, *range(7, steps + 1, 7)):
        at = LEFT + (step - 1) * STEP
        parts.append(tag("text", str(step), x=at, y=floor + 10, text_anchor="middle"))
    parts.append(tag("text", "step", x=LEFT - 9, y=floor + 10, text_anchor="end"))
    for number, (name, curve) in enumerate(curves):
        points = " ".join(
            f"{LEFT + at * STEP},{float(floor - level * HIGH / TOP):.1f}"
            for at, level in enumerate(curve)
        )
        dash = DASHES[number % len(DASHES)]
        parts.append(tag("polyline", points=points, stroke_dasharray=dash))
        if len(curves) > 1:
            down = ABOVE + 8 + 10 * number
            parts.append(tag("path", d=f"M{LEFT + 6} {down}h16", stroke_dasharray=dash))
            parts.append(tag("text", name, x=LEFT + 26, y=down + 3))
    box = f"0 0 {right + 6} {floor + 14}"
    return tag("svg", parts, class_="plot", viewBox=box, role="img", aria_label=caption)
