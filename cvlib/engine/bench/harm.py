"""What may be tried on the bench, and how far: coils and smoke units never, motors only lower.

See docs/cautions.md. Words of the profile decide, so a handbook may still say that more is at risk.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator
from enum import IntEnum

from cvlib.engine.bench.situation import LOADLESS_KINDS
from cvlib.engine.bench.visible import is_off
from cvlib.engine.carry.write_sheet import Caution
from cvlib.model.coding import Choice, Flags, Number, Parts, Switch
from cvlib.model.profile import Place, Setting, group_of

_SMOKE = re.compile(r"\b(?:smoke|heaters?|heat|heating|hot|burns?)\b", re.I)
_COILS = re.compile(
    r"\b(?:coils?|couplers?|couplings?|uncoupl\w*|turnouts?|hooks?|pulses?|solenoids?|magnets?)\b",
    re.I,
)
_MOVES = re.compile(r"\b(?:motor|speed|momentum|braking|brakes?|stopping|stop|loco)\b", re.I)
_DRIVES = re.compile(r"\b(?:motor|currents?|voltages?|overload|boost|torque|pwm|charg\w+)\b", re.I)
_OUTPUTS = re.compile(r"\b(?:outputs?|aux\w*)\b", re.I)
_METERED = ("A", "mA", "V", "mV", "W", "°C")
_TIMES = ("s", "ms", "us", "µs", "min")
_UNTRIED = ("address", "consist", "lock", "index", "identity", "user", "name", "service")
_UNSEEN = ("bidirectional", "record", "area")
_HARD = ("motor", "drive")
_HIDES = ("configuration.accessory", "configuration.extended-address")


class Harm(IntEnum):
    """How far a setting may be tried."""

    NONE = 0
    LOWER = 1
    """Only towards off, below its factory value."""
    NEVER = 2
    """Not at all: a coil may burn, a smoke unit run dry, or the decoder be hidden behind another
    address."""


def harm_of(kind: str, setting: Setting, place: Place) -> Harm:
    """How far a setting may be tried at a place, in a kind of decoder."""
    words = _words(setting)
    if is_hidden(setting) or _COILS.search(words) or _SMOKE.search(words):
        return Harm.NEVER
    is_number = isinstance(place.coding, Number)
    unit = place.coding.unit if isinstance(place.coding, Number) else ""
    drives_output = bool(_OUTPUTS.search(words))
    if kind == "accessory" and is_number and (drives_output or unit in _TIMES):
        return Harm.NEVER
    is_hot = group_of(setting.id) in _HARD or unit in _METERED
    is_hot = is_hot or bool(_DRIVES.search(setting.title))
    return Harm.LOWER if is_hot or (is_number and drives_output) else Harm.NONE


def is_hidden(setting: Setting) -> bool:
    """Whether a wrong value hides the decoder, or shows nothing: addresses, locks, names."""
    return group_of(setting.id) in _UNTRIED or setting.id in _HIDES


def is_unseen(setting: Setting) -> bool:
    """Whether only a detector or a read shows what a setting does."""
    return group_of(setting.id) in _UNSEEN


def is_within(harm: Harm, place: Place, parts: Parts) -> bool:
    """Whether a value may be tried at a place; what is at risk must come nearer to off by it."""
    coding = place.coding
    reading = coding.decode(parts)
    if harm is Harm.NONE:
        return True
    if harm is Harm.NEVER or place.default is None or reading.fault is not None:
        return False
    if parts == place.default or is_off(reading):
        return True
    value, factory = coding.join(parts), coding.join(place.default)
    match coding:
        case Switch():
            return value == 0
        case Choice():
            return False
        case Flags():
            return value & ~factory == 0
        case Number():
            is_plain = coding.sign is None and coding.scale > 0 and reading.name is None
            return is_plain and 0 < value <= factory
    return False


def needs_motor(kind: str, setting: Setting) -> bool:
    """Whether the loco has to run for a setting to show."""
    return kind not in LOADLESS_KINDS and bool(_MOVES.search(_words(setting)))


def cautions_of(setting: Setting, harm: Harm, places: Iterable[Place]) -> Iterator[Caution]:
    """What to beware of when a setting is tried."""
    yield Caution.HANDBOOK
    words = _words(setting)
    outputs = bool(_OUTPUTS.search(words))
    if _MOVES.search(words):
        yield Caution.MOVES
    metered = any(isinstance(p.coding, Number) and p.coding.unit in _METERED for p in places)
    if group_of(setting.id) in _HARD or metered or (harm and _DRIVES.search(words)):
        yield Caution.MOTOR
    if outputs:
        yield Caution.SMOKE
        yield Caution.COILS


def _words(setting: Setting) -> str:
    return f"{setting.id} {setting.title} {setting.help}"
