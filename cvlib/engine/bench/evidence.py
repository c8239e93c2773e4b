"""What each answer says about a candidate: why it speaks for or against it, and how much."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from enum import StrEnum
from math import log2

from cvlib.engine.bench.expect import (
    AS_IT_STANDS,
    NO_ANSWER,
    UNKNOWN,
    Expectation,
    Presence,
    Terms,
    judged,
    members,
    seen,
)
from cvlib.engine.bench.index import IdentityIndex
from cvlib.engine.bench.weigh import Read, gathered
from cvlib.model.cv import Slot

CLEARLY = 0.9
"""What is as likely as this is told as if it were certain."""


class Ground(StrEnum):
    """Why an answer speaks for or against a candidate."""

    IDENTITY = "identity"
    """The CV says who the decoder is."""
    NEVER = "never"
    """The profile says that the CV gives no answer."""
    NOT_USED = "not-used"
    """The firmware does not use the CV."""
    HELD = "held"
    """The firmware has the CV, so it should answer."""
    FACTORY_VALUE = "factory-value"
    CHANGED = "changed"
    """Allowed, but not the factory value."""
    IN_RANGE = "in-range"
    BESIDE_RANGE = "beside-range"
    """No handbook allows the value."""
    UNCERTAIN = "uncertain"
    """The handbooks leave open what the CV answers."""


@dataclass(frozen=True, slots=True)
class Evidence:
    """One CV's answers, and what they say about a candidate."""

    slot: Slot
    answers: tuple[int, ...]
    ground: Ground
    expected: int
    """The answers that were most to be expected, as a set."""
    bits: float
    """How much the answers speak for the candidate beside a decoder of which nothing is known;
    below 0 they speak against it."""


def evidence(
    index: IdentityIndex,
    row: int,
    reads: Iterable[Read],
    terms: Terms = AS_IT_STANDS,
    rival: int | None = None,
) -> tuple[Evidence, ...]:
    """What each CV read says about a row: what speaks for it first, the strongest first.

    With a ``rival`` it is said beside that row, else beside a decoder of which nothing is known.
    """
    found = []
    for slot, answers in gathered(reads).items():
        held = index.expect(row, slot)
        other = UNKNOWN if rival is None else index.expect(rival, slot)
        found.append(_evidence(slot, answers, held, other, terms))
    return tuple(sorted(found, key=lambda one: (-one.bits, one.slot.order)))


def _evidence(
    slot: Slot,
    answers: tuple[int, ...],
    held: Expectation,
    other: Expectation,
    terms: Terms,
) -> Evidence:
    wrong, mine, _ = judged(held, answers, terms)
    theirs = seen(other, answers, terms)
    bits = log2(max(mine, 1e-30) / max(theirs, 1e-30))
    ground, expected = _ground(held, answers[-1])
    if other is UNKNOWN:
        bits = _signed(bits, ground, is_wrong=bool(wrong))
    return Evidence(slot, answers, ground, expected, round(bits, 2))


_NEUTRAL = (Ground.CHANGED, Ground.IN_RANGE, Ground.UNCERTAIN)
"""What says little by itself: an owner may set any allowed value."""


def _signed(bits: float, ground: Ground, *, is_wrong: bool) -> float:
    """Bits that stand on the right side: misread answers against, allowed ones never."""
    if is_wrong:
        return min(bits, -1.0)
    return max(bits, 0.0) if ground in _NEUTRAL else bits


def _ground(held: Expectation, answer: int) -> tuple[Ground, int]:
    """Why an answer speaks as it does, and the answers that were to be expected."""
    silence = 1 << NO_ANSWER
    if held.mixture:
        share, likeliest = max(held.mixture, key=lambda part: part[0])
        return _ground(likeliest, answer) if share > CLEARLY else (Ground.UNCERTAIN, 0)
    match held.presence:
        case Presence.NEVER:
            return Ground.NEVER, silence
        case Presence.ABSENT:
            return Ground.NOT_USED, silence
        case Presence.UNKNOWN:
            return Ground.UNCERTAIN, 0
    if held.certain:
        return Ground.IDENTITY, held.certain
    if answer == NO_ANSWER:
        return Ground.HELD, held.legal
    if not held.legal >> answer & 1:
        return Ground.BESIDE_RANGE, held.legal
    if not held.default_mask:
        return Ground.IN_RANGE, held.legal
    factory = sum(
        1 << value
        for value in members(held.legal)
        if value & held.default_mask == held.default & held.default_mask
    )
    return (Ground.FACTORY_VALUE if factory >> answer & 1 else Ground.CHANGED), factory
