"""How well and how fast decoders are identified, on a generated store of invented decoders.

Prints how long the index takes to build and to load, how long ten reads take to be held against
it, and what came of simulated decoders whose true type is known: how often the truth is among the
candidates, with and without misread answers, how many reads it took, for some of them how many it
takes in numeric order, and how many the best possible plan takes where every plan can be tried.
"""

from __future__ import annotations

import argparse
import os
import random
import statistics
import sys
import tempfile
import time
from collections.abc import Callable
from dataclasses import dataclass, field
from pathlib import Path

from cvlib.engine.bench.identify import identify
from cvlib.engine.bench.index import IdentityIndex
from cvlib.engine.bench.weigh import Read
from cvlib.files.index import open_index
from cvlib.files.store import Store
from tools.bench.made_store import made_profiles
from tools.bench.simulated import Simulated, in_numeric_order, session
from tools.bench.small_cases import shortest_and_planned
from tools.bench.small_stores import small_stores

MOST_READS = 40
MISREAD = 0.01
MOST_PAIRS = 60
"""Decoders of each row that are read in numeric order as well."""


@dataclass
class Outcome:
    """What came of some simulated decoders."""

    name: str
    decoders: int = 0
    found: int = 0
    """How often the truth was among the candidates."""
    decided: int = 0
    wrong: int = 0
    """How often one decoder was named, and it was another."""
    reads: list[int] = field(default_factory=list)
    pairs: list[tuple[int, int]] = field(default_factory=list)
    """Reads of a session and in numeric order, each until the same decoder is named."""

    def line(self) -> str:
        """The outcome as one line of the report."""
        share = 100 * self.found / self.decoders
        text = (
            f"{self.name:34} {self.decoders:6}  {share:7.2f} %  {self.decided:7}"
            f"  {self.wrong:5}  {statistics.mean(self.reads):6.2f}"
        )
        if self.pairs:
            ours, numeric = (statistics.mean(held) for held in zip(*self.pairs, strict=True))
            text += f"  {ours:6.2f}  {numeric:7.2f}  {ours / numeric:5.2f}"
        return text


def made_store(folder: Path, count: int, seed: int) -> None:
    """Write the profiles of a generated store."""
    for id, text in made_profiles(count, seed):
        file = folder / f"{id}.toml"
        file.parent.mkdir(parents=True, exist_ok=True)
        file.write_text(text, encoding="utf-8")


def timed(work: Callable[[], object], runs: int) -> float:
    """The median seconds of some work."""
    taken = []
    for _ in range(runs):
        start = time.perf_counter()
        work()
        taken.append(time.perf_counter() - start)
    return statistics.median(taken)


def report_times(folder: Path, runs: int) -> None:
    """Print how long building, loading and identifying take."""
    start = time.perf_counter()
    index = open_index(Store(folder)).index
    print(f"index built from the profiles            {time.perf_counter() - start:8.2f} s")
    load = timed(lambda: open_index(Store(folder)), runs)
    print(f"index loaded and checked                 {load * 1000:8.1f} ms")
    dice = random.Random(7)
    taken = []
    for _ in range(runs):
        fresh = open_index(Store(folder)).index
        reads = ten_reads(fresh, dice)
        start = time.perf_counter()
        identify(fresh, reads)
        taken.append(time.perf_counter() - start)
    middle, slowest = statistics.median(taken), max(taken)
    print(f"ten reads held against it, median        {middle * 1000:8.1f} ms")
    print(f"ten reads held against it, slowest       {slowest * 1000:8.1f} ms")
    ratio = (load + middle) / load
    kept = "kept" if ratio <= 2 else "EXCEEDED"
    print(f"load and identify, by load alone         {ratio:8.2f}     limit 2.0 {kept}")
    print(f"decoders {index.count}, units of firmware {len(index)}, CVs {len(list(index.slots))}")


def ten_reads(index: IdentityIndex, dice: random.Random) -> list[Read]:
    """Ten reads of one decoder: the usual ones of identity first, then others that it has."""
    rows = [row for row in range(len(index)) if index.is_release(row)]
    decoder = Simulated(index, dice.choice(rows), dice)
    slots = [*index.telling[:4], *dice.sample(sorted(index.slots), 6)]
    return [Read(slot, decoder.answer(slot)) for slot in dict.fromkeys(slots)]


def simulated(
    index: IdentityIndex, count: int, seed: int, *, misread: float, after_reset: bool
) -> Outcome:
    """What comes of so many simulated decoders, each read until one fits or no read tells more."""
    dice = random.Random(seed)
    state = "after a reset" if after_reset else "as it stands"
    outcome = Outcome(f"{state}, {f'{misread:.0%} misread' if misread else 'no errors'}")
    rows = [row for row in range(len(index)) if index.is_release(row)]
    for _ in range(count):
        row = dice.choice(rows)
        decoder = Simulated(index, row, dice, misread=misread, after_reset=after_reset)
        found = session(index, decoder, MOST_READS)
        own = [held for held in found.candidates if row in held.rows]
        outcome.decoders += 1
        outcome.found += bool(own)
        one = found.verdict.value == "one"
        outcome.decided += one
        outcome.wrong += one and row not in found.fitting[0].rows
        outcome.reads.append(len(found.reads))
        if one and not misread and len(outcome.pairs) < MOST_PAIRS:
            needed = in_numeric_order(index, decoder)
            if needed is not None:
                outcome.pairs.append((len(found.reads), needed))
    return outcome


def report_simulated(folder: Path, count: int) -> None:
    """Print what came of simulated decoders."""
    index = open_index(Store(folder)).index
    head = f"{'':34} {'number':>6}  {'truth in':>9}  {'decided':>7}  {'wrong':>5}  {'reads':>6}"
    print(f"{head}  {'of some':>6}  {'numeric':>7}  {'ratio':>5}")
    for after_reset in (False, True):
        for misread in (0.0, MISREAD):
            seed = 11 + after_reset * 2 + bool(misread)
            told = simulated(index, count, seed, misread=misread, after_reset=after_reset)
            print(told.line(), flush=True)


def positive(text: str) -> int:
    """A count; raises ValueError below 1."""
    number = int(text)
    if number < 1:
        raise ValueError(text)
    return number


def main() -> int:
    """Measure and print; 0 when all was measured, 130 when stopped."""
    parser = argparse.ArgumentParser(prog="tools/bench/identify.py", description=__doc__)
    parser.add_argument("--decoders", type=positive, default=2000, help="profiles made (2000)")
    parser.add_argument(
        "--simulated", type=positive, default=200, help="decoders of each row (200)"
    )
    parser.add_argument("--store", type=positive, default=150, help="profiles of their store (150)")
    parser.add_argument("--runs", type=positive, default=9, help="runs of each time (9)")
    options = parser.parse_args()
    try:
        with tempfile.TemporaryDirectory(ignore_cleanup_errors=True) as folder:
            os.environ["CVLIB_CACHE"] = str(Path(folder) / "cache")
            large, small = Path(folder) / "large", Path(folder) / "small"
            made_store(large, options.decoders, 1)
            report_times(large, options.runs)
            print()
            made_store(small, options.store, 2)
            report_simulated(small, options.simulated)
            print()
            print(shortest_and_planned())
            print(small_stores().line("whole sessions"))
    except KeyboardInterrupt:
        return 130
    return 0


if __name__ == "__main__":
    sys.exit(main())
