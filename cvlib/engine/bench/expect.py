"""What a decoder may answer when one CV is read, and how likely each answer is.

An answer is a value 0-255 or "no answer". The error model is stated in docs/identify.md; its
figures are those of :class:`ErrorModel`.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from enum import IntEnum
from functools import lru_cache
from typing import Any

NO_ANSWER = 256
"""Stands beside the values 0-255 for a read that was not answered."""
ANSWERS = range(257)
ANY_VALUE = (1 << 256) - 1
"""All values as a set: bit v stands for value v."""


@dataclass(frozen=True, slots=True)
class ErrorModel:
    """What can go wrong between a decoder and the person who reads it, as shares of 1."""

    misread: float = 0.01
    """Reads that show something else than the CV holds."""
    flipped: float = 0.6
    """Of the misread ones: a single bit is wrong."""
    lost: float = 0.1
    """Of the misread ones: the acknowledgement is not seen. The rest shows any value."""
    changed: float = 0.35
    """CVs that do not hold their factory value any more."""
    changed_personal: float = 0.8
    """The same for addresses and the like, which nearly everybody sets."""
    zeroed: float = 0.25
    """Of the values that are not the factory ones, or where no factory value is known: 0."""
    beside_range: float = 0.03
    """CVs that hold a value which no handbook allows."""
    open_minded: float = 0.25
    """Decoders that answer for CVs they do not use."""
    mute: float = 0.1
    """Decoders that never answer, such as a motor decoder without a motor."""
    stranger: float = 0.1
    """Decoders that no profile describes."""


MODEL = ErrorModel()


class Presence(IntEnum):
    """Whether a decoder has a CV."""

    HELD = 0
    """It has the CV."""
    ABSENT = 1
    """A handbook that would list the CV does not."""
    NEVER = 2
    """The profile says that this CV gives no answer."""
    UNKNOWN = 3
    """Nothing is written about it."""


class Keeping(IntEnum):
    """Who changes the value of a CV."""

    OWNER = 0
    """The owner, now and then."""
    PERSONAL = 1
    """The owner, nearly always: addresses and the like."""
    MAKER = 2
    """Nobody: it is read-only."""
    DECODER = 3
    """The decoder itself, all the time."""


@dataclass(frozen=True, slots=True)
class Expectation:
    """What one CV of one firmware may answer."""

    presence: Presence
    legal: int = ANY_VALUE
    """The values that the settings in the CV allow, as a set."""
    certain: int = 0
    """The values that identity allows, as a set; 0 where identity says nothing."""
    default: int = 0
    default_mask: int = 0
    """The bits of ``default`` that are known."""
    keeping: Keeping = Keeping.OWNER
    is_loose: bool = False
    """Whether the CV exists only under a condition that a read does not show."""
    mixture: tuple[tuple[float, Expectation], ...] = ()
    """Several possibilities and their shares, where it is not known which one is true."""


ABSENT = Expectation(Presence.ABSENT)
UNKNOWN = Expectation(Presence.UNKNOWN)
NEVER = Expectation(Presence.NEVER)


@dataclass(frozen=True, slots=True)
class Terms:
    """Under which terms reads are made."""

    after_reset: bool = False
    """Whether the decoder was reset to its factory values just before."""
    model: ErrorModel = MODEL
    leftovers: bool = False
    """Whether values may be left over from other firmware: they tell of a CV that it is there."""


AS_IT_STANDS = Terms()
AFTER_RESET = Terms(after_reset=True)


def mixed(*parts: tuple[float, Expectation]) -> Expectation:
    """The expectation where one of several is true, equal ones joined."""
    shares: dict[Expectation, float] = {}
    for share, part in parts:
        for inner, one in part.mixture or ((1.0, part),):
            shares[one] = shares.get(one, 0.0) + share * inner
    if len(shares) == 1:
        return next(iter(shares))
    whole = sum(shares.values())
    joined = tuple((round(share / whole, 6), one) for one, share in shares.items())
    return Expectation(Presence.UNKNOWN, mixture=joined)


def packed(expectation: Expectation) -> tuple[Any, ...]:
    """The expectation as plain values, for keeping."""
    e = expectation
    parts = tuple((share, packed(one)) for share, one in e.mixture)
    return (
        int(e.presence), e.legal, e.certain, e.default, e.default_mask,
        int(e.keeping), e.is_loose, parts,
    )  # fmt: skip


def unpacked(row: tuple[Any, ...]) -> Expectation:
    """The expectation that plain values stand for."""
    presence, legal, certain, default, mask, keeping, is_loose, parts = row
    return Expectation(
        Presence(presence),
        legal,
        certain,
        default,
        mask,
        Keeping(keeping),
        is_loose,
        tuple((share, unpacked(one)) for share, one in parts),
    )


@dataclass(frozen=True, slots=True)
class Spread:
    """How likely each answer is before misreading, as sets whose members are equally likely."""

    silent: float
    """How likely there is no answer."""
    layers: tuple[tuple[float, int], ...]
    """Shares and the sets of values to each member of which the share belongs; they add up."""

    def chance(self, answer: int) -> float:
        """How likely one answer is."""
        if answer == NO_ANSWER:
            return self.silent
        return sum(share for share, values in self.layers if values >> answer & 1)

    def near(self, answer: int) -> float:
        """How likely, on average, are the eight values that differ from one in a single bit."""
        beside = _NEAR[answer]
        found = sum(share * (values & beside).bit_count() for share, values in self.layers)
        return found / 8

    def column(self) -> tuple[float, ...]:
        """How likely each of the values is, then "no answer"."""
        found = [0.0] * 256
        for share, values in self.layers:
            for value in members(values):
                found[value] += share
        return (*found, self.silent)


_NEAR = tuple(sum(1 << (value ^ 1 << bit) for bit in range(8)) for value in range(256))


@lru_cache(maxsize=1 << 15)
def spread(expectation: Expectation, terms: Terms, *, open_minded: bool = False) -> Spread:
    """How likely each answer is before misreading.

    ``open_minded`` is said of a decoder that answers for CVs it does not use.
    """
    e = expectation
    if terms.leftovers and not e.mixture and e.keeping in _SETTABLE and not e.certain:
        silent = spread(e, replace(terms, leftovers=False), open_minded=open_minded).silent
        return Spread(silent, (((1 - silent) / 256, ANY_VALUE),)) if silent < 1 else _SILENT
    if e.mixture:
        parts = [(share, spread(one, terms, open_minded=open_minded)) for share, one in e.mixture]
        return Spread(
            sum(share * part.silent for share, part in parts),
            tuple((share * each, values) for share, part in parts for each, values in part.layers),
        )
    match e.presence:
        case Presence.NEVER:
            return _SILENT
        case Presence.ABSENT:
            return _OPEN_ABSENT if open_minded else _SILENT
        case Presence.UNKNOWN:
            return _OPEN_UNKNOWN if open_minded else _UNKNOWN
        case Presence.HELD:
            return _held(e, terms)


@lru_cache(maxsize=1 << 12)
def column(
    expectation: Expectation, terms: Terms, *, open_minded: bool = False
) -> tuple[float, ...]:
    """How likely each answer is before misreading: 256 values, then "no answer"."""
    return spread(expectation, terms, open_minded=open_minded).column()


def seen(
    expectation: Expectation, answers: tuple[int, ...], terms: Terms, *, open_minded: bool = False
) -> float:
    """How likely the answers are that one CV gave, each read being misread on its own."""
    chances = spread(expectation, terms, open_minded=open_minded)
    return _seen(chances, answers, terms.model)


def judged(
    expectation: Expectation, answers: tuple[int, ...], terms: Terms
) -> tuple[int, float, float]:
    """How many answers must have been misread, and how likely they are in all: first from a
    decoder that answers only for CVs it uses, then from one that always answers.

    Misread answers do not count once more than half of a CV's answers are right.
    """
    strict = spread(expectation, terms)
    loose = strict
    if expectation.mixture or expectation.presence in _HABITUAL:
        loose = spread(expectation, terms, open_minded=True)
    right = max(
        answers.count(answer)
        for answer in (*answers, -1)
        if answer < 0 or strict.chance(answer) > 0 or loose.chance(answer) > 0
    )
    wrong = len(answers) - right if 2 * right <= len(answers) else 0
    first = _seen(strict, answers, terms.model)
    return wrong, first, first if loose is strict else _seen(loose, answers, terms.model)


_SETTABLE = (Keeping.OWNER, Keeping.PERSONAL)
_HABITUAL = (Presence.ABSENT, Presence.UNKNOWN)
"""Where the answer depends on the decoder's habits."""


