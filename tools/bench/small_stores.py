"""Whole sessions of identify held against the best possible ones, on stores of a few decoders.

Of each store only a few CVs may be read, the same for both sides, and every order of reading them
is tried. Both sides stop where identify names one decoder and generation.
"""

from __future__ import annotations

import random
import tempfile
from collections.abc import Callable
from functools import cache
from pathlib import Path

from cvlib.engine.bench.expect import AFTER_RESET
from cvlib.engine.bench.identify import Identified, Verdict, identify
from cvlib.engine.bench.index import IdentityIndex, merged, part_of
from cvlib.engine.bench.next_read import next_reads
from cvlib.engine.bench.weigh import Read
from cvlib.engine.known.line import Known
from cvlib.files.store import Store
from cvlib.model.cv import Slot
from tools.bench.made_store import made_profiles
from tools.bench.simulated import Simulated
from tools.bench.small_cases import Compared

MOST_SLOTS = 7
"""CVs that may be read in each store."""

State = frozenset[tuple[Slot, int]]


def made_small(seed: int, count: int) -> IdentityIndex:
    """The index of a few invented decoders."""
    with tempfile.TemporaryDirectory() as folder:
        for id, text in made_profiles(count, seed, per_maker=3):
            file = Path(folder) / f"{id}.toml"
            file.parent.mkdir(parents=True, exist_ok=True)
            file.write_text(text, encoding="utf-8")
        store = Store(Path(folder))
        return merged(part_of(store.profile(id)) for id in store.ids())


def truths_of(index: IdentityIndex, slots: list[Slot]) -> dict[int, dict[Slot, int]]:
    """What each documented release answers after a factory reset, for a decoder that answers only
    for the CVs it uses.
    """
    found = {}
    for row in range(len(index)):
        if index.is_release(row) and index.row(row).known is Known.COVERED:
            decoder = Simulated(index, row, random.Random(row), after_reset=True)
            decoder.is_open_minded = False
            found[row] = {slot: decoder.true_answer(slot) for slot in slots}
    return found


def chosen_slots(index: IdentityIndex, dice: random.Random) -> list[Slot]:
    """The CVs by which decoders say who they are, filled up with others."""
    slots = list(index.telling)[: MOST_SLOTS - 2]
    others = sorted((slot for slot in index.slots if slot not in slots), key=lambda s: s.order)
    return [*slots, *dice.sample(others, MOST_SLOTS - len(slots))]


def small_stores(count: int = 12, seed: int = 9) -> Compared:
    """Sessions on so many stores, each with the mean over its decoders."""
    dice, found = random.Random(seed), Compared()
    while found.cases < count:
        index = made_small(dice.randrange(1 << 16), dice.randint(3, 5))
        slots = chosen_slots(index, dice)
        truths = truths_of(index, slots)

        @cache
        def asked(state: State, index: IdentityIndex = index) -> Identified:
            reads = [Read(slot, answer) for slot, answer in sorted(state, key=_order)]
            return identify(index, reads, AFTER_RESET)

        def is_one(state: State, asked: Callable[[State], Identified] = asked) -> bool:
            return asked(state).verdict is Verdict.ONE

        able = [row for row, held in truths.items() if is_one(frozenset(held.items()))]
        if not able:
            continue
        answers = [truths[row] for row in able]
        least = _best(answers, slots, is_one) / len(able)
        ours = sum(_session(index, held, slots, asked) for held in answers) / len(able)
        found.add(least, ours)
    return found


def _order(held: tuple[Slot, int]) -> tuple[int, object]:
    return held[0].order


def _best(
    truths: list[dict[Slot, int]], slots: list[Slot], is_one: Callable[[State], bool]
) -> float:
    """The fewest reads over all decoders together, by trying every plan."""

    @cache
    def least(state: State, left: frozenset[int]) -> float:
        if is_one(state):
            return 0.0
        done = {slot for slot, _ in state}
        found = []
        for slot in slots:
            if slot not in done:
                parts: dict[int, set[int]] = {}
                for at in left:
                    parts.setdefault(truths[at][slot], set()).add(at)
                found.append(
                    len(left)
                    + sum(
                        least(state | {(slot, answer)}, frozenset(part))
                        for answer, part in parts.items()
                    )
                )
        return min(found)

    return least(frozenset(), frozenset(range(len(truths))))


def _session(
    index: IdentityIndex,
    truth: dict[Slot, int],
    slots: list[Slot],
    asked: Callable[[State], Identified],
) -> int:
    """The reads of one session; where it ends too early, the other CVs are read in order."""
    state: State = frozenset()
    while (found := asked(state)).verdict is not Verdict.ONE:
        done = {slot for slot, _ in state}
        avoid = [slot for slot in index.slots if slot not in slots or slot in done]
        told = next_reads(index, found, AFTER_RESET, avoid, most=1)
        slot = told[0].slot if told else next(slot for slot in slots if slot not in done)
        state |= {(slot, truth[slot])}
    return len(state)
