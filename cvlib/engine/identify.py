"""Which decoder and firmware this is, from what it answered.

Every profile of an index is weighed. The answer is a list, never a silent first match: what fits,
what would fit if an answer was misread, and what speaks for and against each.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from enum import StrEnum
from math import log2

from cvlib.engine.expect import (
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
from cvlib.engine.generations import Known
from cvlib.engine.index import IdentityIndex
from cvlib.engine.weigh import Read, Weighed, gathered, weigh
from cvlib.model.cv import Slot

POSSIBLE = 1e-2
"""A candidate that is less likely than this beside the best one is called unlikely."""
LISTED = 1e-6
"""A candidate that is less likely than this beside the best one is not listed."""
MOST_FITTING, MOST_OTHERS = 500, 100
"""The most candidates listed: those that fit, and those that do not or hardly."""
CLEARLY = 0.9
"""What is as likely as this is told as if it were certain."""
FEW_ROWS = 200
"""Of so few rows even the most unlikely one is looked at."""
CLEAR_BITS = 5.0
"""CVs that speak so clearly for a decoder stand in for a product answer that it does not have."""
DOUBT = 0.05
"""With more doubt than this that the decoder is in the store at all, nothing is decided."""


class Verdict(StrEnum):
    """What the reads come to."""

    ONE = "one"
    """One decoder and generation fits."""
    SEVERAL = "several"
    NONE = "none"
    """No profile fits, or one that nobody wrote is likelier."""
    SILENT = "silent"
    """The decoder has answered nothing at all."""


class Fit(StrEnum):
    """How a candidate lies to the reads."""

    FITS = "fits"
    UNLIKELY = "unlikely"
    """Every answer is possible, but another candidate explains them far better."""
    MISREAD = "misread"
    """It fits only if an answer was misread."""


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


@dataclass(frozen=True, slots=True)
class Candidate:
    """One decoder type and generation of firmware that the decoder may be."""

    profile: str
    maker: str
    name: str
    kind: str
    generation: int
    """The number of the generation in the profile, oldest 0."""
    stretch: str
    """The firmware of the generation, in the spelling of profiles."""
    known: Known
    releases: tuple[str, ...]
    """The releases of the generation that fit, oldest first; empty where only firmware fits that
    nobody listed."""
    chance: float
    """How likely it is, between 0 and 1."""
    fit: Fit
    misread: int
    """How many answers must have been misread."""
    rows: tuple[int, ...]
    """Its rows in the index, the likeliest first."""
    shares: tuple[float, ...]
    """How likely each row is."""
    open_shares: tuple[float, ...]
    """The part of each share in which the decoder answers for CVs it does not use."""


@dataclass(frozen=True, slots=True)
class Identified:
    """What some reads say about which decoder this is."""

    verdict: Verdict
    reads: tuple[Read, ...]
    candidates: tuple[Candidate, ...]
    """The likeliest first."""
    left_out: int
    """How many more candidates there are; all are less likely than those listed."""
    stranger: float
    """How likely it is a decoder that no profile describes."""
    mute: float
    """How likely it is a decoder that never answers."""
    count: int
    """How many profiles were looked at."""
    rival: int | None = None
    """The likeliest row of another generation of the best candidate's decoder type."""

    @property
    def fitting(self) -> tuple[Candidate, ...]:
        """The candidates that fit."""
        return tuple(held for held in self.candidates if held.fit is Fit.FITS)


def identify(
    index: IdentityIndex,
    reads: Iterable[Read],
    terms: Terms = AS_IT_STANDS,
    profile: str = "",
) -> Identified:
    """The decoders and generations that some reads leave possible, ranked by likelihood.

    ``profile`` limits the question to the firmware of one decoder type.
    """
    made = tuple(reads)
    within = rows_of(index, profile) if profile else None
    weighed = weigh(index, made, terms, within)
    groups = _groups(index, weighed)
    top = max((chance for _, chance, _, _ in groups), default=0.0)
    fitting = [group for group in groups if _is_fitting(group, top)]
    others = [group for group in groups if group[1] >= LISTED * top]
    beside = [group for group in others if not _is_fitting(group, top)]
    listed = [*fitting[:MOST_FITTING], *beside[:MOST_OTHERS]]
    candidates = tuple(
        _candidate(index, number, held, chance, misread, top)
        for (number, _), chance, misread, held in sorted(listed, key=_by_chance)
    )
    stranger = 0.0 if profile else weighed.stranger
    verdict = _verdict(index, made, candidates, stranger)
    left_out = len(fitting) + len(beside) - len(candidates)
    return Identified(
        verdict,
        made,
        candidates,
        left_out,
        stranger,
        weighed.mute,
        index.count,
        _rival(groups),
    )


