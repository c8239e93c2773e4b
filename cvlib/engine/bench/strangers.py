"""How a decoder that no profile describes would answer.

Half of them have nothing to do with those described: they may be of any maker, and each CV is as
most decoders have it, or as nothing known. The other half are relatives of one that is described:
of the same maker, and in each CV as likely like it as not. So what most decoders have speaks for
none of them alone.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable

from cvlib.engine.bench.expect import (
    NO_ANSWER,
    UNKNOWN,
    Expectation,
    Keeping,
    Presence,
    Terms,
    judged,
)
from cvlib.engine.bench.index import VERSION_SLOT, IdentityIndex
from cvlib.engine.bench.units import EXTENDED_SLOTS
from cvlib.engine.known.identity import MAKER_SLOT
from cvlib.model.cv import Slot

RELATED = 0.5
"""Of the decoders that no profile describes: relatives of one that is described."""
ALIKE = 0.5
"""How likely one CV of a relative is as in the one described."""
SAME_PRODUCT = 0.02
"""How likely a relative gives the same product answer."""
LIKE_MOST = 0.75
"""How likely one CV of a decoder that is no relative is still as most decoders have it."""
ANY_MAKER = Expectation(Presence.HELD, keeping=Keeping.MAKER)
"""CV 8 of a decoder of a maker that is not in the store."""
UNSEEN = 8
"""So many decoders of which nothing is known are counted beside those of the store, to say what
most decoders have."""


class Usual:
    """What any decoder may answer for one CV, whatever its type."""

    def __init__(self, index: IdentityIndex, slot: Slot, terms: Terms) -> None:
        self.slot = slot
        self.terms = terms
        self.is_version = slot == VERSION_SLOT or slot in index.version_slots()
        column = index.column(slot)
        own = column if self.is_version else [column[first] for _, first, _ in index.spans()]
        scale = index.count / max(len(own), 1)
        held = [(index.expectation(number), count) for number, count in Counter(own).items()]
        self.counts = [(self._shared(one), count * scale) for one, count in held]
        self.whole = index.count

    def _shared(self, held: Expectation) -> Expectation:
        """What others may have of a decoder's CV: its product answer is its own alone."""
        is_own = held.certain and not self.is_version and self.slot != MAKER_SLOT
        return UNKNOWN if is_own else held

    def most(self, answers: tuple[int, ...]) -> float:
        """How likely the answers are from most decoders."""
        found = sum(count * _chance(one, answers, self.terms) for one, count in self.counts)
        unseen = UNSEEN * _chance(UNKNOWN, answers, self.terms)
        return (found + unseen) / (self.whole + UNSEEN)

    def others(self, answers: tuple[int, ...]) -> tuple[float, float]:
        """How likely the answers are from a decoder that differs here from one described: as a
        product answer, and as any other CV.
        """
        none = _chance(UNKNOWN, answers, self.terms)
        return none, max(self.most(answers), none)

    def related(self, held: Expectation, own: float, others: tuple[float, float]) -> float:
        """How likely a relative of a decoder answers so that answers itself so with a chance of
        ``own``; ``others`` is as :meth:`others` gives it.
        """
        if self.slot == MAKER_SLOT or self.slot in EXTENDED_SLOTS:
            return own
        if held.certain and not self.is_version:
            return SAME_PRODUCT * own + (1 - SAME_PRODUCT) * others[0]
        return ALIKE * own + (1 - ALIKE) * others[1]

    def unrelated(self, answers: tuple[int, ...]) -> tuple[float, float]:
        """How likely the answers are from a decoder that is like most, and from one like none."""
        none = _chance(ANY_MAKER if self.slot == MAKER_SLOT else UNKNOWN, answers, self.terms)
        if self.slot == MAKER_SLOT:
            found = sum(count * _chance(one, answers, self.terms) for one, count in self.counts)
            either = (found / max(self.whole, 1) + none) / 2
            return either, either
        return LIKE_MOST * self.most(answers) + (1 - LIKE_MOST) * none, none


def is_silent(answers: Iterable[int]) -> bool:
    """Whether there was no answer; that never tells a decoder from its relatives."""
    return all(answer == NO_ANSWER for answer in answers)


def _chance(held: Expectation, answers: tuple[int, ...], terms: Terms) -> float:
    _, strict, opened = judged(held, answers, terms)
    share = terms.model.open_minded
    return (1 - share) * strict + share * opened
