"""What the standards' own sums make of speed and momentum: curves, seconds, trims.

Drive levels run from 0 to 255, the full voltage. A curve has 28 of them, one for each of 28 speed
steps; the curve for 126 steps lies on the same line.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from decimal import Decimal
from enum import StrEnum
from fractions import Fraction
from itertools import pairwise
from typing import TypeAlias

from cvlib.model import formulas

STEPS = 28
FULL = 255
UNTRIMMED = 128
"""The trim that changes nothing."""
MIDDLE_STEP = 14
"""The step of the middle value where CV 25 names no other: half of 28."""
FIRST_POSITION, LAST_POSITION = 128, 154

Curve: TypeAlias = tuple[Fraction, ...]


class Form(StrEnum):
    """How a speed curve is given."""

    TABLE = "speed table"
    THREE_POINT = "three-point curve"
    LINE = "straight line"


@dataclass(frozen=True, slots=True)
class Speeds:
    """The values that a speed curve is made from, each 0-255 or nothing where not known."""

    uses_table: bool
    """CV 29 bit 4."""
    table: tuple[int, ...] | None = None
    """CVs 67-94."""
    minimum: int = 0
    """CV 2."""
    middle: int = 0
    """CV 6; 0 and 1 leave it unused."""
    maximum: int = 0
    """CV 5; 0 and 1 leave it unused."""
    choice: int = 0
    """CV 25."""
    forward_trim: int = 0
    """CV 66; 0 leaves it unused."""
    reverse_trim: int = 0
    """CV 95; 0 leaves it unused."""


@dataclass(frozen=True, slots=True)
class Drawn:
    """A speed curve in both directions, and how it is given."""

    form: Form
    forward: Curve
    reverse: Curve


def drawn(speeds: Speeds) -> Drawn | None:
    """The speed curve of some values; nothing where only the decoder knows it.

    That is so for the factory curves 3-127 of CV 25 and for a speed table of which nothing is
    saved. Sources: NMRA S-9.2.2 (2012-07) and RCN-225 (2025-07-27), CVs 2, 5, 6, 25, 29, 66, 67-94
    and 95.
    """
    if speeds.uses_table:
        if speeds.table is None:
            return None
        form, curve = Form.TABLE, tuple(map(Fraction, speeds.table))
    elif speeds.choice == 2:
        form, curve = Form.LINE, straight_line()
    elif 3 <= speeds.choice < FIRST_POSITION:
        return None
    else:
        form = Form.THREE_POINT
        step = middle_step(speeds.choice)
        curve = three_point(speeds.minimum, speeds.middle, speeds.maximum, step)
    return Drawn(form, trimmed(curve, speeds.forward_trim), trimmed(curve, speeds.reverse_trim))


def three_point(minimum: int, middle: int, maximum: int, middle_at: int = MIDDLE_STEP) -> Curve:
    """The 28 drive levels of CVs 2, 6 and 5: straight from step 1 to the middle, and on to 28.

    0 and 1 in the maximum mean the full voltage, in the middle a straight line. Source: NMRA
    S-9.2.2 (2012-07), CVs 2, 5 and 6; that the line between the points is straight is common
    practice, no source.

    >>> [int(level) for level in three_point(0, 1, 1)[-3:]]
    [236, 245, 255]
    """
    top = maximum if maximum > 1 else FULL
    corners = [(1, minimum), (STEPS, top)]
    if middle > 1 and 1 < middle_at < STEPS:
        corners.insert(1, (middle_at, middle))
    levels: list[Fraction] = []
    for step in range(1, STEPS + 1):
        start, end = next(pair for pair in pairwise(corners) if step <= pair[1][0])
        share = Fraction(step - start[0], end[0] - start[0])
        levels.append(start[1] + share * (end[1] - start[1]))
    return tuple(levels)


def straight_line() -> Curve:
    """The linear factory curve: every step the same rise, full voltage at step 28.

    Source: NMRA S-9.2.2 (2012-07), CV 25, value 2.
    """
    return tuple(Fraction(FULL * step, STEPS) for step in range(1, STEPS + 1))


def middle_step(choice: int) -> int:
    """The step, 1-26, at which CV 25 puts the middle value; 14 where it names no position.

    Source: NMRA S-9.2.2 (2012-07), CV 25: 128-154 name a position on the 28-step scale. That 129
    is step 1 and 154 step 26 is our reading; 128 itself then names none.

    >>> middle_step(138), middle_step(2)
    (10, 14)
    """
    if FIRST_POSITION < choice <= LAST_POSITION:
        return choice - FIRST_POSITION
    return MIDDLE_STEP


def trim_factor(trim: int) -> Fraction:
    """What CV 66 or CV 95 multiplies the drive by: n/128, and 1 for 0, which is not used.

    Source: NMRA S-9.2.2 (2012-07) and RCN-225 (2025-07-27), CVs 66 and 95.

    >>> trim_factor(96)
    Fraction(3, 4)
    """
    return Fraction(trim, UNTRIMMED) if trim else Fraction(1)


def trimmed(curve: Curve, trim: int) -> Curve:
    """The curve times its trim; no level goes above the full voltage."""
    factor = trim_factor(trim)
    return tuple(min(level * factor, Fraction(FULL)) for level in curve)


def rate(base: int, adjustment: int) -> int:
    """CV 3 with CV 23, or CV 4 with CV 24: the sum, held between 0 and 255.

    The adjustment is signed. Below 0 there is no delay, above 255 the longest one. Source: NMRA
    S-9.2.2 (2012-07), CVs 23 and 24; that the sum stops at 255 follows from the width of a CV.

    >>> rate(10, -5), rate(3, -5), rate(250, 20)
    (5, 0, 255)
    """
    return min(max(base + adjustment, 0), FULL)


def seconds_to_full_speed(base: int, adjustment: int = 0) -> Decimal:
    """Seconds from a stand to full speed, or back with CV 4: the rate times 0.896.

    Source: NMRA S-9.2.2 (2012-07) and RCN-225 (2025-07-27), CVs 3, 4, 23 and 24.
    """
    return formulas.seconds_in_all(rate(base, adjustment))


def largest_deviation(curve: Sequence[Fraction], other: Sequence[Fraction]) -> tuple[int, Fraction]:
    """The step, from 1, at which two curves lie furthest apart, and by how much.

    The amount is positive where the first curve is higher.
    """
    apart = [mine - theirs for mine, theirs in zip(curve, other, strict=True)]
    at = max(range(len(apart)), key=lambda n: abs(apart[n]))
    return at + 1, apart[at]


def fitted(target: Sequence[Fraction]) -> tuple[int, int, int]:
    """The minimum, middle and maximum, middle at step 14, that come closest to a curve.

    Closest is the smallest of the largest deviations, sought from the curve's own values at steps
    1, 14 and 28.
    """
    best = tuple(
        min(max(round(target[at - 1]), floor), FULL)
        for at, floor in ((1, 0), (MIDDLE_STEP, 2), (STEPS, 2))
    )
    score = _worst(best, target)
    reach = 32
    while reach:
        found = min(
            (
                (_worst(moved, target), moved)
                for at in range(3)
                for by in (-reach, reach)
                if (moved := _moved(best, at, by)) is not None
            ),
            default=(score, best),
        )
        if found[0] < score:
            score, best = found
        else:
            reach //= 2
    return best[0], best[1], best[2]


def _moved(points: tuple[int, ...], at: int, by: int) -> tuple[int, ...] | None:
    value = points[at] + by
    if not (2 if at else 0) <= value <= FULL:
        return None
    return (*points[:at], value, *points[at + 1 :])


def _worst(points: tuple[int, ...], target: Sequence[Fraction]) -> Fraction:
    minimum, middle, maximum = points
    return abs(largest_deviation(three_point(minimum, middle, maximum), target)[1])
