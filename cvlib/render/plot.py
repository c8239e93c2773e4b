"""Speed curves drawn with characters, for a terminal and a page alike."""

from __future__ import annotations

from collections.abc import Sequence
from fractions import Fraction

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
