"""Plans held against the shortest possible ones, on cases small enough to search exhaustively."""

from __future__ import annotations

import random
from collections.abc import Sequence
from dataclasses import dataclass
from functools import cache

from cvlib.engine.bench.plan import Planner
from cvlib.engine.bench.reads import (
    Query,
    Reply,
    Weights,
    after,
    chance_of,
)
from cvlib.model.cv import Slot

MISREAD = 0.01
MOST_MORE = 0.10
"""How many more reads than the shortest plans are allowed in the mean."""

Answers = list[list[int]]
"""For each CV what each hypothesis answers."""


def made_case(dice: random.Random) -> tuple[Answers, list[float]]:
    """A few hypotheses, what each answers to a few CVs, and how likely each is."""
    hypotheses, cvs, kinds = dice.randint(3, 12), dice.randint(3, 8), dice.choice((2, 2, 3, 4))
    answers = [[dice.randrange(kinds) for _ in range(hypotheses)] for _ in range(cvs)]
    even = dice.random() < 0.5
    weights = [1.0 if even else 0.05 + dice.random() ** 2 for _ in range(hypotheses)]
    return answers, [weight / sum(weights) for weight in weights]


def shortest(answers: Answers, weights: Sequence[float]) -> float:
    """The fewest expected reads by which the hypotheses are told apart as far as they can be."""

    @cache
    def least(left: frozenset[int]) -> float:
        whole = sum(weights[at] for at in left)
        found: list[float] = []
        for row in answers:
            parts: dict[int, set[int]] = {}
            for at in left:
                parts.setdefault(row[at], set()).add(at)
            if len(parts) > 1:
                costs = (
                    sum(weights[at] for at in part) / whole * least(frozenset(part))
                    for part in parts.values()
                )
                found.append(1 + sum(costs))
        return min(found, default=0.0)

    return least(frozenset(range(len(weights))))


def planned(answers: Answers, weights: Sequence[float]) -> float:
    """The expected reads that the planner needs for the same."""
    queries = [_query(at, row) for at, row in enumerate(answers) if len(set(row)) > 1]
    if not queries:
        return 0.0
    planner = Planner(range(len(weights)), queries)
    found = 0.0
    for truth, weight in enumerate(weights):
        left, asked, reads = tuple(weights), frozenset[Slot](), 0
        while (query := planner.best(left, asked)) is not None:
            reads += 1
            asked |= {query.slot}
            answer = answers[query.slot.cv - 1][truth]
            reply = next(one for one in query.replies if one.answers == 1 << answer)
            left = after(left, query, reply)
        found += weight * reads
    return found


def _query(at: int, row: Sequence[int]) -> Query:
    known = sorted(set(row))
    noise = MISREAD / 257
    replies = [
        Reply(1 << value, tuple((1 - MISREAD) * (other == value) + noise for other in known))
        for value in known
    ]
    left = tuple(noise * (257 - len(known)) for _ in known)
    column = tuple(known.index(value) for value in row)
    kinds = tuple(range(len(known)))
    return Query(Slot(at + 1), (*replies, Reply(1 << 200, left)), column, kinds)


@dataclass
class Compared:
    """Expected reads of the shortest plans and of the planner's, over some cases."""

    cases: int = 0
    best: float = 0.0
    ours: float = 0.0
    worst: float = 0.0

    def add(self, least: float, needed: float) -> None:
        """Take in one case."""
        self.cases += 1
        self.best += least
        self.ours += needed
        self.worst = max(self.worst, needed / least)

    @property
    def more(self) -> float:
        """How much more the planner needs in the mean, as a share of the shortest plans."""
        return self.ours / self.best - 1

    def line(self, name: str) -> str:
        """The comparison as one line of the report."""
        kept = "kept" if self.more <= MOST_MORE else "EXCEEDED"
        return (
            f"{self.cases} small cases, {name}: shortest plans need "
            f"{self.best / self.cases:.3f} reads, these {self.ours / self.cases:.3f}; "
            f"{100 * self.more:.2f} % more (limit {100 * MOST_MORE:.0f} %, {kept}), at most "
            f"{100 * (self.worst - 1):.1f} % in one case"
        )


def certain_cases(count: int = 600, seed: int = 5) -> Compared:
    """Cases in which every answer is certain."""
    dice, found = random.Random(seed), Compared()
    while found.cases < count:
        answers, weights = made_case(dice)
        least = shortest(answers, weights)
        if least:
            found.add(least, planned(answers, weights))
    return found


def uncertain_cases(count: int = 150, seed: int = 6) -> Compared:
    """Cases in which answers are only more or less likely, and hypotheses may share a label."""
    dice, found = random.Random(seed), Compared()
    while found.cases < count:
        labels, weights, queries = made_uncertain(dice)
        planner = Planner(labels, queries)
        least = _expected(queries, planner, weights, all_plans=True)
        if least:
            found.add(least, _expected(queries, planner, weights, all_plans=False))
    return found


def made_uncertain(dice: random.Random) -> tuple[list[int], Weights, list[Query]]:
    """Labels, weights and reads: each hypothesis makes each answer so and so likely."""
    hypotheses, cvs = dice.randint(3, 6), dice.randint(2, 4)
    labels = [at if at < 2 else dice.randrange(at + 1) for at in range(hypotheses)]
    numbers = {label: at for at, label in enumerate(dict.fromkeys(labels))}
    weights = [0.1 + dice.random() for _ in labels]
    queries = [_uncertain(dice, slot, hypotheses) for slot in range(1, cvs + 1)]
    whole = sum(weights)
    return [numbers[label] for label in labels], tuple(w / whole for w in weights), queries


def _uncertain(dice: random.Random, slot: int, hypotheses: int) -> Query:
    kinds, values = dice.randint(2, 3), dice.randint(2, 3)
    rows = []
    for kind in range(kinds):
        usual = dice.choice((0.65, 0.9, 0.99))
        rest = (1 - usual) / (values - 1)
        rows.append([usual if value == kind % values else rest for value in range(values)])
    replies = tuple(Reply(1 << value, tuple(row[value] for row in rows)) for value in range(values))
    column = tuple(dice.randrange(kinds) for _ in range(hypotheses))
    return Query(Slot(slot), replies, column, tuple(range(kinds)))


def _expected(
    queries: Sequence[Query], planner: Planner, weights: Weights, *, all_plans: bool
) -> float:
    """The expected reads until one label is settled or no read tells any more, by the planner's own
    measure of that: of the planner, or of the best of all plans, by trying each of them to its end.
    """
    known: dict[frozenset[tuple[int, int]], float] = {}

    def least(left: Weights, asked: frozenset[tuple[int, int]]) -> float:
        if asked not in known:
            done = frozenset(queries[number].slot for number, _ in asked)
            if all_plans:
                told = [query for _, query in planner.ranked(left, done)]
            else:
                best = planner.best(left, done)
                told = [] if best is None else [best]
            costs = (through(query.slot.cv - 1, left, asked) for query in told)
            known[asked] = min(costs, default=0.0)
        return known[asked]

    def through(number: int, left: Weights, asked: frozenset[tuple[int, int]]) -> float:
        reads, query = 1.0, queries[number]
        for at, reply in enumerate(query.replies):
            share = chance_of(left, query, reply)
            if share > 0:
                reads += share * least(after(left, query, reply), asked | {(number, at)})
        return reads

    return least(weights, frozenset())


def shortest_and_planned() -> str:
    """How the planner compares with the shortest plans, a line for each sort of case."""
    return (
        f"{certain_cases().line('every answer certain')}\n"
        f"{uncertain_cases().line('answers more or less likely')}"
    )
