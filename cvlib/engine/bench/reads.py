"""What a read would tell: its possible answers, and how much is to be expected of it.

It is worked out for hypotheses with weights. Hypotheses that share a label need not be told
apart. A read whose answers are equally likely under all of them tells nothing.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from functools import lru_cache
from math import log2, sqrt

from cvlib.engine.bench.expect import ANSWERS, Expectation, Terms, column, seen
from cvlib.model.cv import Slot

NOTHING = 1e-12
"""Less than this counts as nothing."""


@dataclass(frozen=True, slots=True)
class Reply:
    """Answers to a read that tell the same."""

    answers: int
    """As a set; see :func:`~cvlib.engine.bench.expect.members`."""
    chances: tuple[float, ...]
    """How likely the answers are by each thing that is expected."""


@dataclass(frozen=True, slots=True)
class Query:
    """One read that could be made, and what may come of it."""

    slot: Slot
    replies: tuple[Reply, ...]
    column: tuple[int, ...]
    """For each hypothesis the number of what it expects, among the chances of a reply."""
    kinds: tuple[int, ...]
    """The same number for each thing expected that is alike but for the decoder's habits."""
    is_repeat: bool = False
    """Whether the CV was read before."""

    @property
    def effort(self) -> tuple[bool, bool, tuple[int, object]]:
        """The key that sorts reads by how easily they are made."""
        return self.is_repeat, self.slot.page is not None, self.slot.order


Weights = tuple[float, ...]
Look = tuple[Expectation, bool]
"""What a hypothesis expects of a CV, and whether the decoder answers for CVs it does not use."""


def query_of(
    slot: Slot,
    expected: Sequence[int],
    look: Callable[[int], Look],
    terms: Terms,
    before: tuple[int, ...] = (),
) -> Query | None:
    """A read of one CV, or nothing where all hypotheses expect the same of it.

    ``expected`` numbers what each hypothesis expects; ``before`` holds answers the CV already gave.
    """
    numbers = tuple(dict.fromkeys(expected))
    if len(numbers) < 2:
        return None
    held = tuple(look(number) for number in numbers)
    made = _repeated(held, terms, before) if before else _classes(held, terms)
    place = {number: at for at, number in enumerate(numbers)}
    known: dict[Expectation, int] = {}
    kinds = tuple(known.setdefault(one, len(known)) for one, _ in held)
    own = tuple(place[number] for number in expected)
    return Query(slot, tuple(Reply(*one) for one in made), own, kinds, bool(before))


@lru_cache(maxsize=1 << 12)
def _classes(held: tuple[Look, ...], terms: Terms) -> tuple[tuple[int, tuple[float, ...]], ...]:
    """Answers that tell the same, as sets, with their likelihood under each expectation."""
    columns = [column(one, terms, open_minded=is_open) for one, is_open in held]
    alike: dict[tuple[float, ...], int] = {}
    for at, chances in enumerate(zip(*columns, strict=True)):
        alike[chances] = alike.get(chances, 0) | 1 << at
    groups: dict[tuple[float, ...], tuple[int, list[float]]] = {}
    for chances, own in alike.items():
        top, count = max(chances), own.bit_count()
        key = tuple(round(chance / top, 2) for chance in chances) if top else ()
        answers, sums = groups.get(key, (0, [0.0] * len(chances)))
        both = zip(sums, chances, strict=True)
        groups[key] = (answers | own, [had + count * chance for had, chance in both])
    error = terms.model.misread
    made = []
    for answers, sums in groups.values():
        noise = error * answers.bit_count() / len(ANSWERS)
        made.append((answers, tuple((1 - error) * chance + noise for chance in sums)))
    return tuple(made)


