"""Which read to make next, and which after that: the shortest plan, or the widest split."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

from cvlib.engine.bench.expect import members
from cvlib.engine.bench.reads import (
    Query,
    Reply,
    Weights,
    after,
    chance_of,
    doubt,
    information,
    leading,
    roughly,
)
from cvlib.model.cv import Slot

SETTLED = 0.99
"""A label as likely as this needs no further read."""
TELLING = 0.02
"""A read that is expected to tell less than this, in bits, is not worth making."""
ENOUGH = 0.1
"""A read that leaves less doubt than this, in bits, need not be compared with others."""
RARE = 0.01
"""Answers less likely than this are not planned for."""
NEGLIGIBLE = 1e-4
"""A hypothesis so much less likely than the likeliest is not planned for."""
MOST_EXACT = 48
"""With more hypotheses than this, what a read tells is worked out roughly."""
CERTAIN = 0.9
"""An answer as likely as this is expected for certain."""
MOST_CERTAIN, MOST_KEPT, MOST_CERTAIN_STATES = 24, 32, 4000
"""How many reads, hypotheses and states the search for the shortest plan takes where every answer
is certain."""
MOST_LABELS = 6
"""With more likely labels than this the shortest plan is not searched for."""
MOST_STATES = 150
"""How many states the search for the shortest plan may look at before it gives up."""
MOST_SEARCHED = 8
"""How many reads the search for the shortest plan chooses from."""


class Planner:
    """Chooses reads for hypotheses that carry labels.

    While few labels are likely the shortest plan is searched for, out of the ``MOST_SEARCHED``
    most telling reads; where that takes more than ``MOST_STATES`` states, or more labels are
    likely, the read that is expected to tell most is taken. Telling most needs at most
    1 + ln(1/p) times as many reads as the shortest plan, p being the share of the least likely
    label (source: D. Golovin, A. Krause, "Adaptive submodularity", 2011, on choosing the widest
    split).
    """

    def __init__(self, labels: Sequence[int], queries: Sequence[Query]) -> None:
        self.given = tuple(labels)
        """The labels as they were given."""
        numbers = {label: at for at, label in enumerate(dict.fromkeys(labels))}
        self.labels = tuple(numbers[label] for label in labels)
        self.alike = _alike(queries)
        """The reads; those that tell exactly the same stand together, the easiest first."""
        self._known: dict[tuple[Weights, frozenset[Slot]], Query | None] = {}

    def best(self, weights: Weights, without: frozenset[Slot] = frozenset()) -> Query | None:
        """The read to make next, or nothing where no read tells any more."""
        key = (weights, without)
        if key not in self._known:
            self._known[key] = self._chosen(weights, without)
        return self._known[key]

    def ranked(
        self, weights: Weights, without: frozenset[Slot] = frozenset()
    ) -> list[tuple[float, Query]]:
        """The reads that tell something, with their bits, the most telling first."""
        return self._left(weights, without).ranked()

    def _chosen(self, weights: Weights, without: frozenset[Slot]) -> Query | None:
        found = self._left(weights, without).chosen()
        if found is None:
            return None
        reads = (query for group in self.alike for query in group)
        return next(query for query in reads if query.slot == found.slot)

    def _left(self, weights: Weights, without: frozenset[Slot]) -> _Left:
        """What is left of the question: the hypotheses with some weight, the reads not made."""
        least = NEGLIGIBLE * max(weights, default=0.0)
        kept = [at for at, weight in enumerate(weights) if weight > least]
        labels = {self.labels[at]: 0 for at in kept}
        numbers = {label: at for at, label in enumerate(labels)}
        queries = []
        for group in self.alike:
            query = next((query for query in group if query.slot not in without), None)
            if query is not None:
                column = tuple(query.column[at] for at in kept)
                if len(set(column)) > 1:
                    queries.append(replace(query, column=column))
        return _Left(
            tuple(weights[at] for at in kept),
            tuple(numbers[self.labels[at]] for at in kept),
            queries,
        )


@dataclass(frozen=True, slots=True)
class _Left:
    """Hypotheses that are still in question, and the reads that may be made."""

    weights: Weights
    labels: tuple[int, ...]
    queries: list[Query]

    def ranked(self) -> list[tuple[float, Query]]:
        """The reads that tell something, with their bits, the most telling first."""
        if leading(self.weights, self.labels) >= SETTLED:
            return []
        told = [(self._bits(query), query) for query in self.queries]
        worth = [(bits, query) for bits, query in told if bits >= TELLING]
        return sorted(worth, key=lambda pair: (-round(pair[0], 3), pair[1].effort))

    def chosen(self) -> Query | None:
        """The read to make next."""
        ranked = self.ranked()
        if not ranked:
            return None
        first = ranked[0][1]
        is_clear = ranked[0][0] > doubt(self.weights, self.labels) - ENOUGH
        if len(ranked) == 1 or is_clear:
            return first
        sure = [query for _, query in ranked[:MOST_CERTAIN] if is_certain(query)]
        if len(sure) == len(ranked):
            found = _Certain(self, sure).best()
            if found is not None:
                return found
        if self._likely() > MOST_LABELS:
            return first
        queries = [query for _, query in ranked[:MOST_SEARCHED]]
        search = _Search(self.labels, queries)
        plan = search.cost(self.weights, frozenset(), len(queries) + 1.0)
        return plan.query or first if search.is_complete else first

    def _bits(self, query: Query) -> float:
        if len(self.weights) > MOST_EXACT:
            return roughly(self.weights, query)
        return information(self.weights, self.labels, query)

    def _likely(self) -> int:
        """How many labels are likely enough to be planned for."""
        shares = [0.0] * (max(self.labels) + 1)
        for label, weight in zip(self.labels, self.weights, strict=True):
            shares[label] += weight
        whole = sum(shares) or 1.0
        return sum(share >= RARE * whole for share in shares)


def is_certain(query: Query) -> bool:
    """Whether every hypothesis gives one answer to a read, misreading apart."""
    used = set(query.column)
    return all(max(reply.chances[at] for reply in query.replies) > CERTAIN for at in used)


class _Certain:
    """The plan with the fewest expected reads where every answer is certain.

    Then a state is just the set of hypotheses that are left, held as bits.
    """

    def __init__(self, left: _Left, queries: Sequence[Query]) -> None:
        self.left = left
        self.queries = queries
        self.known: dict[int, _Cost] = {}
        self.parts = [
            [self._answered(query, reply) for reply in query.replies] for query in queries
        ]

    def best(self) -> Query | None:
        """The first read of the shortest plan; nothing where there are too many states."""
        if len(self.left.weights) > MOST_KEPT:
            return None
        found = self._cost((1 << len(self.left.weights)) - 1).query
        return None if len(self.known) > MOST_CERTAIN_STATES else found

    def _answered(self, query: Query, reply: Reply) -> int:
        """The hypotheses that give a reply."""
        found = 0
        for at, column in enumerate(query.column):
            found |= (reply.chances[column] > CERTAIN) << at
        return found

    def _cost(self, state: int) -> _Cost:
        if state not in self.known:
            labels = {self.left.labels[at] for at in members(state)}
            is_done = len(labels) < 2 or len(self.known) > MOST_CERTAIN_STATES
            self.known[state] = _DONE if is_done else self._least(state)
        return self.known[state]

    def _least(self, state: int) -> _Cost:
        """The read that leaves the fewest expected reads; none where no read parts the state."""
        whole = self._weight(state)
        best: _Cost | None = None
        for query, parts in zip(self.queries, self.parts, strict=True):
            split = [part & state for part in parts if part & state]
            if len(split) < 2:
                continue
            reads = 1 + sum(self._weight(part) / whole * self._cost(part).reads for part in split)
            if best is None or reads < best.reads:
                best = _Cost(reads, query)
        return best or _DONE

    def _weight(self, state: int) -> float:
        return sum(self.left.weights[at] for at in members(state))


@dataclass(frozen=True, slots=True)
class _Cost:
    reads: float
    query: Query | None


_DONE = _Cost(0.0, None)


class _Search:
    """The plan with the fewest expected reads, by trying all of them."""

    def __init__(self, labels: Sequence[int], queries: Sequence[Query]) -> None:
        self.labels = labels
        self.queries = queries
        self.known: dict[frozenset[tuple[int, int]], _Cost] = {}
        self.is_complete = True

    def cost(self, weights: Weights, asked: frozenset[tuple[int, int]], limit: float) -> _Cost:
        """The expected reads from here on, and the first of them; gives up above a limit."""
        if asked in self.known:
            return self.known[asked]
        labels = self.labels
        if leading(weights, labels) >= SETTLED:
            return _DONE
        if len(self.known) > MOST_STATES:
            self.is_complete = False
            return _DONE
        done = {number for number, _ in asked}
        told = sorted(
            (-information(weights, labels, query), number)
            for number, query in enumerate(self.queries)
            if number not in done
        )
        best, is_exact = _Cost(limit, None), False
        for bits, number in told:
            if -bits < TELLING:
                break
            reads = self._through(weights, asked, number, best.reads)
            if reads < best.reads:
                best, is_exact = _Cost(reads, self.queries[number]), True
        if not told or -told[0][0] < TELLING:
            best, is_exact = _DONE, True
        if is_exact:
            self.known[asked] = best
        return best

    def _through(
        self, weights: Weights, asked: frozenset[tuple[int, int]], number: int, limit: float
    ) -> float:
        """The expected reads when one read is made now; at least the limit where it is no gain."""
        reads, query = 1.0, self.queries[number]
        for at, reply in enumerate(query.replies):
            share = chance_of(weights, query, reply)
            if share < RARE:
                continue
            room = (limit - reads) / share
            if room <= 0:
                return limit
            left = self.cost(after(weights, query, reply), asked | {(number, at)}, room)
            reads += share * left.reads
        return reads


def _alike(queries: Sequence[Query]) -> tuple[tuple[Query, ...], ...]:
    """The queries in groups that tell exactly the same, the easiest first.

    One of a group is compared with the other groups. Once it was made the next takes its place,
    for where no answer is certain it is further evidence.
    """
    found: dict[tuple[tuple[float, ...], ...], list[Query]] = {}
    for query in sorted(queries, key=lambda held: held.effort):
        key = tuple(
            sorted(
                tuple(round(reply.chances[at], 4) for at in query.column) for reply in query.replies
            )
        )
        found.setdefault(key, []).append(query)
    return tuple(map(tuple, found.values()))
