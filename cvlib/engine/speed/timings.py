"""Stopwatch timings of locos: what one tells, how many are needed, in which order they are made."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from math import ceil, sqrt
from random import Random

from cvlib.engine.compare.motion import STEPS
from cvlib.errors import Position, problem

REACTION = 0.15
"""Seconds by which a time taken by hand scatters (one standard deviation, start and stop
together). Twice that is 2 % of 15 s. Common practice, no source; see docs/match.md."""

PRECISION = 0.02
"""How far off, relatively, a speed may be by the stopwatch alone, in 19 of 20 timings."""

USUAL_STEPS = (2, 4, 7, 10, 14, 20, 28)
FEWEST, MOST = 6, 8


def way_word(is_forward: bool) -> str:
    """A direction in words, as it is typed too."""
    return "forward" if is_forward else "reverse"


@dataclass(frozen=True, slots=True)
class Timing:
    """One speed step of one loco timed over a known distance, once or several times."""

    loco: str
    step: int
    """1-28."""
    is_forward: bool
    distance: float
    """Metres, all laps together."""
    seconds: tuple[float, ...]
    """Each time it was timed; empty where the loco stands at this step."""
    position: Position | None = None

    @property
    def mean(self) -> float:
        """Seconds of one timing, on average."""
        return sum(self.seconds) / len(self.seconds)

    @property
    def speed(self) -> float:
        """Metres a second; 0 where it stands."""
        return self.distance / self.mean if self.seconds else 0.0

    @property
    def error(self) -> float:
        """The relative standard deviation of the speed that the stopwatch alone makes."""
        return REACTION / (self.mean * sqrt(len(self.seconds)))

    @property
    def is_precise(self) -> bool:
        """Whether the stopwatch leaves 2 % at most: one timing of 15 s does, or four of 7.5 s."""
        return not self.seconds or 2 * self.error <= PRECISION + 1e-9

    @property
    def laps_wanted(self) -> int:
        """How many times this distance one timing would need."""
        return ceil(2 * REACTION / PRECISION / self.mean - 1e-9)

    @property
    def repeats_wanted(self) -> int:
        """How many timings over this distance would do."""
        return ceil((2 * REACTION / PRECISION / self.mean) ** 2 - 1e-9)


@dataclass(frozen=True, slots=True)
class PlannedRun:
    """One run to be timed."""

    number: int
    loco: str
    step: int
    is_forward: bool
    is_reference: bool


def plan_runs(
    locos: Iterable[str], steps: Sequence[int] = USUAL_STEPS, seed: int = 1
) -> tuple[PlannedRun, ...]:
    """The runs in their order: loco by loco, the reference step first, in the middle and last.

    All else is in random order by the seed, so that what changes meanwhile falls on all steps
    alike. Raises InputError for steps that cannot carry a speed table.
    """
    chosen = sorted(set(steps))
    if not FEWEST <= len(chosen) <= MOST or not all(1 <= step <= STEPS for step in chosen):
        raise problem(
            f"a plan has {FEWEST} to {MOST} speed steps between 1 and {STEPS}.",
            advice="Take them closer at the bottom, such as " + ",".join(map(str, USUAL_STEPS)),
        )
    if chosen[-1] - chosen[-2] < chosen[1] - chosen[0]:
        raise problem(
            "the steps of a plan lie closer at the bottom than at the top.",
            advice="There a loco changes most: take " + ",".join(map(str, USUAL_STEPS)),
        )
    draw, reference = Random(seed), chosen[len(chosen) // 2]
    runs: list[PlannedRun] = []
    for loco in locos:
        others = [(step, ahead) for step in chosen if step != reference for ahead in (True, False)]
        draw.shuffle(others)
        same = [(reference, True), (reference, False)]
        half = len(others) // 2
        for step, ahead in (*same, *others[:half], *same, *others[half:], *same):
            runs.append(PlannedRun(len(runs) + 1, loco, step, ahead, step == reference))
    return tuple(runs)
