"""Trials of simulated locos: how often what a report says is true.

Prints the tables of docs/trial-proof.md: ``python -m tools.bench.trials [TRIALS]``.
A loco here stops at a true place with a scatter, a drift, a day effect and a skew of its own; the
tape rounds to its step. Every figure is the share of trials in which the statement held.
"""

from __future__ import annotations

import sys
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, replace
from math import sqrt
from typing import Any

from cvlib.engine.trial.days import day_difference
from cvlib.engine.trial.planning import MOST, blocks_of, power, runs_needed
from cvlib.engine.trial.reporting import Outcome, report_of
from cvlib.engine.trial.sums import mean_interval, next_reading, scatter, scatter_limit
from cvlib.model.trial import BenchTrial, Run, TrialCondition, TrialQuestion

STEP = 1.0
LOOKS = (6, 12, 18)


@dataclass(frozen=True, slots=True)
class SimulatedLoco:
    """How a loco stops under each condition."""

    means: tuple[float, ...]
    scatters: tuple[float, ...]
    drift: float = 0.0
    """From the first run to the last."""
    skew: float = 0.0
    """0: normal; 1: the long tail of an exponential, to the far side."""
    missed: float = 0.0
    """The share of stops missed."""
    step: float = STEP

    def stop(self, random: Any, condition: int, share: float) -> float | None:
        """One stop, as the tape shows it."""
        if random.random() < self.missed:
            return None
        noise = random.standard_normal()
        if self.skew:
            tail = random.standard_exponential() - 1
            noise = sqrt(1 - self.skew**2) * noise + self.skew * tail
        true = self.means[condition] + self.scatters[condition] * noise + self.drift * share
        return float(round(true / self.step) * self.step)


def generator(seed: int) -> Any:
    """The generator of numpy, so that a seed gives the same trials everywhere."""
    import numpy as np

    return np.random.default_rng(seed)


def made_trial(
    loco: SimulatedLoco,
    random: Any,
    question: TrialQuestion = TrialQuestion.BETTER,
    looks: tuple[int, ...] = LOOKS,
    margin: float = 2.0,
    most: int = 0,
) -> BenchTrial:
    """A trial of a loco, planned and run to its last look, or up to so many runs a side."""
    names = tuple(f"c{at}" for at in range(len(loco.means)))
    conditions = tuple(TrialCondition(name, None, 82.0) for name in names)
    order = blocks_of(names, most or looks[-1], int(random.integers(2**31)))
    runs = tuple(
        Run(name, loco.stop(random, names.index(name), at / max(len(order) - 1, 1)))
        for at, name in enumerate(order)
    )
    about = ("x.y", question, conditions, margin, "cm", loco.step, looks, order)
    return BenchTrial(*about, date="2026-11-01", firmware="1", runs=runs)


def answers(trial: BenchTrial) -> Iterator[Outcome]:
    """The answers at the looks of a plan, up to the first that says something."""
    for look in trial.looks:
        cut = look * len(trial.conditions)
        outcome = report_of(replace(trial, runs=trial.runs[:cut])).answer.outcome
        yield outcome
        if outcome in (Outcome.SAME, Outcome.DIFFERENT):
            return


def share(trials: int, seed: int, holds: Callable[[Any], bool]) -> float:
    """How often something held in so many trials."""
    random = generator(seed)
    return sum(holds(random) for _ in range(trials)) / trials


def mean_holds(sigma: float, n: int, skew: float = 0.0) -> Callable[[Any], bool]:
    """Whether the interval of the mean holds the true one; the mean lies anywhere in a step."""

    def holds(random: Any) -> bool:
        true = float(random.uniform(80, 81))
        loco = SimulatedLoco((true,), (sigma,), skew=skew)
        stops = [stop for _ in range(n) if (stop := loco.stop(random, 0, 0)) is not None]
        return true in mean_interval(stops, STEP)

    return holds