def rows_of(index: IdentityIndex, profile: str) -> Sequence[int]:
    """The rows of one profile; none where the index does not have it."""
    for number, first, end in index.spans():
        if index.listed(number).id == profile:
            return range(first, end)
    return ()


_Row = tuple[float, int, int, float]
"""Chance, row, misread answers, and the open-minded part of the chance."""
_Group = tuple[tuple[int, int], float, int, list[_Row]]


def _groups(index: IdentityIndex, weighed: Weighed) -> list[_Group]:
    """The rows put together by profile and generation, the likeliest first, with the fewest
    misread answers that any row of the group needs.
    """
    found: dict[tuple[int, int], list[_Row]] = {}
    least = 0.0 if len(weighed.rows) < FEW_ROWS else LISTED / 100 * max(weighed.chances)
    held_rows = [
        held_row
        for held_row in zip(
            weighed.chances, weighed.rows, weighed.misread, weighed.open_minded, strict=True
        )
        if held_row[0] >= least
    ]
    numbers = index.numbers(held_row[1] for held_row in held_rows)
    for held_row, number in zip(held_rows, numbers, strict=True):
        key = (number, index.generation(held_row[1]))
        found.setdefault(key, []).append(held_row)
    groups: list[_Group] = []
    for key, held in found.items():
        least = min(one[2] for one in held)
        chance = sum(one[0] for one in held)
        groups.append((key, chance, least, sorted(held, key=lambda one: (-one[0], one[1]))))
    return sorted(groups, key=_by_chance)


def _rival(groups: Sequence[_Group]) -> int | None:
    """The likeliest row of another generation of the same profile as the best group's."""
    for (number, _), _, _, held in groups[1:]:
        if number == groups[0][0][0]:
            return held[0][1]
    return None


def _by_chance(group: _Group) -> tuple[float, tuple[int, int]]:
    return -group[1], group[0]


def _is_fitting(group: _Group, top: float) -> bool:
    return not group[2] and group[1] >= POSSIBLE * top


def _candidate(
    index: IdentityIndex,
    number: int,
    held: Sequence[_Row],
    chance: float,
    misread: int,
    top: float,
) -> Candidate:
    listed, first = index.listed(number), index.row(held[0][1])
    fitting = [
        row for share, row, wrong, _ in held if wrong == misread and share >= POSSIBLE * held[0][0]
    ] or [held[0][1]]
    fit = Fit.FITS if chance >= POSSIBLE * top else Fit.UNLIKELY
    return Candidate(
        listed.id,
        listed.maker,
        listed.name,
        listed.kind,
        first.generation,
        first.stretch,
        first.known,
        tuple(dict.fromkeys(name for row in sorted(fitting) for name in index.row(row).releases)),
        chance,
        Fit.MISREAD if misread else fit,
        misread,
        tuple(one[1] for one in held),
        tuple(one[0] for one in held),
        tuple(one[3] for one in held),
    )


def evidence(
    index: IdentityIndex,
    candidate: Candidate,
    reads: Iterable[Read],
    terms: Terms = AS_IT_STANDS,
    rival: int | None = None,
) -> tuple[Evidence, ...]:
    """What each CV read says about a candidate: what speaks for it first, the strongest first.

    With a ``rival`` it is said beside that row, else beside a decoder of which nothing is known.
    """
    found = []
    for slot, answers in gathered(reads).items():
        held = index.expect(candidate.rows[0], slot)
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


def _verdict(
    index: IdentityIndex,
    reads: Sequence[Read],
    candidates: Sequence[Candidate],
    stranger: float,
) -> Verdict:
    fitting = [held for held in candidates if held.fit is Fit.FITS]
    certain = sum(held.chance for held in fitting)
    if reads and not any(read.is_answered for read in reads):
        return Verdict.SILENT
    if not fitting or stranger > certain:
        return Verdict.NONE
    is_clear = len(fitting) == 1 and certain >= 1 - DOUBT
    is_one = reads and is_clear and is_confirmed(index, fitting[0], reads)
    return Verdict.ONE if is_one else Verdict.SEVERAL


def is_confirmed(index: IdentityIndex, candidate: Candidate, reads: Iterable[Read]) -> bool:
    """Whether more than maker and version was read of a candidate.

    A maker and a version alone are shared by decoders that nobody wrote a profile for. So its own
    product answer has to be read; where it has none, other CVs have to speak for it as clearly.
    """
    row, made = candidate.rows[0], tuple(reads)
    own = index.product_slots(row)
    if own:
        return any(read.slot in own for read in made)
    common = index.common_slots(row)
    others = [read for read in made if read.slot not in common]
    told = (one.bits for one in evidence(index, candidate, others))
    return sum(bits for bits in told if bits > 0) >= CLEAR_BITS
