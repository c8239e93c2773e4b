"""Engineering values: exact scaling, plain figures, and the standards' own measures."""

from __future__ import annotations

from decimal import ROUND_HALF_UP, Decimal
from enum import StrEnum
from fractions import Fraction
from typing import TypeAlias

from cvlib.model import formulas

Factor: TypeAlias = Decimal | Fraction
"""What one raw step is worth: a decimal, or a fraction that no short decimal stands for."""

SHORT = 6
"""Decimal places up to which a figure is shown as it is."""

_FACTOR_PLACES = 16
"""Decimal places up to which a fraction is held as a decimal; the arithmetic stays exact there."""

STEP_COUNTS = (14, 28, 126)
"""Speed steps of the three step modes; "128" steps has 126 that drive (NMRA S-9.2.1)."""


RISING, FALLING = "from a stand to full speed", "from full speed to a stand"
COURSES = {3: RISING, 4: FALLING, 23: RISING, 24: FALLING}
"""What a momentum is the time of, by its CV (NMRA S-9.2.2, 2012-07)."""


class Measure(StrEnum):
    """A formula of the standards that turns a raw value into an engineering one."""

    MOMENTUM = "momentum"
    PWM_PERIOD = "pwm-period"


def plain(figure: Decimal | int | float) -> str:
    """A figure without exponent or trailing zeros."""
    text = f"{Decimal(str(figure)):f}"
    return text.rstrip("0").rstrip(".") if "." in text else text


def with_unit(figure: Decimal | int, unit: str) -> str:
    """A figure with its unit behind it; of a figure without end, six digits."""
    held = Decimal(figure)
    if _places(held) > SHORT:
        held = _rounded(held, max(SHORT - 1 - held.adjusted(), 0))
    return f"{plain(held)} {unit}".rstrip()


def in_steps(figure: Decimal, step: Factor, unit: str) -> str:
    """A figure with its unit, in as many decimals as tell it from its neighbours.

    >>> in_steps(Decimal(92) / 1024, Decimal(1) / 1024, "s")
    '0.0898 s'
    """
    if _places(figure) <= SHORT:
        return with_unit(figure, unit)
    places = 2
    while abs(step) * 10**places < 1:
        places += 1
    return f"{plain(_rounded(figure, places))} {unit}".rstrip()


def factor_of(exact: Fraction) -> Factor:
    """A fraction as it is kept: equal ones are kept alike, however they were written."""
    for places in range(_FACTOR_PLACES + 1):
        if 10**places % exact.denominator == 0:
            return (Decimal(exact.numerator) / Decimal(exact.denominator)).normalize()
    return exact


def factor_text(factor: Factor) -> str:
    """A step in figures: ``0.5``, or as a fraction where that is shorter, ``1/1024``."""
    exact = Fraction(factor)
    fraction = f"{exact.numerator}/{exact.denominator}"
    if isinstance(factor, Fraction):
        return fraction
    figure = plain(factor)
    return fraction if _places(factor) > SHORT and len(fraction) < len(figure) else figure


def _places(figure: Decimal) -> int:
    exponent = figure.normalize().as_tuple().exponent
    return -exponent if isinstance(exponent, int) else 0


def _rounded(figure: Decimal, places: int) -> Decimal:
    return figure.quantize(Decimal(1).scaleb(-places), ROUND_HALF_UP)


def measured(measure: Measure, raw: int, *, cv: int = 0, is_added: bool = False) -> str:
    """What a raw value means by a formula of the standards, in words.

    ``is_added`` says that a momentum is added to that of another CV. Source: NMRA S-9.2.2
    (2012-07), CVs 3, 4, 9, 23 and 24.
    """
    if measure is Measure.PWM_PERIOD:
        return f"{formulas.pwm_period(raw)} us"
    if raw == 0:
        return "adds nothing" if is_added else "no momentum"
    sign = "-" if raw < 0 else ""
    steps = (
        f"{sign}{plain(round(formulas.seconds_per_step(abs(raw), count), 4))} s"
        for count in STEP_COUNTS
    )
    total = plain(round(formulas.seconds_in_all(abs(raw)), 3))
    added = f", added to CV {cv - 20}" if cv else ", added to the rate"
    return (
        f"{' / '.join(steps)} per step at {' / '.join(map(str, STEP_COUNTS))} steps, "
        f"{sign}{total} s {COURSES.get(cv, 'between a stand and full speed')}"
        f"{added if is_added else ''}"
    )
