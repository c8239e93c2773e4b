"""The reads that settle a disputed firmware, and what they showed."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace

from cvlib.engine.bench.behaviour import BenchTest, bench_tests
from cvlib.engine.bench.expect import AFTER_RESET, AS_IT_STANDS, Terms
from cvlib.engine.bench.layouts import Belief, Bundle, Disputed, Layout, Tried, narrowed
from cvlib.engine.bench.next_read import Aim, Suggestion
from cvlib.engine.bench.outside import open_at
from cvlib.engine.bench.plan import SETTLED, Planner
from cvlib.engine.bench.reads import Look, Query, Weights, overlap, query_of
from cvlib.engine.bench.tree import Tree, grow
from cvlib.engine.bench.weigh import Read
from cvlib.engine.known.resolve import Resolver
from cvlib.model.cv import Slot
from cvlib.model.versions import FirmwareVersion

SHOWN_ITSELF = 0.8
"""So likely a side must be by its own CVs to be settled."""
ALIKE = 0.1
"""Two sides whose answers overlap more than this, over all CVs, are not told apart by reads."""


@dataclass(frozen=True, slots=True)
class Plan:
    """The reads for one state of the decoder."""

    terms: Terms
    layouts: tuple[tuple[int, ...], ...]
    """The layouts in question: for each bundle the number of its side. Labels of the tree number
    them."""
    tree: Tree
    unreadable: tuple[int, ...]
    """Bundles that no read tells apart; a behaviour test has to."""


@dataclass(frozen=True, slots=True)
class Standing:
    """How far one bundle is known."""

    bundle: int
    chances: tuple[float, ...]
    """How likely each side is."""
    own: tuple[float, ...]
    """How likely each side would be by the bundle's own reads and tests alone."""

    @property
    def side(self) -> int | None:
        """The side that is settled, or nothing. That others lie so does not settle it alone."""
        top = max(self.chances)
        at = self.chances.index(top)
        return at if top >= SETTLED and self.own[at] >= SHOWN_ITSELF else None


@dataclass(frozen=True, slots=True)
class Probed:
    """What is disputed at a firmware, which reads would tell, and what those made have told."""

    disputed: Disputed
    reads: tuple[Read, ...]
    results: tuple[Tried, ...]
    terms: Terms
    """How the reads were made."""
    standings: tuple[Standing, ...]
    """For each bundle."""
    next_read: Suggestion | None
    """The read that would tell most now; nothing where no read tells any more."""
    plans: tuple[Plan, ...]
    """As it stands, then after a factory reset; none once reads were made."""
    tests: tuple[BenchTest, ...]
    """Behaviour tests for what no read tells, the best test of each bundle first."""

    @property
    def is_settled(self) -> bool:
        """Whether it is known of every bundle where its settings live."""
        bundles = self.disputed.bundles
        return all(
            standing.side is not None
            and not bundles[standing.bundle].sides[standing.side].is_unknown
            for standing in self.standings
        )


def probe(  # noqa: PLR0913 -- what is known, and what is asked about
    resolver: Resolver,
    version: FirmwareVersion,
    reads: Iterable[Read] = (),
    terms: Terms = AS_IT_STANDS,
    results: Iterable[Tried] = (),
    *,
    can_read: bool = True,
    avoid: Iterable[Slot] = (),
    with_plans: bool = True,
    about: Sequence[str] = (),
) -> Probed:
    """What the reads so far have settled of a disputed firmware, and the best way on.

    ``with_plans`` asks for the trees of reads, where no answer was given yet. With ``can_read``
    false the plan is made of behaviour tests alone. ``about`` names the settings and groups that
    are asked about, where that is not all. ``avoid`` names CVs that cannot be read. While
    nothing was answered, "no answer" tells nothing: the decoder may not be able to answer at all.
    """
    made, done = tuple(reads), tuple(results)
    disputed = narrowed(open_at(resolver, version), done, about)
    told = made if any(read.is_answered for read in made) else ()
    belief = Belief(disputed, told, terms, done)
    standings = tuple(
        Standing(at, belief.chances(at), belief.own(at)) for at in range(len(disputed.bundles))
    )
    left = frozenset(avoid) | {read.slot for read in made}
    next_read = _next_read(belief, standings, left) if can_read else None
    plans: tuple[Plan, ...] = ()
    is_fresh = not made and not done
    if with_plans and can_read and is_fresh and disputed.bundles:
        stands = replace(terms, after_reset=False)
        plans = tuple(_plan(disputed, one, left) for one in (stands, AFTER_RESET))
    open_ones = [held.bundle for held in standings if held.side is None]
    is_stuck = next_read is None
    doubtful = open_ones if is_stuck else _unreadable(disputed, terms, open_ones, left)
    tests = bench_tests(resolver, disputed, doubtful, done)
    return Probed(disputed, made, done, terms, standings, next_read, plans, tests)


