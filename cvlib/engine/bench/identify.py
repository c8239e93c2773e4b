"""Which decoder and firmware this is, from what it answered.

Every profile of an index is weighed. The answer is a list, never a silent first match: what fits,
what would fit if an answer was misread, and what speaks for and against each.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from enum import StrEnum

from cvlib.engine.bench.expect import AS_IT_STANDS, Terms
from cvlib.engine.bench.index import IdentityIndex
from cvlib.engine.bench.weigh import Read, Weighed, weigh
from cvlib.engine.known.identity import MAKER_SLOT, spelt_version
from cvlib.engine.known.line import Known
from cvlib.model.cv import Slot

POSSIBLE = 1e-2
"""A decoder that is less likely than this beside another one is called unlikely; so is a generation
beside another one of the same decoder."""
LISTED = 1e-6
"""A candidate that is less likely than this beside the best one is not listed."""
MOST_FITTING, MOST_OTHERS = 500, 100
"""The most candidates listed: those that fit, and those that do not or hardly."""
FEW_ROWS = 200
"""Of so few rows even the most unlikely one is looked at."""
STRANGE, STRANGE_PRODUCT, STRANGE_WHOLE = 1e-4, 2e-3, 1e-2
"""One is not named while a decoder that no profile describes is likelier than this: where it has no
product answer, where it gave one, and where it gave all answers that say who it is."""
STRANGER_ALONE = 10.0
"""No profile fits where a decoder that none describes is so many times likelier than all that
fit."""
DOUBT = 0.05
"""With more doubt than this that the decoder is in the store at all, nothing is decided."""
RIVALS = 1e-3
"""One is not named for sure while others that need no misread answer are likelier than this."""


class Verdict(StrEnum):
    """What the reads come to."""

    ONE = "one"
    """One decoder and generation fits."""
    SEVERAL = "several"
    NONE = "none"
    """No profile fits, or one that nobody wrote is far likelier."""
    SILENT = "silent"
    """The decoder has answered nothing at all."""


class Unsure(StrEnum):
    """Why one decoder is left, and yet is not named."""

    MAKER = "maker"
    """Its manufacturer ID was not read, and all else does not make up for it."""
    PRODUCT = "product"
    """None of its product answers was read."""
    UNDESCRIBED = "undescribed"
    """A decoder that no profile describes may answer like this."""
    OTHERS = "others"
    """Others are too likely still."""
    SHARED = "shared"
    """Two decoders answer at once."""


class Fit(StrEnum):
    """How a candidate lies to the reads."""

    FITS = "fits"
    UNLIKELY = "unlikely"
    """Every answer is possible, but another decoder or generation explains them far better."""
    MISREAD = "misread"
    """It fits only if an answer was misread."""


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
    spelt: str
    """Then the version that the version CVs spell; empty where they were not read."""
    chance: float
    """How likely it is, between 0 and 1."""
    fit: Fit
    misread: int
    """How many answers must have been misread."""
    rows: tuple[int, ...]
    """Its rows in the index: those that need the fewest misread answers first, of them the
    likeliest."""
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
    profile: str = ""
    """The one decoder type that was asked about; empty: all were."""
    unsure: Unsure | None = None
    """Why the one candidate that fits is not named; nothing where it is, or where none fits
    alone."""

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
    possible = _possible(groups)
    fitting = [group for group in groups if group[0] in possible and not group[2]]
    others = [group for group in groups if group[1] >= LISTED * groups[0][1]]
    beside = [group for group in others if group[0] not in possible or group[2]]
    listed = [*fitting[:MOST_FITTING], *beside[:MOST_OTHERS]]
    values = {read.slot: read.answer for read in made if read.is_answered}
    candidates = tuple(
        _candidate(index, group, values, is_possible=group[0] in possible)
        for group in sorted(listed, key=_by_chance)
    )
    stranger = weighed.stranger
    verdict, unsure = _verdict(index, made, candidates, stranger, is_given=bool(profile))
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
        profile,
        unsure,
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
        groups.append((key, chance, least, sorted(held, key=lambda one: (one[2], -one[0], one[1]))))
    return sorted(groups, key=_by_chance)


def _rival(groups: Sequence[_Group]) -> int | None:
    """The likeliest row of another generation of the same profile as the best group's."""
    for (number, _), _, _, held in groups[1:]:
        if number == groups[0][0][0]:
            return held[0][1]
    return None


def _by_chance(group: _Group) -> tuple[float, tuple[int, int]]:
    return -group[1], group[0]