def next_holds(sigma: float, n: int, skew: float = 0.0) -> Callable[[Any], bool]:
    """Whether the next stop lies where it was said to."""

    def holds(random: Any) -> bool:
        loco = SimulatedLoco((float(random.uniform(80, 81)),), (sigma,), skew=skew)
        stops = [stop for _ in range(n + 1) if (stop := loco.stop(random, 0, 0)) is not None]
        return stops[-1] in next_reading(stops[:-1], STEP)

    return holds


def difference_holds(
    sigmas: tuple[float, float], n: int = 6, drift: float = 0.0, missed: float = 0.0
) -> Callable[[Any], bool]:
    """Whether the interval of a difference holds the true one, at one look of 95 %."""

    def holds(random: Any) -> bool:
        means = tuple(float(one) for one in random.uniform(80, 84, 2))
        loco = SimulatedLoco(means, sigmas, drift, missed=missed)
        answer = report_of(made_trial(loco, random, looks=(n,))).answer
        return answer.interval is None or means[1] - means[0] in answer.interval

    return holds


def false_difference(looks: tuple[int, ...], sigma: float = 2.0) -> Callable[[Any], bool]:
    """Whether two conditions that are alike are told apart at any look of a plan."""

    def holds(random: Any) -> bool:
        trial = made_trial(SimulatedLoco((82.0, 82.0), (sigma, sigma)), random, looks=looks)
        for look in looks:
            interval = report_of(replace(trial, runs=trial.runs[: 2 * look])).answer.interval
            if interval is not None and 0 not in interval:
                return True
        return False

    return holds


def false_at_will(sigma: float = 2.0, least: int = 3, most: int = 18) -> Callable[[Any], bool]:
    """The same for somebody who looks after every block, at 95 %."""

    def holds(random: Any) -> bool:
        loco = SimulatedLoco((82.0, 82.0), (sigma, sigma))
        trial = made_trial(loco, random, looks=(most,))
        for look in range(least, most + 1):
            part = replace(trial, looks=(look,), runs=trial.runs[: 2 * look])
            interval = report_of(part).answer.interval
            if interval is not None and 0 not in interval:
                return True
        return False

    return holds


def wrong_answer(
    means: tuple[float, ...],
    sigma: float,
    wrong: Outcome,
    margin: float = 4.0,
    looks: tuple[int, ...] = LOOKS,
) -> Callable[[Any], bool]:
    """Whether entry speeds that differ by just the margin are called alike, or different."""

    def holds(random: Any) -> bool:
        loco = SimulatedLoco(means, (sigma,) * len(means))
        trial = made_trial(loco, random, TrialQuestion.SPEED, looks, margin)
        return wrong in answers(trial)

    return holds


def plan_is_strong(sigma: float, margin: float = 2.0, pilot: int = 6) -> Callable[[Any], bool]:
    """Whether a plan made by the scatter of six runs sees the margin four times in five."""

    def holds(random: Any) -> bool:
        loco = SimulatedLoco((82.0,), (sigma,), step=0.1)
        stops = [stop for _ in range(pilot) if (stop := loco.stop(random, 0, 0)) is not None]
        needed = runs_needed(scatter_limit(scatter(stops), pilot - 1), margin)
        return power(needed or MOST, sigma, margin) >= 0.8

    return holds


def days_hold(
    day: float, sigma: float = 2.0, days: int = 3, runs: int = 3, *, control: bool = False
) -> Callable[[Any], bool]:
    """Whether the interval of an update over days holds the true difference."""

    def holds(random: Any) -> bool:
        trial = day_trial(random, day, sigma, days, runs, control=control)
        found = day_difference(trial)
        return found is not None and 0.0 in found.difference.interval(0.95, 0.0)

    return holds


