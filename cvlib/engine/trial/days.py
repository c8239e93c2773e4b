"""A firmware that cannot be put back: old days against new days, each day one unit.

What differs from day to day (warmth, oil, the rail) would pass for the firmware if the runs of one
day were counted as so many proofs. A loco that is not updated, run on the same days, is taken off.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from enum import StrEnum
from math import sqrt
from typing import NamedTuple

from cvlib.engine.trial.comparing import Estimate
from cvlib.engine.trial.sums import mean, scatter
from cvlib.model.trial import BenchTrial, Run

OLD, NEW, CONTROL = "old", "new", "control"
"""The conditions of an update trial."""
LEAST_DAYS = 2
"""Days a side from which they say themselves how far days differ."""


class DayBasis(StrEnum):
    """By what it is known how far days differ."""

    DAYS = "days"
    OTHER_DAYS = "other-days"
    """This loco's other days: too few here."""
    ASSUMED = "assumed"
    """Half the scatter of the runs: an assumption."""


class DayDifference(NamedTuple):
    """The new firmware less the old one."""

    difference: Estimate
    basis: DayBasis
    old: int
    """Days with the old firmware."""
    new: int
    has_control: bool
    total: Estimate | None = None
    """The sum of both means, without a control taken off; nothing with one day on a side."""


def by_day(runs: Iterable[Run]) -> dict[str, list[float]]:
    """What was measured, day by day; missed stops have no figure."""
    found: dict[str, list[float]] = {}
    for run in runs:
        if run.stop is not None:
            found.setdefault(run.date, []).append(run.stop)
    return found


def day_difference(trial: BenchTrial, others: Sequence[BenchTrial] = ()) -> DayDifference | None:
    """How the stops of the new days differ from those of the old; nothing where a side is empty."""
    old, new, control = (by_day(trial.of(name)) for name in (OLD, NEW, CONTROL))
    if not old or not new or sum(map(len, old.values())) + sum(map(len, new.values())) < 3:
        return None
    has_control = bool(control) and {*old, *new} <= set(control)
    less = control if has_control else {}
    sides = [
        [mean(held[day]) - (mean(less[day]) if less else 0) for day in held] for held in (old, new)
    ]
    value = mean(sides[1]) - mean(sides[0])
    count = (len(old), len(new))
    if min(count) >= LEAST_DAYS:
        plain = [[mean(stops) for stops in held.values()] for held in (old, new)]
        return DayDifference(
            Estimate(value, *_error(sides)),
            DayBasis.DAYS,
            *count,
            has_control,
            Estimate(sum(map(mean, plain)), *_error(plain)),
        )
    return _few_days(value, (old, new), less, [trial, *others])


def _error(sides: Sequence[Sequence[float]]) -> tuple[float, int]:
    """The standard error of the difference, or sum, of two means, with its degrees of freedom."""
    freedom = sum(map(len, sides)) - len(sides)
    total = sum(scatter(side) ** 2 * (len(side) - 1) for side in sides)
    return sqrt(total / freedom * sum(1 / len(side) for side in sides)), freedom


def _few_days(
    value: float,
    sides: tuple[Mapping[str, list[float]], Mapping[str, list[float]]],
    control: Mapping[str, list[float]],
    trials: Sequence[BenchTrial],
) -> DayDifference:
    """With one day on a side its runs say nothing of days: that is added, or assumed."""
    groups = [values for held in (*sides, control) for values in held.values()]
    run_variance, run_freedom = within(groups)
    parts = [(run_variance * sum(_share(held) for held in sides), run_freedom)]
    if control:
        parts[0] = (parts[0][0] + run_variance * sum(
            sum(1 / len(control[day]) for day in held) / len(held) ** 2 for held in sides
        ), run_freedom)  # fmt: skip
    known = day_variance(trials)
    days = sum(1 / len(held) for held in sides)
    if known is None:
        basis = DayBasis.ASSUMED
        parts.append((run_variance / 4 * days, run_freedom))
    else:
        basis = DayBasis.OTHER_DAYS
        parts.append((known[0] * days, known[1]))
    total = sum(part for part, _ in parts)
    spread = sum(part**2 / max(freedom, 1) for part, freedom in parts)
    freedom = total**2 / spread if spread else max(run_freedom, 1)
    estimate = Estimate(value, sqrt(total), freedom)
    return DayDifference(estimate, basis, len(sides[0]), len(sides[1]), bool(control))


def _share(held: Mapping[str, list[float]]) -> float:
    """The variance of a mean of day means, in variances of one run."""
    return sum(1 / len(values) for values in held.values()) / len(held) ** 2


def within(groups: Iterable[Sequence[float]]) -> tuple[float, int]:
    """The variance within groups and its degrees of freedom."""
    held = [group for group in groups if len(group) > 1]
    freedom = sum(len(group) - 1 for group in held)
    total = sum(scatter(group) ** 2 * (len(group) - 1) for group in held)
    return (total / freedom if freedom else 0.0), freedom


def day_variance(trials: Iterable[BenchTrial]) -> tuple[float, int] | None:
    """How far days of one loco differ, as a variance with its degrees of freedom, where known.

    ISO 5725: the variance between the days less what the scatter of their runs makes of it.
    """
    square, freedom, sizes = 0.0, 0, []
    groups: list[list[float]] = []
    for trial in trials:
        for condition in trial.conditions:
            days = [values for day, values in by_day(trial.of(condition.name)).items() if day]
            if len(days) > 1:
                means = [mean(values) for values in days]
                square += scatter(means) ** 2 * (len(means) - 1)
                freedom += len(means) - 1
                sizes += [len(values) for values in days]
                groups += days
    if not freedom:
        return None
    inner, _ = within(groups)
    share = sum(1 / size for size in sizes) / len(sizes)
    return max(square / freedom - inner * share, 0.0), freedom
