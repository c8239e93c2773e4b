"""Which cautions a write sheet must carry: by what is written, where and how, and by marks."""

from __future__ import annotations

from collections.abc import Iterator, Mapping

from cvlib.engine.carry.compose_bytes import Whence
from cvlib.engine.carry.write_sheet import Caution, Job, Setup, Step, Track, Write
from cvlib.model.cv import Slot
from cvlib.model.profile import Risk

_SHORT, _CONSIST = Slot(1), Slot(19)
_OF_RISK: Mapping[Caution, frozenset[Risk]] = {
    Caution.MOVES: frozenset((Risk.MOTOR, Risk.MOTION, Risk.STOPPING)),
    Caution.STOPPING: frozenset((Risk.STOPPING,)),
    Caution.MOTOR: frozenset((Risk.MOTOR, Risk.CURRENT)),
    Caution.CURRENT: frozenset((Risk.CURRENT,)),
    Caution.SMOKE: frozenset((Risk.HEAT,)),
    Caution.COILS: frozenset((Risk.COIL,)),
}
"""What each mark asks for; ``lock`` and ``address`` are a matter of the order."""


def risk_cautions(risk: frozenset[Risk] | None) -> tuple[Caution, ...]:
    """What to beware of with a setting; all of it where nobody noted what it may harm."""
    held = tuple(one for one, risks in _OF_RISK.items() if risk is None or risk & risks)
    return (*held, Caution.UNMARKED) if risk is None else held


def cautions_of(job: Job, setup: Setup, steps: tuple[Step, ...]) -> tuple[Caution, ...]:
    """The cautions for some steps, the general ones first."""
    needed = set(_needed(job, setup, steps))
    return tuple(caution for caution in Caution if caution in needed)


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
    if job.is_vehicle and any(step.slot == _SHORT for step in writes):
        yield Caution.SHORT_ADDRESS
    for name in {name for step in writes for name in names_of(step)}:
        yield from risk_cautions(job.risk_of(name))


def names_of(step: Write) -> tuple[str, ...]:
    """The settings that a line writes, for what they may harm."""
    if step.composed is None:
        return ()
    return step.composed.settings(Whence.CARRIED, Whence.OFFERED)
