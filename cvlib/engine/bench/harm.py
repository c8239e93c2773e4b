"""What may be tried on the bench, and how far: the marks of the settings say it, and nothing else.

See docs/cautions.md. A handbook may still say that more is at risk.
"""

from __future__ import annotations

from enum import IntEnum

from cvlib.engine.bench.situation import LOADLESS_KINDS
from cvlib.model.coding import Flags, Number, Parts, Switch
from cvlib.model.profile import Place, Risk, Setting

_NEVER = frozenset((Risk.HEAT, Risk.COIL, Risk.LOCK, Risk.ADDRESS))
"""A coil or a heater burns in seconds; a decoder behind another address or a lock is lost."""
_LOWER = frozenset((Risk.MOTOR, Risk.CURRENT, Risk.MOTION))
_RUNS = frozenset((Risk.MOTOR, Risk.MOTION, Risk.STOPPING))


class Harm(IntEnum):
    """How far a setting may be tried."""

    NONE = 0
    LOWER = 1
    """Only towards off, below its factory value."""
    NEVER = 2
    """Not at all."""


def harm_of(setting: Setting) -> Harm:
    """How far a setting may be tried; not at all where nobody noted what it may harm."""
    if setting.risk is None or setting.risk & _NEVER:
        return Harm.NEVER
    return Harm.LOWER if setting.risk & _LOWER else Harm.NONE


def is_within(harm: Harm, place: Place, parts: Parts) -> bool:
    """Whether a value may be tried at a place; what is at risk must come nearer to off by it."""
    coding = place.coding
    reading = coding.decode(parts)
    if harm is Harm.NONE:
        return True
    if harm is Harm.NEVER or place.default is None or reading.fault is not None:
        return False
    if parts == place.default:
        return True
    value, factory = coding.join(parts), coding.join(place.default)
    match coding:
        case Switch():
            return value == 0
        case Flags():
            return value & ~factory == 0
        case Number():
            # 0 and values with a name are no less of the same: 0 may mean "without end".
            is_plain = coding.sign is None and coding.scale > 0 and reading.name is None
            return is_plain and 0 < value <= factory
    return False


def needs_motor(kind: str, setting: Setting) -> bool:
    """Whether the loco has to run for a setting to show."""
    return kind not in LOADLESS_KINDS and (setting.risk is None or bool(setting.risk & _RUNS))