def _next_read(
    belief: Belief, standings: Sequence[Standing], without: frozenset[Slot]
) -> Suggestion | None:
    """The read that tells most about the layout; once that is known, about a bundle of which
    nothing was read itself.
    """
    if not standings:
        return None
    layouts = belief.layouts(SETTLED)
    planner, weights = _planner(belief.disputed, layouts, belief.terms, without)
    found = _suggested(planner, weights)
    for standing in standings:
        if found is None and standing.side is None:
            apart = _apart(belief, standing)
            planner, weights = _planner(belief.disputed, apart, belief.terms, without)
            found = _suggested(planner, weights)
    return found


def _suggested(planner: Planner | None, weights: Weights) -> Suggestion | None:
    best = planner.best(weights) if planner else None
    if planner is None or best is None:
        return None
    bits = next(bits for bits, query in planner.ranked(weights) if query.slot == best.slot)
    return Suggestion(best.slot, round(bits, 3), Aim.SETTING)


def _apart(belief: Belief, standing: Standing) -> list[Layout]:
    """Layouts that differ in one bundle alone, weighed by what its own CVs say."""
    chances = [belief.chances(at) for at in range(len(belief.disputed.bundles))]
    usual = [held.index(max(held)) for held in chances]
    share = belief.terms.model.open_minded
    return [
        Layout(
            (*usual[: standing.bundle], side, *usual[standing.bundle + 1 :]), is_open, own * part
        )
        for side, own in enumerate(standing.own)
        for is_open, part in ((False, 1 - share), (True, share))
    ]


def _plan(disputed: Disputed, terms: Terms, without: frozenset[Slot]) -> Plan:
    layouts = Belief(disputed, (), terms).layouts(SETTLED)
    planner, weights = _planner(disputed, layouts, terms, without)
    labels = tuple(dict.fromkeys(layout.sides for layout in layouts))
    tree = grow(planner, weights, labels) if planner else Tree(None, 0.0, 0.0)
    everything = range(len(disputed.bundles))
    return Plan(terms, labels, tree, tuple(_unreadable(disputed, terms, everything, without)))


def _planner(
    disputed: Disputed, layouts: Sequence[Layout], terms: Terms, without: frozenset[Slot]
) -> tuple[Planner | None, Weights]:
    """A planner for layouts, labelled by their order, and their weights."""
    numbers: dict[tuple[int, ...], int] = {}
    labels = [numbers.setdefault(layout.sides, len(numbers)) for layout in layouts]
    if len(numbers) < 2:
        return None, ()
    queries: list[Query] = []
    for at, bundle in enumerate(disputed.bundles):
        if len({layout.sides[at] for layout in layouts}) < 2:
            continue
        for slot in bundle.slots:
            if slot not in without:
                query = _query(bundle, at, slot, layouts, terms)
                if query is not None:
                    queries.append(query)
    weights = tuple(layout.chance for layout in layouts)
    return (Planner(labels, queries), weights) if queries else (None, weights)


def _query(
    bundle: Bundle, at: int, slot: Slot, layouts: Sequence[Layout], terms: Terms
) -> Query | None:
    sides = [expected[slot] for expected in bundle.expected]
    numbers = {held: number for number, held in enumerate(dict.fromkeys(sides))}
    if len(numbers) < 2:
        return None
    held_by = list(numbers)

    def look(number: int) -> Look:
        return held_by[number >> 1], bool(number & 1)

    expected = [numbers[sides[layout.sides[at]]] << 1 | layout.is_open_minded for layout in layouts]
    return query_of(slot, expected, look, terms)


def _unreadable(
    disputed: Disputed, terms: Terms, bundles: Iterable[int], without: frozenset[Slot]
) -> list[int]:
    """The bundles of which two sides would answer too much alike, whatever is read."""
    return [at for at in bundles if _is_alike(disputed.bundles[at], terms, without)]


def _is_alike(bundle: Bundle, terms: Terms, without: frozenset[Slot]) -> bool:
    for one in range(len(bundle.sides)):
        for other in range(one):
            alike = 1.0
            for slot in bundle.slots:
                if slot not in without:
                    a, b = bundle.expected[one][slot], bundle.expected[other][slot]
                    alike *= overlap(a, b, terms)
            if alike > ALIKE:
                return True
    return False