def day_trial(
    random: Any, day: float, sigma: float, days: int, runs: int, *, control: bool
) -> BenchTrial:
    """An update that changes nothing, on days that differ; the control shares the day."""
    made: list[Run] = []
    for number in range(2 * days):
        off = float(random.normal(0, day))
        beside = ("control",) if control else ()
        for name in ("old" if number < days else "new", *beside):
            own = float(random.normal(0, day / 4)) if control else 0.0
            made += [
                Run(
                    name,
                    82 + off + own + float(random.normal(0, sigma)),
                    f"2026-11-{number + 1:02}",
                )
                for _ in range(runs)
            ]
    names = ("old", "new", "control") if control else ("old", "new")
    conditions = tuple(TrialCondition(name, None, 82.0) for name in names)
    about = ("x.y", TrialQuestion.UPDATE, conditions, 2.0, "cm", 0.01, (days,))
    return BenchTrial(*about, ("old",), "2026-11-01", "1", runs=tuple(made))


def runs_as_units(day: float, sigma: float = 2.0, runs: int = 6) -> Callable[[Any], bool]:
    """What the interval would hold if the runs of one day each were counted as proofs."""

    def holds(random: Any) -> bool:
        off = [float(one) for one in random.normal(0, day, 2)]
        loco = SimulatedLoco((82.0 + off[0], 82.0 + off[1]), (sigma, sigma), step=0.01)
        interval = report_of(made_trial(loco, random, looks=(runs,))).answer.interval
        return interval is not None and 0 in interval

    return holds


def rows(trials: int) -> Iterator[tuple[str, float]]:
    """Every statement with the share of trials in which it held."""
    for sigma in (0.2, 0.5, 1.0, 2.0, 4.0):
        for n in (6, 12):
            yield f"mean, scatter {sigma} steps, {n} runs", share(trials, 1, mean_holds(sigma, n))
            yield f"next stop, {sigma} steps, {n} runs", share(trials, 2, next_holds(sigma, n))
    for skew in (0.5, 1.0):
        yield f"mean, skew {skew}, 12 runs", share(trials, 3, mean_holds(2.0, 12, skew))
        yield f"next stop, skew {skew}, 12 runs", share(trials, 4, next_holds(2.0, 12, skew))
    for sigmas in ((2.0, 2.0), (1.0, 3.0), (0.3, 0.3)):
        for drift in (0.0, 6.0):
            held = share(trials, 5, difference_holds(sigmas, drift=drift))
            yield f"difference, scatters {sigmas}, drift {drift}", held
    yield "difference, 1 in 5 missed", share(trials, 6, difference_holds((2, 2), 12, missed=0.2))
    yield "false difference, three looks", share(trials, 7, false_difference(LOOKS))
    yield "false difference, looks at will", share(max(trials // 4, 1), 8, false_at_will())
    shapes: Sequence[tuple[float, ...]] = ((80.0, 84.0), (80.0, 80.0, 84.0), (80.0, 82.0, 84.0))
    for means in shapes:
        for looks in ((6,), LOOKS):
            for wrong in (Outcome.SAME, Outcome.DIFFERENT):
                held = share(trials, 9, wrong_answer(means, 2.0, wrong, looks=looks))
                yield f"wrong {wrong.value}, {means}, looks {looks}", held
    for sigma in (1.0, 1.5, 2.0):
        yield f"plans with power 80 %, scatter {sigma}", share(trials, 10, plan_is_strong(sigma))
    for day in (0.0, 1.0, 2.0, 4.0):
        yield f"three days each, day effect {day}", share(trials, 11, days_hold(day))
        held = share(trials, 12, days_hold(day, control=True))
        yield f"three days each, control, day effect {day}", held
        held = share(trials, 13, days_hold(day, days=1, runs=6))
        yield f"one day each, half the scatter assumed, day effect {day}", held
        yield (
            f"one day each, runs as proofs, day effect {day}",
            share(trials, 14, runs_as_units(day)),
        )


if __name__ == "__main__":
    for told, held in rows(int(sys.argv[1]) if len(sys.argv) > 1 else 1000):
        print(f"{held * 100:5.1f} %  {told}", flush=True)
