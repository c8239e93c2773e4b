"""Decoders whose true type is known, answering reads as the error model says they do."""

from __future__ import annotations

import random

from cvlib.engine.bench.expect import NO_ANSWER, Terms, column
from cvlib.engine.bench.identify import Identified, Verdict, identify
from cvlib.engine.bench.index import IdentityIndex
from cvlib.engine.bench.next_read import next_reads
from cvlib.engine.bench.weigh import Read
from cvlib.model.cv import Slot


class Simulated:
    """A decoder that is one row of an index; its values are drawn once and then stay."""

    def __init__(
        self,
        index: IdentityIndex,
        row: int,
        dice: random.Random,
        *,
        misread: float = 0.0,
        after_reset: bool = False,
    ) -> None:
        self.index = index
        self.row = row
        self.dice = dice
        self.misread = misread
        self.terms = Terms(after_reset=after_reset)
        self.is_open_minded = dice.random() < self.terms.model.open_minded
        self.held: dict[Slot, int] = {}

    def true_answer(self, slot: Slot) -> int:
        """What the decoder answers before any misreading."""
        if slot not in self.held:
            expectation = self.index.expect(self.row, slot)
            if expectation.mixture:
                shares = [share for share, _ in expectation.mixture]
                parts = [part for _, part in expectation.mixture]
                (expectation,) = self.dice.choices(parts, shares)
            chances = column(expectation, self.terms, open_minded=self.is_open_minded)
            (self.held[slot],) = self.dice.choices(range(len(chances)), chances)
        return self.held[slot]

    def answer(self, slot: Slot) -> int:
        """What a read of the CV shows, now and then something else than the CV holds."""
        answer = self.true_answer(slot)
        if self.dice.random() >= self.misread:
            return answer
        how = self.dice.random()
        if answer == NO_ANSWER or how < 0.1:
            return NO_ANSWER
        if how < 0.7:
            return answer ^ 1 << self.dice.randrange(8)
        return self.dice.randrange(256)


def session(index: IdentityIndex, decoder: Simulated, most: int) -> Identified:
    """What is known once one decoder fits, or no read tells any more, reading what tells most."""
    reads: list[Read] = []
    while True:
        found = identify(index, reads, decoder.terms)
        if found.verdict is Verdict.ONE or len(reads) >= most:
            return found
        told = next_reads(index, found, decoder.terms, most=1)
        if not told:
            return found
        reads.append(Read(told[0].slot, decoder.answer(told[0].slot)))


def in_numeric_order(index: IdentityIndex, decoder: Simulated, most: int = 256) -> int | None:
    """How many reads it takes until one fits, reading CVs by number; nothing where it never does.

    CVs that no decoder of the store uses are passed over. It ends where the first verdict names
    one, as a session does.
    """
    reads: list[Read] = []
    for slot in sorted(index.slots, key=lambda slot: slot.order)[:most]:
        reads.append(Read(slot, decoder.true_answer(slot)))
        if _is_one(index, reads, decoder.terms):
            return len(reads)
    return None


def _is_one(index: IdentityIndex, reads: list[Read], terms: Terms) -> bool:
    return identify(index, reads, terms).verdict is Verdict.ONE
