"""Reads held against every row of an index: which rows are possible, and how likely each is."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from math import exp, log
from operator import add

from cvlib.engine.bench.expect import (
    NO_ANSWER,
    Terms,
    judged,
)
from cvlib.engine.bench.index import IdentityIndex
from cvlib.engine.bench.strangers import RELATED, Usual, is_silent
from cvlib.engine.known.identity import spelt_version
from cvlib.model.cv import Slot
from cvlib.model.versions import FirmwareVersion

FEW_MISREAD = 1
"""A row that needs more misread answers than this is not looked at while others fit."""
LEAST = 1e-300
UNLIKELY = 1e-9
"""A row so much less likely than the likeliest is not looked at closely."""


@dataclass(frozen=True, slots=True)
class Read:
    """One read of one CV and what came back."""

    slot: Slot
    answer: int
    """0-255, or ``NO_ANSWER``."""

    @property
    def is_answered(self) -> bool:
        """Whether a value came back."""
        return self.answer != NO_ANSWER


@dataclass(frozen=True, slots=True)
class Weighed:
    """The rows that are left, and what else could explain the reads."""

    rows: tuple[int, ...]
    chances: tuple[float, ...]
    """How likely each row is, after the reads; with ``stranger`` and ``mute`` they come to 1."""
    open_minded: tuple[float, ...]
    """The part of each chance in which the decoder answers for CVs it does not use."""
    misread: tuple[int, ...]
    """How many answers must have been misread for each row."""
    stranger: float
    """How likely the decoder is one that no profile describes."""
    mute: float
    """How likely it is a decoder that never answers; 0 once anything was answered."""


def gathered(reads: Iterable[Read]) -> dict[Slot, tuple[int, ...]]:
    """The answers of each CV, in the order they came."""
    found: dict[Slot, list[int]] = {}
    for read in reads:
        found.setdefault(read.slot, []).append(read.answer)
    return {slot: tuple(answers) for slot, answers in found.items()}


def weigh(
    index: IdentityIndex, reads: Iterable[Read], terms: Terms, within: Sequence[int] | None = None
) -> Weighed:
    """How likely each row of an index is after some reads.

    ``within`` names the rows that are asked about; left out, all are. Rows that need more misread
    answers than others that fit are left out.
    """
    answers = gathered(reads)
    first = {slot: at for at, slot in enumerate(index.telling)}
    order = sorted(answers, key=lambda slot: (first.get(slot, len(first)), slot.order))
    asked = range(len(index)) if within is None else within
    allowed = FEW_MISREAD
    told = {slot: _Judged(index, slot, answers[slot], terms) for slot in order}
    while True:
        sums = _Sums(asked)
        for slot in order:
            sums.add(index.column(slot), told[slot], allowed)
        if sums.rows or allowed > len(answers) or not asked:
            break
        allowed *= 2
    return _weighed(index, answers, sums, terms, is_given=within is not None)


class _Judged:
    """What the answers of one CV say of each expectation, asked once for however many sums.

    Each is how many answers were misread, and the logarithms of the chances from a decoder that
    answers for its CVs alone, from one that always answers, and from a relative.
    """

    def __init__(
        self, index: IdentityIndex, slot: Slot, answers: tuple[int, ...], terms: Terms
    ) -> None:
        self._index, self._answers, self._terms = index, answers, terms
        self._usual = Usual(index, slot, terms)
        self._others = self._usual.others(answers)
        self.unrelated = tuple(log(max(one, LEAST)) for one in self._usual.unrelated(answers))
        self._known: dict[int, tuple[int, float, float, float]] = {}

    def of(self, number: int) -> tuple[int, float, float, float]:
        """What they say of the expectation of a number."""
        if number not in self._known:
            held, share = self._index.expectation(number), self._terms.model.open_minded
            wrong, one, other = judged(held, self._answers, self._terms)
            whole = beside = (1 - share) * one + share * other
            if not is_silent(self._answers):
                beside = self._usual.related(held, whole, self._others)
            strict, loose, near = (log(max(chance, LEAST)) for chance in (one, other, beside))
            self._known[number] = wrong, strict, loose, near
        return self._known[number]


class _Sums:
    """The logarithms of the chances of the rows still looked at, for both kinds of decoder, and
    for a relative of theirs that no profile describes.
    """

    def __init__(self, rows: Sequence[int]) -> None:
        self.rows: list[int] = list(rows)
        self.strict = [0.0] * len(self.rows)
        self.open_minded = [0.0] * len(self.rows)
        self.related = [0.0] * len(self.rows)
        self.unrelated = [0.0, 0.0]
        """The same for decoders like most others, and for those like none."""
        self.misread = [0] * len(self.rows)

    def add(self, column: Sequence[int], answers: _Judged, allowed: int) -> None:
        """Take in the answers of one CV; drop the rows that need more misread ones than allowed."""
        own: Sequence[int] = column
        if len(self.rows) < len(column):
            own = list(map(column.__getitem__, self.rows))
        misread: dict[int, int] = {}
        strict: dict[int, float] = {}
        open_minded: dict[int, float] = {}
        related: dict[int, float] = {}
        for number in set(own):
            misread[number], strict[number], open_minded[number], related[number] = answers.of(
                number
            )
        self.unrelated = list(map(add, self.unrelated, answers.unrelated))
        if any(misread.values()):
            counts = list(map(add, self.misread, map(misread.__getitem__, own)))
            kept = [at for at, count in enumerate(counts) if count <= allowed]
            own = [own[at] for at in kept]
            self.rows = [self.rows[at] for at in kept]
            self.misread = [counts[at] for at in kept]
            self.strict = [self.strict[at] for at in kept]
            self.open_minded = [self.open_minded[at] for at in kept]
            self.related = [self.related[at] for at in kept]
        self.strict = list(map(add, self.strict, map(strict.__getitem__, own)))
        self.open_minded = list(map(add, self.open_minded, map(open_minded.__getitem__, own)))
        self.related = list(map(add, self.related, map(related.__getitem__, own)))


def _weighed(
    index: IdentityIndex,
    answers: Mapping[Slot, tuple[int, ...]],
    sums: _Sums,
    terms: Terms,
    *,
    is_given: bool,
) -> Weighed:
    """The chances of the rows; ``is_given`` says that the decoder is known to be one of them."""
    model = terms.model
    all_silent = bool(answers) and all(map(is_silent, answers.values()))
    top = max([*sums.strict, *sums.open_minded, *sums.related, *sums.unrelated])
    top = max(top, 0.0) if all_silent else top
    weights = index.weights()
    own = [weights[row] for row in sums.rows]
    strict_share = (1 - model.stranger) * (1 - model.open_minded)
    open_share = (1 - model.stranger) * model.open_minded
    opened = [
        weight * open_share * exp(sum_ - top)
        for weight, sum_ in zip(own, sums.open_minded, strict=True)
    ]
    chances = [
        weight * strict_share * exp(sum_ - top) + beside
        for weight, sum_, beside in zip(own, sums.strict, opened, strict=True)
    ]
    misread = list(sums.misread)
    for at in _misnamed(index, answers, sums.rows, chances):
        chances[at] *= model.misread
        opened[at] *= model.misread
        misread[at] += 1
    related = sum(weight * exp(sum_ - top) for weight, sum_ in zip(own, sums.related, strict=True))
    unrelated = sum(exp(sum_ - top) for sum_ in sums.unrelated) / len(sums.unrelated)
    strange = model.stranger * (RELATED * related + (1 - RELATED) * unrelated)
    mute = model.mute * exp(-top) if all_silent else 0.0
    whole = sum(chances) + (0.0 if is_given else strange) + mute or 1.0
    return Weighed(
        tuple(sums.rows),
        tuple(chance / whole for chance in chances),
        tuple(chance / whole for chance in opened),
        tuple(misread),
        0.0 if is_given else strange / whole,
        mute / whole,
    )


def _misnamed(
    index: IdentityIndex,
    answers: Mapping[Slot, tuple[int, ...]],
    rows: Sequence[int],
    chances: Sequence[float],
) -> list[int]:
    """Where among the rows those are whose version CVs, taken together, name other firmware.

    Rows too unlikely to matter are not looked at.
    """
    values = {slot: held[-1] for slot, held in answers.items() if held[-1] != NO_ANSWER}
    least = UNLIKELY * max(chances, default=0.0)
    versions: dict[int, FirmwareVersion | None] = {}
    taken: dict[int, bool] = {}
    found = []
    asked = [at for at, chance in enumerate(chances) if chance > least]
    numbers = index.numbers(rows[at] for at in asked)
    for at, number in zip(asked, numbers, strict=True):
        if index.is_release(rows[at]):
            continue
        if number not in versions:
            listed = index.listed(number)
            versions[number] = spelt_version(listed.scheme, listed.parts, values)
        version = versions[number]
        if version is None:
            continue
        if number not in taken:
            taken[number] = index.has_release(number, version)
        if taken[number] or version not in index.row(rows[at]).firmware:
            found.append(at)
    return found
