"""Which cautions a write sheet must carry: decided by what is written, where and how."""

from __future__ import annotations

import re
from collections.abc import Iterator

from cvlib.engine.carry.compose_bytes import Whence
from cvlib.engine.carry.write_sheet import Caution, Job, Setup, Step, Track, Write
from cvlib.model.cv import Slot

_SMOKE = re.compile(r"\b(?:smoke|heater)\b")
_COILS = re.compile(r"\b(?:coils?|couplers?|turnouts?|time-on|pulse)\b")
_MOTOR = re.compile(r"^(?:motor|speed|momentum|braking|analogue)\b")
_SHORT, _CONSIST = Slot(1), Slot(19)


def cautions_of(job: Job, setup: Setup, steps: tuple[Step, ...]) -> tuple[Caution, ...]:
    """The cautions for some steps, the general ones first."""
    return tuple(dict.fromkeys(_needed(job, setup, steps)))


def _needed(job: Job, setup: Setup, steps: tuple[Step, ...]) -> Iterator[Caution]:
    yield Caution.HANDBOOK
    if setup.track is Track.PROGRAMMING:
        yield Caution.PROGRAMMING_TRACK
        if setup.answers:
            yield Caution.TWITCH
    else:
        yield Caution.MAIN_TRACK
        if job.before.get(_CONSIST, 0) & 0x7F:
            yield Caution.CONSIST
    if not setup.answers:
        yield Caution.BLIND
    if setup.is_shared:
        yield Caution.SHARED
    if setup.is_reset:
        yield Caution.RESET
    yield from job.beware
    writes = [step for step in steps if isinstance(step, Write)]
    if job.has("address.short", _SHORT) and any(step.slot == _SHORT for step in writes):
        yield Caution.SHORT_ADDRESS
    names = [name for step in writes for name in _names(step)]
    if any(_MOTOR.search(name) for name in names):
        yield Caution.MOVES
    if any(name.startswith("motor.") for name in names):
        yield Caution.MOTOR
    if any(_SMOKE.search(name) for name in names):
        yield Caution.SMOKE
    if any(_COILS.search(name) for name in names):
        yield Caution.COILS


def _names(step: Write) -> tuple[str, ...]:
    if step.composed is None:
        return ()
    return step.composed.settings(Whence.CARRIED, Whence.OFFERED)