def _possible(groups: Iterable[_Group]) -> frozenset[tuple[int, int]]:
    """The groups that are not a hundred times less likely than another decoder type in all its
    firmware, or than another generation of their own.
    """
    whole: dict[int, float] = {}
    best: dict[int, float] = {}
    made = tuple(groups)
    for (number, _), chance, _, _ in made:
        whole[number] = whole.get(number, 0.0) + chance
        best[number] = max(best.get(number, 0.0), chance)
    top = max(whole.values(), default=0.0)
    return frozenset(
        key
        for key, chance, _, _ in made
        if whole[key[0]] >= POSSIBLE * top and chance >= POSSIBLE * best[key[0]]
    )


def _candidate(
    index: IdentityIndex, group: _Group, values: Mapping[Slot, int], *, is_possible: bool
) -> Candidate:
    (number, _), chance, misread, held = group
    listed, first = index.listed(number), index.row(held[0][1])
    fitting = [
        row for share, row, wrong, _ in held if wrong == misread and share >= POSSIBLE * held[0][0]
    ] or [held[0][1]]
    fit = Fit.FITS if is_possible else Fit.UNLIKELY
    releases = [name for row in sorted(fitting) for name in index.row(row).releases]
    version = None if releases else spelt_version(listed.scheme, listed.parts, values)
    is_spelt = version is not None and version in first.firmware
    return Candidate(
        listed.id,
        listed.maker,
        listed.name,
        listed.kind,
        first.generation,
        first.stretch,
        first.known,
        tuple(dict.fromkeys(releases)),
        str(version) if is_spelt else "",
        chance,
        Fit.MISREAD if misread else fit,
        misread,
        tuple(one[1] for one in held),
        tuple(one[0] for one in held),
        tuple(one[3] for one in held),
    )


def _verdict(
    index: IdentityIndex,
    reads: Sequence[Read],
    candidates: Sequence[Candidate],
    stranger: float,
    *,
    is_given: bool,
) -> tuple[Verdict, Unsure | None]:
    fitting = [held for held in candidates if held.fit is Fit.FITS]
    certain = sum(held.chance for held in fitting)
    if reads and not any(read.is_answered for read in reads):
        return Verdict.SILENT, None
    if not fitting or stranger > STRANGER_ALONE * certain:
        return Verdict.NONE, None
    if len(fitting) > 1 or not reads:
        return Verdict.SEVERAL, None
    unsure = None if is_given else unconfirmed(index, fitting[0], reads, stranger)
    if unsure is None and (certain < 1 - DOUBT or rivals(index, candidates, reads)):
        unsure = Unsure.OTHERS
    return (Verdict.SEVERAL if unsure else Verdict.ONE), unsure


def rivals(
    index: IdentityIndex, candidates: Sequence[Candidate], reads: Iterable[Read]
) -> tuple[Candidate, ...]:
    """The others that are together too likely for the first candidate to be named for sure.

    None of them needs a misread answer. Other firmware of the same decoder that nobody listed is
    none of them. Once every product answer of the first candidate was read, more are allowed.
    """
    best, *others = candidates
    found = tuple(
        held
        for held in others
        if not held.misread and (held.profile != best.profile or held.releases)
    )
    own = index.product_slots(best.rows[0])
    is_named = bool(own) and {read.slot for read in reads}.issuperset(own)
    allowed = POSSIBLE if is_named else RIVALS
    return found if sum(held.chance for held in found) > allowed else ()


def unconfirmed(
    index: IdentityIndex, candidate: Candidate, reads: Iterable[Read], stranger: float
) -> Unsure | None:
    """What is missing to name a candidate beside maker and version; nothing where nothing is.

    A maker and a version alone are shared by decoders that nobody wrote a profile for. So its own
    product answer has to be read; where it has none, more other CVs have to hold what few decoders
    do. ``stranger`` is the chance of a decoder that nobody described.
    """
    row = candidate.rows[0]
    answered = {read.slot for read in reads if read.is_answered}
    has_maker = bool(index.expect(row, MAKER_SLOT).certain)
    if has_maker and MAKER_SLOT not in answered and stranger > STRANGE:
        return Unsure.MAKER
    own = index.clear_products(row)
    if own and not answered.intersection(own):
        return Unsure.PRODUCT
    whole = index.identity_slots(row)
    allowed = STRANGE if not own else STRANGE_WHOLE if whole <= answered else STRANGE_PRODUCT
    return Unsure.UNDESCRIBED if stranger > allowed else None
