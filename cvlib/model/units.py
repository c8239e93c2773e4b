"""Engineering values: exact scaling, plain figures, and the standards' own measures."""

from __future__ import annotations

from decimal import Decimal
from enum import StrEnum

from cvlib.model import formulas

STEP_COUNTS = (14, 28, 126)
"""Speed steps of the three step modes; "128" steps has 126 that drive (NMRA S-9.2.1)."""


class Measure(StrEnum):
    """A formula of the standards that turns a raw value into an engineering one."""

    MOMENTUM = "momentum"
    PWM_PERIOD = "pwm-period"


def plain(figure: Decimal | int | float) -> str:
    """A figure without exponent or trailing zeros."""
    text = f"{Decimal(str(figure)):f}"
    return text.rstrip("0").rstrip(".") if "." in text else text


def with_unit(figure: Decimal | int, unit: str) -> str:
    """A figure with its unit behind it."""
    return f"{plain(figure)} {unit}".rstrip()


def measured(measure: Measure, raw: int) -> str:
    """What a raw value means by a formula of the standards, in words.

    Source: NMRA S-9.2.2 (2012-07), CVs 3, 4 and 9.
    """
    if measure is Measure.PWM_PERIOD:
        return f"{formulas.pwm_period(raw)} us"
    if raw == 0:
        return "no momentum"
    sign = "-" if raw < 0 else ""
    steps = (
        f"{sign}{plain(round(formulas.seconds_per_step(abs(raw), count), 4))} s"
        for count in STEP_COUNTS
    )
    total = plain(round(formulas.seconds_in_all(abs(raw)), 3))
    return (
        f"{' / '.join(steps)} per step at {' / '.join(map(str, STEP_COUNTS))} steps, "
        f"{sign}{total} s from stand to full"
    )
