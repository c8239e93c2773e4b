"""The next read that would tell most about which decoder this is."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from enum import StrEnum
from math import log2

from cvlib.engine.bench.expect import ANSWERS, AS_IT_STANDS, Terms, column, judged, members, seen
from cvlib.engine.bench.identify import (
    Candidate,
    Fit,
    Identified,
    Unsure,
    Verdict,
    rivals,
    unconfirmed,
)
from cvlib.engine.bench.index import IdentityIndex
from cvlib.engine.bench.plan import SETTLED, TELLING, Planner
from cvlib.engine.bench.reads import Look, Query, information, overlap, query_of
from cvlib.engine.bench.strangers import Usual
from cvlib.engine.bench.tree import Tree, grow
from cvlib.engine.bench.weigh import gathered
from cvlib.engine.known.identity import MAKER_SLOT
from cvlib.model.cv import WHOLE, Slot

MOST_ROWS = 160
"""With more rows than this the reads are compared by their spread alone."""
WIDE = 0.5
"""A read that says who a decoder is has to tell so many bits to go before all others."""
MOST_QUERIES = 40
"""How many reads are looked at closely."""
NEGLIGIBLE = 1e-4
"""A hypothesis less likely than this is not planned for."""
MOST_TELLING = 24
"""How many CVs are compared while there are many rows."""


MOST_RIVALS = 4
"""How many others are looked at when one is nearly sure."""
MOST_OWN = 0.5
"""So likely it must be that a CV is a product answer of the decoder to be read before others."""
HARDLY_LESS = 0.75
"""A product answer may tell so many bits less than the best read and still go before it."""
LEAST_LEFT = 1e-4
"""No read is taken to leave less than this of what else could be."""


class Aim(StrEnum):
    """What a read is for."""

    DECODER = "decoder"
    """To tell decoders and generations apart."""
    FIRMWARE = "firmware"
    """To tell releases of one generation apart."""
    SETTING = "setting"
    """To tell where disputed settings live."""
    PRODUCT = "product"
    """To make sure of the one decoder type that is left."""
    CONTROL = "control"
    """To see whether the decoder answers at all."""
    CONFIRM = "confirm"
    """To read again what may have been misread."""


@dataclass(frozen=True, slots=True)
class Suggestion:
    """A read worth making."""

    slot: Slot
    bits: float
    """How much it is expected to tell."""
    aim: Aim


@dataclass(frozen=True, slots=True)
class _Hypothesis:
    """One row of the index, and whether the decoder answers for CVs it does not use."""

    row: int
    is_open_minded: bool
    label: int
    weight: float


def next_reads(
    index: IdentityIndex,
    found: Identified,
    terms: Terms = AS_IT_STANDS,
    avoid: Iterable[Slot] = (),
    most: int = 3,
) -> tuple[Suggestion, ...]:
    """The reads that would tell most, the best first; none where no read tells any more.

    ``avoid`` names CVs that cannot be read.
    """
    without = frozenset(avoid)
    asked = _hypotheses(found)
    if not asked and found.reads:
        return ()
    if len(asked) > MOST_ROWS or found.verdict is Verdict.SILENT or not found.reads:
        told = _by_spread(index, found, terms, without, most)
        if (told and told[0].bits >= WIDE) or len(asked) <= MOST_ROWS:
            return told
        asked = sorted(asked, key=lambda held: -held.weight)[:MOST_ROWS]
    if found.verdict is not Verdict.ONE:
        sure = _again(index, found, terms, without) or _confirming(index, found, terms, without)
        sure = sure or _against_rivals(index, found, terms, without)
        if sure:
            return sure[:most]
    if found.verdict is Verdict.ONE or len({held.label for held in asked}) == 1:
        asked = [replace(held, label=_release_number(index, held.row)) for held in asked]
        return _by_plan(index, found, terms, asked, without, Aim.FIRMWARE)[:most]
    return _by_plan(index, found, terms, asked, without, Aim.DECODER)[:most]


def _release_number(index: IdentityIndex, row: int) -> int:
    """The first row of the same profile with the same releases: rows may differ in layout alone."""
    number = index.numbers([row])[0]
    own = index.row(row).firmware
    first = next(first for at, first, _ in index.spans() if at == number)
    return next(at for at in range(first, row + 1) if index.row(at).firmware == own)


def _confirming(
    index: IdentityIndex, found: Identified, terms: Terms, without: frozenset[Slot]
) -> tuple[Suggestion, ...]:
    """What makes sure of the one decoder type that is left: its maker and product answers, where
    they were not read; else other CVs that few decoders have as it has them.
    """
    best = _nearly_sure(found)
    if best is None or found.profile:
        return ()
    read = {one.slot for one in found.reads} | without
    match unconfirmed(index, best, found.reads, found.stranger):
        case Unsure.MAKER:
            own: Iterable[Slot] = (MAKER_SLOT,)
        case Unsure.PRODUCT:
            own = index.clear_products(best.rows[0])
        case Unsure.UNDESCRIBED:
            own = _clear_slots(index, best.rows[0], terms, read)
        case _:
            own = ()
    return tuple(Suggestion(slot, 0.0, Aim.PRODUCT) for slot in own if slot not in read)


def _nearly_sure(found: Identified) -> Candidate | None:
    """The one candidate that is left, if only what no profile describes is likely beside it."""
    best = found.candidates[0] if found.candidates else None
    if best is None or best.fit is not Fit.FITS:
        return None
    known = 1 - found.stranger - found.mute
    return best if best.chance >= SETTLED * known else None


def _against_rivals(
    index: IdentityIndex, found: Identified, terms: Terms, without: frozenset[Slot]
) -> tuple[Suggestion, ...]:
    """The reads that leave least of what else could still be, where one is nearly sure."""
    best = _nearly_sure(found)
    if best is None:
        return ()
    others = rivals(index, found.candidates, found.reads)[:MOST_RIVALS]
    whole = sum(held.chance for held in others)
    done = {read.slot for read in found.reads} | without
    told: list[tuple[float, Slot]] = []
    for slot in index.slots if others else ():
        if slot not in done:
            own = index.expect(best.rows[0], slot)
            left = sum(
                held.chance * overlap(own, index.expect(held.rows[0], slot), terms)
                for held in others
            )
            told.append((-log2(max(left / whole, LEAST_LEFT)), slot))
    told.sort(key=lambda held: (-round(held[0], 2), held[1].page is not None, held[1].order))
    return tuple(
        Suggestion(slot, round(bits, 3), Aim.DECODER) for bits, slot in told[:3] if bits >= TELLING
    )


def _clear_slots(
    index: IdentityIndex, row: int, terms: Terms, without: Iterable[Slot]
) -> list[Slot]:
    """The CVs that tell a decoder best from others of its maker, for want of a product answer."""
    told: list[tuple[float, Slot]] = []
    done = set(without)
    for slot in index.slots:
        held = index.expect(row, slot)
        if slot in done or not (held.certain or held.default_mask == WHOLE):
            continue
        usual = (members(held.certain)[0] if held.certain else held.default,)
        chances = Usual(index, slot, terms)
        own = seen(held, usual, terms)
        related = chances.related(held, own, chances.others(usual))
        told.append((own * log2(own / related), slot))
    told.sort(key=lambda one: (-round(one[0], 2), one[1].page is not None, one[1].order))
    return [slot for bits, slot in told if bits >= TELLING]


def _again(
    index: IdentityIndex, found: Identified, terms: Terms, without: frozenset[Slot]
) -> tuple[Suggestion, ...]:
    """The CVs to read again: those whose answers the likeliest candidate takes for misread."""
    best = found.candidates[0] if found.candidates else None
    if best is None or best.fit is not Fit.MISREAD or found.stranger > best.chance:
        return ()
    return tuple(
        Suggestion(slot, 0.0, Aim.CONFIRM)
        for slot, answers in gathered(found.reads).items()
        if slot not in without and judged(index.expect(best.rows[0], slot), answers, terms)[0]
    )


def _hypotheses(found: Identified) -> list[_Hypothesis]:
    """What is still in question, labelled by candidate.

    Candidates that fit only if an answer was misread, or are unlikely, count while together they
    are likely enough to matter.
    """
    others = sum(held.chance for held in found.candidates if held.fit is not Fit.FITS)
    is_open = found.verdict is not Verdict.ONE and others > 1 - SETTLED
    with_others = is_open or not found.fitting
    made: list[_Hypothesis] = []
    for label, candidate in enumerate(found.candidates):
        if candidate.fit is not Fit.FITS and not with_others:
            continue
        shares = zip(candidate.rows, candidate.shares, candidate.open_shares, strict=True)
        for row, share, opened in shares:
            made.append(_Hypothesis(row, False, label, share - opened))
            made.append(_Hypothesis(row, True, label, opened))
    whole = sum(held.weight for held in made) or 1.0
    return [
        replace(held, weight=held.weight / whole)
        for held in made
        if held.weight / whole > NEGLIGIBLE
    ]


def candidate_tree(
    index: IdentityIndex,
    found: Identified,
    terms: Terms = AS_IT_STANDS,
    avoid: Iterable[Slot] = (),
) -> Tree | None:
    """The tree of reads that tells the candidates apart, its labels numbering them; nothing where
    there are too many to plan for.
    """
    asked = _hypotheses(found)
    if not asked or len(asked) > MOST_ROWS:
        return None
    queries = _queries(index, found, terms, asked, frozenset(avoid))
    return grow(
        Planner([held.label for held in asked], queries), tuple(held.weight for held in asked)
    )


def _by_plan(
    index: IdentityIndex,
    found: Identified,
    terms: Terms,
    asked: Sequence[_Hypothesis],
    without: frozenset[Slot],
    aim: Aim,
) -> tuple[Suggestion, ...]:
    """The reads of the best plan: its first read, then the most telling others."""
    queries = _queries(index, found, terms, asked, without)
    weights = tuple(held.weight for held in asked)
    planner = Planner([held.label for held in asked], queries)
    best = planner.best(weights)
    if best is None:
        return ()
    ranked = planner.ranked(weights)
    first = [(bits, query) for bits, query in ranked if query.slot == best.slot]
    if aim is Aim.DECODER:
        own = _needed_anyway(index, asked, queries, ranked[0][0])
        first = [own, *first] if own is not None and own[1].slot != best.slot else first
    done = {query.slot for _, query in first}
    others = [(bits, query) for bits, query in ranked if query.slot not in done]
    return tuple(
        Suggestion(query.slot, round(bits, 3), Aim.CONFIRM if query.is_repeat else aim)
        for bits, query in (*first, *others)
    )


def _needed_anyway(
    index: IdentityIndex, asked: Sequence[_Hypothesis], queries: Sequence[Query], most: float
) -> tuple[float, Query] | None:
    """The product answer of what is most likely, where it tells hardly less than the best read.

    Before one decoder is named its product answer has to be read in any case; read first, it saves
    a read that tells as much. ``most`` is what the best read tells, in bits.
    """
    shares: dict[Slot, float] = {}
    for held in asked:
        for slot in index.product_slots(held.row):
            shares[slot] = shares.get(slot, 0.0) + held.weight
    weights, labels = tuple(held.weight for held in asked), [held.label for held in asked]
    told = [
        (information(weights, labels, query), query)
        for query in queries
        if shares.get(query.slot, 0.0) >= MOST_OWN and not query.is_repeat
    ]
    enough = [pair for pair in told if pair[0] >= most - HARDLY_LESS]
    return max(enough, key=lambda pair: pair[0], default=None)


def _queries(
    index: IdentityIndex,
    found: Identified,
    terms: Terms,
    asked: Sequence[_Hypothesis],
    without: frozenset[Slot],
) -> list[Query]:
    """The reads worth a close look: those that part the hypotheses most evenly."""
    answered = gathered(found.reads)
    weights = [held.weight for held in asked]
    parted: list[tuple[float, Slot, list[int]]] = []
    for slot in index.slots:
        if slot in without:
            continue
        numbers = index.column(slot)
        own = [numbers[held.row] << 1 | held.is_open_minded for held in asked]
        if len(set(own)) > 1:
            parted.append((_entropy(own, weights), slot, own))
    parted.sort(key=lambda held: (-round(held[0], 6), held[1].page is not None, held[1].order))
    fresh = [held for held in parted if held[1] not in answered][:MOST_QUERIES]
    again = [held for held in parted if held[1] in answered][: MOST_QUERIES // 4]

    def look(number: int) -> Look:
        return index.expectation(number >> 1), bool(number & 1)

    made = (
        query_of(slot, own, look, terms, answered.get(slot, ()))
        for _, slot, own in (*fresh, *again)
    )
    return [query for query in made if query is not None]


def _entropy(column: Sequence[int], weights: Sequence[float]) -> float:
    """How evenly the weights are parted by what is expected, in bits."""
    shares: dict[int, float] = {}
    for number, weight in zip(column, weights, strict=True):
        shares[number] = shares.get(number, 0.0) + weight
    return -sum(share * log2(share) for share in shares.values() if share > 0)


def _by_spread(
    index: IdentityIndex, found: Identified, terms: Terms, without: frozenset[Slot], most: int
) -> tuple[Suggestion, ...]:
    """The reads whose answers part many rows best, out of those that say who a decoder is."""
    answered = {read.slot for read in found.reads}
    rows = [row for held in found.candidates for row in held.rows]
    weights = [share for held in found.candidates for share in held.shares]
    told: list[tuple[float, Slot]] = []
    for slot in _worth_asking(index, answered | without):
        numbers = index.column(slot)
        shares: dict[int, float] = {}
        for row, weight in zip(rows, weights, strict=True):
            shares[numbers[row]] = shares.get(numbers[row], 0.0) + weight
        told.append((_expected_bits(index, shares, terms), slot))
    told.sort(key=lambda held: (-round(held[0], 3), held[1].page is not None, held[1].order))
    return tuple(
        Suggestion(slot, round(bits, 3), Aim.DECODER) for bits, slot in told if bits >= TELLING
    )[:most]


def _worth_asking(index: IdentityIndex, done: Iterable[Slot]) -> list[Slot]:
    """The CVs by which decoders say who they are, first; then those that many decoders have."""
    left = set(done)
    telling = [slot for slot in index.telling if slot not in left][:MOST_TELLING]
    if telling:
        return telling
    return [slot for slot in index.slots if slot not in left][:MOST_TELLING]


def _expected_bits(index: IdentityIndex, shares: dict[int, float], terms: Terms) -> float:
    """How many bits a read tells about which expectation is true."""
    whole = sum(shares.values()) or 1.0
    mean = [0.0] * len(ANSWERS)
    inside = 0.0
    for number, weight in shares.items():
        chances = column(index.expectation(number), terms)
        inside += weight / whole * _bits(chances)
        for at, share in enumerate(chances):
            mean[at] += weight / whole * share
    return _bits(mean) - inside


def _bits(shares: Sequence[float]) -> float:
    return -sum(share * log2(share) for share in shares if share > 0)
