"""Answers by which a decoder says that it is not the one it is taken for."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from cvlib.engine.bench.weigh import Read, gathered
from cvlib.engine.known.identity import expected_answers
from cvlib.model.cv import WHOLE, Slot
from cvlib.model.profile import Profile
from cvlib.model.versions import FirmwareVersion


@dataclass(frozen=True, slots=True)
class Contradicted:
    """A CV that answered otherwise than a firmware does that has been taken for granted."""

    slot: Slot
    answer: int
    expected: str
    """What the firmware answers, in words."""


def contradictions(
    profile: Profile, version: FirmwareVersion, reads: Iterable[Read]
) -> tuple[Contradicted, ...]:
    """The answers that no decoder of this type and firmware gives, in the order of the CVs.

    Where a CV was read several times, what most of its answers say counts, else the last one. No
    answer contradicts nothing.
    """
    expected = expected_answers(profile, version)
    found = []
    for slot, answers in gathered(reads).items():
        values = [answer for answer in answers if answer <= WHOLE]
        if slot not in expected or not values:
            continue
        wrong = [value for value in values if not expected[slot].allows(value, WHOLE)]
        if 2 * len(wrong) > len(values) or (2 * len(wrong) == len(values) and values[-1] in wrong):
            found.append(Contradicted(slot, wrong[-1], str(expected[slot])))
    return tuple(sorted(found, key=lambda held: held.slot.order))
