"""Units that turn into one another exactly; every other pair of units is left alone."""

from __future__ import annotations

from decimal import Decimal
from fractions import Fraction

_SIZES: dict[str, dict[str, Fraction]] = {
    "time": {
        "us": Fraction(1, 1_000_000),
        "µs": Fraction(1, 1_000_000),
        "ms": Fraction(1, 1000),
        "s": Fraction(1),
        "min": Fraction(60),
        "h": Fraction(3600),
    },
    "length": {
        "mm": Fraction(1, 1000),
        "cm": Fraction(1, 100),
        "in": Fraction(254, 10_000),
        "ft": Fraction(3048, 10_000),
        "m": Fraction(1),
    },
    "voltage": {"mV": Fraction(1, 1000), "V": Fraction(1)},
    "current": {"mA": Fraction(1, 1000), "A": Fraction(1)},
    "frequency": {"Hz": Fraction(1), "kHz": Fraction(1000)},
    "speed": {
        "step of 14": Fraction(1, 14),
        "step of 28": Fraction(1, 28),
        "step of 126": Fraction(1, 126),
    },
}
"""Unit sizes by dimension. A speed step counts as its share of full speed (common practice)."""

_UNITS = {unit: (what, size) for what, sizes in _SIZES.items() for unit, size in sizes.items()}


def factor(unit: str, other: str) -> Fraction | None:
    """How many of the other unit one unit is; nothing where they do not measure the same.

    >>> factor("cm", "mm"), factor("s", "cm")
    (Fraction(10, 1), None)
    """
    if unit == other:
        return Fraction(1)
    mine, theirs = _UNITS.get(unit), _UNITS.get(other)
    if mine is None or theirs is None or mine[0] != theirs[0]:
        return None
    return mine[1] / theirs[1]


def figure_of(exact: Fraction) -> Decimal:
    """A fraction as a figure, rounded to six places where it has no end.

    >>> figure_of(Fraction(1, 4)), figure_of(Fraction(1, 3))
    (Decimal('0.25'), Decimal('0.333333'))
    """
    denominator = exact.denominator
    for prime in (2, 5):
        while denominator % prime == 0:
            denominator //= prime
    figure = Decimal(exact.numerator) / Decimal(exact.denominator)
    return figure if denominator == 1 else round(figure, 6)