def _seen(chances: Spread, answers: tuple[int, ...], model: ErrorModel) -> float:
    if len(answers) > 1:
        return _seen_again(chances, answers, model)
    answer, silent = answers[0], chances.silent
    if answer == NO_ANSWER:
        return silent * (1 - model.misread) + (1 - silent) * model.misread * model.lost
    stray = (1 - model.flipped - model.lost) / 256
    there = chances.chance(answer)
    noise = model.flipped * chances.near(answer) + stray * (1 - silent - there)
    return there * (1 - model.misread) + model.misread * (noise + model.lost * silent / 256)


def _seen_again(chances: Spread, answers: tuple[int, ...], model: ErrorModel) -> float:
    near = {answer ^ 1 << bit for answer in answers if answer != NO_ANSWER for bit in range(8)}
    near.update(answers)
    near.discard(NO_ANSWER)
    found = chances.silent * _product(answers, NO_ANSWER, model)
    left = 1 - chances.silent
    for true in near:
        share = chances.chance(true)
        if share:
            found += share * _product(answers, true, model)
            left -= share
    return found + max(left, 0.0) * _far(answers, model)


def _far(answers: tuple[int, ...], model: ErrorModel) -> float:
    """How likely the answers are from a value that is not even one bit near to any of them."""
    result = 1.0
    for answer in answers:
        far = model.lost if answer == NO_ANSWER else (1 - model.flipped - model.lost) / 256
        result *= model.misread * far
    return result


