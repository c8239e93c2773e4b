"""How plainly a person tells two values of a setting apart: by eye, by ear, with a watch or a tape.

The figures are common practice, with no source.
"""

from __future__ import annotations

from decimal import Decimal

from cvlib.engine.known.told import coding_text
from cvlib.model.coding import Coding, Number, Parts
from cvlib.model.profile import Place
from cvlib.model.unit_table import factor

TELLS = 0.25
"""From here on a person tells two values apart."""
PLAIN = 0.35
"""From here on nobody mistakes them."""
SECONDS, CENTIMETRES = 2.0, 60.0
"""Differences that nobody mistakes, in time and in length."""
LONGEST_WAIT, LONGEST_WAY = 60.0, 200.0
"""Nobody waits longer, or has more track, for a test."""
RATIO = 1.3
"""Times and lengths must differ by this factor besides."""
OFF_WORDS = ("off", "none", "nothing", "dark", "no")
"""Names of values under which a setting does nothing."""


def apart(one: Place, parts: Parts, other: Place, others: Parts) -> float:
    """How plainly two values of a setting differ: 0 not at all, 1 at a glance.

    Nothing is told apart that needs a meter: currents, voltages, frequencies, heat.
    """
    a, b = one.coding.decode(parts), other.coding.decode(others)
    if isinstance(one.coding, Number) and isinstance(other.coding, Number):
        return _figures_apart(one.coding, parts, other.coding, others)
    if a.text == b.text:
        return 0.0
    return 0.8 if a.fault is None and b.fault is None else 0.0


def stands_for_key(coding: Coding) -> bool:
    """Whether a number is the number of something, such as a function key, and no amount."""
    if not isinstance(coding, Number) or coding.unit:
        return False
    return any(
        span.name.casefold() in OFF_WORDS and span.low > coding.high for span in coding.names
    )


def seconds(coding: Coding, parts: Parts) -> float | None:
    """A value as seconds, where its unit is one of time."""
    return _in(coding, parts, "s")


def centimetres(coding: Coding, parts: Parts) -> float | None:
    """A value as centimetres, where its unit is one of length."""
    return _in(coding, parts, "cm")


def is_practical(coding: Coding, parts: Parts) -> bool:
    """Whether a person would wait so long, or has so much track."""
    time, way = seconds(coding, parts), centimetres(coding, parts)
    return (time is None or time <= LONGEST_WAIT) and (way is None or way <= LONGEST_WAY)


def coded_alike(one: Place, other: Place) -> bool:
    """Whether two codings cannot be told from each other in words."""
    return coding_text(one) == coding_text(other)


def _figures_apart(one: Number, parts: Parts, other: Number, others: Parts) -> float:
    a, b = one.decode(parts), other.decode(others)
    if a.name is not None or b.name is not None:
        return 0.0 if a.name == b.name else 0.7
    if stands_for_key(one) and stands_for_key(other):
        return 0.0 if a.value == b.value else 0.8
    for to, plain in (("s", SECONDS), ("cm", CENTIMETRES)):
        x, y = _in(one, parts, to), _in(other, others, to)
        if x is not None and y is not None:
            return _lengths_apart(x, y, plain)
        if x is not None or y is not None:
            return 0.0
    x, y = _share(one, parts), _share(other, others)
    return abs(x - y) if x is not None and y is not None else 0.0


def _lengths_apart(one: float, other: float, plain: float) -> float:
    small, large = sorted((abs(one), abs(other)))
    if small and large / small < RATIO:
        return 0.0
    return min((large - small) / plain, 1.0)


def _in(coding: Coding, parts: Parts, unit: str) -> float | None:
    if not isinstance(coding, Number) or not coding.unit:
        return None
    size = factor(coding.unit, unit)
    if size is None:
        return None
    return float(size) * float(coding.scaled(coding.signed(coding.join(parts))))


def _share(coding: Number, parts: Parts) -> float | None:
    """A figure as its share of the whole; nothing where only a meter shows it."""
    raw = coding.signed(coding.join(parts))
    figure = coding.scaled(raw)
    if coding.unit == "%":
        return float(figure) / 100
    of_full = factor(coding.unit, "step of 126") if coding.unit else None
    if of_full is not None:
        return float(figure) * float(of_full) / 126
    if coding.unit and any(factor(coding.unit, to) is not None for to in ("V", "A", "Hz")):
        return None
    if coding.unit in ("W", "°C") or coding.measure == "pwm-period":
        return None
    most = max(abs(coding.scaled(coding.low)), abs(coding.scaled(coding.high)), Decimal(1))
    return float(figure / most)
