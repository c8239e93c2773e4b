"""What a trial says: each condition by itself, and the answer to the question of the plan."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from enum import StrEnum

from cvlib.engine.trial.comparing import (
    ConditionFit,
    Estimate,
    Series,
    runs_for_ratio,
    sameness,
    scatter_ratio,
)
from cvlib.engine.trial.days import CONTROL, NEW, OLD, DayDifference, day_difference
from cvlib.engine.trial.planning import MOST, runs_needed
from cvlib.engine.trial.sums import (
    Interval,
    around,
    mean,
    mean_interval,
    next_reading,
    repeatability_limit,
    scatter,
    scatter_factors,
    scatter_limit,
    share_interval,
    tolerance_factor,
    typing_error,
)
from cvlib.model.trial import BenchTrial, TrialCondition, TrialQuestion

MANY = 10
"""Runs from which a tolerance band and a repeatability limit are given."""
QUARTER = 0.25
"""A setting that moves the stop by less than this share of what the handbook promises is idle."""


@dataclass(frozen=True, slots=True)
class ConditionReport:
    """The runs under one condition; figures in the unit of the trial."""

    condition: TrialCondition
    stops: tuple[float, ...]
    """In the order they were made."""
    missed: int
    near: int
    missed_share: Interval
    mean: float | None = None
    mean_in: Interval | None = None
    scatter: float = 0.0
    factors: Interval | None = None
    """How many times the scatter seen the true one may be."""
    next_stop: Interval | None = None
    suspect: float | None = None
    """A reading that may be a typing error."""
    tolerance: Interval | None = None
    """Holds 95 % of all runs, at 95 %; from ten runs."""
    repeatability: float | None = None

    @property
    def runs(self) -> int:
        """All runs, missed stops among them."""
        return len(self.stops) + self.missed


class Outcome(StrEnum):
    """How the question of a plan is answered."""

    NONE = "none"
    """Nothing is compared: what is to be said stands with the conditions."""
    EARLY = "early"
    """The first look that the plan allows is not reached."""
    OPEN = "open"
    HOPELESS = "hopeless"
    """So many runs as that would take nobody makes."""
    SAME = "same"
    """Alike within the margin."""
    DIFFERENT = "different"


@dataclass(frozen=True, slots=True)
class TrialAnswer:
    """The answer to the question of a plan, with the pair of conditions that shows it."""

    outcome: Outcome
    look: int = 0
    """Runs a side that it rests on."""
    more: int = 0
    """Runs a side up to the next look that may tell; 0 where the plan has no further look."""
    wanted: int = 0
    """Runs a side that would tell by the scatter seen; 0: not known."""
    one: str = ""
    other: str = ""
    difference: float = 0.0
    """The other less the one."""
    interval: Interval | None = None
    margin: float = 0.0
    """What was taken for nothing; of a setting that should act, a quarter of its promise."""
    drift: Interval | None = None
    """From the first run to the last."""
    ratio: Interval | None = None
    """How many times the scatter of the one the other has."""
    ratio_seen: float | None = None
    ratio_runs: int = 0
    """Runs a side that would tell the scatters apart; 0: too many."""
    days: DayDifference | None = None
    nearer: str = ""
    """The condition that surely stops nearer to its mark; empty: these runs cannot tell."""


@dataclass(frozen=True, slots=True)
class TrialReport:
    """Everything that a trial says."""

    trial: BenchTrial
    conditions: tuple[ConditionReport, ...]
    answer: TrialAnswer

    @property
    def own(self) -> tuple[ConditionReport, ...]:
        """Those of the loco on trial; another that runs as a control is none."""
        held = self.trial.question is TrialQuestion.UPDATE
        return tuple(one for one in self.conditions if not (held and one.condition.name == CONTROL))

    @property
    def runs(self) -> int:
        """All runs, missed stops among them."""
        return sum(one.runs for one in self.own)

    @property
    def near(self) -> int:
        """Stops that were near enough."""
        return sum(one.near for one in self.own)

    @property
    def missed(self) -> int:
        """Stops that were missed."""
        return sum(one.missed for one in self.own)

    @property
    def missed_share(self) -> Interval:
        """How many of all stops may be missed."""
        return share_interval(self.missed, self.runs)


def report_of(trial: BenchTrial, others: Sequence[BenchTrial] = ()) -> TrialReport:
    """What a trial says; ``others``: further trials of the loco, for what days differ by."""
    held = tuple(condition_report(trial, one) for one in trial.conditions)
    held = tuple(one for one in held if one.runs)
    if trial.question is TrialQuestion.UPDATE:
        return TrialReport(trial, held, _days_answer(trial, others))
    return TrialReport(trial, held, _answer(trial))


def condition_report(trial: BenchTrial, condition: TrialCondition) -> ConditionReport:
    """The runs under one condition of a trial."""
    runs = trial.of(condition.name)
    stops = tuple(run.stop for run in runs if run.stop is not None)
    missed, near = len(runs) - len(stops), sum(map(trial.is_near, runs))
    about = (condition, stops, missed, near, share_interval(missed, max(len(runs), 1)))
    if len(stops) < 2:
        return ConditionReport(*about, mean=stops[0] if stops else None)
    seen, step, middle = scatter(stops), trial.step, mean(stops)
    suspect = typing_error(stops)
    many = len(stops) >= MANY
    band = max(tolerance_factor(len(stops)) * seen, step / 2) if many else 0.0
    return ConditionReport(
        *about,
        middle,
        mean_interval(stops, step),
        seen,
        scatter_factors(len(stops) - 1) if seen >= step / 2 else None,
        next_reading(stops, step),
        None if suspect is None else stops[suspect],
        around(middle, band) if many else None,
        max(repeatability_limit(stops), step) if many else None,
    )


def series_of(trial: BenchTrial, most: int) -> Series:
    """The first runs of each condition as figures; missed stops have none."""
    names = [one.name for one in trial.conditions]
    made = dict.fromkeys(names, 0)
    rows: list[tuple[int, int, float]] = []
    for number, run in enumerate(trial.runs):
        made[run.condition] += 1
        if run.stop is not None and made[run.condition] <= most:
            rows.append((names.index(run.condition), number, run.stop))
    return Series(*zip(*rows, strict=True)) if rows else Series((), (), ())


def nearer_of(trial: BenchTrial, names: tuple[str, str], apart: Estimate, total: Estimate) -> str:
    """Which of two conditions has its mean nearer to its mark; empty where that cannot be told.

    ``apart`` and ``total`` are the second mean less the first, and their sum. With the distances a
    and b from the marks, b is the smaller one where (b - a)(b + a) is below nothing: neither of
    the two may be nothing by its interval.
    """
    one, other = (trial.condition(name).wish for name in names)
    if one is None or other is None:
        return ""
    shifts = (
        apart._replace(value=apart.value - (other - one)),
        total._replace(value=total.value - (other + one)),
    )
    if any(0 in shift.interval(trial.level, trial.step) for shift in shifts):
        return ""
    return names[1] if shifts[0].value * shifts[1].value < 0 else names[0]


def _answer(trial: BenchTrial) -> TrialAnswer:
    names = [one.name for one in trial.conditions]
    if len(names) < 2:
        return TrialAnswer(Outcome.NONE)
    made = min(len(trial.of(name)) for name in names)
    look = max((look for look in trial.looks if look <= made), default=0)
    following = next((one for one in trial.looks if one > made), 0)
    if not look:
        return TrialAnswer(Outcome.EARLY, more=following - made)
    series = series_of(trial, look)
    if any(len(series.of(at)) < 2 for at in range(len(names))):
        return TrialAnswer(Outcome.OPEN, look, max(following - made, 0))
    fit = ConditionFit(series)
    margin, level, step = margin_of(trial), trial.level, trial.step
    found = sameness(fit, margin, step, level, alike_level(trial))
    pair = found.widest
    interval = pair.difference.interval(level, step)
    outcome = {True: Outcome.SAME, False: Outcome.DIFFERENT, None: Outcome.OPEN}[found.is_same]
    if outcome is Outcome.OPEN and trial.question is not TrialQuestion.SPEED and 0 not in interval:
        outcome = Outcome.DIFFERENT
    more = wanted = 0
    if outcome is Outcome.OPEN:
        wanted = runs_needed(scatter_limit(fit.scatter, fit.freedom), margin, level)
        ahead = [one for one in trial.looks if one > made]
        more = next((one for one in ahead if one >= wanted), max(ahead, default=made)) - made
        outcome = outcome if wanted else Outcome.HOPELESS
    wander = fit.drift()
    drift = wander.interval(0.95, step) if wander is not None else None
    ratio, seen, enough = _scatters(series, step, level) if len(names) == 2 else (None, None, 0)
    return TrialAnswer(
        outcome,
        look,
        more,
        wanted,
        names[pair.one],
        names[pair.other],
        pair.difference.value,
        interval,
        margin,
        drift,
        ratio,
        seen,
        enough,
        nearer=nearer_of(
            trial,
            (names[pair.one], names[pair.other]),
            pair.difference,
            fit.total(pair.one, pair.other),
        ),
    )


def margin_of(trial: BenchTrial) -> float:
    """What counts as nothing: the margin, or a quarter of what the handbook promises two values."""
    promise = promise_of(trial)
    if trial.question is TrialQuestion.ACTS and promise:
        return abs(promise) * QUARTER
    return trial.margin


def promise_of(trial: BenchTrial) -> float | None:
    """How far apart the stops of two values should be by the handbook."""
    wishes = [one.wish for one in trial.conditions]
    if len(wishes) != 2 or wishes[0] is None or wishes[1] is None:
        return None
    return wishes[1] - wishes[0]


def alike_level(trial: BenchTrial) -> float:
    """The level of an interval that has to lie inside the margin: 90 % as the rule for equivalence
    is, and at several looks the level of each, or chance would find the one look that says yes.
    """
    return 0.9 if len(trial.looks) < 2 else trial.level


def _scatters(
    series: Series, step: float, level: float
) -> tuple[Interval | None, float | None, int]:
    one, other = series.of(0), series.of(1)
    ratio = scatter_ratio(one, other, step, level)
    if ratio is None:
        return None, None, 0
    enough = runs_for_ratio(one, other, level, MOST) if 1 in ratio else 0
    return ratio, scatter(other) / scatter(one), enough


def _days_answer(trial: BenchTrial, others: Sequence[BenchTrial]) -> TrialAnswer:
    found = day_difference(trial, others)
    wanted = max(trial.looks)
    if found is None:
        return TrialAnswer(Outcome.EARLY, more=wanted)
    days = min(found.old, found.new)
    interval = found.difference.interval(trial.level, trial.step)
    is_known = days >= wanted
    outcome = Outcome.OPEN
    if is_known and found.difference.interval(0.9, trial.step).is_inside(trial.margin):
        outcome = Outcome.SAME
    elif is_known and 0 not in interval:
        outcome = Outcome.DIFFERENT
    more = max(wanted - days, 1) if outcome is Outcome.OPEN else 0
    return TrialAnswer(
        outcome,
        days,
        more,
        0,
        trial.conditions[0].name,
        trial.conditions[1].name,
        found.difference.value,
        interval,
        trial.margin,
        days=found,
        nearer=nearer_of(trial, (OLD, NEW), found.difference, found.total) if found.total else "",
    )
