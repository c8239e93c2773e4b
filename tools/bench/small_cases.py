"""Plans held against the shortest possible ones, on cases small enough to search exhaustively."""

from __future__ import annotations

import random
from collections.abc import Sequence
from functools import cache

from cvlib.engine.plan import Planner
from cvlib.engine.reads import Query, Reply, after
from cvlib.model.cv import Slot

MISREAD = 0.01

Answers = list[list[int]]
"""For each CV what each hypothesis answers."""


def made_case(dice: random.Random) -> tuple[Answers, list[float]]:
    """A few hypotheses, what each answers to a few CVs, and how likely each is."""
    hypotheses, cvs, kinds = dice.randint(3, 12), dice.randint(3, 8), dice.choice((2, 2, 3, 4))
    answers = [[dice.randrange(kinds) for _ in range(hypotheses)] for _ in range(cvs)]
    even = dice.random() < 0.5
    weights = [1.0 if even else 0.02 + dice.random() ** 2 for _ in range(hypotheses)]
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


def shortest_and_planned(count: int = 300, seed: int = 5) -> str:
    """How the planner compares with the shortest plans, in one line."""
    dice = random.Random(seed)
    best = ours = worst = 0.0
    cases = 0
    while cases < count:
        answers, weights = made_case(dice)
        least = shortest(answers, weights)
        if not least:
            continue
        needed = planned(answers, weights)
        best, ours, worst = best + least, ours + needed, max(worst, needed / least)
        cases += 1
    return (
        f"{cases} small cases: shortest plans need {best / cases:.3f} reads, these "
        f"{ours / cases:.3f}; {100 * (ours / best - 1):.2f} % more, at most "
        f"{100 * (worst - 1):.1f} % in one case"
    )
