"""A decision tree of reads: which to make first, and what to make of each answer."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from math import ceil

from cvlib.engine.bench.plan import RARE, Planner
from cvlib.engine.bench.reads import Query, Weights, after, chance_of, doubt
from cvlib.model.cv import Slot

DEEPEST = 12
"""The most reads one after another in a tree."""
REACHED = 0.004
"""A read that is reached more rarely than this is left to be planned when it comes to it."""
LIKELY = 0.9
"""What is as likely as this is told at an answer."""
SHOWN = 0.05
"""A label less likely than this is not named at an answer."""


@dataclass(frozen=True, slots=True)
class Share:
    """A label and how likely it is."""

    label: int
    chance: float


@dataclass(frozen=True, slots=True)
class Told:
    """Something that some answers make likely, which it was not before."""

    facet: int
    """Which of the things that make up a label."""
    value: int
    chance: float


@dataclass(frozen=True, slots=True)
class Branch:
    """Some answers to a read, and what follows from them."""

    answers: int
    """As a set; see :func:`~cvlib.engine.bench.expect.members`."""
    chance: float
    """How likely they are, when the tree has come to this read."""
    shares: tuple[Share, ...]
    """What is likely after them, the likeliest first."""
    told: tuple[Told, ...]
    """What they make likely, facet by facet."""
    then: Node | None
    """The read to make next; nothing where no read tells any more."""
    is_cut: bool = False
    """Whether more reads would tell, but are not planned here because this is reached rarely."""


@dataclass(frozen=True, slots=True)
class Node:
    """A read of the tree."""

    slot: Slot
    branches: tuple[Branch, ...]
    """The likelier answers, the likeliest first; answers not among them are a surprise."""


@dataclass(frozen=True, slots=True)
class Tree:
    """A plan of reads."""

    root: Node | None
    """The first read; nothing where no read tells anything."""
    reads: float
    """How many reads are to be expected; those that are not planned here by an estimate."""
    sure: float
    """How likely the true label is known at the end."""


def grow(
    planner: Planner,
    weights: Weights,
    facets: Sequence[tuple[int, ...]] = (),
) -> Tree:
    """The tree of reads that the planner makes of hypotheses with these weights.

    ``facets`` are the things that make up each label, by its number; left out, a label is one.
    """
    growing = _Growing(planner, facets)
    root = growing.node(weights, frozenset(), 0)
    sure = growing.sure if root is not None else _shares(planner, weights)[0].chance
    return Tree(root, round(growing.reads, 3), round(sure, 4))


def is_cut(tree: Tree) -> bool:
    """Whether some answers are not planned to the end, because they come seldom."""

    def has_cut(node: Node | None) -> bool:
        return node is not None and any(one.is_cut or has_cut(one.then) for one in node.branches)

    return has_cut(tree.root)


class _Growing:
    """One tree under way: counts expected reads and the chance of knowing the truth."""

    def __init__(self, planner: Planner, facets: Sequence[tuple[int, ...]]) -> None:
        self.planner = planner
        self.facets = facets
        self.reads = 0.0
        self.sure = 0.0

    def node(
        self, weights: Weights, asked: frozenset[Slot], depth: int, reached: float = 1.0
    ) -> Node | None:
        """The read to make with these weights, or nothing."""
        query = self.planner.best(weights, asked) if depth < DEEPEST else None
        if query is None:
            return None
        self.reads += reached
        further = asked | {query.slot}
        branches = [
            self._branch(query, at, weights, further, depth, reached)
            for at in range(len(query.replies))
            if chance_of(weights, query, query.replies[at]) >= RARE
        ]
        return Node(query.slot, _merged(branches))

    def _branch(
        self,
        query: Query,
        at: int,
        weights: Weights,
        asked: frozenset[Slot],
        depth: int,
        reached: float,
    ) -> Branch:
        reply = query.replies[at]
        chance = chance_of(weights, query, reply)
        then = after(weights, query, reply)
        shares = _shares(self.planner, then)
        node, is_cut = None, reached * chance < REACHED
        if is_cut:
            self.reads += reached * chance * ceil(doubt(then, self.planner.labels))
        else:
            node = self.node(then, asked, depth + 1, reached * chance)
        if node is None:
            self.sure += reached * chance * (1.0 if is_cut else shares[0].chance)
        shown = tuple(share for share in shares if share.chance >= SHOWN) or shares[:1]
        told = self._told(weights, then)
        return Branch(reply.answers, round(chance, 4), tuple(shown), told, node, is_cut)

    def _told(self, before: Weights, then: Weights) -> tuple[Told, ...]:
        """The facets that are likely now and were not before."""
        had, has = self._margins(before), self._margins(then)
        return tuple(
            Told(facet, value, round(chance, 4))
            for (facet, value), chance in sorted(has.items())
            if chance >= LIKELY > had.get((facet, value), 0.0)
        )

    def _margins(self, weights: Weights) -> dict[tuple[int, int], float]:
        whole = sum(weights) or 1.0
        found: dict[tuple[int, int], float] = {}
        for label, weight in zip(self.planner.given, weights, strict=True):
            facets = self.facets[label] if self.facets else (label,)
            for facet, value in enumerate(facets):
                found[facet, value] = found.get((facet, value), 0.0) + weight / whole
        return found


def _merged(branches: Sequence[Branch]) -> tuple[Branch, ...]:
    """The branches, the likeliest first; those that tell the same and go on alike are one."""
    found: dict[object, Branch] = {}
    for branch in sorted(branches, key=lambda one: (-one.chance, one.answers)):
        told = tuple((one.facet, one.value) for one in branch.told)
        likely = frozenset(share.label for share in branch.shares)
        key = (told, likely, branch.then and branch.then.slot, branch.is_cut)
        had = found.get(key)
        if had is None:
            found[key] = branch
        else:
            answers, chance = had.answers | branch.answers, had.chance + branch.chance
            found[key] = replace(had, answers=answers, chance=round(chance, 4))
    return tuple(sorted(found.values(), key=lambda one: (-one.chance, one.answers)))


def _shares(planner: Planner, weights: Weights) -> Sequence[Share]:
    whole = sum(weights) or 1.0
    found: dict[int, float] = {}
    for label, weight in zip(planner.given, weights, strict=True):
        found[label] = found.get(label, 0.0) + weight / whole
    shares = [Share(label, round(chance, 4)) for label, chance in found.items()]
    return tuple(sorted(shares, key=lambda share: (-share.chance, share.label)))
