"""Which cautions a write sheet must carry: by what is written, where and how, and by marks."""

from __future__ import annotations

from collections.abc import Iterator

from cvlib.engine.carry.compose_bytes import Whence
from cvlib.engine.carry.marks import risks_of
from cvlib.engine.carry.write_sheet import Caution, Job, Setup, Step, Track, Write
from cvlib.model.cv import Slot

_SHORT, _CONSIST = Slot(1), Slot(19)
_BY_MARK: dict[str, tuple[Caution, ...]] = {
    "motor": (Caution.MOVES, Caution.MOTOR),
    "motion": (Caution.MOVES,),
    "stopping": (Caution.MOVES, Caution.STOPPING),
    "current": (Caution.CURRENT,),
    "heat": (Caution.SMOKE,),
    "coil": (Caution.COILS,),
}
"""What each mark of a setting asks for; ``lock`` and ``address`` are a matter of the order."""


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
    if job.has("address.short", _SHORT) and any(step.slot == _SHORT for step in writes):
        yield Caution.SHORT_ADDRESS
    for name in {name for step in writes for name in _names(step)}:
        marks = risks_of(job.settings.get(name))
        if marks is None:
            yield from (Caution.UNMARKED, Caution.MOVES)
        for mark in marks or ():
            yield from _BY_MARK.get(mark, ())


def _names(step: Write) -> tuple[str, ...]:
    if step.composed is None:
        return ()
    return step.composed.settings(Whence.CARRIED, Whence.OFFERED)