def _repeated(
    held: tuple[Look, ...], terms: Terms, before: tuple[int, ...]
) -> list[tuple[int, tuple[float, ...]]]:
    """What reading a CV once more may show: an answer it gave, one that is expected, or another."""
    likely = set(before)
    for one, is_open in held:
        chances = column(one, terms, open_minded=is_open)
        likely.update(at for at in ANSWERS if chances[at] > 0.2)
    base = [seen(one, before, terms, open_minded=is_open) for one, is_open in held]
    made = []
    left = [1.0] * len(held)
    for answer in sorted(likely):
        both = (seen(one, (*before, answer), terms, open_minded=is_open) for one, is_open in held)
        again = tuple(min(now / had, 1.0) for now, had in zip(both, base, strict=True))
        made.append((1 << answer, again))
        left = [max(had - chance, 0.0) for had, chance in zip(left, again, strict=True)]
    others = sum(1 << at for at in ANSWERS if at not in likely)
    return [*made, (others, tuple(left))]


@lru_cache(maxsize=1 << 13)
def overlap(one: Expectation, other: Expectation, terms: Terms) -> float:
    """How much the answers of two expectations overlap: 1 where they are the same, 0 never."""
    if one == other:
        return 1.0
    share = terms.model.open_minded
    found = 0.0
    for is_open, weight in ((False, 1 - share), (True, share)):
        a = column(one, terms, open_minded=is_open)
        b = column(other, terms, open_minded=is_open)
        found += weight * sum(sqrt(a[at] * b[at]) for at in ANSWERS)
    return found


def information(weights: Weights, labels: Sequence[int], query: Query) -> float:
    """How many bits a read is expected to tell about the labels, which are 0 and up."""
    whole = sum(weights)
    if not whole:
        return 0.0
    joint: dict[tuple[int, int], float] = {}
    for label, weight, at in zip(labels, weights, query.column, strict=True):
        if weight > NOTHING:
            joint[label, at] = joint.get((label, at), 0.0) + weight
    return _told(joint, query, whole)


def roughly(weights: Weights, query: Query) -> float:
    """How many bits a read is expected to tell about what is expected of its CV.

    Much quicker than the exact :func:`information` where there are many hypotheses, and hardly
    less where labels part along what they expect.
    """
    sums = [0.0] * len(query.kinds)
    for weight, at in zip(weights, query.column, strict=True):
        sums[at] += weight
    joint = {(query.kinds[at], at): weight for at, weight in enumerate(sums)}
    return _told(joint, query, sum(sums) or 1.0)


def _told(joint: Mapping[tuple[int, int], float], query: Query, whole: float) -> float:
    shares: dict[int, float] = {}
    for (label, _), weight in joint.items():
        shares[label] = shares.get(label, 0.0) + weight
    found = 0.0
    for reply in query.replies:
        both: dict[int, float] = {}
        for (label, at), weight in joint.items():
            both[label] = both.get(label, 0.0) + weight * reply.chances[at]
        here = sum(both.values())
        for label, one in both.items():
            if one > NOTHING:
                found += one * log2(one * whole / (shares[label] * here))
    return max(found / whole, 0.0)


def doubt(weights: Weights, labels: Sequence[int]) -> float:
    """How many bits are missing to know the label."""
    whole = sum(weights) or 1.0
    shares = [0.0] * (max(labels) + 1)
    for label, weight in zip(labels, weights, strict=True):
        shares[label] += weight / whole
    return -sum(share * log2(share) for share in shares if share > NOTHING)


def after(weights: Weights, query: Query, reply: Reply) -> Weights:
    """The weights once a reply was seen; together 1."""
    chances = reply.chances
    found = [weight * chances[at] for weight, at in zip(weights, query.column, strict=True)]
    whole = sum(found) or 1.0
    return tuple(weight / whole for weight in found)


def chance_of(weights: Weights, query: Query, reply: Reply) -> float:
    """How likely a reply is."""
    chances = reply.chances
    found = sum(weight * chances[at] for weight, at in zip(weights, query.column, strict=True))
    return found / (sum(weights) or 1.0)


def leading(weights: Weights, labels: Sequence[int]) -> float:
    """How likely the likeliest label is."""
    shares = [0.0] * (max(labels) + 1)
    for label, weight in zip(labels, weights, strict=True):
        shares[label] += weight
    return max(shares) / (sum(weights) or 1.0)