def _product(answers: tuple[int, ...], true: int, model: ErrorModel) -> float:
    result = 1.0
    for answer in answers:
        result *= _shown(answer, true, model)
    return result


def _shown(answer: int, true: int, model: ErrorModel) -> float:
    """How likely a read shows an answer when the CV truly gives another, or the same."""
    if answer == true:
        return 1 - model.misread
    if true == NO_ANSWER:
        return model.misread * model.lost / 256
    if answer == NO_ANSWER:
        return model.misread * model.lost
    stray = (1 - model.flipped - model.lost) / 256
    near = model.flipped / 8 if (answer ^ true).bit_count() == 1 else 0.0
    return model.misread * (stray + near)


def _silent(share: float) -> Spread:
    """No answer with the given likelihood, else mostly 0 or 255 and now and then anything."""
    rest = 1 - share
    if not rest:
        return Spread(1.0, ())
    return Spread(share, ((rest * 0.2 / 256, ANY_VALUE), (rest * 0.5, 1), (rest * 0.3, 1 << 255)))


_SILENT, _OPEN_ABSENT, _UNKNOWN, _OPEN_UNKNOWN = map(_silent, (1.0, 0.3, 0.5, 0.1))


def _held(e: Expectation, terms: Terms) -> Spread:
    legal = e.legal & (e.certain or ANY_VALUE) or e.certain or ANY_VALUE
    is_default_known = bool(e.default_mask) and e.keeping is not Keeping.DECODER
    silent = 0.1 if e.is_loose else 0.0
    if e.certain:
        return _layered(silent, (1.0, legal))
    factory = _matching(e.default, e.default_mask) if is_default_known else 0
    if is_default_known and terms.after_reset and not e.is_loose:
        return _layered(silent, (1.0, factory))
    kept = _kept(e, terms) if factory & legal else 0.0
    beside = terms.model.beside_range if legal != ANY_VALUE else 0.0
    other = 1 - kept - beside
    zero = other * terms.model.zeroed if legal & 1 else 0.0
    return _layered(
        silent,
        (kept, factory & legal),
        (zero, 1),
        (other - zero, legal),
        (beside, ANY_VALUE & ~legal),
    )


def _kept(e: Expectation, terms: Terms) -> float:
    """How likely a CV still holds its factory value."""
    model = terms.model
    if terms.after_reset or e.keeping is Keeping.MAKER:
        return 1 - model.beside_range - 0.02
    personal = e.keeping is Keeping.PERSONAL
    return 1 - (model.changed_personal if personal else model.changed)


@lru_cache(maxsize=1 << 12)
def _matching(default: int, mask: int) -> int:
    """The values whose known bits are those of the factory value."""
    if mask == 0xFF:
        return 1 << default
    return sum(1 << value for value in range(256) if value & mask == default & mask)


def _layered(silent: float, *parts: tuple[float, int]) -> Spread:
    """Shares spread evenly over sets of values; an empty set takes nothing."""
    layers = tuple(
        ((1 - silent) * share / values.bit_count(), values)
        for share, values in parts
        if share > 0 and values
    )
    return Spread(silent, layers)


def members(values: int) -> list[int]:
    """The members of a set of answers, in order; 256 stands for "no answer".

    >>> members(0b1001)
    [0, 3]
    """
    return [at for at, mark in enumerate(reversed(f"{values:b}")) if mark == "1"]
